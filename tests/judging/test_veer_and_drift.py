"""Veer from three lines, cooling and leakage behind a drift, figures beside a result."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.saying import said, sentences

TRAVEL = "test: travel-time, direction: forward, range: high, distance: {}, times: [14.1 s], veer: {}"
VEER = "travel-veer/forward/high"
DRIFT = "test: drift, cylinder: {}, hold: 5 min, moved: {}, oil-start: {} °C, oil-end: {} °C"


@pytest.mark.parametrize(
    ("veer", "value", "verdict", "deviation"),
    [
        ("{toward: left, offset: 0.4 m}", -0.4, "pass", "left"),
        ("{toward: right, offset: 0.4 m}", 0.4, "pass", "right"),
        ("{toward: left, offset: 1.2 m}", -1.2, "near", "left"),
        ("{toward: right, offset: 1.9 m}", 1.9, "fail", "right"),
        ("{offset: 0 m}", 0.0, "pass", None),
    ],
)
def test_veer_is_judged_to_both_sides(
    judged: Any, veer: str, value: float, verdict: str, deviation: str | None
) -> None:
    result = judged(TRAVEL.format("20 m", veer))[VEER]
    assert (result.value, result.verdict, result.deviation) == (value, verdict, deviation)
    assert (result.new, result.min, result.max) == (0, -1.2, 1.2)
    assert (result.evidence.scale, result.evidence.e) == ("offset", value)


def test_veer_limit_goes_with_the_square_of_the_distance(judged: Any) -> None:
    result = judged(TRAVEL.format("10 m", "{toward: left, offset: 0.4 m}"))[VEER]
    assert (result.max, result.verdict) == (pytest.approx(0.3), "near")
    assert "square of the distance" in said(result)


@pytest.mark.parametrize(
    ("line", "offset", "run_up"), [("start-line", 0.833, 5), ("run-up-line", 1.25, 5), ("chord", 0.208, 5)]
)
def test_three_lines_say_the_same(judged: Any, line: str, offset: float, run_up: float) -> None:
    # Circle of radius gauge/ε for small angles: 1 % over 20 m at 2.4 m gauge is 0.83 m from the start line,
    # 1.25 m from the line before a 5 m run-up, 0.21 m as a chord; derived.
    veer = f"{{toward: right, offset: {offset} m, from: {line}}}, run-up: {run_up} m"
    result = judged(TRAVEL.format("20 m", veer), dimensions=True)[VEER]
    assert result.value == pytest.approx(0.833, abs=0.002)
    assert result.computed["speed-difference"].value == pytest.approx(0.01, rel=3e-3)
    assert result.evidence.figures["track-gauge"] == 2.4
    assert (line == "start-line") == (not any("from the start line" in note for note in sentences(result.notes)))


def test_chord_is_less_certain_than_it_looks(judged: Any) -> None:
    line, chord = (
        judged(TRAVEL.format("20 m", f"{{toward: right, offset: 0.2 m, from: {line}}}"))[VEER]
        for line in ("start-line", "chord")
    )
    assert chord.uncertainty == pytest.approx(4 * line.uncertainty)


def test_run_up_line_without_its_run_up_is_less_certain(judged: Any) -> None:
    veer = "{toward: right, offset: 1 m, from: run-up-line}"
    known = judged(TRAVEL.format("20 m", veer + ", run-up: 0 m"))[VEER]
    unknown = judged(TRAVEL.format("20 m", veer))[VEER]
    assert unknown.uncertainty > known.uncertainty
    assert "run-up is not stated" in said(unknown)


def test_large_veer_only_says_much(judged: Any) -> None:
    result = judged(TRAVEL.format("20 m", "{toward: left, offset: 5.9 m}"), dimensions=True)[VEER]
    assert "only shows a large veer" in said(result)
    # ε = 2·gauge·offset/distance² is the least it can be (conftest: 2.4 m gauge): whoever corrects veers less
    assert set(result.computed) == {"speed-difference-at-least"}
    assert result.computed["speed-difference-at-least"].value == pytest.approx(-2 * 2.4 * 5.9 / 400, rel=0.01)


def test_veer_without_a_limit(judged: Any) -> None:
    reading = TRAVEL.format("20 m", "{toward: left, offset: 0.9 m}")
    result = judged(reading, machine="  engine-speed: 1900 rpm", dimensions=True)[VEER]
    # y = L²ε/(2g) for ε = 1.5 %: 400 m² × 0.015/(2 × 2.4 m); circle of radius g/ε for small angles, derived
    assert (result.basis, result.max, result.min) == ("twin", pytest.approx(1.25), pytest.approx(-1.25))
    assert (result.verdict, result.deviation) == ("pass", "left")
    assert (result.evidence.e, result.evidence.u) == (-0.9, pytest.approx(result.uncertainty))


def test_veer_without_a_limit_and_a_gauge_is_less_certain(judged: Any) -> None:
    reading = TRAVEL.format("20 m", "{toward: right, offset: 1.5 m}")
    known = judged(reading, machine="  engine-speed: 1900 rpm", dimensions=True)[VEER]
    unknown = judged(reading, machine="  engine-speed: 1900 rpm")[VEER]
    assert (known.verdict, unknown.verdict) == ("fail", "near")
    assert "gauge is not stated" in said(unknown)
    much = judged(TRAVEL.format("20 m", "{toward: right, offset: 4 m}"), machine="  engine-speed: 1900 rpm")[VEER]
    assert (much.verdict, much.basis) == ("fail", "twin")


def test_cooling_part_of_a_drift(judged: Any) -> None:
    # 0.0007 per kelvin of the held column (engineering tables of cubic expansion): 0.7 m and 4 K shrink by 1.96 mm.
    result = judged(DRIFT.format("boom-cylinder", "9 mm", 55, 51) + ", extension: 700 mm", dimensions=True)
    drift = result["drift/boom-cylinder"]
    assert drift.value == pytest.approx(0.009)
    assert drift.computed["cooling"].value == pytest.approx(0.00196)
    assert "22 % of the drift" in said(drift)
    # 2 cylinders of 120 mm: A = 226.2 cm²; Q = A·(9 − 1.96) mm / 5 min (conservation of volume)
    area = 2 * math.pi * 0.06**2
    assert drift.computed["leakage"].value == pytest.approx(area * (0.009 - 0.00196) / 300)


def test_verdict_is_on_the_value_as_measured(judged: Any) -> None:
    drift = judged(DRIFT.format("boom-cylinder", "20 mm", 60, 45) + ", extension: 1200 mm")["drift/boom-cylinder"]
    assert (drift.verdict, drift.value) == ("fail", 0.02)
    # limits for values as measured hold the cooling of the usual 4 K already (common practice)
    assert drift.evidence.e == pytest.approx(math.log((0.020 - 0.0007 * 1.2 * (15 - 4)) / 0.003))
    assert drift.evidence.u > 0.3


def test_rod_side_holds_what_is_left_of_the_stroke(judged: Any) -> None:
    drift = judged(DRIFT.format("arm-cylinder", "9 mm", 55, 51) + ", extension: 700 mm", dimensions=True)
    assert drift["drift/arm-cylinder"].computed["cooling"].value == pytest.approx(0.0007 * 0.8 * 4)
    unknown = judged(DRIFT.format("arm-cylinder", "9 mm", 55, 51) + ", extension: 700 mm")["drift/arm-cylinder"]
    assert "cooling" not in unknown.computed
    assert "is not known" in said(unknown)


def test_half_the_stroke_where_the_extension_was_not_measured(judged: Any) -> None:
    known = judged(DRIFT.format("boom-cylinder", "9 mm", 55, 51) + ", extension: 630 mm", dimensions=True)
    guessed = judged(DRIFT.format("boom-cylinder", "9 mm", 55, 51), dimensions=True)
    one, two = (r["drift/boom-cylinder"].computed["cooling"] for r in (known, guessed))
    assert one.value == pytest.approx(two.value)
    assert two.uncertainty > one.uncertainty


def test_drift_that_is_all_cooling_leaves_one_step(judged: Any) -> None:
    drift = judged(DRIFT.format("boom-cylinder", "3 mm", 60, 50) + ", extension: 1000 mm", dimensions=True)
    cooled = drift["drift/boom-cylinder"]
    assert "the whole of the drift" in said(cooled)
    assert cooled.computed["leakage"].value == 0
    assert cooled.evidence.e == pytest.approx(math.log(1 / 3))  # one step of 1 mm


def test_warming_hides_drift(judged: Any) -> None:
    drift = judged(DRIFT.format("boom-cylinder", "3 mm", 50, 55) + ", extension: 1000 mm")["drift/boom-cylinder"]
    assert "hides about 3.5 mm" in said(drift)
    assert drift.evidence.e == pytest.approx(math.log((0.003 + 0.0007 * 1.0 * (5 - 4)) / 0.003))


def test_no_drift_at_all_is_half_a_step(judged: Any) -> None:
    result = judged("test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 0 mm")["drift/boom-cylinder"]
    assert (result.verdict, result.deviation) == ("pass", "low")
    assert result.evidence.e == pytest.approx(math.log(0.5 / 3))
    assert result.evidence.u > 1


def test_flow_behind_a_cycle_time(judged: Any) -> None:
    # Two pistons of 120 mm over 1260 mm in 4.8 s: 28.5 L, so 356 L/min (conservation of volume)
    result = judged("test: cycle-time, function: boom-raise, times: [4.8 s]", dimensions=True)["cycle-time/boom-raise"]
    assert result.computed["flow"].value == pytest.approx(2 * math.pi * 0.06**2 * 1.26 / 4.8)
    assert result.computed["flow"].quantity == "flow"


def test_speeds_and_pump_flow(judged: Any) -> None:
    results = judged(
        "test: swing-time, direction: left, turns: 3, times: [15 s]",
        "test: track-time, side: left, direction: forward, range: high, turns: 3, times: [18.4 s]",
        "test: travel-time, direction: forward, range: high, distance: 20 m, times: [14.4 s]",
        "test: flow, at: pump-1-outlet, flow: 191.52 L/min",
        dimensions=True,
    )
    assert results["swing-time/left"].computed["speed"].value == pytest.approx(0.2)
    assert results["track-time/left/forward/high"].computed["speed"].value == pytest.approx(1.5)  # 5.4 km/h
    assert results["travel-time/forward/high"].computed["speed"].value == pytest.approx(20 / 14.4)
    # Q = η·V·n = 0.9 × 112 cm³ × 1900/min
    assert results["flow/pump-1-outlet"].computed["share-of-full-flow"].value == pytest.approx(0.9)


def test_creep_of_nothing_is_an_offset(judged: Any) -> None:
    machine = "  limits: [{test: creep, of: swing, hold: 3 min, max: 20 mm}]"
    result = judged("test: creep, of: swing, hold: 3 min, moved: 0 mm", machine=machine)["creep/swing"]
    assert (result.verdict, result.evidence.scale, result.evidence.e) == ("pass", "offset", 0)


def test_oil_that_did_not_cool_explains_nothing(judged: Any) -> None:
    drift = judged(DRIFT.format("boom-cylinder", "20 mm", 55, 55), dimensions=True)["drift/boom-cylinder"]
    assert drift.computed["cooling"].value == 0
    assert "cooling explains none of it" in said(drift)
    assert drift.evidence.e == pytest.approx(math.log(20 / 3))


def test_without_temperatures_that_is_said_and_a_bound_is_known(judged: Any) -> None:
    # 0.0007 per kelvin of at most the whole column, 40 K at the very most (from memory)
    reading = "test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 300 mm, extension: 700 mm"
    drift = judged(reading, dimensions=True)["drift/boom-cylinder"]
    assert "not stated" in said(drift)
    assert "cooling" not in drift.computed
    assert drift.computed["cooling-at-most"].value == pytest.approx(0.0007 * 0.7 * 40, rel=0.06)
