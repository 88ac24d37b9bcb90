"""How commands are called: help with an example that works, mistakes in plain words, what to do first."""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from oilpath import cli
from oilpath.commands.options import Command, Group
from tests.running import Run, in_process

CASES = Path(__file__).parents[2] / "cases"


def commands() -> dict[str, click.Command]:
    """All commands and groups by their words."""
    found: dict[str, click.Command] = {}

    def walk(group: click.Group, before: str) -> None:
        for name in group.list_commands(click.Context(group)):
            command = group.get_command(click.Context(group), name)
            assert command is not None
            found[f"{before}{name}"] = command
            if isinstance(command, click.Group):
                walk(command, f"{before}{name} ")

    walk(cli.app(), "")
    return found


COMMANDS = commands()
SINGLE = {name: command for name, command in COMMANDS.items() if not isinstance(command, click.Group)}


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return in_process(monkeypatch, capsys)


# --- help -----------------------------------------------------------------------------


def examples_of(command: click.Command) -> tuple[str, ...]:
    assert isinstance(command, Command | Group)
    return command.examples


def examples() -> Iterator[tuple[str, str]]:
    """Each example of each command and group; for the first one no words."""
    for name, command in {"": cli.app(), **COMMANDS}.items():
        for example in examples_of(command):
            yield name, example


EXAMPLES = list(examples())
#: These are tried elsewhere: the first serves until it is stopped, the next need a database, the others take long.
NOT_RUN = ("oilpath serve", "oilpath store", "oilpath kb check", "oilpath kb score")


@pytest.mark.parametrize("name", ["", *COMMANDS])
def test_help_ends_with_examples(run: Run, name: str) -> None:
    command = COMMANDS.get(name) or cli.app()
    ran = run(*name.split(), "--help")
    assert ran.status == 0
    title, said = ("Example:", 1) if len(examples_of(command)) == 1 else ("Examples:", len(examples_of(command)))
    assert said >= 1
    assert ran.out.splitlines()[-said - 1 :] == [title, *(f"  {one}" for one in examples_of(command))]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the files that the examples name."""
    shutil.copytree(CASES / "machines", tmp_path / "machines")
    shutil.copy(CASES / "machines/trainer-22t.yaml", tmp_path / "machine.yaml")
    sheet = (CASES / "demo/pump-1-slow.yaml").read_text(encoding="utf-8")
    sheet = re.sub(r"(?m)^machine: .*$", "machine: machine.yaml", sheet)
    for name in ("sheet", "today"):
        (tmp_path / f"{name}.yaml").write_text(sheet, encoding="utf-8")
    for year, hours in (("2024", 4000), ("2025", 6000), ("2026", 8000)):
        text = re.sub(r"(?m)^date: .*$", f"date: {year}-05-14", re.sub(r"(?m)^hours: .*$", f"hours: {hours}", sheet))
        (tmp_path / f"{year}.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "readings.csv").write_text(
        "Machine,machine.yaml\nTest,Unit,Reading 1\npilot-pressure,MPa,3.9\n", encoding="utf-8"
    )
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(("name", "example"), EXAMPLES, ids=[example for _, example in EXAMPLES])
def test_examples_run(run: Run, folder: Path, name: str, example: str) -> None:
    words = shlex.split(example)
    if words[0] != "oilpath":
        assert words[0] == "eval"
        return
    assert words[: len(name.split()) + 1] == ["oilpath", *name.split()]
    if example.startswith(NOT_RUN):
        COMMANDS[name].make_context(name, words[len(name.split()) + 1 :])  # raises where an argument is wrong
        return
    if "--output" in words and name != "sheet fill":
        (folder / words[words.index("--output") + 1]).unlink(missing_ok=True)
    ran = run(*words[1:])
    assert (ran.status, ran.err) == (0, "")
    assert ran.out or "--output" in words


@pytest.mark.parametrize("name", SINGLE)
def test_help_explains_every_argument_and_option(run: Run, name: str) -> None:
    said = run(*name.split(), "--help").out
    for parameter in SINGLE[name].params:
        if isinstance(parameter, click.Option):
            assert parameter.help, parameter.name
        else:
            metavar = (parameter.metavar or "").strip("[].")
            assert re.search(rf"(?m)^\s+.*\b{metavar}\b", said.partition("\n\n")[2]), metavar


def test_no_help_is_cut(run: Run) -> None:
    for words in ((), ("kb",)):
        said = run(*words, "--help").out
        assert not re.search(r"[a-z]\.\.\.$", said, re.MULTILINE)


@pytest.mark.parametrize("name", COMMANDS)
def test_short_and_long_help_are_the_same(run: Run, name: str) -> None:
    assert run(*name.split(), "-h") == run(*name.split(), "--help")


def test_a_command_that_answers_in_figures_takes_units() -> None:
    figures = {"demo", "prepare", "diagnose", "why", "explore", "order", "trend"}
    assert figures <= {name for name, command in SINGLE.items() if any("--units" in p.opts for p in command.params)}


# --- what to do first -----------------------------------------------------------------


def test_the_name_alone_says_in_ten_lines_what_to_do_first(run: Run) -> None:
    ran = run()
    assert (ran.status, ran.err) == (0, "")
    lines = [line for line in ran.out.splitlines() if line]
    assert len(lines) <= 10
    assert max(map(len, lines)) <= 80
    assert "manual" in lines[-1]
    named = [line.split("  ")[1] for line in ran.out.splitlines() if line.startswith("  oilpath ")]
    assert len(named) >= 4
    for words in map(shlex.split, named):
        command = SINGLE.get(words[1])
        if command is None:  # of a group, by both its words
            assert run(words[1], words[2], "--help").status == 0
        else:
            command.make_context(words[1], words[2:])


def test_a_group_alone_shows_its_commands(run: Run) -> None:
    assert run("kb") == run("kb", "--help")


# --- mistakes -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("nothing", "oilpath: there is no command nothing"),
        ("diagnos a", "oilpath: there is no command diagnos; did you mean diagnose?"),
        ("kb chek", "oilpath kb: there is no command chek; did you mean check?"),
        ("--no-such", "oilpath: there is no option --no-such"),
        ("diagnose a --unit us", "oilpath diagnose: there is no option --unit; did you mean --units?"),
        ("diagnose", "oilpath diagnose: SHEET is missing"),
        ("why", "oilpath why: TOPIC is missing"),
        ("why .", "oilpath why: TOPIC is missing"),
        ("why a b c", "oilpath why: c is one argument too many"),
        ("order a b", "oilpath order: b is one argument too many"),
        ("diagnose a --format", "oilpath diagnose: --format needs a value"),
        ("diagnose a --all=yes", "oilpath diagnose: --all takes no value"),
        (
            "diagnose a --format word",
            "oilpath diagnose: --format: 'word' is not one of"
            " 'text', 'markdown', 'html', 'json', 'jsonl', 'svg', 'dot'",
        ),
        ("diagnose a --short --format json", "oilpath diagnose: --short is for text and markdown, not for json"),
        ("diagnose a --fail-at much", "oilpath diagnose: --fail-at: 'much' is not a number from 0 to 1"),
        ("diagnose a --fail-at nan", "oilpath diagnose: --fail-at: 'nan' is not a number from 0 to 1"),
        ("diagnose a --fail-at 0.1 --pass-at 0.1", "oilpath diagnose: --pass-at must be below --fail-at"),
        ("diagnose - -", "oilpath diagnose: - (standard input) can be read once only"),
        ("kb score --sheets 1", "oilpath kb score: --sheets: '1' is not a whole number from 20 to 100000"),
        ("kb score --seed x", "oilpath kb score: --seed: 'x' is not a whole number from 0 to 4294967295"),
    ],
)
def test_a_mistake_is_said_in_plain_words(run: Run, arguments: str, said: str) -> None:
    ran = run(*arguments.split())
    path = said.partition(":")[0]
    assert (ran.status, ran.out, ran.err) == (2, "", f"{said}\nTry: {path} --help\n")


@pytest.mark.parametrize("command", ["prepare", "diagnose", "order", "trend", "why"])
def test_an_empty_name_is_a_mistake(run: Run, command: str) -> None:
    """As from an unset variable of the shell, in quotes."""
    ran = run(command, "", *["pump.worn"][: command == "why"])
    assert (ran.status, ran.out) == (2, "")
    assert ": an empty name; the name of a file is expected\n" in ran.err


@pytest.mark.parametrize("argument", ["a\nb", "\x1b[31m", "\u202e", "\udcff", "x" * 100_000])
def test_what_was_typed_is_shown_on_one_line(run: Run, argument: str) -> None:
    for arguments in (("order", "a", argument), (argument,), ("diagnose", f"--{argument}"), ("demo", argument)):
        ran = run(*arguments)
        assert ran.status == 2
        assert len(ran.err.splitlines()) == 2
        assert len(ran.err) < 1000
        assert ran.err.replace("\n", "").isprintable()
