"""Earlier sheets named as baseline: which are read, how far, and whose problem one is that cannot be read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_machine, load_sheet
from oilpath.documents.paths import MAX_SHEETS
from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem, UnusableInput
from tests.documents.conftest import MACHINE

Loader = Callable[..., tuple[Any, tuple[Problem, ...]]]

OLD = (
    "oilpath: sheet/1\nmachine: machine.yaml\nhours: {hours}\nreadings:\n"
    "  - {{test: pilot-pressure, pressure: 3.9 MPa}}\n"
)


def write(folder: Path, name: str, hours: int = 100, more: str = "") -> None:
    (folder / name).write_text(OLD.format(hours=hours) + more, encoding="utf-8")


def head(line: str) -> str:
    return f"oilpath: sheet/1\nmachine: machine.yaml\n{line}\nreadings: []\n"


def test_earlier_sheets_are_read_with_the_sheet(read: Loader, yard: Path) -> None:
    write(yard, "a.yaml", 100)
    write(yard, "b.yaml", 200)
    sheet, problems = read(head("baseline: [a.yaml, b.yaml]"))
    assert problems == ()
    assert [earlier.hours for earlier in sheet.earlier] == [100, 200]
    assert sheet.earlier[0].readings[0].values == pytest.approx((3.9e6,))
    assert sheet.earlier[0].machine is sheet.machine  # one file, read once


def test_one_name_alone_will_do(read: Loader, yard: Path) -> None:
    write(yard, "a.yaml")
    sheet, _ = read(head("baseline: a.yaml"))
    assert len(sheet.earlier) == 1


def test_a_machine_file_names_them_as_well(yard: Path, knowledge: Knowledge) -> None:
    """Relative to the machine file; a sheet that both name counts once; load_machine keeps the names."""
    (yard / "machines").mkdir()
    write(yard, "old.yaml")
    (yard / "machines/m.yaml").write_text(MACHINE + "baseline: [../old.yaml]\n", encoding="utf-8")
    (yard / "now.yaml").write_text(
        "oilpath: sheet/1\nmachine: machines/m.yaml\nbaseline: old.yaml\nreadings: []\n", encoding="utf-8"
    )
    assert [earlier.hours for earlier in load_sheet(yard / "now.yaml", knowledge).earlier] == [100]
    assert load_machine(yard / "machines/m.yaml", knowledge).baseline == ("../old.yaml",)


def test_a_sheet_that_its_machine_file_names_is_no_baseline_of_itself(yard: Path, knowledge: Knowledge) -> None:
    (yard / "machine.yaml").write_text(MACHINE + "baseline: old.yaml\n", encoding="utf-8")
    write(yard, "old.yaml")
    assert load_sheet(yard / "old.yaml", knowledge).earlier == ()


def test_what_an_earlier_sheet_names_is_not_opened(read: Loader, yard: Path) -> None:
    """No recursion: neither its baseline nor the sheet after its repair, nor the baseline of its machine file."""
    write(
        yard,
        "a.yaml",
        more="baseline: [nowhere.yaml]\nconfirmed: [{cause: pump.worn, part: pump-1, after: gone.yaml}]\n",
    )
    sheet, problems = read(head("baseline: a.yaml"))
    assert problems == ()
    assert sheet.earlier[0].earlier == ()
    (yard / "machine.yaml").write_text(MACHINE + "baseline: [a.yaml]\n", encoding="utf-8")
    sheet, problems = read(head("baseline: []"))
    assert problems == ()
    assert [len(earlier.earlier) for earlier in sheet.earlier] == [0]


def test_problems_of_an_earlier_sheet_have_its_own_file_and_line(read: Loader, yard: Path) -> None:
    write(yard, "a.yaml", more="  - {test: pilot-pressure, pressure: 39 bananas, variant: hot}\n")
    sheet, problems = read(head("baseline: a.yaml"))
    assert sheet is None
    (problem,) = problems
    assert problem.file.endswith("a.yaml")
    assert problem.line == 6


def test_in_a_machine_file_a_missing_one_is_a_problem_of_that_line(yard: Path, knowledge: Knowledge) -> None:
    (yard / "machine.yaml").write_text(MACHINE + "baseline: [gone.yaml]\n", encoding="utf-8")
    with pytest.raises(UnusableInput) as alone:
        load_machine(yard / "machine.yaml", knowledge)
    (yard / "now.yaml").write_text(head("hours: 5"), encoding="utf-8")
    with pytest.raises(UnusableInput) as with_sheet:
        load_sheet(yard / "now.yaml", knowledge)
    for caught in (alone, with_sheet):
        (problem,) = caught.value.problems
        assert (problem.line, problem.key) == (7, "baseline[0]")
        assert problem.file.endswith("machine.yaml")


def test_too_many_are_refused(read: Loader, yard: Path) -> None:
    write(yard, "a.yaml")
    _, problems = read(head(f"baseline: [{', '.join(['a.yaml'] * (MAX_SHEETS + 1))}]"))
    assert [problem.key for problem in problems] == ["baseline"]
