"""Left and right, forward and reverse, one pump and the other."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.saying import said

TRACK = "test: track-time, side: {}, direction: {}, range: high, turns: {}, times: [{}]"
BARE = "  engine-speed: 1900 rpm"


def _tracks(left: str, right: str) -> tuple[str, str]:
    return (
        TRACK.format("left", "forward", 3, f"{left}, {left}, {left}"),
        TRACK.format("right", "forward", 3, f"{right}, {right}, {right}"),
    )


def test_difference_marks_the_slower_one(judged: Any) -> None:
    results = judged(*_tracks("20.0 s", "18.2 s"))
    left, right = results["track-time/left/forward/high"], results["track-time/right/forward/high"]
    assert (left.verdict, right.verdict) == ("fail", "pass")
    # (20.0 − 18.2) / 19.1
    assert "9.42 % slower than track-time/right/forward/high (18.2 s)" in said(left)
    assert left.probability_out > 0.95
    assert right.notes == ()


@pytest.mark.parametrize(("left", "verdict"), [("18.9 s", "pass"), ("19.32 s", "near"), ("20.0 s", "fail")])
def test_difference_has_its_own_uncertainty(judged: Any, left: str, verdict: str) -> None:
    assert judged(*_tracks(left, "18.2 s"))["track-time/left/forward/high"].verdict == verdict


def test_difference_is_not_between_directions(judged: Any) -> None:
    results = judged(
        TRACK.format("left", "forward", 3, "18.2 s, 18.2 s"), TRACK.format("left", "reverse", 3, "20.0 s, 20.0 s")
    )
    assert [r.verdict for r in results.values()][:2] == ["pass", "pass"]


def test_difference_with_other_turns(judged: Any) -> None:
    results = judged(
        TRACK.format("left", "forward", 3, "18.2 s, 18.2 s, 18.2 s"),
        TRACK.format("right", "forward", 2, "12.13 s, 12.13 s, 12.13 s"),
    )
    assert results["track-time/left/forward/high"].verdict == "pass"


def test_invalid_twin_is_no_twin(judged: Any) -> None:
    left, right = _tracks("20.0 s", "18.2 s")
    results = judged(left, right + ", conditions: {engine-speed: 2300 rpm}")
    assert results["track-time/left/forward/high"].verdict == "pass"


def test_twin_judges_where_there_is_no_limit(judged: Any) -> None:
    results = judged(*_tracks("22 s", "18.2 s"), machine=BARE)
    left, right = results["track-time/left/forward/high"], results["track-time/right/forward/high"]
    assert (left.verdict, left.basis, left.new, left.deviation) == ("fail", "twin", pytest.approx(18.2), "slow")
    assert left.max == pytest.approx(18.2 * 1.08)
    assert left.evidence.e == pytest.approx(math.log(22 / 18.2))
    assert (right.verdict, right.basis, right.new) == ("pass", "twin", None)
    assert "both may be off" in said(right)
    assert (right.evidence.e, right.evidence.u) == (0, pytest.approx(right.uncertainty / 18.2))
    # where the better one ought to lie is not known: the pair shares one unknown level
    assert left.evidence.keys["twins"] == right.evidence.keys["twins"]


def test_twin_within_the_tolerance(judged: Any) -> None:
    results = judged(*_tracks("18.5 s", "18.2 s"), machine=BARE)
    assert [r.verdict for r in results.values()][:2] == ["pass", "pass"]


@pytest.mark.parametrize(
    ("one", "two", "first", "verdict"),
    [
        ("test: swing-time, direction: left, turns: 3, times: [17 s]",
         "test: swing-time, direction: right, turns: 3, times: [14 s]", "swing-time/left", "fail"),
        ("test: travel-time, direction: reverse, range: low, distance: 20 m, times: [30 s]",
         "test: travel-time, direction: forward, range: low, distance: 20 m, times: [24 s]", "travel-time/reverse/low",
         "fail"),
        ("test: case-drain, part: pump-1, flow: 9 L/min", "test: case-drain, part: pump-2, flow: 2 L/min",
         "case-drain/pump-1", "fail"),
        ("test: flow, at: pump-2-outlet, flow: 150 L/min", "test: flow, at: pump-1-outlet, flow: 195 L/min",
         "flow/pump-2-outlet", "fail"),
        ("test: temperature, at: travel-left-motor, temperature: 90 °C",
         "test: temperature, at: travel-right-motor, temperature: 60 °C", "temperature/travel-left-motor", "fail"),
        ("test: stall-pressure, pump: pump-1, function: bucket-curl, pressure: 28 MPa",
         "test: stall-pressure, pump: pump-2, function: arm-in, pressure: 34 MPa", "stall-pressure/pump-1/bucket-curl",
         "fail"),
        ("test: stall-pressure, pump: pump-1, function: bucket-curl, pressure: 28 MPa",
         "test: stall-pressure, pump: pump-2, function: swing-left, pressure: 34 MPa",
         "stall-pressure/pump-1/bucket-curl", "unjudged"),
        ("test: case-drain, part: pump-1, flow: 9 L/min", "test: case-drain, part: swing-motor, flow: 2 L/min",
         "case-drain/pump-1", "unjudged"),
    ],
)  # fmt: skip
def test_twins_by_kind(judged: Any, one: str, two: str, first: str, verdict: str) -> None:
    result = judged(one, two, machine=BARE)[first]
    assert result.verdict == verdict
    assert result.basis == ("twin" if verdict == "fail" else None)


def test_several_twins_are_none(judged: Any) -> None:
    stall = "test: stall-pressure, pump: {}, function: {}, pressure: {} MPa"
    results = judged(
        stall.format("pump-1", "bucket-curl", 28), stall.format("pump-2", "arm-in", 34),
        stall.format("pump-2", "arm-out", 34), machine=BARE,
    )  # fmt: skip
    assert results["stall-pressure/pump-1/bucket-curl"].verdict == "unjudged"


DROOP = "test: engine-speed, state: {}, speed: {} rpm"


@pytest.mark.parametrize(("under_load", "verdict"), [(1890, "pass"), (1750, "near"), (1600, "fail")])
def test_droop_is_judged_by_the_high_idle_that_was_measured(judged: Any, under_load: int, verdict: str) -> None:
    """Common practice: a governor lets the speed fall by 5 to 10 % under full load; more is an engine that lugs."""
    results = judged(DROOP.format("high-idle", 1990), DROOP.format("stall-both-pumps", under_load))
    result = results["engine-speed/stall-both-pumps"]
    assert (result.verdict, result.basis, result.evidence) == (verdict, "twin", None)
    alone = judged(DROOP.format("stall-both-pumps", under_load))["engine-speed/stall-both-pumps"]
    assert alone.verdict == "unjudged"
