"""Pumps, reliefs and power against published examples; status words as in test_cylinders.py.

US rows are worked in inch, pound-force and second: 231 in³ = 1 US gallon, 1 hp = 6600 in·lbf/s.
"""

import math
from collections.abc import Callable

import pytest

from oilpath.physics.formulas import pump, valve

GPM = 231 / 60  # in³/s
HP = 6600.0  # in·lbf/s
LPM = 1e-3 / 60  # m³/s
BAR = 1e5
ESP = "A. Esposito, Fluid Power with Applications, "  # seen through public worked-solution notebooks

GEAR_US = math.pi / 4 * (3**2 - 2**2) * 1  # in³/rev, geometry of Ex 5.1
GEAR_SI = math.pi / 4 * (0.075**2 - 0.050**2) * 0.025  # m³/rev, geometry of Ex 5.2
PISTONS_SI = 9 * math.pi / 4 * 0.015**2 * 0.125 * math.tan(math.radians(10))  # m³/rev, geometry of Ex 5.7
TURN = 2 * math.pi


CHECKS: list[tuple[str, str, Callable[[], float], float, float]] = [
    (
        "P2 gear pump, flow [L/min]",
        "Ex 5.2; READ",
        lambda: pump.delivered_flow(GEAR_SI, 1000 / 60, 0.9) / LPM,
        55.3,
        3e-3,
    ),
    (
        "P5 axial pump, flow [L/s]",
        "Ex 5.7; READ",
        lambda: pump.delivered_flow(PISTONS_SI, 1000 / 60, 0.94) * 1e3,
        0.55,
        3e-3,
    ),
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
    ("M1 power [hp]", "Ex 7.2; READ", lambda: pump.hydraulic_power(1000, 10 * GPM) / HP, 5.83, 1e-3),
    ("M3 power [kW]", "Ex 7.5; READ", lambda: pump.hydraulic_power(70 * BAR, 0.0006) / 1e3, 4.2, 1e-3),
    (
        "R2 power lost unloaded [hp]",
        "Ex 8.3; READ",
        lambda: round(pump.hydraulic_power(25, 20 * GPM) / HP, 2),  # printed with two decimals
        0.29,
        3e-3,
    ),
    ("R2 power lost at a relief [hp]", "Ex 8.2; READ", lambda: pump.hydraulic_power(1000, 20 * GPM) / HP, 11.7, 3e-3),
    (
        "P1 gear pump, flow at its efficiency [gpm]",
        "Ex 5.1; READ",
        lambda: pump.delivered_flow(GEAR_US, 1800 / 60, 0.915) / GPM,
        28,
        3e-3,
    ),
    (
        "P6 displacement at a torque [in³]",
        "Ex 5.8; READ",
        lambda: pump.displacement_at_torque(TURN * 793, 1000),
        5,
        5e-3,
    ),
    (
        "P7 displacement at a torque [cm³]",
        "Ex 5.9; READ-IN",
        lambda: pump.displacement_at_torque(TURN * 111.4, 70 * BAR) * 1e6,
        100,
        6e-3,
    ),
    (
        "P7 flow at its efficiency [L/s]",
        "Ex 5.9; READ-IN",
        lambda: pump.delivered_flow(100e-6, 1000 / 60, 0.90) * 1e3,
        1.5,
        6e-3,
    ),
    (
        "M1 displacement at a torque [in³]",
        "Ex 7.2; READ",
        lambda: pump.displacement_at_torque(TURN * 795, 1000),
        5,
        1e-3,
    ),
    (
        "M3 displacement at a torque [cm³]",
        "Ex 7.5; READ",
        lambda: pump.displacement_at_torque(TURN * 91.4, 70 * BAR) * 1e6,
        82,
        1e-3,
    ),
    ("R1 relief, cracking [psi]", "Ex 8.1; READ", lambda: valve.relief_pressure(0.0, 1000, 0.5 / 1.5), 667, 1e-3),
    (
        "R1 relief, full flow [psi]",
        "Ex 8.1; READ",
        lambda: valve.relief_pressure(1.0, 667 * 1.5, 0.5 / 1.5),
        1000,
        1e-3,
    ),
]


@pytest.mark.parametrize(
    ("source", "compute", "expected", "tolerance"), [c[1:] for c in CHECKS], ids=[c[0] for c in CHECKS]
)
def test_published_value(source: str, compute: Callable[[], float], expected: float, tolerance: float) -> None:
    assert compute() == pytest.approx(expected, rel=tolerance), ESP + source
