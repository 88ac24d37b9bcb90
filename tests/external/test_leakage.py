"""Clearances, orifices and pipes against published examples; status words as in test_cylinders.py."""

import math
from collections.abc import Callable

import pytest

from oilpath.physics.formulas import orifice

PSI = 6894.757293168  # Pa
INCH = 0.0254
FOOT = 0.3048
GPM = 231 * INCH**3 / 60  # m³/s
LPM = 1e-3 / 60
MPA = 1e6
EXACT = 1e-12
GRAVITY = 9.80665

FM = "Fox and McDonald, Introduction to Fluid Mechanics, Ex 8.1; READ-IN (57.6 mm³/s also MEM)"
ESP = "A. Esposito, Fluid Power with Applications, "  # seen through public worked-solution notebooks
RABIE_GAP = "M. G. Rabie, Fluid Power Engineering, eq 2.19; READ"
QUES = "ques10.com 39378, laminar pipe; READ-IN, LIB fluids 1.3.1"


def _gap(diameter: float, gap: float, length: float, eccentricity: float = 0.0) -> float:
    """Conductance of the ring gap round a piston [m³]."""
    return math.pi * diameter * gap**3 / (12 * length) * (1 + 1.5 * eccentricity**2)


def _pipe(pressure: float, diameter: float, length: float, viscosity: float) -> float:
    """Mean speed in a round pipe [m/s]."""
    flow = orifice.laminar_leakage(math.pi * diameter**4 / (128 * length), pressure, viscosity)
    return flow / (math.pi / 4 * diameter**2)


def _piston(eccentricity: float = 0.0) -> float:
    return orifice.laminar_leakage(_gap(0.025, 5e-6, 0.015, eccentricity), 19 * MPA, 0.018)


def _sharp_edged(area: float, pressure_drop: float, density: float, coefficient: float) -> float:
    return orifice.orifice_flow(coefficient * area * math.sqrt(2 / density), pressure_drop)


US_COEFFICIENT = GPM / math.sqrt(PSI)  # C_v of 1: one US gallon a minute of water at one psi
AREA_1_IN = math.pi / 4 * INCH**2
AREA_50_MM = math.pi / 4 * 0.05**2
OIL_L10 = 8800 / GRAVITY  # kg/m³ from its specific weight

CHECKS: list[tuple[str, str, Callable[[], float], float, float]] = [
    ("L1 piston leakage [mm³/s]", FM, lambda: _piston() * 1e9, 57.6, 5e-3),
    (
        "L2 piston touching one side [mm³/s]",
        "factor 2.5: a fluid lexicon's page on the circular sealing gap; READ-IN",
        lambda: _piston(1.0) * 1e9,
        143.9,
        1e-3,
    ),
    (
        "L1 speed in the gap [m/s]",
        FM,
        lambda: _piston() / (math.pi * 0.025 * 5e-6),
        0.147,
        5e-3,
    ),
    (
        "L2b formula of the concentric gap",
        RABIE_GAP,
        lambda: orifice.laminar_leakage(_gap(0.04, 8e-6, 0.02), 21 * MPA, 0.03),
        math.pi * 0.04 * 8e-6**3 * 21 * MPA / (12 * 0.03 * 0.02),
        EXACT,
    ),
    (
        "L3 sharp-edged orifice [gpm]",
        ESP + "Ex 8.4; READ",
        lambda: _sharp_edged(AREA_1_IN, 100 * PSI, 900, 0.80) / GPM,
        252,
        4e-3,
    ),
    (
        "L5 flow through a valve of C_v 2.37 [gpm]",
        ESP + "Ex 8.5; READ",
        lambda: orifice.orifice_flow(2.37 * US_COEFFICIENT / math.sqrt(0.9), 100 * PSI) / GPM,
        25,
        2e-3,
    ),
    (
        "L5 pressure held by that flow [psi]",
        ESP + "Ex 8.5; READ",
        lambda: orifice.held_pressure(25 * GPM, 1e-16, 2.37 * US_COEFFICIENT / math.sqrt(0.9)) / PSI,
        100,
        4e-3,
    ),
    (
        "L6 meter-out, flow at the pressure before the valve [in³/s]",
        ESP + "Ex 8.6; READ",
        lambda: orifice.orifice_flow(0.37 * US_COEFFICIENT / math.sqrt(0.9), 242.6 * PSI) / INCH**3,
        10 * (3.14 - 0.79),
        6e-3,
    ),
    (
        "L7 meter-in speed [in/s]",
        ESP + "Ex 9.4; READ",
        lambda: orifice.orifice_flow(US_COEFFICIENT / math.sqrt(0.9), (1400 - 4000 / 3.14) * PSI) / (3.14 * INCH**3),
        14.5,
        2e-3,
    ),
    (
        "L8 water from a tank [L/s]",
        "ajdesigner.com, orifice flow; READ",
        lambda: _sharp_edged(AREA_50_MM, 1000 * GRAVITY * 3, 1000, 0.62) * 1e3,
        9.3,
        6e-3,
    ),
    (
        "L9 speed at the pressure loss [ft/s]",
        ESP + "Ex 4.1 and 4.3; READ",
        lambda: _pipe(60 * PSI, INCH, 100 * FOOT, 100e-6 * 900) / FOOT,
        10,
        4e-3,
    ),
    (
        "L10 speed at the pressure loss [m/s]",
        ESP + "Ex 4.2 and 4.4; READ",
        lambda: _pipe(28.7e5, 0.05, 50, 0.001 * OIL_L10),
        5,
        3e-3,
    ),
    ("L11 flow at the pressure loss [L/s]", QUES, lambda: _pipe(6.845e5, 0.05, 300, 0.1) * AREA_50_MM * 1e3, 3.5, 1e-3),
]


@pytest.mark.parametrize(
    ("source", "compute", "expected", "tolerance"), [c[1:] for c in CHECKS], ids=[c[0] for c in CHECKS]
)
def test_published_value(source: str, compute: Callable[[], float], expected: float, tolerance: float) -> None:
    assert compute() == pytest.approx(expected, rel=tolerance), source
