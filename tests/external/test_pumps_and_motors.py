"""Pumps, motors and power against published examples; status words as in test_cylinders.py.

US rows are worked in inch, pound-force and second: 231 in³ = 1 US gallon, 1 hp = 6600 in·lbf/s.
"""

import math
from collections.abc import Callable

import pytest

from oilpath.physics.formulas import displacement, oil, pump, valve

GPM = 231 / 60  # in³/s
HP = 6600.0  # in·lbf/s
LPM = 1e-3 / 60  # m³/s
BAR = 1e5
ESP = "A. Esposito, Fluid Power with Applications, "  # seen through public worked-solution notebooks

GEAR_US = displacement.gear_displacement(3, 2, 1)  # in³/rev, geometry of Ex 5.1
GEAR_SI = displacement.gear_displacement(0.075, 0.050, 0.025)  # m³/rev, geometry of Ex 5.2
PISTONS_SI = displacement.axial_piston_displacement(9, 0.015, 0.125, math.radians(10))  # m³/rev, geometry of Ex 5.7
# rad, Ex 5.6: the displacement that gives 16 gpm at 3000 rpm with 95 %
SWASH_US = displacement.swash_angle(16 * GPM / (3000 / 60) / 0.95, 9, 0.5, 5)
RELIEF_CRACKING = valve.spring_pressure(2500, 0.20, 0.75)  # psi, Ex 8.1
RELIEF_OPEN = valve.spring_pressure(2500, 0.20 + 0.10, 0.75)


def _pump_overall(flow: float, displacement: float, speed: float, torque: float, pressure: float) -> float:
    return pump.overall_efficiency(
        pump.pump_volumetric_efficiency(flow, displacement, speed),
        pump.pump_torque_efficiency(torque, displacement, pressure),
    )


def _motor_overall(flow: float, displacement: float, speed: float, torque: float, pressure: float) -> float:
    return pump.overall_efficiency(
        pump.motor_volumetric_efficiency(flow, displacement, speed),
        pump.motor_torque_efficiency(torque, displacement, pressure),
    )


CHECKS: list[tuple[str, str, Callable[[], float], float, float]] = [
    (
        "P1 gear pump, volumetric",
        "Ex 5.1; READ",
        lambda: pump.pump_volumetric_efficiency(28 * GPM, GEAR_US, 1800 / 60),
        0.915,
        3e-3,
    ),
    (
        "P2 gear pump, flow [L/min]",
        "Ex 5.2; READ",
        lambda: pump.delivered_flow(GEAR_SI, 1000 / 60, 0.9) / LPM,
        55.3,
        3e-3,
    ),
    (
        "P3 vane pump, displacement [L/rev]",
        "Ex 5.4; READ",
        lambda: displacement.vane_displacement(0.050, 0.075, 0.050, 0.008) * 1e3,
        0.0785,
        1e-3,
    ),
    ("P4 axial pump, tan(angle)", "Ex 5.6; READ", lambda: math.tan(SWASH_US), 0.147, 3e-3),
    ("P4 axial pump, angle [degrees]", "Ex 5.6; READ", lambda: math.degrees(SWASH_US), 8.35, 3e-3),
    (
        "P5 axial pump, flow [L/s]",
        "Ex 5.7; READ",
        lambda: pump.delivered_flow(PISTONS_SI, 1000 / 60, 0.94) * 1e3,
        0.55,
        3e-3,
    ),
    ("P6 pump, overall", "Ex 5.8; READ", lambda: _pump_overall(20 * GPM, 5, 1000 / 60, 900, 1000), 0.816, 5e-3),
    ("P6 ideal torque [in·lb]", "Ex 5.8; READ", lambda: pump.ideal_torque(5, 1000), 793, 5e-3),
    (
        "P7 pump, volumetric",
        "Ex 5.9; READ-IN",
        lambda: pump.pump_volumetric_efficiency(0.0015, 100e-6, 1000 / 60),
        0.90,
        6e-3,
    ),
    (
        "P7 pump, hydro-mechanical",
        "Ex 5.9; READ-IN",
        lambda: pump.pump_torque_efficiency(120, 100e-6, 70 * BAR),
        0.928,
        6e-3,
    ),
    (
        "P7 pump, overall",
        "Ex 5.9 and 5.10; READ-IN",
        lambda: _pump_overall(0.0015, 100e-6, 1000 / 60, 120, 70 * BAR),
        0.835,
        6e-3,
    ),
    ("P7 ideal torque [N·m]", "Ex 5.9; READ-IN", lambda: pump.ideal_torque(100e-6, 70 * BAR), 111.4, 6e-3),
    ("P8 power [kW]", "Ex 3.15; READ", lambda: pump.hydraulic_power(100 * BAR, 50 * LPM) / 1e3, 8.35, 3e-3),
    (
        "P9 power saved by pressure compensation [hp]",
        "Ex 5.5; READ",
        lambda: (pump.hydraulic_power(1200, 20 * GPM) - pump.hydraulic_power(1200, 0.7 * GPM)) / HP,
        13.5,
        2e-3,
    ),
    (
        "P10 pump of a chain, flow [gpm]",
        "Ex 9.5; READ",
        lambda: pump.delivered_flow(10, 1000 / 60, 0.94) / GPM,
        40.7,
        1e-3,
    ),
    (
        "P10 motor of a chain, speed [rpm]",
        "Ex 9.5; READ",
        lambda: pump.motor_speed(pump.delivered_flow(10, 1000 / 60, 0.94), 8, 0.90) * 60,
        1057,
        1e-3,
    ),
    ("M1 speed [rpm]", "Ex 7.2; READ", lambda: pump.motor_speed(10 * GPM, 5, 1.0) * 60, 462, 1e-3),
    ("M1 torque [in·lb]", "Ex 7.2; READ", lambda: pump.motor_torque(5, 1000, 1.0), 795, 1e-3),
    ("M1 power [hp]", "Ex 7.2; READ", lambda: pump.hydraulic_power(1000, 10 * GPM) / HP, 5.83, 1e-3),
    (
        "M2 volumetric",
        "Ex 7.3; READ",
        lambda: pump.motor_volumetric_efficiency(95 * GPM, 10, 2000 / 60),
        0.911,
        2e-3,
    ),
    ("M2 hydro-mechanical", "Ex 7.3; READ", lambda: pump.motor_torque_efficiency(1500, 10, 1000), 0.9425, 2e-3),
    ("M2 overall", "Ex 7.3; READ", lambda: _motor_overall(95 * GPM, 10, 2000 / 60, 1500, 1000), 0.858, 2e-3),
    ("M2 power [hp]", "Ex 7.3; READ", lambda: pump.shaft_power(1500, 2000 / 60) / HP, 47.6, 2e-3),
    ("M3 speed [rpm]", "Ex 7.5; READ", lambda: pump.motor_speed(0.0006, 82e-6, 1.0) * 60, 439, 1e-3),
    ("M3 torque [N·m]", "Ex 7.5; READ", lambda: pump.motor_torque(82e-6, 70 * BAR, 1.0), 91.4, 1e-3),
    ("M3 power [kW]", "Ex 7.5; READ", lambda: pump.hydraulic_power(70 * BAR, 0.0006) / 1e3, 4.2, 1e-3),
    (
        "M4 volumetric",
        "Ex 7.6; READ",
        lambda: pump.motor_volumetric_efficiency(0.006, 164e-6, 2000 / 60),
        0.912,
        2e-3,
    ),
    ("M4 hydro-mechanical", "Ex 7.6; READ", lambda: pump.motor_torque_efficiency(170, 164e-6, 70 * BAR), 0.930, 2e-3),
    ("M4 overall", "Ex 7.6; READ", lambda: _motor_overall(0.006, 164e-6, 2000 / 60, 170, 70 * BAR), 0.848, 2e-3),
    ("M4 power [kW]", "Ex 7.6; READ", lambda: pump.shaft_power(170, 2000 / 60) / 1e3, 35.6, 2e-3),
    (
        "M5 motor of a drive, displacement [cm³]",
        "Ex 7.7; READ",
        lambda: pump.motor_speed(pump.delivered_flow(82e-6, 500 / 60, 0.82), 1e-6, 0.92) / (400 / 60),
        77.3,
        1e-3,
    ),
    (
        "M5 motor of a drive, torque [N·m]",
        "Ex 7.7; READ",
        lambda: pump.motor_torque(77.3e-6, 70 * BAR, 0.90),
        77.5,
        1e-3,
    ),
    (
        "M6 motor of a drive, displacement [in³]",
        "Ex 7.4; READ",
        lambda: pump.motor_speed(pump.delivered_flow(5, 500 / 60, 0.82), 1, 0.92) / (400 / 60),
        4.71,
        3e-3,
    ),
    ("M6 motor of a drive, torque [in·lb]", "Ex 7.4; READ", lambda: pump.motor_torque(4.71, 1000, 0.90), 674, 3e-3),
    ("M7 torque [N·m]", "Ex 3.16; READ", lambda: pump.torque_for_power(10e3, 1450 / 60), 65.9, 1e-3),
    ("R1 relief, cracking [psi]", "Ex 8.1; READ", lambda: RELIEF_CRACKING, 667, 1e-3),
    ("R1 relief, full flow [psi]", "Ex 8.1; READ", lambda: RELIEF_OPEN, 1000, 1e-3),
    ("R1 relief, override", "Ex 8.1; READ", lambda: valve.pressure_override(RELIEF_CRACKING, RELIEF_OPEN), 0.5, 1e-3),
    (
        "R2 power lost unloaded [hp]",
        "Ex 8.3; READ",
        lambda: round(pump.hydraulic_power(25, 20 * GPM) / HP, 2),  # printed with two decimals
        0.29,
        3e-3,
    ),
    ("R2 power lost at a relief [hp]", "Ex 8.2; READ", lambda: pump.hydraulic_power(1000, 20 * GPM) / HP, 11.7, 3e-3),
    ("R3 heating at a relief [K]", "Ex 11.3; READ", lambda: oil.relief_heating(70 * BAR, 895, 1800), 4.3, 1.5e-2),
    ("R4 heating at stall [K]", "from Ex 11.3; DERIVED", lambda: oil.relief_heating(350 * BAR, 895, 1800), 21.7, 5e-3),
]


@pytest.mark.parametrize(
    ("source", "compute", "expected", "tolerance"), [c[1:] for c in CHECKS], ids=[c[0] for c in CHECKS]
)
def test_published_value(source: str, compute: Callable[[], float], expected: float, tolerance: float) -> None:
    assert compute() == pytest.approx(expected, rel=tolerance), ESP + source
