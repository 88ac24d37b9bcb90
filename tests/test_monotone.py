"""A worse reading of the kind that a cause predicts never makes it likelier that nothing is wrong.

Property test over causes, severities and machines: the readings are what the model of the machine predicts for the
cause, all of them worse together step by step, within what the cause can produce. An axiom of evidence, derived.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import Evidence, ReadingResult, Suspicions
from oilpath.flow.ids import result_id
from oilpath.physics.predictions import SEVERITIES, usual_readings
from oilpath.ranking import rank
from tests import shipped

UNSURE = 0.01
SLACK = 0.02
"""how much likelier it may become: severities are nodes of a grid, and the next one may fit a reading less well"""


def results(readings: list[tuple[Evidence, float]], effects: list[float]) -> tuple[ReadingResult, ...]:
    made = []
    for (e, noticeable), effect in zip(readings, effects, strict=True):
        ratio = e.scale == "ratio"
        value, low, high = (math.exp(x) if ratio else x for x in (effect, -noticeable, noticeable))
        out = not low <= value <= high
        u = UNSURE if ratio else UNSURE * 10 * noticeable
        says = Evidence(result_id(e.test, e.keys.values()), e.test, e.observe, e.load, e.keys, e.scale, effect, u)
        made.append(
            ReadingResult(
                says.result, e.test, e.keys, "fail" if out else "pass", value, None, u, 3, 1.0 if ratio else 0.0,
                low, high, "limit", None, evidence=says,
            )
        )  # fmt: skip
    return tuple(made)


@pytest.mark.parametrize("circuit", ["two-pump-excavator", "compact-excavator", "wheel-loader"])
@settings(max_examples=25, deadline=None)
@given(
    which=st.integers(0, 10**6),
    first=st.integers(0, SEVERITIES - 3),  # beyond the last node a cause can produce nothing
    places=st.sets(st.integers(0, 10**6), min_size=5, max_size=15),
)
def test_worse_readings_never_make_none_likelier(circuit: str, which: int, first: int, places: set[int]) -> None:
    knowledge = shipped.knowledge()
    bench = bench_for(Machine(name="Invented", circuit=knowledge.circuits[circuit]), knowledge)
    readings = list(usual_readings(bench.machine, bench.circuit, knowledge))
    moving = [n for n, silent in enumerate(bench.model.silent) if not silent]
    number = moving[which % len(moving)]
    some = [readings[n] for n in sorted({place % len(readings) for place in places})]
    table, known = bench.model.predict([e for e, _ in some])
    some = [one for one, ok in zip(some, known, strict=True) if ok]
    nones = []
    for node in (first, first + 1):
        effects = table[number, node][known].tolist()
        ranking = rank(results(some, effects), Suspicions(), bench)
        nones.append(next(c.probability for c in ranking.causes if c.cause == "none"))
    assert nones[1] <= nones[0] + SLACK, bench.hypotheses[number].cause.cause
