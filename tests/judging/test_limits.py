"""Which limit holds, and how it is scaled to the reading."""

from __future__ import annotations

import math
from typing import Any

import pytest

from oilpath.judging.limits import reference_of
from oilpath.knowledge.base import Knowledge
from tests.saying import said, sentences

SPEED = "  engine-speed: 1900 rpm\n  limits:\n"
SWING = "test: swing-time, direction: left, turns: {}, times: [{}]"


def test_most_specific_limit_wins(judged: Any) -> None:
    machine = SPEED + (
        "    - {test: stall-pressure, min: 33 MPa, max: 35 MPa}\n"
        "    - {test: stall-pressure, function: bucket-curl, min: 30 MPa, max: 32 MPa}\n"
        "    - {test: stall-pressure, pump: pump-2, function: bucket-curl, min: 25 MPa, max: 27 MPa}\n"
    )
    results = judged(
        "test: stall-pressure, pump: pump-1, function: arm-in, pressure: 31 MPa",
        "test: stall-pressure, pump: pump-1, function: bucket-curl, pressure: 31 MPa",
        "test: stall-pressure, pump: pump-2, function: bucket-curl, pressure: 31 MPa",
        machine=machine,
    )
    assert [result.min for result in list(results.values())[:3]] == [33e6, 30e6, 25e6]
    assert [result.verdict for result in results.values()][:3] == ["fail", "pass", "fail"]


@pytest.mark.parametrize(
    ("function", "verdict"),
    [("boom-raise", "pass"), ("arm-out", "pass"), ("bucket-curl", "pass"), ("swing-left", "unjudged"),
     ("travel-left-forward", "unjudged")],
)  # fmt: skip
def test_stall_limit_without_a_function(judged: Any, function: str, verdict: str) -> None:
    # Common practice: swing and travel have reliefs of their own, set lower.
    reading = f"test: stall-pressure, pump: pump-2, function: {function}, pressure: 34.3 MPa"
    assert judged(reading)[f"stall-pressure/pump-2/{function}"].verdict == verdict


def test_time_is_scaled_with_turns(judged: Any) -> None:
    result = judged(SWING.format(2, "9.3 s"))["swing-time/left"]
    assert (result.new, result.max) == pytest.approx((14.0 * 2 / 3, 16.1 * 2 / 3))
    assert result.verdict == "pass"
    assert "scaled" in said(result)


def test_time_is_scaled_with_distance(judged: Any) -> None:
    reading = "test: travel-time, direction: forward, range: high, distance: 10 m, times: [7.1 s]"
    result = judged(reading)["travel-time/forward/high"]
    assert (result.new, result.max) == pytest.approx((7.05, 7.95))


def test_swing_from_rest_is_not_scaled(judged: Any) -> None:
    result = judged(SWING.format(2, "9.3 s").replace("turns", "start: rest, turns"))["swing-time/left"]
    assert (result.verdict, result.max, result.basis) == ("unjudged", None, None)
    assert "cannot be scaled" in said(result)
    same = judged(SWING.format(3, "14.0 s").replace("turns", "start: rest, turns"))["swing-time/left"]
    assert same.verdict == "pass"


def test_drift_is_scaled_with_time_and_less_certain(judged: Any) -> None:
    reading = "test: drift, cylinder: boom-cylinder, hold: {} min, moved: 6 mm"
    long, as_limit = (judged(reading.format(hold))["drift/boom-cylinder"] for hold in (10, 5))
    assert (long.new, long.max) == pytest.approx((0.006, 0.024))
    assert long.uncertainty > 2 * as_limit.uncertainty
    assert not any("scaled" in note for note in sentences(as_limit.notes))


def test_estimate_from_dimensions_where_there_is_no_limit(judged: Any) -> None:
    machine = """
  engine-speed: 1800 rpm
  parts:
    pump-1: {displacement: 100 cm3/rev}
    bucket-cylinder: {bore: 100 mm, rod: 70 mm, stroke: 1000 mm}
"""
    result = judged(
        "test: cycle-time, function: bucket-curl, times: [6.0 s]", machine=machine, conditions="engine-speed: 1800 rpm"
    )["cycle-time/bucket-curl"]
    # Q = V·n·η = 100 cm³ × 30/s × 0.92; t = A·s/Q (conservation of volume)
    assert result.new == pytest.approx(3.141592654 * 0.05**2 / (100e-6 * 30 * 0.92))
    assert (result.basis, result.verdict) == ("estimate", "fail")
    # ± 10 % of which all times estimated from pumps share most (kb/scatter.yaml), half as much is its own
    assert "± 10 %" in said(result)
    assert result.evidence.keys["estimated"] == "function-time"
    assert result.evidence.u == pytest.approx(math.hypot(0.05, result.uncertainty / 6.0))


def test_estimate_of_a_rod_end_lies_between_its_bounds(judged: Any) -> None:
    machine = """
  engine-speed: 1800 rpm
  parts:
    pump-1: {displacement: 100 cm3/rev}
    bucket-cylinder: {bore: 100 mm, rod: 70 mm, stroke: 1000 mm}
"""
    result = judged("test: cycle-time, function: bucket-dump, times: [2 s]", machine=machine)["cycle-time/bucket-dump"]
    flow = 100e-6 * 30 * 0.92
    filling, giving_back = (math.pi / 4 * area / flow for area in (0.1**2 - 0.07**2, 0.1**2))
    # No faster than the pump fills, no slower than the cap end gives back the pump's own flow (conservation of volume)
    assert result.new == pytest.approx(math.sqrt(filling * giving_back))
    # every place between the bounds is as likely on a log scale: width/√12 (JCGM 100:2008, 4.3.7)
    assert result.evidence.u > math.log(giving_back / filling) / math.sqrt(12)


def test_regeneration_widens_an_estimate(judged: Any) -> None:
    machine = """
  engine-speed: 1800 rpm
  parts:
    pump-1: {displacement: 100 cm3/rev}
    pump-2: {displacement: 100 cm3/rev}
    arm-cylinder: {bore: 100 mm, rod: 70 mm, stroke: 1000 mm}
"""
    reading = "test: cycle-time, function: arm-in, times: [2 s]"
    usual = judged(reading, machine=machine)["cycle-time/arm-in"]
    without = judged(reading, machine=machine + "  absent: [arm-regen-valve]\n")["cycle-time/arm-in"]
    # It gives a quarter of the speed at most (kb/circuits), so the time lies between 0.75 and 1 of that without it.
    assert usual.new == pytest.approx(without.new * math.sqrt(0.75))
    assert usual.evidence.u > without.evidence.u


@pytest.mark.parametrize(
    ("reading", "why"),
    [
        ("test: swing-time, direction: left, turns: 3, times: [14 s]", "displacement of the motor"),
        ("test: travel-time, direction: forward, range: high, distance: 20 m, times: [14 s]", "final drives"),
        ("test: track-time, side: left, direction: forward, range: high, turns: 3, times: [18 s]", "final drives"),
        ("test: stall-pressure, pump: pump-1, function: arm-in, pressure: 34 MPa", "setting of a relief"),
        ("test: pilot-pressure, pressure: 3.9 MPa", "setting of the pilot relief"),
        ("test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 9 mm", "bore and rod"),
        ("test: cycle-time, function: boom-lower, times: [3 s]", "weight and the valve"),
        ("test: cycle-time, function: arm-out, times: [3 s]", "bore, rod and stroke"),
        ("test: flow, at: pump-2-outlet, flow: 100 L/min", "displacement"),
    ],
)
def test_why_there_is_no_estimate(judged: Any, reading: str, why: str) -> None:
    result = next(iter(judged(reading, machine="  engine-speed: 1900 rpm").values()))
    assert (result.verdict, result.basis, result.evidence) == ("unjudged", None, None)
    assert why in said(result)


def test_estimate_adds_the_pump_that_merges(judged: Any) -> None:
    machine = """
  engine-speed: 1800 rpm
  parts:
    pump-1: {displacement: 100 cm3/rev}
    pump-2: {displacement: 100 cm3/rev}
    boom-cylinder: {count: 2, bore: 100 mm, rod: 70 mm, stroke: 1000 mm}
"""
    reading = "test: cycle-time, function: boom-raise, times: [2.9 s]"
    usual = judged(reading, machine=machine)["cycle-time/boom-raise"]
    alone = judged(reading, machine=machine + "  absent: [boom-merge-valve]\n")["cycle-time/boom-raise"]
    assert alone.new == pytest.approx(2 * usual.new)


def test_no_estimate_for_what_weight_lowers(judged: Any) -> None:
    machine = """
  engine-speed: 1800 rpm
  parts:
    pump-1: {displacement: 100 cm3/rev}
    boom-cylinder: {count: 2, bore: 100 mm, rod: 70 mm, stroke: 1000 mm}
"""
    result = judged("test: cycle-time, function: boom-lower, times: [2.9 s]", machine=machine)
    assert result["cycle-time/boom-lower"].verdict == "unjudged"


@pytest.mark.parametrize("side", ["min", "max"])
def test_a_limit_with_one_side_says_where_a_sound_machine_lies(knowledge: Knowledge, side: str) -> None:
    """A sound machine lies on the good side of its limit (common practice: limits leave room to a new machine)."""
    for name, kind in knowledge.tests.items():
        if (
            kind.value is None
            or kind.observe in ("nothing", "response")
            or name in ("creep", "flow-at-load", "mean-flow")
        ):
            continue
        limit = 300.0
        reference, u = reference_of(kind, None, limit if side == "min" else None, limit if side == "max" else None)
        assert reference is not None, name
        assert (reference > limit) == (side == "min"), name
        assert 0 < u < abs(reference - limit), name  # so a reading beyond the limit is evidence
