"""Figures beside a result: flow, share of the pumps' flow, power, force, each with its uncertainty."""

from __future__ import annotations

import math
from typing import Any

import pytest

from oilpath.flow import Measured
from tests.saying import said

TWO_PISTONS = 2 * math.pi * 0.06**2  # m², cap ends of the boom cylinders
ONE_PUMP = 112e-6 * 1900 / 60  # m³/s at full stroke, no losses


def test_flow_taken_and_the_share_that_was_due(judged: Any) -> None:
    # Q = A·s/t against the flow of both pumps that serve it, 0.92·V·n each (conservation of volume)
    result = judged("test: cycle-time, function: boom-raise, times: [4.8 s]", dimensions=True)["cycle-time/boom-raise"]
    flow, due = TWO_PISTONS * 1.26 / 4.8, 2 * 0.92 * ONE_PUMP
    assert result.computed["flow"].value == pytest.approx(flow)
    assert result.computed["flow-due"].value == pytest.approx(due)
    share = result.computed["share-of-flow-due"]
    assert share.value == pytest.approx(flow / due)
    assert share.quantity == "ratio"
    assert 0.1 < share.uncertainty / share.value < 0.2
    assert result.computed["flow"].uncertainty / flow == pytest.approx(math.hypot(result.uncertainty / 4.8, 0.02))


def test_one_pump_where_the_machine_lacks_the_merge_valve(judged: Any) -> None:
    reading = "test: cycle-time, function: boom-raise, times: [8 s]"
    machine = "  engine-speed: 1900 rpm\n  absent: [boom-merge-valve]"
    result = judged(reading, machine=machine, dimensions=True)["cycle-time/boom-raise"]
    assert result.computed["flow-due"].value == pytest.approx(0.92 * ONE_PUMP)


def test_flow_due_follows_the_engine_speed_of_the_reading(judged: Any) -> None:
    reading = "test: cycle-time, function: bucket-curl, times: [3.5 s], conditions: {engine-speed: 1805 rpm}"
    result = judged(reading, dimensions=True)["cycle-time/bucket-curl"]
    assert result.computed["flow-due"].value == pytest.approx(0.92 * ONE_PUMP * 1805 / 1900)
    # flow as measured, not as corrected to test speed
    assert result.computed["flow"].value == pytest.approx(math.pi * 0.0575**2 * 1.06 / 3.5)


def test_regenerated_oil_is_not_the_pumps(judged: Any) -> None:
    result = judged("test: cycle-time, function: arm-in, times: [3.2 s]", dimensions=True)["cycle-time/arm-in"]
    flow = math.pi * 0.0675**2 * 1.5 / 3.2
    assert result.computed["share-of-flow-due"].value == pytest.approx(0.75 * flow / (2 * 0.92 * ONE_PUMP))
    assert "25 % of the flow" in said(result)


def test_a_rod_end_takes_less_in_a_sound_machine_too(judged: Any) -> None:
    result = judged("test: cycle-time, function: arm-out, times: [2.5 s]", dimensions=True)["cycle-time/arm-out"]
    # The cap end gives back D²/(D² − d²) = 1.98 times what the rod end takes (areas of a circle and an annulus):
    # 1 − (95/135)² = 0.505
    assert "a sound one takes 50 to 100 % of the flow available" in said(result)


def test_speeds(judged: Any) -> None:
    results = judged(
        "test: swing-time, direction: left, turns: 3, times: [15 s]",
        "test: track-time, side: left, direction: forward, range: high, turns: 3, times: [18.4 s]",
        "test: travel-time, direction: forward, range: high, distance: 20 m, times: [14.4 s], "
        "veer: {toward: left, offset: 0.6 m}",
        dimensions=True,
    )
    turning, track, ground, veer = (next(iter(result.computed.values())) for result in list(results.values())[:4])
    # 3 turns in 15 s are 12 rpm; 3 × 9.2 m of track in 18.4 s are 5.4 km/h, 20 m in 14.4 s 5 km/h (way by time)
    assert turning.value * 60 == pytest.approx(12)
    assert (track.value * 3.6, ground.value * 3.6) == pytest.approx((5.4, 5.0))
    # a circle of radius R = s²/(2·offset), ε = gauge/R (small angles; derived): 2 × 2.4 × 0.6/20² = 0.72 %
    assert veer.value == pytest.approx(-0.0072, rel=0.01)
    assert ground.uncertainty / ground.value == pytest.approx(results["travel-time/forward/high"].uncertainty / 14.4)


def test_what_weight_lowers_owes_the_pumps_nothing(judged: Any) -> None:
    result = judged("test: cycle-time, function: boom-lower, times: [3.8 s]", dimensions=True)["cycle-time/boom-lower"]
    assert set(result.computed) == {"flow"}
    assert "its weight moves it" in said(result)


def test_without_dimensions_nothing_is_computed(judged: Any) -> None:
    result = judged("test: cycle-time, function: boom-raise, times: [4.8 s]")["cycle-time/boom-raise"]
    assert result.computed == {}


def test_leakage_and_cooling_of_a_drift(judged: Any) -> None:
    reading = "test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 9 mm, oil-start: 55 °C, oil-end: 51 °C"
    drift = judged(reading + ", extension: 700 mm", dimensions=True)["drift/boom-cylinder"].computed
    # A·0.00196 m in 300 s is what cooling makes of it (0.0007 per kelvin), the rest of 9 mm is leakage
    assert drift["cooling-flow"].value == pytest.approx(TWO_PISTONS * 0.00196 / 300)
    both = drift["leakage"].value + drift["cooling-flow"].value
    assert both == pytest.approx(TWO_PISTONS * 0.009 / 300)
    assert drift["cooling-flow"].uncertainty > 0
    assert drift["leakage"].uncertainty > drift["cooling-flow"].uncertainty


def test_force_and_power_at_stall(judged: Any) -> None:
    reading = "test: stall-pressure, pump: pump-1, function: bucket-curl, pressure: 34.3 MPa"
    result = judged(reading, dimensions=True)["stall-pressure/pump-1/bucket-curl"]
    # F = p·A; P = p·Q with the flow that a torque limit from 0.5 of the relief's setting on leaves (kb/circuits)
    assert result.computed["force"].value == pytest.approx(34.3e6 * math.pi * 0.0575**2)
    assert result.computed["power"].value == pytest.approx(34.3e6 * 0.92 * 0.5 * ONE_PUMP)
    assert result.computed["power"].uncertainty / result.computed["power"].value > 0.15
    assert "torque limit" in said(result)
    swing = judged(reading.replace("bucket-curl", "swing-left"), dimensions=True)["stall-pressure/pump-1/swing-left"]
    assert "force" not in swing.computed


def test_power_of_a_pump_at_the_flow_meter(judged: Any) -> None:
    # 50 L/min at 100 bar are 8.33 kW (A. Esposito, Fluid Power with Applications, Ex 3.15, exact)
    result = judged("test: flow, at: pump-1-outlet, flow: 50 L/min, pressure: 100 bar")["flow/pump-1-outlet"]
    assert result.computed["power"].value == pytest.approx(8333.33, rel=1e-5)


def test_share_and_power_that_a_case_drain_takes(judged: Any) -> None:
    reading = "test: case-drain, part: pump-1, flow: 9 L/min, pressure: 20 MPa"
    result = judged(reading, dimensions=True)["case-drain/pump-1"]
    assert result.computed["share-of-full-flow"].value == pytest.approx(9e-3 / 60 / ONE_PUMP)
    assert result.computed["power"].value == pytest.approx(3000)


@pytest.mark.parametrize(("end", "area"), [("cap", TWO_PISTONS), ("rod", 2 * math.pi / 4 * (0.12**2 - 0.085**2))])
def test_force_of_a_pressure_at_a_port(judged: Any, end: str, area: float) -> None:
    reading = f"test: pressure, at: boom-cylinder-{end}, state: moving, function: boom-raise, pressure: 12 MPa"
    result = judged(reading, dimensions=True)[f"pressure/boom-cylinder-{end}/moving/boom-raise"]
    assert result.computed["force"].value == pytest.approx(12e6 * area)


def test_every_figure_has_an_uncertainty(judged: Any) -> None:
    results = judged(
        "test: cycle-time, function: boom-raise, times: [4.8 s]",
        "test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 9 mm, oil-start: 55 °C, oil-end: 51 °C",
        "test: swing-time, direction: left, turns: 3, times: [15 s]",
        "test: track-time, side: left, direction: forward, range: high, turns: 3, times: [18.4 s]",
        "test: travel-time, direction: forward, range: high, distance: 20 m, times: [14.4 s], "
        "veer: {toward: left, offset: 0.4 m}",
        "test: stall-pressure, pump: pump-1, function: boom-raise, pressure: 34 MPa",
        "test: flow, at: pump-1-outlet, flow: 191 L/min, pressure: 20 MPa",
        dimensions=True,
    )
    figures = [
        (key, name, c) for key, r in results.items() if isinstance(r, Measured) for name, c in r.computed.items()
    ]
    assert len(figures) == 14
    assert [(key, name) for key, name, c in figures if c.uncertainty is None or c.uncertainty <= 0] == []
