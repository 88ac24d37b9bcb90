"""Readings made otherwise on purpose, and readings with functions worked at the same time."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.saying import said

BOOM = "test: cycle-time, function: boom-raise, times: [{}]{}"
COLD = ", variant: cold, conditions: {oil-temperature: 28 °C}"


def test_variant_is_compared_with_the_standard_reading_never_with_the_limit(judged: Any) -> None:
    results = judged(BOOM.format("4.2 s", ""), BOOM.format("6.3 s", COLD))
    plain, cold = results["cycle-time/boom-raise"], results["cycle-time/boom-raise@cold"]
    assert (cold.verdict, cold.basis, cold.max, cold.probability_out) == ("unjudged", None, None, None)
    assert "1.5 times cycle-time/boom-raise (4.2 s)" in said(cold)
    assert cold.evidence.e == pytest.approx(math.log(1.5))
    expected = math.hypot(cold.uncertainty / 6.3, plain.uncertainty / 4.2)
    assert (cold.evidence.u, cold.evidence.variant) == (pytest.approx(expected), "cold")
    assert plain.verdict == "pass"


def test_variant_waives_only_its_own_condition(judged: Any) -> None:
    busy = ", variant: cold, conditions: {oil-temperature: 28 °C, attachment: loaded}"
    results = judged(BOOM.format("4.2 s", ""), BOOM.format("6.3 s", busy))
    cold = results["cycle-time/boom-raise@cold"]
    assert (cold.verdict, cold.evidence) == ("invalid", None)
    assert results["condition/attachment"].verdict == "pass"  # the sheet's own, not the variant's
    idle = ", variant: low-idle, conditions: {engine-speed: 900 rpm}"
    slow = judged(BOOM.format("4.2 s", ""), BOOM.format("9.0 s", idle))
    assert slow["cycle-time/boom-raise@low-idle"].verdict == "unjudged"
    assert slow["condition/engine-speed"].verdict == "pass"


def test_variant_alone_says_nothing(judged: Any) -> None:
    cold = judged(BOOM.format("6.3 s", COLD))["cycle-time/boom-raise@cold"]
    assert cold.evidence is None
    assert "nothing to compare it with" in said(cold)


def test_variant_beside_an_invalid_reading_says_nothing(judged: Any) -> None:
    results = judged(BOOM.format("4.2 s", ", conditions: {attachment: loaded}"), BOOM.format("6.3 s", COLD))
    assert results["cycle-time/boom-raise@cold"].evidence is None
    assert "is invalid" in said(results["cycle-time/boom-raise@cold"])


def test_together_with_another_function(judged: Any) -> None:
    results = judged(BOOM.format("4.2 s", ""), BOOM.format("8.4 s", ", with: [arm-in]"))
    both = results["cycle-time/boom-raise+arm-in"]
    assert (both.verdict, both.basis, both.together_with, both.evidence) == ("pass", "twin", ("arm-in",), None)
    assert "2 times cycle-time/boom-raise" in said(both)


@pytest.mark.parametrize(("seconds", "verdict"), [("8.4 s", "pass"), ("12.6 s", "near"), ("21 s", "fail")])
def test_shared_flow_slows_a_movement_but_does_not_stop_it(judged: Any, seconds: str, verdict: str) -> None:
    """Common practice: two movements of a pump share its flow; one that nearly stops has lost more than its share."""
    results = judged(BOOM.format("4.2 s", ""), BOOM.format(seconds, ", with: [arm-in]"))
    assert results["cycle-time/boom-raise+arm-in"].verdict == verdict


def test_no_partner_no_verdict(judged: Any) -> None:
    assert judged(BOOM.format("21 s", ", with: [arm-in]"))["cycle-time/boom-raise+arm-in"].verdict == "unjudged"


def test_cold_and_together_is_compared_with_warm_and_together(judged: Any) -> None:
    results = judged(
        BOOM.format("4.2 s", ""),
        BOOM.format("8.4 s", ", with: [arm-in]"),
        BOOM.format("10.5 s", COLD + ", with: [arm-in]"),
    )
    assert results["cycle-time/boom-raise@cold+arm-in"].evidence.e == pytest.approx(math.log(1.25))


def test_variant_with_other_turns_is_brought_to_the_same(judged: Any) -> None:
    swing = "test: swing-time, direction: left, turns: {}, times: [{}]{}"
    results = judged(swing.format(3, "15 s", ""), swing.format(2, "11 s", COLD))
    assert results["swing-time/left@cold"].evidence.e == pytest.approx(math.log(1.1))


def test_drift_of_nothing_has_a_ratio(judged: Any) -> None:
    drift = "test: drift, cylinder: boom-cylinder, hold: 5 min, moved: {}{}"
    results = judged(drift.format("0 mm", ""), drift.format("6 mm", ", variant: engine-on"))
    assert results["drift/boom-cylinder@engine-on"].evidence.e == pytest.approx(math.log(12))  # half a step of 1 mm


def test_veer_of_a_variant(judged: Any) -> None:
    travel = "test: travel-time, direction: forward, range: high, distance: 20 m, times: [14 s], veer: {}{}"
    results = judged(
        travel.format("{toward: left, offset: 0.4 m}", ""),
        travel.format("{toward: left, offset: 3 m}", ", with: [arm-in]"),
    )
    both = results["travel-veer/forward/high+arm-in"]
    assert (both.verdict, both.max) == ("unjudged", None)
    assert both.value == -3.0
