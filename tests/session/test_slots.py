"""The readings that a day of testing has room for. Machines are invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from oilpath.documents.load import load_machine, load_sheet
from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.session.day import prepare
from oilpath.session.slots import Slot, slots

ROOT = Path(__file__).parents[2]
MACHINES = sorted((ROOT / "cases/machines").glob("*.yaml"))
SHEETS = [path for folder in ("demo", "sound") for path in sorted((ROOT / "cases" / folder).glob("*.yaml"))]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def room(machine: Machine, knowledge: Knowledge) -> tuple[Slot, ...]:
    return slots(prepare(machine, knowledge), machine, knowledge)


@pytest.mark.parametrize("path", MACHINES, ids=lambda path: path.stem)
def test_every_limit_of_a_machine_has_room_for_a_reading(path: Path, knowledge: Knowledge) -> None:
    machine = load_machine(path, knowledge)
    found = room(machine, knowledge)
    assert {limit.line for limit in machine.limits} == {slot.limit.line for slot in found if slot.limit is not None}
    assert len({slot.id for slot in found}) == len(found)


@pytest.mark.parametrize("path", MACHINES, ids=lambda path: path.stem)
def test_the_room_of_a_reading_is_read_as_that_reading(path: Path, knowledge: Knowledge) -> None:
    """Each slot written into a sheet, with a value, gives the result id that it names."""
    machine = load_machine(path, knowledge)
    values = {"time": "4 s", "length": "4 mm", "pressure": "4 MPa", "rotation": "400 rpm", "flow": "4 L/min",
              "ratio": "4 %", "volume": "4 mL"}  # fmt: skip
    found = room(machine, knowledge)
    lines = []
    for slot in found:
        kind = knowledge.tests[slot.test]
        stated = {**slot.stated, **{name: values[kind.keys[name].quantity or ""] for name in slot.asked}}
        stated[slot.value or ""] = values[slot.quantity or ""]
        lines.append("- {" + ", ".join(f"{key}: {value}" for key, value in stated.items()) + "}\n")
    text = f"oilpath: sheet/1\nmachine: {path}\nreadings:\n{''.join(lines)}"
    sheet = load_sheet("-", knowledge, text=text)
    assert [reading.id for reading in sheet.readings] == [slot.id for slot in found]


def test_what_simulated_sheets_measure_has_room(knowledge: Knowledge) -> None:
    """All measured readings of the invented sheets that a technician would make on a day of testing."""
    lacking: set[str] = set()
    for path in SHEETS:
        sheet = load_sheet(path, knowledge)
        ids = {slot.id for slot in room(sheet.machine, knowledge)}
        lacking |= {
            reading.id
            for reading in sheet.readings
            if reading.values and reading.variant == "standard" and not reading.together_with
            and reading.kind.routine and reading.id not in ids
        }  # fmt: skip
    # The relief is one for a group of functions: either of a pair shows it.
    assert {one.split("/")[0] for one in lacking} <= {"stall-pressure"}


def test_a_machine_without_limits_gets_the_usual_hold_turns_and_distance(knowledge: Knowledge) -> None:
    """Common practice: five minutes, three turns, 20 m."""
    machine = load_machine("-", knowledge, text="oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\n")
    figures = {slot.test: dict(slot.figures) for slot in room(machine, knowledge)}
    assert figures["drift"] == {"hold": "5 min"}
    assert figures["swing-time"] == {"turns": 3}
    assert figures["travel-time"] == {"distance": "20 m"}


def test_a_limit_for_another_hold_gives_its_hold(knowledge: Knowledge) -> None:
    text = "oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\nlimits:\n"
    text += "  - {test: drift, cylinder: boom-cylinder, hold: 10 min, max: 9 mm}\n"
    text += "  - {test: travel-time, range: high, distance: 100 ft, max: 21 s}\n"
    found = {slot.id: slot for slot in room(load_machine("-", knowledge, text=text), knowledge)}
    assert found["drift/boom-cylinder"].figures == {"hold": "10 min"}
    assert found["drift/arm-cylinder"].figures == {"hold": "5 min"}
    assert found["travel-time/forward/high"].figures == {"distance": "30480 mm"}


def test_an_absent_part_takes_its_readings_with_it(knowledge: Knowledge) -> None:
    text = "oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\nabsent: [bucket-cylinder]\n"
    ids = {slot.id for slot in room(load_machine("-", knowledge, text=text), knowledge)}
    assert not [one for one in ids if "bucket" in one]
    assert "drift/arm-cylinder" in ids
