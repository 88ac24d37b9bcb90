"""Machines of the family that the tests share."""

from dataclasses import replace
from functools import cache

import numpy as np

from oilpath.lab.family.bench import Bench, Day, Test
from oilpath.lab.family.faults import FAULTS
from oilpath.lab.family.harms import Blow
from oilpath.lab.family.machine import Machine, draw_type, one_of
from oilpath.lab.family.state import State

TWO, COMPACT, LOADER = "two-pump-excavator", "compact-excavator", "wheel-loader"


@cache
def machine(kind: str = TWO, number: int = 0) -> Machine:
    """A machine of a kind; another number is another machine."""
    rng = np.random.default_rng([99, number])
    return one_of(draw_type(kind, rng), rng)


def ideal(kind: str = TWO, number: int = 0) -> Machine:
    """A machine without leakage, losses, limiter and habits, for textbook formulas."""
    plain = machine(kind, number)
    return replace(
        plain, leak=(0.0,) * len(plain.leak),
        displacement=plain.displacement[:1] * len(plain.displacement), motor_leak=0.0, loss=0.0, habit={},
        engine=replace(plain.engine, droop=0.0, torque=1e9), power=replace(plain.power, law="none"),
    )  # fmt: skip


def bench(of: Machine, state: State | None = None, day: Day | None = None) -> Bench:
    return Bench(of, state if state is not None else State(), day if day is not None else Day())


def harmed(of: Machine, cause: str, part: str, severity: float = 0.6, seed: int = 0) -> State:
    """The state of a machine with one fault."""
    state = State()
    fault = next(fault for fault in FAULTS if fault.cause == cause)
    fault.act(Blow(of, state, part, severity, np.random.default_rng(seed)))
    return state


def cycle(function: str) -> Test:
    return Test("cycle-time", (("function", function),))


def stall(pump: str, function: str) -> Test:
    return Test("stall-pressure", (("pump", pump), ("function", function)))


def drift(cylinder: str) -> Test:
    return Test("drift", (("cylinder", cylinder),))


def swing(direction: str) -> Test:
    return Test("swing-time", (("direction", direction),))


def track(side: str, way: str = "forward", gear: str = "high") -> Test:
    return Test("track-time", (("side", side), ("direction", way), ("range", gear)))


def travel(way: str = "forward", gear: str = "high") -> Test:
    return Test("travel-time", (("direction", way), ("range", gear)))
