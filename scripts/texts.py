"""What a translator works on: every text that people see, in one file, and a package with the translation in it.

    python scripts/texts.py oilpath.pot        all texts as a gettext template, each with the places where it stands
    python scripts/texts.py de.mo FOLDER       a package in FOLDER whose texts are those of de.mo (made with msgfmt)

Texts of code have numbers in braces for what is put in, in whatever order the language wants; those of the knowledge
base have a context, which is their key: `causes pump.worn mechanism`. Templates of pages are listed, not rebuilt.
docs/decisions.md says why translations are built in and not looked up.
"""

from __future__ import annotations

# ruff: noqa: N815 (the names of ast.NodeVisitor)
import ast
import gettext
import json
import re
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, get_args

ROOT = Path(__file__).parents[1]
ENGINE = ROOT / "engine/oilpath"

#: The rooms and modules whose texts people see.
ROOMS = (
    "reports", "commands", "page", "documents", "knowledge/fields.py", "problems.py", "units.py", "spelling.py",
    "cli.py", "codes.py", "store", "kbcheck", "explore",
)  # fmt: skip
#: Modules that are tables of words: their values are texts even where they are one word in small letters.
TABLES = ("words.py", "phrases.py", "how_words.py", "explore_words.py", "codes.py")
#: Calls whose texts nobody reads: patterns, names, what is compared.
NOT_READ = {
    "compile", "fullmatch", "match", "search", "findall", "sub", "getattr", "setattr", "hasattr", "TypeVar", "encode",
    "decode", "startswith", "endswith", "get", "pop", "setdefault", "split", "partition", "rpartition", "strftime",
    "import_module", "execute", "Literal", "cast", "getLogger", "note", "float", "amount",
}  # fmt: skip
#: Calls whose texts are read, be they one word in small letters: `counted(3, "reading")`.
READ = {"counted"}
#: Fields of the knowledge base that are texts but are not told to people as they are: units, where a figure is from.
NOT_SAID = {"written", "meant", "source"}
FOR_PROGRAMMERS = {"ValueError", "TypeError", "LookupError", "KeyError", "NotImplementedError", "AssertionError"}
_HELD = re.compile(r"\{(\d+)\}")
_MARKUP = re.compile(r"[<>]|://|^[#.\w-]+\{|\\[dwsb]|\$\{|=\"")

Say = Callable[[str, str, str], str]
"""(context, text, place) → the text to show"""


# --- texts of code ----------------------------------------------------------------------


UNITS = {"min", "bar", "mm", "cm", "psi", "rpm", "gpm", "deg"}


def is_text(text: str, *, table: bool = False) -> bool:
    """Whether people read a text, by its looks: several words, a word with a capital, or the end of a sentence."""
    bare = _HELD.sub(" ", text)
    words = [word for word in bare.split() if any(letter.isalpha() for letter in word)]
    if not words or _MARKUP.search(bare) or bare.lstrip().startswith(("-", "/", "oilpath ")):
        return False
    if len(words) > 1:
        return any(word.islower() or word[:1].isupper() for word in words)
    (word,) = words
    plain = word.lstrip("(").rstrip(".,:;?!()…")
    if not plain.replace("'", "").isalpha():
        return False
    beside = re.search(rf"\s{re.escape(word)}|{re.escape(word)}\s", bare)  # of a sentence that is put together
    if plain.islower() and len(plain) > 1 and plain not in UNITS and (table or beside):
        return True
    return (word[:1].isupper() and word[1:].islower() and len(plain) > 1) or (word != plain and len(plain) > 1) or (
        text != bare and plain.islower() and len(plain) > 1
    )  # fmt: skip


class Texts(ast.NodeTransformer):
    """Puts what `say` makes of them in place of the texts of one module."""

    def __init__(self, name: str, say: Say) -> None:
        self.name, self.say = name, say
        self.table = name.endswith(TABLES)

    # what nobody reads

    def _body(self, node: Any) -> Any:
        """All but the docstring; the help of a command is its docstring."""
        first, read = node.body[0], not isinstance(node, ast.Module | ast.ClassDef) and self._is_command(node)
        if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str):
            if read:
                first.value = ast.Constant(self.say("", first.value.value, f"{self.name}:{first.lineno}"))
            rest = [self.visit(one) for one in node.body[1:]]
            node.body = [first, *rest]
        else:
            node.body = [self.visit(one) for one in node.body]
        if not isinstance(node, ast.Module):
            node.decorator_list = [self.visit(one) for one in node.decorator_list]
        if isinstance(node, ast.FunctionDef):
            node.args.defaults = [self.visit(one) for one in node.args.defaults]
            node.args.kw_defaults = [one and self.visit(one) for one in node.args.kw_defaults]
        return node

    visit_Module = visit_FunctionDef = visit_AsyncFunctionDef = visit_ClassDef = _body

    @staticmethod
    def _is_command(node: ast.FunctionDef) -> bool:
        calls = [one.func for one in node.decorator_list if isinstance(one, ast.Call)]
        return any(isinstance(call, ast.Attribute) and call.attr == "command" for call in calls)

    def _left(self, node: ast.AST) -> ast.AST:
        return node

    visit_Assert = visit_Compare = visit_Import = visit_ImportFrom = _left

    def visit_Raise(self, node: ast.Raise) -> ast.AST:
        call = node.exc
        inner = isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in FOR_PROGRAMMERS
        return node if inner else self.generic_visit(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        if isinstance(node.annotation, ast.Name) and node.annotation.id == "TypeAlias":
            return node
        node.value = node.value and self.visit(node.value)
        return node

    def visit_Subscript(self, node: ast.Subscript) -> ast.AST:
        node.value = self.visit(node.value)
        return node

    def visit_Dict(self, node: ast.Dict) -> ast.AST:
        node.values = [self.visit(one) for one in node.values]
        return node

    def visit_match_case(self, node: ast.match_case) -> ast.AST:
        node.guard = node.guard and self.visit(node.guard)
        node.body = [self.visit(one) for one in node.body]
        return node

    def visit_Call(self, node: ast.Call) -> ast.AST:
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if name in READ:
            table, self.table = self.table, True
            made = self.generic_visit(node)
            self.table = table
            return made
        if name in NOT_READ:
            if isinstance(node.func, ast.Attribute):
                node.func = self.visit(node.func)
            return node
        return self.generic_visit(node)

    # what people read

    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        if not isinstance(node.value, str) or not is_text(node.value, table=self.table):
            return node
        return ast.Constant(self.say("", node.value, self._at(node)))

    def visit_JoinedStr(self, node: ast.JoinedStr) -> ast.AST:
        held: list[ast.FormattedValue] = []
        text = ""
        for part in node.values:
            if isinstance(part, ast.Constant):
                text += part.value.replace("{", "{{").replace("}", "}}")
            else:
                assert isinstance(part, ast.FormattedValue)
                part.value = self.visit(part.value)
                text += f"{{{len(held)}}}"
                held.append(part)
        if not is_text(text):
            return node
        said = self.say("", text, self._at(node))
        values: list[ast.expr] = []
        for number, piece in enumerate(_HELD.split(said)):
            if number % 2:
                values.append(held[int(piece)])
            elif piece:
                values.append(ast.Constant(piece.replace("{{", "{").replace("}}", "}")))
        return ast.JoinedStr(values)

    def _at(self, node: ast.expr) -> str:
        return f"{self.name}:{node.lineno}"


def modules() -> list[Path]:
    """The modules whose texts people see."""
    found = [
        path for room in ROOMS for path in ([ENGINE / room] if room.endswith(".py") else (ENGINE / room).rglob("*.py"))
    ]
    return sorted(found)


def translated(path: Path, say: Say) -> str:
    """The source of a module with other texts."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    made = Texts(path.relative_to(ENGINE).as_posix(), say).visit(tree)
    return ast.unparse(ast.fix_missing_locations(made))


# --- texts of the knowledge base --------------------------------------------------------


def knowledge_texts(value: Any, say: Say, key: str = "", *, text: bool = False) -> Any:
    """The data of a model of the knowledge base with other texts; a text's context is its key.

    What is a text is told by the models: their fields of the type Text.
    """
    from pydantic import BaseModel

    if isinstance(value, BaseModel):
        made: dict[str, Any] = {}
        for name, field in type(value).model_fields.items():
            held = getattr(value, name)
            own = name not in NOT_SAID and _is_text_field(field)
            at = f"{key} {field.alias or name}".strip()
            made[field.serialization_alias or field.alias or name] = knowledge_texts(held, say, at, text=own)
        return made
    if isinstance(value, dict) or hasattr(value, "items"):
        return {one: knowledge_texts(held, say, f"{key} {one}", text=text) for one, held in value.items()}
    if isinstance(value, list | tuple):
        return [knowledge_texts(held, say, f"{key} {_named(held, n)}", text=text) for n, held in enumerate(value)]
    return say(key, value, "kb") if text and isinstance(value, str) and value else value


def _named(value: Any, number: int) -> str:
    """What an entry of a list is called: its id, else its number."""
    for name in ("cause", "check", "id", "outcome", "parameter", "test"):
        if isinstance(found := getattr(value, name, None), str):
            return found
    return str(number)


def _is_text_field(field: Any) -> bool:
    from oilpath.knowledge.fields import Text

    (reader,) = Text.__metadata__

    def holds(annotation: Any) -> bool:
        if reader in getattr(annotation, "__metadata__", ()):
            return True
        return any(holds(one) for one in get_args(annotation))

    return reader in field.metadata or holds(field.annotation)


# --- texts of pages ---------------------------------------------------------------------


def template_texts() -> Iterator[tuple[str, str]]:
    """The texts of the page templates and of their scripts, with their places."""
    for path in sorted(ENGINE.rglob("templates/*.html")):
        source = re.sub(r"(?s)<style.*?</style>|<script.*?</script>|\{#.*?#\}", "", path.read_text(encoding="utf-8"))
        plain = re.sub(r"(?s)\{%.*?%\}", "\n", source)
        names = {name: f"{{{n}}}" for n, name in enumerate(dict.fromkeys(re.findall(r"\{\{.*?\}\}", plain)))}
        for one, number in names.items():
            plain = plain.replace(one, number)
        for attribute in re.findall(r'(?:title|alt|placeholder|aria-label)="([^"]+)"', plain):
            yield attribute, path.relative_to(ENGINE).as_posix()
        for text in re.split(r"<[^>]*>|\n\s*\n", plain):
            if is_text(" ".join(text.split()), table=True):
                yield " ".join(text.split()), path.relative_to(ENGINE).as_posix()
    for path in sorted(ENGINE.rglob("static/*.js")):
        for text in re.findall(r'"((?:[^"\\\n]|\\.)+)"', path.read_text(encoding="utf-8")):
            if len(text.split()) > 1 and is_text(text) and "=" not in text:
                yield text, path.relative_to(ENGINE).as_posix()


# --- the template, and a package --------------------------------------------------------


def all_texts() -> dict[tuple[str, str], list[str]]:
    """Every text by context and words, with the places where it stands."""
    found: dict[tuple[str, str], list[str]] = {}

    def keep(context: str, text: str, place: str) -> str:
        found.setdefault((context, text), []).append(place)
        return text

    for path in modules():
        translated(path, keep)
    for text, place in template_texts():
        keep("", text, place)
    from oilpath.knowledge.compile import base_knowledge

    knowledge_texts(base_knowledge(), keep)
    return found


def template() -> str:
    """All texts as a gettext template (.pot)."""
    lines = ['msgid ""', 'msgstr "Content-Type: text/plain; charset=UTF-8\\n"', ""]
    for (context, text), places in all_texts().items():
        lines += [f"#: {place}" for place in dict.fromkeys(places)]
        if context:
            lines.append(f"msgctxt {_quoted(context)}")
        lines += [f"msgid {_quoted(text)}", 'msgstr ""', ""]
    return "\n".join(lines)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def build(folder: Path, say: Say) -> None:
    """A package in a folder, its texts by `say`."""
    from oilpath.knowledge.base import Knowledge
    from oilpath.knowledge.compile import base_knowledge, sealed
    from oilpath.knowledge.wiring import wiring_data

    package = folder / "oilpath"
    shutil.copytree(ENGINE, package, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "cases", package / "cases")
    shutil.copytree(ROOT / "kb", package / "kb")
    for path in modules():
        (package / path.relative_to(ENGINE)).write_text(translated(path, say), encoding="utf-8")
    known = base_knowledge()
    entries = json.dumps(
        {**known.model_dump(mode="json", by_alias=True), **knowledge_texts(known, say)},
        ensure_ascii=False, sort_keys=True, default=list,
    )  # fmt: skip
    circuits = Knowledge.model_validate_json(entries).circuits
    wirings = {name: wiring_data(circuit.wiring) for name, circuit in circuits.items()}
    (package / "kb/compiled.json").write_bytes(sealed(f"{entries}\n{json.dumps(wirings, ensure_ascii=False)}"))


def main() -> None:
    """The template, or a package with a translation."""
    name, *folder = sys.argv[1:]
    if not folder:
        Path(name).write_text(template(), encoding="utf-8")
        return
    with open(name, "rb") as file:
        found = gettext.GNUTranslations(file)
    build(Path(folder[0]), lambda context, text, _: found.pgettext(context, text) if context else found.gettext(text))


if __name__ == "__main__":
    main()
