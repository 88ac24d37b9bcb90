# ruff: noqa: E501 (sheets and odd values as they are written)
"""Mutated sheets and circuits: whatever is done to a good one, it is read or refused with problems."""

import re
import string
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from oilpath.documents.load import load_machine, load_sheet
from oilpath.documents.sheet import Sheet
from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem, UnusableInput

Loader = Callable[..., tuple[Any, tuple[Problem, ...]]]

GOOD = """\
oilpath: sheet/1
machine:
  name: Trainer
  circuit: two-pump-excavator
  engine-speed: {test: 1900 rpm, tolerance: 2 %}
  oil: {grade: ISO VG 46, viscosity-index: 100}
  parts:
    pump-1: {displacement: 112 cm3/rev, speed-ratio: 1.0}
    boom-cylinder: {count: 2, bore: 120 mm, rod: 85 mm, stroke: 1260 mm}
  absent: [arm-holding-valve]
  feeds:
    pump-1: [travel-right, boom, swing]
    pump-2: [travel-left, arm, bucket]
    merge: {boom-raise: pump-2, arm-in: pump-1}
  dimensions: {length: 9.5 m, track-gauge: 2.4 m}
  limits:
    - {test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}
    - {test: travel-time, range: high, distance: 20 m, max: 15.9 s, max-veer: 1.2 m}
    - {test: stall-pressure, new: 34.3 MPa, min: 33.3 MPa, max: 35.3 MPa}
  conditions:
    - {test: drift, oil-temperature: [50 °C, 60 °C], attachment: loaded}
  codes: {"520201-4": {says: Flow signal low, part: pump-2-flow-signal}}
unit-number: 007
hours: 8450
date: 2026-05-14
complaint: Slow when digging
history: [Came on slowly]
conditions: {oil-temperature: 54 °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off}
instruments: {time: {resolution: 0.1 s}, pressure: {span: 60 MPa, class: 1.0}}
readings:
  - {test: cycle-time, function: boom-raise, times: [4.8 s, 4.7 s], note: windy}
  - test: drift
    cylinder: boom-cylinder
    hold: 5 min
    moved: 9 mm
    log: [{after: 1 min, moved: 4 mm}]
  - {test: travel-time, direction: forward, range: high, distance: 20 m, times: 14 s, veer: {toward: left, offset: 0.4 m}}
  - {test: pressure, at: boom-cylinder-rod, state: moving, function: boom-raise, pressure: 1.2 MPa}
  - {test: code, spn: 520201, fmi: 4, active: true}
  - {test: sign, sign: foamy-oil, seen: true, part: tank}
  - {test: check, check: plug-loaded-line, part: boom-cylinder, outcome: rod-moves}
  - {test: cycle-time, function: boom-raise, variant: cold, with: [swing-left], times: 5.6 s}
confirmed:
  - {cause: cylinder.seal-leak, part: boom-cylinder-left, how: Seal kit}
"""
ODD = [
    "null", "true", "-1", "0", "1e400", "1e-400", ".nan", "[]", "{}", "''", "[[[[]]]]", "{a: 1}", "4 s", "-3 MPa", "0 s",
    "1e29 m", "5000 °C", "007", "off", "yes", "2026-02-30", "pump-1", "boom-raise", "*x", "&x", "!!str x", "\"\\ud800\"",
    "\"\\0\"", "é", "[4.8 s, null]", "{test: 1}", "machine/1", "sheet/2", "/etc/passwd", "http://x", ".", "-", "?", "#", "|",
]  # fmt: skip
LINES = GOOD.splitlines()
VALUES = [(m.start(1), m.end(1)) for m in re.finditer(r": ?([^\n{}\[\],:]+)", GOOD)]
ENTRIES = [(m.start(), m.end()) for m in re.finditer(r"[a-z-]+: [^\n{}\[\],:]+,? ?", GOOD)]


def test_the_sheet_to_be_mutated_is_good(read: Loader) -> None:
    sheet, problems = read(GOOD)
    assert problems == ()
    assert len(sheet.readings) == 8


def outcome(text: str | bytes, knowledge: Knowledge) -> Sheet | None:
    """The sheet, or None where it is unusable; anything else that is raised fails the test."""
    try:
        return load_sheet("-", knowledge, text=text)
    except UnusableInput as error:
        problems = error.problems
    assert problems
    for problem in problems:
        assert re.match(r"-:\d+: .", str(problem))
        assert str(problem).isprintable()
    return None


def mutation() -> st.SearchStrategy[Callable[[str], str]]:
    def replace_value(place: tuple[int, int], odd: str) -> Callable[[str], str]:
        return lambda text: text[: place[0]] + odd + text[place[1] :]

    def line_change(at: int, to: int, how: str) -> Callable[[str], str]:
        def change(text: str) -> str:
            lines = text.splitlines()
            if not lines:
                return text
            one, two = at % len(lines), to % len(lines)
            if how == "drop":
                del lines[one]
            elif how == "double":
                lines.insert(two, lines[one])
            else:
                lines[one], lines[two] = lines[two], lines[one]
            return "\n".join(lines) + "\n"

        return change

    def insert(at: int, piece: str) -> Callable[[str], str]:
        return lambda text: text[:at] + piece + text[at:]

    spots = st.integers(0, len(GOOD))
    return st.one_of(
        st.builds(replace_value, st.sampled_from(VALUES), st.sampled_from(ODD)),
        st.builds(replace_value, st.sampled_from(ENTRIES), st.just("")),
        st.builds(line_change, st.integers(0, 99), st.integers(0, 99), st.sampled_from(["drop", "double", "swap"])),
        st.builds(insert, spots, st.text(alphabet=string.printable + "é°\x00\u2028\ud800", max_size=4)),
        st.builds(insert, spots, st.sampled_from([": ", ", ", "{", "}", "[", "]", "\n", "'", '"', "&a ", "*a", "- "])),
    )


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changes=st.lists(mutation(), min_size=1, max_size=3))
def test_a_mutated_sheet_is_read_or_refused(changes: list[Callable[[str], str]], knowledge: Knowledge) -> None:
    text = GOOD
    for change in changes:
        text = change(text)
    outcome(text, knowledge)


@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, len(GOOD.encode())), piece=st.binary(max_size=6), cut=st.integers(0, 40))
def test_a_sheet_with_foreign_bytes_is_read_or_refused(at: int, piece: bytes, cut: int, knowledge: Knowledge) -> None:
    content = GOOD.encode()
    outcome(content[:at] + piece + content[at + cut :], knowledge)


@pytest.mark.parametrize("place", VALUES, ids=lambda place: f"{place[0]}")
def test_every_value_stands_up_to_every_odd_one(place: tuple[int, int], knowledge: Knowledge) -> None:
    for odd in ODD:
        outcome(GOOD[: place[0]] + odd + GOOD[place[1] :], knowledge)


@pytest.mark.parametrize("number", range(len(LINES)))
def test_every_line_can_be_missing(number: int, knowledge: Knowledge) -> None:
    outcome("\n".join(LINES[:number] + LINES[number + 1 :]) + "\n", knowledge)


CIRCUIT = (Path(__file__).parents[2] / "kb/circuits/two-pump-excavator.yaml").read_text(encoding="utf-8")
CIRCUIT_VALUES = [(m.start(1), m.end(1)) for m in re.finditer(r"[:,\[] ?([^\n{}\[\],:#]+)", CIRCUIT)]


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.sampled_from(CIRCUIT_VALUES), odd=st.sampled_from(ODD))
def test_a_mutated_circuit_is_read_or_refused(
    place: tuple[int, int], odd: str, yard: Path, knowledge: Knowledge
) -> None:
    (yard / "own.yaml").write_text(CIRCUIT[: place[0]] + odd + CIRCUIT[place[1] :], encoding="utf-8")
    (yard / "m.yaml").write_text("oilpath: machine/1\nname: x\ncircuit: own.yaml\n", encoding="utf-8")
    problems: tuple[Problem, ...] | None = None
    try:
        load_machine(yard / "m.yaml", knowledge)
    except UnusableInput as error:
        problems = error.problems
    assert problems is None or all(Path(problem.file).name in ("m.yaml", "own.yaml") for problem in problems)
    assert problems is None or problems
