"""Expected drifts and times from dimensions, by hand. The machine is our own invention.

x = Q·t/A is conservation of volume. What leaves a sound section is stated in kb/tests.yaml with its sources: 1 to
10 mm/min pass in the trade (from memory), behind a poppet 2 to 3 mm in ten minutes (maintenance encyclopedia).
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Any

import pytest

from tests.saying import said

MACHINE = """
  engine-speed: 1900 rpm
  parts:
    pump-1: {displacement: 112 cm3/rev}
    pump-2: {displacement: 112 cm3/rev}
    boom-cylinder: {count: 2, bore: 120 mm, rod: 85 mm, stroke: 1260 mm}
    arm-cylinder: {bore: 135 mm, rod: 95 mm, stroke: 1490 mm}
    bucket-cylinder: {bore: 115 mm, rod: 80 mm, stroke: 1120 mm}
"""
DRIFT = "test: drift, cylinder: {}-cylinder, hold: 5 min, moved: {} mm"

# Loaded ends [cm²]: both boom cylinders at the cap, the arm at the rod, the bucket at the cap (π/4·D², π/4·(D² − d²)).
BOOM, ARM, BUCKET = 2 * math.pi / 4 * 12**2, math.pi / 4 * (13.5**2 - 9.5**2), math.pi / 4 * 11.5**2


def expected(leakage: float, area: float, stroke: float) -> float:
    """Drift in mm of 5 min: mL/min at 100 cm² goes with the root of the area; oil of half a stroke cools by 4 K.

    0.0007/K is the usual expansion of oil (common practice).
    """
    return leakage * math.sqrt(area / 100) * 5 / area * 10 + stroke / 2 * 0.0007 * 4


@pytest.mark.parametrize(
    ("cylinder", "new", "worst", "way"),
    [
        (
            "boom",
            expected(5, BOOM, 1260),
            expected(32, BOOM, 1260),
            "leak from the cap end past the boom holding valve",
        ),
        ("arm", expected(5, ARM, 1490), expected(32, ARM, 1490), "leak from the rod end past the arm holding valve"),
        ("bucket", expected(13, BUCKET, 1120), expected(32, BUCKET, 1120), "as there is no holding valve"),
    ],
)
def test_drift_that_dimensions_let_expect(judged: Any, cylinder: str, new: float, worst: float, way: str) -> None:
    result = judged(DRIFT.format(cylinder, 9), machine=MACHINE)[f"drift/{cylinder}-cylinder"]
    assert result.basis == "estimate"
    assert (result.new, result.max) == pytest.approx((new / 1000, worst / 1000), rel=1e-6)
    assert way in said(result)
    assert "accurate to a factor of 2" in said(result)


def test_without_its_holding_valve_an_arm_is_let_drift_more(judged: Any) -> None:
    held = judged(DRIFT.format("arm", 9), machine=MACHINE)["drift/arm-cylinder"]
    free = judged(DRIFT.format("arm", 9), machine=MACHINE + "  absent: [arm-holding-valve]\n")["drift/arm-cylinder"]
    assert free.new > 1.5 * held.new
    assert free.max == held.max  # what the trade lets pass does not ask what holds


@pytest.mark.parametrize("moved", [1, 6, 12, 40, 200])
def test_a_factor_that_is_not_known_leaves_the_verdict_open(judged: Any, moved: float) -> None:
    result = judged(DRIFT.format("boom", moved), machine=MACHINE)["drift/boom-cylinder"]
    # On a log scale, where the limit may lie twice as high or half as high (JCGM 106:2012, 7.3, with ln y for y); the
    # tape's millimetre is small beside that.
    chance = NormalDist().cdf(math.log(moved / 1000 / result.max) / math.log(2))
    assert result.probability_out == pytest.approx(chance, abs=0.03)


def test_much_drift_is_out_all_the_same(judged: Any) -> None:
    result = judged(DRIFT.format("boom", 60), machine=MACHINE)["drift/boom-cylinder"]
    assert (result.verdict, result.deviation) == ("fail", "high")


def test_no_movement_at_all_is_in_order(judged: Any) -> None:
    result = judged(DRIFT.format("boom", 0), machine=MACHINE)["drift/boom-cylinder"]
    assert result.verdict == "pass"


def test_drifts_share_half_of_what_is_not_known(judged: Any) -> None:
    result = judged(DRIFT.format("bucket", 9), machine=MACHINE)["drift/bucket-cylinder"]
    assert result.evidence.keys["estimated"] == "drift"
    # own: ln 2/√2 of the leakage's share and half the cooling; the other half is estimated-drifts of kb/scatter.yaml
    leaking = expected(13, BUCKET, 0)
    own = math.hypot(leaking * math.log(2) / math.sqrt(2), 1120 / 2 * 0.0007 * 4 / 2) / 1000 / result.new
    assert result.evidence.u == pytest.approx(math.hypot(own, result.uncertainty / result.value), rel=1e-3)


def test_a_limit_comes_before_an_estimate(judged: Any) -> None:
    limit = "  limits: [{test: drift, cylinder: boom-cylinder, hold: 5 min, max: 12 mm}]\n"
    assert judged(DRIFT.format("boom", 9), machine=MACHINE + limit)["drift/boom-cylinder"].basis == "limit"


@pytest.mark.parametrize(
    ("figures", "bar", "share"),
    [
        ("{torque-corner: 0.5, power-sum: 0}", 140, 1.0),  # below the corner
        ("{torque-corner: 0.5, power-sum: 0}", 280, 0.5 * 320 / 280),  # hyperbola: V = 2πT/p
        ("{torque-corner: 0.5, power-sum: 1}", 280, 1.0),  # the torque of the other pump is free
        ("{torque-corner: 0.5, power-sum: [0, 1]}", 280, (0.5 * 320 / 280) ** 0.5),  # middle of these two
    ],
)
def test_flow_of_a_pump_under_its_torque_limit(judged: Any, figures: str, bar: float, share: float) -> None:
    """V·n·η = 196 L/min at full stroke; a torque limit leaves V = 2π·T/p (Esposito, Ex 5.8, solved for V)."""
    limit = "  limits: [{test: stall-pressure, new: 320 bar, min: 310 bar}]\n"
    reading = f"test: flow, at: pump-1-outlet, flow: 150 L/min, pressure: {bar} bar"
    result = judged(reading, machine=f"{MACHINE}  figures: {figures}\n{limit}")["flow/pump-1-outlet"]
    assert result.new == pytest.approx(share * 0.112 * 1900 * 0.92 / 60000, rel=2e-3)
    unsure = (0.05**2 + math.log(280 / 160) ** 2 / 12) ** 0.5 if "[" in figures else 0.05
    assert result.evidence.u == pytest.approx(math.hypot(unsure, result.uncertainty / result.value), rel=1e-3)


def test_flow_of_a_pump(judged: Any) -> None:
    result = judged("test: flow, at: pump-1-outlet, flow: 150 L/min", machine=MACHINE)["flow/pump-1-outlet"]
    # V·n·η = 112 cm³ × 1900/min × 0.92 = 196 L/min, 12 % less still passes (kb/tests.yaml)
    assert (result.new, result.min) == pytest.approx((0.196 / 60, 0.88 * 0.196 / 60), rel=2e-3)
    assert (result.basis, result.verdict) == ("estimate", "fail")
    assert "± 5 %" in said(result)
