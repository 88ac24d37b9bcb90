"""Paths in a sheet: what is not a file of ours is told at the line that names it, and nothing of it is shown."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_machine, load_sheet
from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem, UnusableInput

Loader = Callable[..., tuple[Any, tuple[Problem, ...]]]

MACHINE = "oilpath: machine/1\nname: Trainer\ncircuit: two-pump-excavator\n"


def head(line: str) -> str:
    return f"oilpath: sheet/1\nmachine: machine.yaml\n{line}\nreadings: []\n"


SECRET = "hunter2"


@pytest.mark.parametrize("key", ["machine", "baseline", "after", "circuit"])
@pytest.mark.parametrize(
    "content",
    [
        f"root:{SECRET}:0:0::/root:/bin/sh\n",
        f"password: {SECRET}\n{SECRET}: x\n",
        f"- {SECRET}\n",
        f"{SECRET}: [\n",
        f"oilpath: {SECRET}/1\n{SECRET}: 1\n",
        f"oilpath: {SECRET}\n",
        f"a: &x 1\n{SECRET}: *y\n",
        f"{{\"{SECRET}\": \"\\ud800\"}}",
        f"\x00{SECRET}",
    ],
)  # fmt: skip
def test_nothing_of_a_foreign_file_is_shown(key: str, content: str, yard: Path, read: Loader) -> None:
    (yard / "foreign").write_text(content, encoding="utf-8")
    inline = "{name: x, circuit: two-pump-excavator}"
    text = {
        "machine": "oilpath: sheet/1\nreadings: []\nmachine: foreign\n",
        "baseline": head("baseline: foreign"),
        "after": head("confirmed: [{cause: pump.worn, part: pump-1, after: foreign}]"),
        "circuit": f"oilpath: sheet/1\nreadings: []\nmachine: {inline.replace('two-pump-excavator', './foreign')}\n",
    }[key]
    _, problems = read(text)
    assert len(problems) == 1
    said = str(problems[0])
    assert problems[0].line == 3
    assert problems[0].key.endswith(key)
    assert problems[0].file.endswith("sheet-read.yaml")
    assert SECRET not in said


@pytest.mark.skipif(not Path("/etc/passwd").is_file(), reason="no such file on this machine")
def test_a_system_file_is_no_machine(read: Loader) -> None:
    _, problems = read("oilpath: sheet/1\nmachine: /etc/passwd\nreadings: []\n")
    assert [(p.line, p.key) for p in problems] == [(2, "machine")]
    assert "root:" not in str(problems[0])


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
def test_a_pipe_is_not_waited_for(yard: Path, read: Loader) -> None:
    os.mkfifo(yard / "pipe")
    _, problems = read("oilpath: sheet/1\nmachine: pipe\nreadings: []\n")
    assert "not a regular file" in str(problems[0])


def test_a_machine_file_with_broken_yaml_is_told_at_its_own_line(yard: Path, read: Loader) -> None:
    (yard / "machine.yaml").write_text(MACHINE + "oil: {grade: 'ISO\n", encoding="utf-8")
    _, problems = read(head("hours: 5"))
    assert [(Path(p.file).name, p.line) for p in problems] == [("machine.yaml", 4)]


@pytest.mark.parametrize("path", ["nowhere.yaml", ".", "a\0b", "x" * 5000])
def test_an_unreadable_file_is_unusable_from_python_too(path: str, yard: Path, knowledge: Knowledge) -> None:
    for load in (load_sheet, load_machine):
        with pytest.raises(UnusableInput) as caught:
            load(str(yard / path), knowledge)
        assert [(p.line, p.key) for p in caught.value.problems] == [(1, "-")]
