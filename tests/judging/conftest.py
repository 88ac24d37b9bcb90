"""A machine and sheets of our own invention, read as a user would write them, and judged."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_sheet
from oilpath.documents.nodes import read_file
from oilpath.documents.sheet import Sheet
from oilpath.documents.validate import model_from
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.testkind import TestFile
from oilpath.problems import Problems
from tests.steps import judge

KB = Path(__file__).parents[2] / "kb"

USUAL = "oil-temperature: 54 °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off, working-setting: full"

MACHINE = """
  name: Our own training machine, 22 t class
  circuit: two-pump-excavator
"""
LIMITS = """
  engine-speed: 1900 rpm
  limits:
    - {test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}
    - {test: cycle-time, function: boom-lower, new: 3.8 s, max: 4.5 s}
    - {test: drift, cylinder: boom-cylinder, hold: 5 min, new: 3 mm, max: 12 mm}
    - {test: swing-time, turns: 3, new: 14.0 s, max: 16.1 s}
    - {test: travel-time, range: high, distance: 20 m, new: 14.1 s, max: 15.9 s, max-veer: 1.2 m}
    - {test: track-time, range: high, turns: 3, new: 18.2 s, max: 20.6 s, max-difference: 6 %}
    - {test: stall-pressure, new: 34.3 MPa, min: 33.3 MPa, max: 35.3 MPa}
    - {test: pilot-pressure, min: 3.6 MPa, max: 4.3 MPa}
    - {test: case-drain, part: pump-1, max: 24 L/min}
    - {test: flow, at: pump-1-outlet, min: 190 L/min}
"""
DIMENSIONS = """
  parts:
    pump-1: {displacement: 112 cm3/rev}
    pump-2: {displacement: 112 cm3/rev}
    boom-cylinder: {count: 2, bore: 120 mm, rod: 85 mm, stroke: 1260 mm}
    arm-cylinder: {bore: 135 mm, rod: 95 mm, stroke: 1500 mm}
    bucket-cylinder: {bore: 115 mm, rod: 80 mm, stroke: 1060 mm}
  dimensions: {track-gauge: 2.4 m, track-length: 9.2 m}
"""


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    """The shipped test kinds and circuit, all that judging uses."""
    problems = Problems()
    tests = model_from(read_file(KB / "tests.yaml", "tests.yaml"), TestFile, "tests.yaml", problems)
    circuit = model_from(read_file(KB / "circuits/two-pump-excavator.yaml", "circuit"), Circuit, "circuit", problems)
    problems.raise_if_any()
    assert tests is not None
    assert circuit is not None
    used: dict[str, Any] = {
        "tests": tests.tests, "variants": tests.variants, "circuits": {circuit.id: circuit}, "checks": (),
        "signs": {"foamy-oil": None},
    }  # fmt: skip
    return Knowledge.model_construct(**used)


Read = Callable[..., Sheet]
Judged = Callable[..., Mapping[str, Any]]


@pytest.fixture(scope="session")
def read(knowledge: Knowledge) -> Read:
    """A sheet from the lines of its readings."""

    def sheet(
        *readings: str, machine: str = LIMITS, dimensions: bool = False, conditions: str = USUAL, more: str = ""
    ) -> Sheet:
        known = machine + DIMENSIONS if dimensions else machine
        lines = [f"oilpath: sheet/1\nmachine:{MACHINE}{known}", f"conditions: {{{conditions}}}", more, "readings:"]
        text = "\n".join([*lines, *(f"  - {{{reading}}}" for reading in readings)])
        return load_sheet("-", knowledge, text=text)

    return sheet


@pytest.fixture(scope="session")
def judged(read: Read, knowledge: Knowledge) -> Judged:
    """Results by id, from the lines of the readings."""

    def results(*readings: str, fail_at: float = 0.95, pass_at: float = 0.05, **rest: Any) -> Mapping[str, Any]:
        found = judge(read(*readings, **rest), knowledge, fail_at=fail_at, pass_at=pass_at)
        assert len({result.id for result in found}) == len(found)
        return {result.id: result for result in found}

    return results
