"""Properties of valves: inverse pairs, balance of forces, what two kinds of coefficient have in common."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import valve

coefficients = st.floats(1e-8, 1e-4)
drops = st.floats(1e3, 4e7)
densities = st.floats(0.8, 1.0)
areas = st.floats(1e-4, 0.1)


@given(coefficients, drops, densities)
def test_flow_drop_and_coefficient_belong_together(coefficient: float, drop: float, density: float) -> None:
    flow = valve.valve_flow(coefficient, drop, density)
    assert valve.valve_drop(coefficient, flow, density) == pytest.approx(drop)
    assert valve.valve_coefficient(flow, drop, density) == pytest.approx(coefficient)
    assert valve.valve_flow(coefficient, -drop, density) == -flow
    assert valve.valve_drop(coefficient, -flow, density) == pytest.approx(-drop)


def test_units_of_coefficients() -> None:
    # K_v = 0.865·C_v: common practice of valve makers' sizing sheets
    ratio = valve.US_COEFFICIENT / valve.METRIC_COEFFICIENT
    assert ratio == pytest.approx(0.865, rel=1e-3)


@given(st.floats(1e6, 4e7), st.floats(0, 0.9), areas, densities)
def test_metering_in_slows_a_loaded_cylinder(pressure: float, share: float, area: float, density: float) -> None:
    load = share * pressure * area
    loaded = valve.meter_in_speed(1e-6, pressure, load, area, density)
    assert loaded <= valve.meter_in_speed(1e-6, pressure, 0.0, area, density)
    left = pressure - load / area
    assert loaded * area == pytest.approx(valve.valve_flow(1e-6, left, density))


@given(st.floats(0, 4e7), st.floats(-1e5, 1e5), areas, areas)
def test_metering_out_balances_the_forces(pressure: float, load: float, area_in: float, area_out: float) -> None:
    held = valve.meter_out_pressure(pressure, load, area_in, area_out)
    assert held * area_out + load == pytest.approx(pressure * area_in, rel=1e-9, abs=1e-6 * (1 + abs(load)))


@given(st.floats(1e3, 1e6), st.floats(1e-4, 0.02), st.floats(0, 0.01), st.floats(1e-5, 1e-3))
def test_override_is_lift_over_preload(rate: float, preload: float, lift: float, area: float) -> None:
    cracking = valve.spring_pressure(rate, preload, area)
    open_ = valve.spring_pressure(rate, preload + lift, area)
    assert valve.pressure_override(cracking, max(open_, cracking)) == pytest.approx(lift / preload, rel=1e-6, abs=1e-9)
