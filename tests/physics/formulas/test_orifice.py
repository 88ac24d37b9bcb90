"""Laws of orifices and clearances."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import orifice

coefficients = st.floats(1e-8, 1e-4)
drops = st.floats(1e2, 5e7)
conductances = st.floats(1e-17, 1e-12)
viscosities = st.floats(0.005, 1)


@given(coefficients, drops, st.floats(1.01, 10))
def test_orifice_flow_rises_with_the_root_of_pressure(coefficient: float, drop: float, more: float) -> None:
    ratio = orifice.orifice_flow(coefficient, drop * more) / orifice.orifice_flow(coefficient, drop)
    assert ratio == pytest.approx(more**0.5)
    assert orifice.orifice_flow(coefficient, 0.0) == 0


@given(conductances, drops, viscosities, st.floats(0.2, 5), st.floats(0.2, 5))
def test_leakage_goes_with_pressure_and_falls_with_viscosity(
    conductance: float, drop: float, viscosity: float, harder: float, thicker: float
) -> None:
    before = orifice.laminar_leakage(conductance, drop, viscosity)
    after = orifice.laminar_leakage(conductance, drop * harder, viscosity * thicker)
    assert after / before == pytest.approx(harder / thicker)
    assert orifice.laminar_leakage(conductance, -drop, viscosity) == -before


@given(st.floats(0.01, 1.2), st.floats(0.01, 2), st.floats(0, 2))
def test_the_pressure_that_a_flow_holds_passes_that_flow(flow: float, leakage: float, coefficient: float) -> None:
    pressure = orifice.held_pressure(flow, leakage, coefficient)
    passed = orifice.laminar_leakage(leakage, pressure, 1.0) + orifice.orifice_flow(coefficient, pressure)
    assert passed == pytest.approx(flow)
