"""The real causes, scatter and priors with no rules, a machine, and sheets made from what the model predicts."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import Evidence, ReadingResult, Result, Suspicion
from oilpath.flow.notes import Filled
from oilpath.knowledge.base import Knowledge
from oilpath.physics.predictions import Predictions
from tests import shipped

SheetOf = Callable[..., tuple[Result, ...]]
Find = Callable[..., int]


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    """As it ships, without rules, checks and signs, which the ranking does not read itself."""
    return shipped.knowledge()


@pytest.fixture(scope="session")
def machine(knowledge: Knowledge) -> Machine:
    return Machine(name="Yard trainer, invented", circuit=knowledge.circuits["two-pump-excavator"])


@pytest.fixture(scope="session")
def model(machine: Machine, knowledge: Knowledge) -> Predictions:
    return bench_for(machine, knowledge).model


@pytest.fixture(scope="session")
def find(model: Predictions) -> Find:
    """Number of the hypothesis of a cause at a part, in its first or a named variant."""

    def number(cause: str, part: str, variant: str | None = None) -> int:
        fits: list[int] = [
            n
            for n, h in enumerate(model.hypotheses)
            if h.cause.cause == cause and h.part == part and variant in (None, h.variant)
        ]
        return fits[0]

    return number


def _blank() -> list[Evidence]:
    found = []

    def add(test: str, observe: str, load: str = "", scale: Any = "ratio", u: float = 0.015, **keys: str) -> None:
        result = "/".join((test, *keys.values()))
        found.append(Evidence(result, test, observe, load, keys, scale, 0.0, u))

    for function in ("boom-raise", "boom-lower", "arm-in", "arm-out", "bucket-curl", "bucket-dump"):
        add("cycle-time", "function-time", "cycle", function=function)
    for direction in ("left", "right"):
        add("swing-time", "function-time", "swing", direction=direction)
    for direction in ("forward", "reverse"):
        add("travel-time", "travel-time", "ground-high", direction=direction, range="high")
        add("travel-veer", "veer", "ground-high", "offset", 0.07, direction=direction, range="high")
        for side in ("left", "right"):
            add("track-time", "track-time", "raised-high", side=side, direction=direction, range="high")
    for cylinder in ("boom-cylinder", "arm-cylinder", "bucket-cylinder"):
        add("drift", "drift", u=0.1, cylinder=cylinder)
    for pump, function in (("pump-1", "bucket-curl"), ("pump-2", "arm-in")):
        add("stall-pressure", "stall-pressure", u=0.008, pump=pump, function=function)
    add("pilot-pressure", "pilot-pressure", u=0.01)
    return found


BLANK = tuple(_blank())
LIMIT = {"ratio": 0.14, "offset": 1.2, "drift": 1.0, "stall-pressure": 0.03, "pilot-pressure": 0.08}


def result_of(e: Evidence) -> Result:
    """A judged result that carries this evidence; out beyond plain limits of our own."""
    limit = LIMIT.get(e.observe, LIMIT[e.scale])
    low = e.observe in ("stall-pressure", "pilot-pressure")
    out = abs(e.e) > limit if e.scale == "offset" else (-e.e if low else e.e) > limit
    return ReadingResult(e.result, e.test, e.keys, "fail" if out else "pass", 1.0, None, evidence=e)


@pytest.fixture(scope="session")
def sheet_of(model: Predictions, find: Find) -> SheetOf:
    """Results as the model predicts them for causes `(cause, part, severity node)`, none for a sound machine."""

    def make(*causes: tuple[str, str, int], only: Sequence[str] = ()) -> tuple[Result, ...]:
        blank = [e for e in BLANK if not only or e.test in only]
        table, _ = model.predict(blank)
        effect = sum((table[find(cause, part), node] for cause, part, node in causes), table[0, 0] * 0)
        return tuple(result_of(replace(e, e=float(x))) for e, x in zip(blank, effect, strict=True))

    return make


def finding(rule: str, cause: str, part: str, likelihood: float | None, *evidence: str) -> Suspicion:
    kind: Any = "finding" if likelihood else "pattern"
    return Suspicion(rule, kind, cause, part, Filled("because"), evidence or ("sign/noise",), likelihood)
