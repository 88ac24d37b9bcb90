"""Sentences that people read stand in `reports` and in `kb`: elsewhere no text has three words or more."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import oilpath

ENGINE = Path(oilpath.__file__).parent

#: Rooms and modules that keep their texts where they are found, each with its reason.
KEPT = {
    "reports": "this is where sentences are made",
    "documents": "problems of files",
    "knowledge": "problems of the knowledge base's files",
    "kbcheck": "findings of kb check, problems of the same files",
    "problems.py": "how problems of files are put",
    "units.py": "problems of quantities in files",
    "commands": "help texts of the commands",
    "cli.py": "help texts of the commands",
    "lab": "the laboratory prints tables and makes sheets of its own; no answer holds any of it",
    "physics/formulas": "ValueErrors for programmers: the range of an argument",
    "rules/engine.py": "limits of the rule engine, raised as an error of the knowledge base's files",
    "page": "what is refused at the door, and why",
    "store": "problems of names of documents, of files and of the database",
    "codes.py": "the open standard's table of failure modes",
}
PROBLEMS = ("Problem", "UnusableInput")
"""what is made of these calls is a problem of a file"""


def kept(path: Path) -> bool:
    name = path.relative_to(ENGINE).as_posix()
    return any(name == place or name.startswith(f"{place}/") for place in KEPT)


MODULES = [path for path in sorted(ENGINE.rglob("*.py")) if not kept(path)]


def inside(node: ast.AST) -> Iterator[int]:
    return (id(one) for one in ast.walk(node))


def left_out(tree: ast.Module) -> Iterator[int]:
    """Docstrings, errors and what is raised, problems of files, names of types."""
    for node in ast.walk(tree):
        match node:
            case ast.Expr(value=ast.Constant()):
                yield id(node.value)
            case ast.Raise():
                yield from inside(node)
            case ast.Call(func=ast.Name(id=name)) if name in PROBLEMS:
                yield from inside(node)
            case ast.Call(func=ast.Attribute(value=ast.Name(id="problems"))):
                yield from inside(node)
            case ast.ClassDef(bases=[ast.Name(id=base)]) if base.endswith("Error"):
                yield from inside(node)
            case ast.AnnAssign(annotation=ast.Name(id="TypeAlias"), value=ast.expr()):
                yield from inside(node)


def texts(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Texts with their lines; an f-string is one text, with `{}` for what is put in."""
    skipped = set(left_out(tree))
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.JoinedStr):
            skipped.update(id(part) for part in node.values)
            parts = (part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
            yield node.lineno, "".join(str(part) for part in parts)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.lineno, node.value


def words(text: str) -> int:
    return sum(any(letter.isalpha() for letter in word) for word in text.split())


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ENGINE).as_posix())
def test_no_sentence_outside_reports(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert [(line, text) for line, text in texts(tree) if words(text) >= 3] == []


def test_every_place_that_keeps_its_texts_exists() -> None:
    assert [place for place in KEPT if not (ENGINE / place).exists()] == []


def test_sentences_are_found_however_they_are_written() -> None:
    tree = ast.parse('"""One two three."""\na = f"{x} is too {y} here"\nb = ("one " "two three")\nc = "two words"')
    assert [(line, words(text)) for line, text in texts(tree)] == [(2, 3), (3, 3), (4, 2)]
