"""A blank test sheet and a blank machine file as text: YAML whose comments say what goes where.

A line to fill in stands behind a `#` within brackets, so that the blank is a valid file before and after.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import Final

from oilpath.documents.emit import emitted
from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.testkind import TestKind
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER
from oilpath.reports.limits import limit_beside
from oilpath.reports.names import safe, sentence
from oilpath.reports.prepare import judged_by, own_conditions
from oilpath.reports.words import Words
from oilpath.session.day import DayPlan, DayTest
from oilpath.session.limit_room import limit_room
from oilpath.session.slots import Slot, slots_of
from oilpath.units import QUANTITIES

_WIDTH: Final = 110
_HEAD: Final[Mapping[str, str]] = {
    "unit-number": "the machine's number in the fleet",
    "order-number": "",
    "serial-number": "",
    "technician": "",
    "hours": "a number without a unit",
    "date": "YYYY-MM-DD",
    "complaint": "in the operator's own words",
    "history": "what was done before, how it came: [Oil changed in March, Came on slowly]",
}
_CONDITIONS: Final[Mapping[str, str]] = {
    "attachment": "empty, loaded or other",
    "auto-idle": "on or off",
    "working-setting": "full or reduced",
}


def blank_sheet(plan: DayPlan, machine: Machine, named: str, words: Words) -> str:
    """A blank sheet for a machine: its tests in the order of the day, the limits beside them.

    `named` is what the sheet calls its machine: a path relative to the sheet.
    """
    lines = [
        *_comment(f"Test sheet for {safe(machine.name)}.", ""),
        *_comment(
            "Remove the # before each line you fill in; leave the comma at its end. Remove repeats that were not made:"
            " [4.8 s]. Leave out what was not measured. A quantity is a number with a decimal point, then its"
            " unit: 4.8 s, 34.1 MPa.",
            "",
        ),
        *_comment(
            "Then: oilpath sheet check SHEET, and oilpath diagnose SHEET. Or let `oilpath sheet fill SHEET` ask.", ""
        ),
        *_comment(DEFER, ""),
        "oilpath: sheet/1",
        f"machine: {emitted(named)}",
        *(_beside(f"# {key}: ", text) for key, text in _HEAD.items()),
        "conditions: {",
        *_conditions(plan, words),
        "}",
        "readings: [",
        *_readings(plan, machine, words),
        "]",
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _comment(text: str, indent: str = "  ", mark: str = "") -> list[str]:
    """A text as comment lines."""
    start = f"{indent}# {mark}"
    return textwrap.wrap(
        text, _WIDTH, initial_indent=start, subsequent_indent=f"{indent}# {' ' * len(mark)}",
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def _beside(line: str, text: str) -> str:
    return f"{line:<34}# {text}" if text else line


def _conditions(plan: DayPlan, words: Words) -> Iterator[str]:
    tests = [test for test in plan.tests if test.variant is None]
    window = plan.oil_temperature
    suits = f"{words.between(window, 'temperature')} suits all tests" if window is not None else ""
    yield _beside(f"  # oil-temperature:  {_unit('temperature', words)},", suits)
    if any(test.demands.engine_speed for test in tests):
        speed = plan.engine_speed
        beside = f"{words.amount(speed, 'rotation', 4)} at the test setting" if speed is not None else ""
        yield _beside("  # engine-speed:  rpm,", beside)
    yield f"  # ambient-temperature:  {_unit('temperature', words)},"
    asked = {name for test in tests for name in test.demands.words}
    for name, accepted in _CONDITIONS.items():
        if name in asked:
            wanted = plan.words.get(name, "")
            yield _beside(f"  # {name}: {wanted},", accepted)


def _unit(quantity: str, words: Words) -> str:
    return say.named(words.shown(QUANTITIES[quantity].unit))


def _readings(plan: DayPlan, machine: Machine, words: Words) -> Iterator[str]:
    knowledge = words.knowledge
    for phase in plan.phases:
        tests = [test for test in phase.tests if test.variant is None]
        if not tests:
            continue
        yield ""
        yield from _comment(f"=== {sentence(safe(phase.title))} ===")
        for caution in phase.cautions:
            yield from _comment(words.caution(caution), mark="! ")
        for test in tests:
            yield from _test(test, plan, machine, words)
    if plan.left_out:
        yield ""
        yield from _comment("=== Also possible; the machine file states no limit for it ===")
        for test in plan.left_out:
            room = slots_of(test, machine, knowledge)
            yield from (f"  # {line}," for line in (_line(slot, words) for slot in room[:1]))


def _test(test: DayTest, plan: DayPlan, machine: Machine, words: Words) -> Iterator[str]:
    knowledge = words.knowledge
    kind, room = knowledge.tests[test.test], slots_of(test, machine, knowledge)
    yield ""
    yield from _comment(f"--- {words.test(test.test)}: {safe(kind.says)}")
    for caution in test.cautions:
        yield from _comment(words.caution(caution), mark="! ")
    for text in (*own_conditions(test, plan, words), *judged_by(test)):
        yield from _comment(f"{sentence(text)}.")
    offered = {name: kind.keys[name] for slot in room for name in slot.offered}
    if offered:
        added = (
            "veer: {toward: left, offset: … m}" if key.is_ == "veer" else f"{name}: … {_room(kind, name, words)}"
            for name, key in offered.items()
        )
        yield from _comment(f"May be added: {', '.join(added)}")
    for slot in room:
        beside = limit_beside(slot, words)
        yield from (f"  # {_line(slot, words)}," + (f"   # {beside}" if beside else ""),)
    if kind.value is None:
        yield from _noted(test.test, kind, knowledge)


def _line(slot: Slot, words: Words) -> str:
    """A reading with room for its value: `{test: pilot-pressure, pressure:  MPa}`."""
    kind = words.knowledge.tests[slot.test]
    stated = [f"{key}: {emitted(value)}" for key, value in slot.stated.items()]
    asked = [f"{name}:  {_room(kind, name, words)}" for name in slot.asked]
    unit = _room(kind, slot.value or "", words)
    repeats = "[" + ", ".join(f" {unit}" for _ in range(slot.repeats)) + "]"
    value = f"{slot.value}: {repeats}" if slot.repeats > 1 else f"{slot.value}:  {unit}"
    return "{" + ", ".join((*stated, *asked, value)) + "}"


def _room(kind: TestKind, name: str, words: Words) -> str:
    """The unit a key is usually written in."""
    quantity = kind.keys[name].quantity
    if name == kind.value and kind.unit is not None:
        return say.named(words.shown(kind.unit))
    return _unit(quantity, words) if quantity is not None else ""


def _noted(test: str, kind: TestKind, knowledge: Knowledge) -> Iterator[str]:
    """Signs and codes: lines that say what they are."""
    if "sign" in kind.id:
        yield from _comment(
            "seen: true, or seen: false if it was looked for and is not there. May name part, function or side."
        )
        for name, sign in knowledge.signs.items():
            yield f"  # {{test: {test}, sign: {name}, seen: true}},   # {safe(sign.title)}"
    elif "check" not in kind.id:
        yield "  # {test: code, spn: 520201, fmi: 4, active: true},   # active: true, or false if it is only stored"
        yield "  # {test: code, text: E 31, active: true},   # another kind of code, as it is shown"


# --- the machine ------------------------------------------------------------------------


def blank_machine(circuit: Circuit, knowledge: Knowledge, words: Words) -> str:
    """A blank machine file for a circuit, with room for what is known of its parts and for the limits of its tests."""
    machine = Machine(name="My machine", circuit=circuit)
    lines = [
        *_comment(f"A machine: {safe(circuit.title)}.", ""),
        *_comment(
            "Remove the # before what you know; almost everything is optional. Limits come from the service"
            " information for this very machine: new is the value of a new one, min and max the accepted range.",
            "",
        ),
        *_comment("Check it with: oilpath machine check MACHINE. Then: oilpath prepare MACHINE", ""),
        "oilpath: machine/1",
        _beside("name: My machine", "as people call it"),
        f"circuit: {emitted(circuit.id)}",
        _beside("# engine-speed: 1900 rpm", "at the test setting"),
        "# oil: {grade: ISO VG 46, viscosity-index: 100}",
        "parts: {",
        *_parts(circuit),
        "}",
        "absent: [",
        *_comment("Parts of the circuit that this machine lacks: arm-holding-valve, … All parts of the circuit:"),
        *_comment(", ".join(circuit.parts)),
        "]",
        *_comment("Which pump feeds what, if it differs from the circuit:", ""),
        f"# feeds: {emitted(_feeds(circuit))}",
        _beside(f"# control: {circuit.control}", "of the main pumps, if it differs: negative, positive, load-sensing"),
        "# dimensions: {length: 9.5 m, track-gauge: 2.4 m, track-length: 9.2 m}",
        "limits: [",
        *_limits(machine, knowledge, words),
        "]",
        *_comment("Fault codes of this machine, by SPN-FMI, and earlier sheets of it when it was sound:", ""),
        '# codes: {"520201-4": {says: "", part: }}',
        "# baseline: [earlier-sheet.yaml]",
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _feeds(circuit: Circuit) -> dict[str, object]:
    merge = {"merge": dict(circuit.feeds.merge)} if circuit.feeds.merge else {}
    return {**{pump: list(groups) for pump, groups in circuit.feeds.pumps.items()}, **merge}


def _parts(circuit: Circuit) -> Iterator[str]:
    for pump in circuit.feeds.pumps:
        yield f"  # {pump}: {{displacement:  cm3/rev, speed-ratio: 1.0}},"
    cylinders = dict.fromkeys(function.actuator for function in circuit.functions.values() if function.end)
    for cylinder in cylinders:
        yield f"  # {cylinder}: {{count: 1, bore:  mm, rod:  mm, stroke:  mm}},"


def _limits(machine: Machine, knowledge: Knowledge, words: Words) -> Iterator[str]:
    shown = ""
    for room in limit_room(machine, knowledge):
        kind = knowledge.tests[room.test]
        if room.test != shown:
            shown = room.test
            yield from _comment(f"{words.test(room.test)}: {safe(kind.says)}")
        unit, rule = _room(kind, kind.value or "", words), kind.limits
        stated = ", ".join(f"{key}: {emitted(value)}" for key, value in room.stated.items())
        if room.per is not None and room.per[1] is None:
            stated += f", {room.per[0]}:  {_room(kind, room.per[0], words)}"
        values = ", ".join(f"{end}:  {unit}" for end in room.ends)
        more = ", max-veer:  m" if rule.veer else ", max-difference:  %" if rule.difference else ""
        yield f"  # {{{stated}, {values}{more}}},"
