"""Laws of pumps."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import pump

displacements = st.floats(1e-6, 1e-3)
speeds = st.floats(0.5, 60)
pressures = st.floats(1e5, 5e7)
efficiencies = st.floats(0.3, 1)


@given(displacements, speeds, efficiencies)
def test_what_a_pump_delivers_and_loses_is_its_displacement(displacement: float, speed: float, share: float) -> None:
    delivered, lost = pump.delivered_flow(displacement, speed, share), displacement * speed * (1 - share)
    assert delivered + lost == pytest.approx(pump.ideal_flow(displacement, speed))


@given(displacements, pressures, st.floats(1.01, 4), speeds)
def test_a_torque_limit_takes_back_displacement_and_keeps_the_power(
    displacement: float, pressure: float, more: float, speed: float
) -> None:
    torque = displacement * pressure / (2 * math.pi)  # T = V·Δp/(2π)
    less = pump.displacement_at_torque(2 * math.pi * torque, pressure * more)
    assert less == pytest.approx(displacement / more)
    power = pump.hydraulic_power(pressure * more, pump.ideal_flow(less, speed))
    assert power == pytest.approx(2 * math.pi * speed * torque)  # P = 2π·n·T at the shaft
