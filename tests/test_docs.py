"""The documents say what is so: commands, files, examples, answers and pictures are those of the program today."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import ModuleType
from typing import Any

import click
import pytest

from oilpath import load_machine, load_sheet
from oilpath.cli import app
from oilpath.documents.machine import Machine
from oilpath.documents.nodes import read_nodes
from oilpath.documents.schemas import MODELS
from oilpath.documents.validate import model_from
from oilpath.knowledge.circuit import Circuit
from oilpath.machine.graph import circuit_graph
from oilpath.problems import Problems

ROOT = Path(__file__).resolve().parents[1]
README, DEVELOPERS, KB = ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "kb/README.md"
COMMANDS, FILES, INSTALL = (ROOT / f"docs/{name}.md" for name in ("commands", "files", "install"))
GUIDES = tuple(sorted(path for path in (ROOT / "docs").glob("*.md") if path.name != "answer.md"))
PAGES = (README, DEVELOPERS, KB, ROOT / "CHANGELOG.md", ROOT / "cases/README.md", *GUIDES)
STALE = "run: make pages"

needs_checkout = pytest.mark.skipif(not (ROOT / "docs").is_dir(), reason="the documents are those of a checkout")
pytestmark = needs_checkout


def script() -> ModuleType:
    """scripts/make_pictures.py as a module."""
    spec = importlib.util.spec_from_file_location("make_pictures", ROOT / "scripts/make_pictures.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.path.insert(0, str(ROOT / "scripts"))  # where it finds its neighbour
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path.pop(0)
    return module


@pytest.fixture(scope="module")
def made() -> ModuleType:
    return script()


def blocks(page: Path, language: str) -> list[str]:
    """Code blocks of a page in a language."""
    return re.findall(rf"(?m)^```{language}\n(.*?)^```$", page.read_text(encoding="utf-8"), re.DOTALL)


def prose(page: Path) -> str:
    """A page without its code blocks."""
    return re.sub(r"(?ms)^```.*?^```$", "", page.read_text(encoding="utf-8"))


# --- commands -------------------------------------------------------------------------


def commands() -> dict[str, Any]:
    """All commands of the program with their click objects, those of groups by both words."""
    found: dict[str, Any] = {}

    def walk(group: click.Group, before: str) -> None:
        context = click.Context(group)
        for name in group.list_commands(context):
            command = group.get_command(context, name)
            if isinstance(command, click.Group):
                walk(command, f"{before}{name} ")
            else:
                found[f"{before}{name}"] = command

    walk(app(), "")
    return found


def test_every_command_stands_on_its_page() -> None:
    text = COMMANDS.read_text(encoding="utf-8")
    assert [name for name in commands() if f"`oilpath {name}" not in text] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_command_in_a_page_exists(page: Path) -> None:
    """In code blocks and in backticks; a word after the name must be a command, in capitals it is an argument."""
    text = page.read_text(encoding="utf-8").replace("kb\ncheck", "kb check")
    written = [line.removeprefix("$ ") for block in blocks(page, "(?:sh|text)") for line in block.splitlines()]
    uses = [line for line in written if line.startswith("oilpath ")] + re.findall(r"`(oilpath [^`]+)`", text)
    known = [*commands(), "--version", "COMMAND --help"]
    wrong = [use for use in uses if not any(f"{use} ".startswith(f"oilpath {name} ") for name in known)]
    assert wrong == []


@pytest.mark.parametrize("page", [README, COMMANDS, FILES], ids=lambda page: str(page.name))
def test_every_option_in_a_page_exists(page: Path) -> None:
    options = {"--version", "--help"}
    for command in commands().values():
        options |= {option for parameter in command.params for option in parameter.opts}
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", page.read_text(encoding="utf-8")))
    assert named - options == set()


def test_the_set_up_in_the_pages_is_that_of_the_scripts() -> None:
    text = "".join(page.read_text(encoding="utf-8") for page in (README, INSTALL))
    setup = (ROOT / "scripts/setup.sh").read_text(encoding="utf-8")
    packages = re.search(r"on Debian: (apt-get install [^)]*)\)", setup)
    flag = re.search(r"^RENAMED=(\S+)$", setup, re.MULTILINE)
    assert packages is not None
    assert packages[1] in text
    assert flag is not None
    assert f"CPPFLAGS={flag[1]} " in text
    assert f'CPPFLAGS = "{flag[1]}"' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")


def test_every_make_target_in_a_page_exists() -> None:
    targets = set(re.findall(r"(?m)^([a-z-]+):", (ROOT / "Makefile").read_text(encoding="utf-8")))
    named = {
        word for page in PAGES for word in re.findall(r"(?:`|^)(?:\S+=\S+ )?make ([a-z-]+)", page.read_text("utf-8"))
    }
    assert named
    assert named <= targets


# --- files ----------------------------------------------------------------------------

#: What a path in backticks begins with: a file or folder of the project.
PLACES = ("engine/", "kb/", "cases/", "tests/", "scripts/", "docs/", "benchmarks/", ".ci/")


def paths(page: Path) -> Iterator[str]:
    """Paths of the project that a page names in backticks or links to."""
    text = prose(page)
    for name in re.findall(r"`([^`\n]+)`", text):
        for word in name.split():
            bare = word.partition("::")[0]
            if bare.startswith(PLACES) and bare != "tests/1" and not any(sign in bare for sign in "*…[<"):
                yield bare
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        if "://" not in target:
            yield str((page.parent / target).resolve().relative_to(ROOT))


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_file_named_in_a_page_exists(page: Path) -> None:
    assert [name for name in paths(page) if not (ROOT / name).exists()] == []


def test_every_test_named_for_developers_exists() -> None:
    named = re.findall(r"(tests/\S+\.py)::(\w+)", DEVELOPERS.read_text(encoding="utf-8"))
    assert named
    for file, name in named:
        assert f"def {name}(" in (ROOT / file).read_text(encoding="utf-8")


def test_every_room_has_its_line_for_developers() -> None:
    """Every module and package of the engine."""
    rooms = {path.name for path in (ROOT / "engine/oilpath").iterdir() if not path.name.startswith(("_", "py.typed"))}
    text = (ROOT / "docs/architecture.md").read_text(encoding="utf-8")
    assert {room for room in rooms if f"`engine/oilpath/{room}`" not in text} == set()


def test_every_module_named_for_running_exists() -> None:
    named = re.findall(r"python -m (oilpath[\w.]*)", "".join(page.read_text(encoding="utf-8") for page in PAGES))
    assert named
    assert all(importlib.util.find_spec(name) is not None for name in named)


# --- examples -------------------------------------------------------------------------


def kind_of(text: str) -> str:
    """The file kind that a YAML text names, without its version."""
    match = re.search(r"(?m)^oilpath: ([a-z]+)/1\b", text)
    assert match is not None, text
    return match[1]


def test_every_kind_of_file_in_kb_is_described_with_an_example() -> None:
    files = list((ROOT / "kb").rglob("*.yaml"))
    kinds = {kind_of(path.read_text(encoding="utf-8")) for path in files} | set(MODELS)
    text = KB.read_text(encoding="utf-8")
    assert {kind for kind in kinds if f"`{kind}/1`" not in text} == set()
    assert kinds == {kind_of(block) for block in blocks(KB, "yaml")}


@pytest.mark.parametrize("block", [pytest.param(b, id=kind_of(b)) for b in blocks(KB, "yaml")])
def test_examples_of_the_knowledge_base_are_taken(block: str) -> None:
    problems = Problems()
    model: Any = model_from(read_nodes(block, "example"), MODELS[kind_of(block)], "example", problems)
    problems.raise_if_any()
    if isinstance(model, Circuit):
        graph = circuit_graph(Machine(name=model.title, circuit=model))
        for name in model.functions:
            assert model.functions[name].actuator in graph.path(name)


def test_words_of_rules_are_those_of_the_program() -> None:
    from oilpath.knowledge import rule

    text = " ".join(KB.read_text(encoding="utf-8").split())
    for fact, slots in rule.FACTS.items():
        assert re.search(rf"- \*\*{fact}\*\*: [^*]*`{re.escape(' '.join(slots))}`", text), fact
    single = (*rule.GROUP_KINDS, *rule.PAIRS, *rule.GROUP_STATES)
    assert {word for word in single if f"`{word}`" not in text} == set()
    for words in (rule.STATES, rule.RELATIONS, rule.ROLES):
        assert f"`{' '.join(words)}`" in text


def test_parameters_of_causes_are_all_described() -> None:
    from typing import get_args

    from oilpath.knowledge.parameters import Parameter

    text = KB.read_text(encoding="utf-8")
    assert {name for name in get_args(Parameter) if f"`{name}`" not in text} == set()


def test_machine_and_sheet_of_the_page_are_read(tmp_path: Path) -> None:
    files: Mapping[str, str] = {kind_of(block): block for block in blocks(FILES, "yaml")}
    assert set(files) == {"machine", "sheet"}
    (tmp_path / "my-machine.yaml").write_text(files["machine"], encoding="utf-8")
    (tmp_path / "my-sheet.yaml").write_text(files["sheet"], encoding="utf-8")
    assert load_machine(tmp_path / "my-machine.yaml").limits
    assert load_sheet(tmp_path / "my-sheet.yaml").readings


@pytest.mark.parametrize("page", [COMMANDS, DEVELOPERS], ids=lambda page: str(page.name))
def test_python_in_a_page_runs(page: Path) -> None:
    (code,) = blocks(page, "python")
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env={"PYTHONPATH": str(ROOT / "engine"), "PATH": ""},
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()


# --- what is made from the program ----------------------------------------------------


@pytest.mark.slow
def test_made_blocks_say_what_the_program_says(made: ModuleType) -> None:
    """Commands, headings and the leading causes. Figures may lag behind until `make pages` is run."""
    pages = {name: (ROOT / name).read_text(encoding="utf-8") for name in made.PAGES}
    stale = [name for name, text in made.documents().items() if made.gist(pages[name]) != made.gist(text)]
    assert stale == [], STALE


def test_the_gist_of_a_page_sees_headings_commands_and_leading_causes(made: ModuleType) -> None:
    page = "# Title\n$ oilpath demo\nMost probable: Worn main\npump 1 (likely, 64%).\n\nFINDINGS\n- 3.4 s\n"
    gist = made.gist(page)
    assert made.gist(page.replace("64%", "71%").replace("3.4", "3.5").replace("likely,", "very likely,")) == gist
    for old, new in (
        ("# Title", "# Other"),
        ("oilpath demo", "oilpath why"),
        ("Worn", "Damaged"),
        ("FINDINGS", "FOUND"),
    ):
        assert made.gist(page.replace(old, new)) != gist


def test_every_made_block_is_used(made: ModuleType) -> None:
    text = "".join((ROOT / name).read_text(encoding="utf-8") for name in made.PAGES)
    assert sorted(name for _, name, _ in made.BLOCK.findall(text)) == sorted(made.BLOCKS)


def words_of(svg: str) -> str:
    """All text of a picture, without spaces."""
    tree = ET.fromstring(svg)
    texts = ("".join(element.itertext()) for element in tree.iter("{http://www.w3.org/2000/svg}text"))
    return re.sub(r"\s", "", "".join(texts))


@pytest.mark.slow
def test_pictures_show_what_the_program_says(made: ModuleType) -> None:
    """Their titles, headings and leading causes, as words."""
    for name, (title, text) in made.screens().items():
        shown = words_of((ROOT / name).read_text(encoding="utf-8"))
        wanted = [title, *made.gist(made.plain(text))]
        assert [line for line in wanted if re.sub(r"\s", "", line) not in shown] == [], STALE


def test_drawings_show_the_circuit_and_the_flow(made: ModuleType) -> None:
    for name, drawn in (("docs/flow.svg", made.flow_picture()), ("docs/feeds.svg", made.feeds_picture())):
        assert words_of((ROOT / name).read_text(encoding="utf-8")) == words_of(drawn), STALE


def test_pictures_ask_nothing_of_other_hosts() -> None:
    pictures = sorted((ROOT / "docs").glob("*.svg"))
    assert pictures
    for picture in pictures:
        addresses = re.findall(r"https?://[^\s\"')]+", picture.read_text(encoding="utf-8"))
        assert set(addresses) == {"http://www.w3.org/2000/svg"}


def test_every_picture_is_shown() -> None:
    text = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    assert [path.name for path in (ROOT / "docs").glob("*.*") if path.name not in text] == []


# --- style ----------------------------------------------------------------------------


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_lines_are_not_long(page: Path) -> None:
    long = [line for line in prose(page).splitlines() if len(line) > 142 and not line.startswith("|")]
    assert long == []
