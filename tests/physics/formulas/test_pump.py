"""Laws of pumps and motors."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import pump

displacements = st.floats(1e-6, 1e-3)
speeds = st.floats(0.5, 60)
pressures = st.floats(1e5, 5e7)
efficiencies = st.floats(0.3, 1)


@given(displacements, speeds, efficiencies)
def test_flow_and_volumetric_efficiency_are_inverse(displacement: float, speed: float, efficiency: float) -> None:
    flow = pump.delivered_flow(displacement, speed, efficiency)
    assert pump.pump_volumetric_efficiency(flow, displacement, speed) == pytest.approx(efficiency)
    leakage = pump.internal_leakage(flow, displacement, speed)
    assert flow + leakage == pytest.approx(pump.ideal_flow(displacement, speed))


@given(displacements, pressures, efficiencies)
def test_torque_and_its_efficiency_are_inverse(displacement: float, pressure: float, efficiency: float) -> None:
    driving = pump.pump_torque(displacement, pressure, efficiency)
    assert pump.pump_torque_efficiency(driving, displacement, pressure) == pytest.approx(efficiency)
    driven = pump.motor_torque(displacement, pressure, efficiency)
    assert pump.motor_torque_efficiency(driven, displacement, pressure) == pytest.approx(efficiency)
    assert driven <= pump.ideal_torque(displacement, pressure) <= driving


@given(displacements, speeds, efficiencies)
def test_motor_speed_and_efficiency_are_inverse(displacement: float, speed: float, efficiency: float) -> None:
    flow = displacement * speed / efficiency
    assert pump.motor_speed(flow, displacement, efficiency) == pytest.approx(speed)
    assert pump.motor_volumetric_efficiency(flow, displacement, speed) == pytest.approx(efficiency)


@given(displacements, speeds, pressures, efficiencies, efficiencies)
def test_overall_efficiency_is_power_out_over_power_in(
    displacement: float, speed: float, pressure: float, volumetric: float, torque: float
) -> None:
    out = pump.hydraulic_power(pressure, pump.delivered_flow(displacement, speed, volumetric))
    into = pump.shaft_power(pump.pump_torque(displacement, pressure, torque), speed)
    assert out / into == pytest.approx(pump.overall_efficiency(volumetric, torque))


@given(displacements, pressures, st.floats(1.01, 4))
def test_a_torque_limit_takes_back_displacement_as_pressure_rises(
    displacement: float, pressure: float, more: float
) -> None:
    torque = pump.ideal_torque(displacement, pressure)
    assert pump.displacement_at_torque(torque, pressure) == pytest.approx(displacement)
    assert pump.displacement_at_torque(torque, pressure * more) == pytest.approx(displacement / more)


@given(st.floats(-1e5, 1e5), speeds)
def test_shaft_power_and_torque_are_inverse(power: float, speed: float) -> None:
    assert pump.shaft_power(pump.torque_for_power(power, speed), speed) == pytest.approx(power)


def test_an_efficiency_above_one_is_shown_as_it_is() -> None:
    assert pump.pump_volumetric_efficiency(0.0022, 1e-4, 20.0) == pytest.approx(1.1)
    assert pump.internal_leakage(0.0022, 1e-4, 20.0) < 0
