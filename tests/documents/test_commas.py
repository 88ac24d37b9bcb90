"""A decimal comma is named as what it is, with the line as it is right."""

from __future__ import annotations

from pathlib import Path

import pytest

from oilpath.documents.load import load_machine, load_sheet
from oilpath.problems import Problem, UnusableInput

MACHINE = "machine: {name: Invented, circuit: two-pump-excavator}\n"


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(UnusableInput) as raised:
        load_sheet("s.yaml", text=f"oilpath: sheet/1\n{MACHINE}{text}")
    return raised.value.problems


@pytest.mark.parametrize(
    ("line", "right"),
    [
        ("- {test: pilot-pressure, pressure: 3,9 MPa}", "- {test: pilot-pressure, pressure: 3.9 MPa}"),
        ("- {test: pilot-pressure, pressure: '3,9 MPa'}", "- {test: pilot-pressure, pressure: '3.9 MPa'}"),
        (
            "- {test: cycle-time, function: arm-in, times: [3,4 s, 3,5 s]}",
            "- {test: cycle-time, function: arm-in, times: [3.4 s, 3.5 s]}",
        ),
        (
            "- {test: cycle-time, function: arm-in, times: [3,4 s,3,5 s]}",
            "- {test: cycle-time, function: arm-in, times: [3.4 s,3.5 s]}",
        ),
    ],
)
def test_one_problem_with_the_right_line(line: str, right: str) -> None:
    (found,) = problems(f"readings:\n  {line}\n")
    assert found.line == 4
    assert found.key.startswith("readings[0]")
    assert "written with a decimal comma" in found.message
    assert found.accepted == f"a decimal point: {right}"


def test_the_right_line_is_taken() -> None:
    (found,) = problems("readings:\n  - {test: pilot-pressure, pressure: 3,9 MPa}\n")
    right = found.accepted.removeprefix("a decimal point: ")
    sheet = load_sheet("s.yaml", text=f"oilpath: sheet/1\n{MACHINE}readings:\n  {right}\n")
    assert sheet.readings[0].values == (3.9e6,)


def test_a_block_value_has_its_own_line() -> None:
    (found,) = problems("readings:\n- test: pilot-pressure\n  pressure: 3,9 MPa\n")
    assert (found.line, found.accepted) == (5, "a decimal point: pressure: 3.9 MPa")


def test_thousands_are_no_decimals() -> None:
    (found,) = problems("conditions: {engine-speed: 1,900 rpm}\nreadings: []\n")
    assert "1900 or 1.900" in found.accepted


def test_another_mistake_of_the_line_stays_and_others_are_left_alone() -> None:
    found = problems(
        "readings:\n  - {test: cycle-time, function: arm-inn, times: [3,4 s]}\n"
        "  - {test: pilot-pressure, pressure: 3,x MPa}\n"
    )
    assert [one.line for one in found if "decimal comma" in one.message] == [4]
    assert any("did you mean arm-in" in one.accepted for one in found)
    assert any(one.line == 5 for one in found)


def test_commas_in_texts_are_left_alone() -> None:
    (found,) = problems("complaint: [slow by 3,5 s]\nreadings: []\n")
    assert "comma" not in found.message


def test_a_machine_file_that_a_sheet_names(tmp_path: Path) -> None:
    head = "oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\n"
    limit = "  - {test: pilot-pressure, max: 4,3 MPa}\n"
    (tmp_path / "m.yaml").write_text(f"{head}limits:\n{limit}", encoding="utf-8")
    (tmp_path / "s.yaml").write_text("oilpath: sheet/1\nmachine: m.yaml\nreadings: []\n", encoding="utf-8")
    for load, name in ((load_sheet, "s.yaml"), (load_machine, "m.yaml")):
        with pytest.raises(UnusableInput) as raised:
            load(tmp_path / name)
        (found,) = raised.value.problems
        assert (Path(found.file).name, found.line) == ("m.yaml", 5)
        assert found.accepted == "a decimal point: - {test: pilot-pressure, max: 4.3 MPa}"
