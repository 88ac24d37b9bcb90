"""Clearances, orifices and pipes against published examples; status words as in test_cylinders.py."""

import math
from collections.abc import Callable

import pytest

from oilpath.physics.formulas import cylinder, orifice, valve

PSI = 6894.757293168  # Pa
INCH = 0.0254
FOOT = 0.3048
GPM = 231 * INCH**3 / 60  # m³/s
LPM = 1e-3 / 60
MPA = 1e6
EXACT = 1e-12
GRAVITY = 9.80665
POUND = 0.45359237 * GRAVITY  # N
SG_L6 = 0.9  # the example's oil

FM = "Fox and McDonald, Introduction to Fluid Mechanics, Ex 8.1; READ-IN (57.6 mm³/s also MEM)"
ESP = "A. Esposito, Fluid Power with Applications, "  # seen through public worked-solution notebooks
RABIE_GAP = "M. G. Rabie, Fluid Power Engineering, eq 2.19; READ"
RABIE = "M. G. Rabie, Fluid Power Engineering, eq 2.36 to 2.39; READ"
QUES = "ques10.com 39378, laminar pipe; READ-IN, LIB fluids 1.3.1"


def _piston(eccentricity: float = 0.0) -> float:
    return orifice.clearance_flow(0.025, 5e-6, 0.015, 19 * MPA, 0.018, eccentricity)


def _gap_speed() -> float:
    return cylinder.speed(_piston(), math.pi * 0.025 * 5e-6)


def _pipe(flow: float, diameter: float, length: float, viscosity: float, density: float) -> float:
    return orifice.pipe_drop(flow, diameter, length, viscosity, density)


AREA_1_IN = math.pi / 4 * INCH**2
AREA_50_MM = math.pi / 4 * 0.05**2
OIL_L10 = 8800 / GRAVITY  # kg/m³ from its specific weight

CHECKS: list[tuple[str, str, Callable[[], float], float, float]] = [
    ("L1 piston leakage [mm³/s]", FM, lambda: _piston() * 1e9, 57.6, 5e-3),
    ("L1 speed in the gap [m/s]", FM, _gap_speed, 0.147, 5e-3),
    ("L1 Reynolds number", FM, lambda: orifice.reynolds_number(_gap_speed(), 5e-6, 0.018 / 920), 0.0375, 5e-3),
    (
        "L2 piston touching one side [mm³/s]",
        "factor 2.5: a fluid lexicon's page on the circular sealing gap; READ-IN",
        lambda: _piston(1.0) * 1e9,
        143.9,
        1e-3,
    ),
    (
        "L2b formula of the concentric gap",
        RABIE_GAP,
        lambda: orifice.clearance_flow(0.04, 8e-6, 0.02, 21 * MPA, 0.03),
        math.pi * 0.04 * 8e-6**3 * 21 * MPA / (12 * 0.03 * 0.02),
        EXACT,
    ),
    (
        "L3 sharp-edged orifice [gpm]",
        ESP + "Ex 8.4; READ",
        lambda: orifice.orifice_flow(AREA_1_IN, 100 * PSI, 900, 0.80) / GPM,
        252,
        4e-3,
    ),
    ("L4 ideal discharge coefficient", RABIE, lambda: orifice.SHARP_EDGED, 0.611, 1e-3),
    (
        "L5 valve coefficient [gpm/psi^½]",
        ESP + "Ex 8.5; READ",
        lambda: valve.valve_coefficient(25 * GPM, 100 * PSI, 0.9) / valve.US_COEFFICIENT,
        2.37,
        2e-3,
    ),
    (
        "L5 valve coefficient [L/min/kPa^½]",
        ESP + "Ex 8.5; READ",
        lambda: valve.valve_coefficient(94.8 * LPM, 687e3, 0.9) * math.sqrt(1000) / LPM,
        3.43,
        2e-3,
    ),
    (
        "L6 meter-out, pressure before the valve [psi]",
        ESP + "Ex 8.6; READ",
        lambda: valve.meter_out_pressure(500.0, 1000, 3.14, 3.14 - 0.79),
        242.6,
        6e-3,
    ),
    (
        "L6 meter-out, valve coefficient [gpm/psi^½]",
        ESP + "Ex 8.6; READ",
        lambda: valve.valve_coefficient(10 * (3.14 - 0.79) * INCH**3, 242.6 * PSI, SG_L6) / valve.US_COEFFICIENT,
        0.37,
        6e-3,
    ),
    (
        "L7 meter-in speed [in/s]",
        ESP + "Ex 9.4; READ",
        lambda: valve.meter_in_speed(valve.US_COEFFICIENT, 1400 * PSI, 4000 * POUND, 3.14 * INCH**2, 0.9) / INCH,
        14.5,
        2e-3,
    ),
    (
        "L8 water from a tank [L/s]",
        "ajdesigner.com, orifice flow; READ",
        lambda: orifice.orifice_flow(AREA_50_MM, 1000 * GRAVITY * 3, 1000, 0.62) * 1e3,
        9.3,
        6e-3,
    ),
    (
        "L9 Reynolds number",
        ESP + "Ex 4.1; READ",
        lambda: orifice.reynolds_number(10 * FOOT, INCH, 100e-6),
        774,
        4e-3,
    ),
    (
        "L9 pressure loss [psi]",
        ESP + "Ex 4.3; READ",
        lambda: _pipe(10 * FOOT * AREA_1_IN, INCH, 100 * FOOT, 100e-6 * 900, 900) / PSI,
        60,
        4e-3,
    ),
    ("L10 Reynolds number", ESP + "Ex 4.2; READ", lambda: orifice.reynolds_number(5, 0.05, 0.001), 250, 3e-3),
    (
        "L10 pressure loss [bar]",
        ESP + "Ex 4.4; READ",
        lambda: _pipe(5 * AREA_50_MM, 0.05, 50, 0.001 * OIL_L10, OIL_L10) / 1e5,
        28.7,
        3e-3,
    ),
    (
        "L10 head loss [m of oil]",
        ESP + "Ex 4.4; READ",
        lambda: _pipe(5 * AREA_50_MM, 0.05, 50, 0.001 * OIL_L10, OIL_L10) / 8800,
        326,
        3e-3,
    ),
    (
        "L11 Reynolds number",
        QUES,
        lambda: orifice.reynolds_number(0.0035 / AREA_50_MM, 0.05, 0.1 / 900),
        802,
        1e-3,
    ),
    ("L11 pressure loss [bar]", QUES, lambda: _pipe(0.0035, 0.05, 300, 0.1, 900) / 1e5, 6.845, 1e-3),
    (
        "L11 wall shear [Pa]",
        QUES,
        lambda: orifice.wall_shear(_pipe(0.0035, 0.05, 300, 0.1, 900), 0.05, 300),
        28.5,
        1e-3,
    ),
]


@pytest.mark.parametrize(
    ("source", "compute", "expected", "tolerance"), [c[1:] for c in CHECKS], ids=[c[0] for c in CHECKS]
)
def test_published_value(source: str, compute: Callable[[], float], expected: float, tolerance: float) -> None:
    assert compute() == pytest.approx(expected, rel=tolerance), source
