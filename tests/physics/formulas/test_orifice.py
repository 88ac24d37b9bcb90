"""Laws of orifices, clearances and pipes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import orifice, valve

areas = st.floats(1e-8, 1e-3)
drops = st.floats(1e2, 5e7)
densities = st.floats(800, 1000)
gaps = st.floats(1e-6, 1e-4)
viscosities = st.floats(0.005, 1)


@given(areas, drops, densities)
def test_orifice_flow_drop_and_area_are_inverse(area: float, drop: float, density: float) -> None:
    flow = orifice.orifice_flow(area, drop, density)
    assert orifice.orifice_drop(area, flow, density) == pytest.approx(drop)
    assert orifice.orifice_area(flow, drop, density) == pytest.approx(area)


@given(areas, drops, densities)
def test_orifice_is_odd(area: float, drop: float, density: float) -> None:
    flow = orifice.orifice_flow(area, drop, density)
    assert orifice.orifice_flow(area, -drop, density) == -flow
    assert orifice.orifice_drop(area, -flow, density) == -orifice.orifice_drop(area, flow, density)
    assert orifice.orifice_flow(area, 0.0, density) == 0


@given(areas, drops, densities, st.floats(1.01, 10))
def test_orifice_flow_rises_with_the_root_of_pressure(area: float, drop: float, density: float, more: float) -> None:
    ratio = orifice.orifice_flow(area, drop * more, density) / orifice.orifice_flow(area, drop, density)
    assert ratio == pytest.approx(more**0.5)


@given(areas, drops, st.floats(0.8, 1.0))
def test_valve_coefficient_does_not_depend_on_the_pressure_it_was_taken_at(
    area: float, drop: float, relative: float
) -> None:
    def coefficient(pressure: float) -> float:
        flow = orifice.orifice_flow(area, pressure, 1000 * relative)
        return valve.valve_coefficient(flow, pressure, relative)

    assert coefficient(drop) == pytest.approx(coefficient(2 * drop))


@given(gaps, drops, viscosities, st.floats(1, 3), st.floats(0.2, 5), st.floats(0.2, 5))
def test_leakage_ratio_says_what_the_formula_says(
    gap: float, drop: float, viscosity: float, wider: float, harder: float, thicker: float
) -> None:
    before = orifice.clearance_flow(0.02, gap, 0.015, drop, viscosity)
    after = orifice.clearance_flow(0.02, gap * wider, 0.015, drop * harder, viscosity * thicker)
    assert after / before == pytest.approx(orifice.leakage_ratio(wider, harder, thicker))


@given(gaps, drops, viscosities, st.floats(0, 1))
def test_eccentric_gap_leaks_one_to_two_and_a_half_times(
    gap: float, drop: float, viscosity: float, eccentricity: float
) -> None:
    centred = orifice.clearance_flow(0.02, gap, 0.015, drop, viscosity)
    eccentric = orifice.clearance_flow(0.02, gap, 0.015, drop, viscosity, eccentricity)
    assert centred <= eccentric <= 2.5 * centred * (1 + 1e-12)
    assert orifice.clearance_flow(0.02, gap, 0.015, -drop, viscosity, eccentricity) == -eccentric


@given(st.floats(-2e-5, 2e-5), st.floats(0.01, 0.05), st.floats(0.1, 20), st.floats(0.02, 1))
def test_pipe_flow_and_drop_are_inverse(flow: float, diameter: float, length: float, viscosity: float) -> None:
    drop = orifice.pipe_drop(flow, diameter, length, viscosity, 870.0)
    assert orifice.pipe_flow(drop, diameter, length, viscosity, 870.0) == pytest.approx(flow)
    assert orifice.pipe_drop(-flow, diameter, length, viscosity, 870.0) == -drop


@given(st.floats(1e-6, 2e-5), st.floats(0.01, 0.05), st.floats(0.1, 20))
def test_shear_on_the_wall_carries_the_pressure_loss(flow: float, diameter: float, length: float) -> None:
    drop = orifice.pipe_drop(flow, diameter, length, 0.04, 870.0)
    wall = orifice.wall_shear(drop, diameter, length) * 3.141592653589793 * diameter * length
    assert wall == pytest.approx(drop * 3.141592653589793 * diameter**2 / 4)
