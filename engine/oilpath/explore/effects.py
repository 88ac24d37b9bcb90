"""What a cause does to every test of a machine, by the circuit model, at a middle severity."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array
from oilpath.bench import Bench
from oilpath.flow import Evidence
from oilpath.flow.ids import placed_by, result_id
from oilpath.machine.hypotheses import Hypothesis
from oilpath.physics.predictions import SEVERITIES, usual_readings
from oilpath.records import dataclass

MIDDLE = SEVERITIES // 2
"""the severity at which a cause is shown: half way, on a scale of equal steps of effect, from noticeable to lost"""
NOTICED = 1.0
"""size from which an effect can be seen in a reading"""


@dataclass(frozen=True, slots=True)
class Effect:
    """What one reading is moved by: ln ratio, or an offset in SI; `size`: in what counts as noticeable for the test."""

    reading: Evidence
    moved: float
    size: float

    @property
    def noticed(self) -> bool:
        """Whether it can be seen."""
        return abs(self.size) >= NOTICED


@dataclass(frozen=True, slots=True)
class Survey:
    """All readings that a machine's tests give, and what every hypothesis does to them.

    effect (hypotheses, severities, readings) as predicted, noticeable (readings,) in the same units.
    """

    readings: tuple[Evidence, ...]
    noticeable: Array
    effect: Array

    @property
    def size(self) -> Array:
        """The effects in what counts as noticeable."""
        return self.effect / self.noticeable

    def of(self, hypothesis: int, severity: int = MIDDLE) -> tuple[Effect, ...]:
        """What a hypothesis does, the largest effect first."""
        moved = self.effect[hypothesis, severity]
        size = moved / self.noticeable
        order = sorted(range(len(self.readings)), key=lambda n: (-abs(float(size[n])), self.readings[n].result))
        return tuple(Effect(self.readings[n], float(moved[n]), float(size[n])) for n in order)


def survey(bench: Bench) -> Survey:
    """The readings of all tests that people make on a machine, without those that the circuit model does not know."""
    tests = bench.knowledge.tests
    readings: list[Evidence] = []
    noticeable: list[float] = []
    for one, least in usual_readings(bench.machine, bench.circuit, bench.knowledge):
        if one.observe == "condition":
            continue
        named = result_id(one.test, placed_by(tests[one.test].id, one.keys))
        readings.append(Evidence(named, one.test, one.observe, one.load, one.keys, one.scale, 0.0, 1.0))
        noticeable.append(least)
    effect, known = bench.model.predict(readings)
    kept = np.flatnonzero(known)
    return Survey(tuple(readings[n] for n in kept), np.array(noticeable)[kept], effect[:, :, kept])


def numbered(bench: Bench, cause: str, part: str | None) -> tuple[tuple[int, Hypothesis], ...]:
    """The hypotheses of a cause at a part, by default at the first part where it can stand, with their numbers."""
    found = [(n, h) for n, h in enumerate(bench.hypotheses) if h.cause.cause == cause and part in (None, h.part)]
    return tuple((n, h) for n, h in found if h.part == found[0][1].part)


def level(bench: Bench, hypothesis: int, severity: int = MIDDLE) -> float | None:
    """Value of the disturbed parameter at a severity; None where nothing is disturbed."""
    value = float(bench.model.values(hypothesis)[severity])
    return None if np.isnan(value) else value
