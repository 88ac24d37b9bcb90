"""Properties of oil under pressure with air."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import stiffness

pressures = st.floats(0, 40e6)
airs = st.floats(0, 0.2)
exponents = st.floats(1, 1.4)


@given(pressures, airs, exponents)
def test_both_shares_of_air_give_the_same_stiffness(pressure: float, air: float, n: float) -> None:
    one = stiffness.modulus_air_at_atmosphere(pressure, air, polytropic=n)
    share = stiffness.air_under_pressure(pressure, air, n)
    assert stiffness.modulus_air_at_pressure(pressure, share, polytropic=n) == pytest.approx(one, rel=1e-9)


@given(pressures, airs, st.floats(1.01, 3))
def test_air_makes_oil_softer_and_pressure_stiffer(pressure: float, air: float, more: float) -> None:
    at = stiffness.modulus_air_at_atmosphere
    assert at(pressure, air) <= stiffness.BULK_MODULUS * (1 + 1e-9)
    assert at(pressure, min(air * more, 0.2)) <= at(pressure, air) * (1 + 1e-9)
    assert at(pressure * more + 1e3, air) >= at(pressure, air) * (1 - 1e-9)


@given(pressures)
def test_without_air_it_is_the_oil(pressure: float) -> None:
    assert stiffness.modulus_air_at_atmosphere(pressure, 0.0) == pytest.approx(stiffness.BULK_MODULUS)
    assert stiffness.modulus_air_at_pressure(pressure, 0.0) == pytest.approx(stiffness.BULK_MODULUS)
    assert stiffness.effective_modulus(1.6e9, 0.0, 1e6, math.inf) == pytest.approx(1.6e9)


@given(st.floats(0, 0.1), st.floats(1e5, 4e7), st.floats(1e8, 1e11))
def test_together_it_is_softer_than_its_softest_part(share: float, gas: float, wall: float) -> None:
    together = stiffness.effective_modulus(1.6e9, share, gas, wall)
    assert together < min(1.6e9, wall, gas / share if share else math.inf)


@given(st.floats(-30, 30))
def test_a_locked_column_that_warms_is_one_that_is_pressed_back(warming: float) -> None:
    rise = stiffness.locked_pressure_rise(warming, 7e-4, stiffness.BULK_MODULUS)
    assert stiffness.compression(1.0, rise, stiffness.BULK_MODULUS) == pytest.approx(-warming * 7e-4)
