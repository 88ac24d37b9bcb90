"""Cylinders, drift, tracks and swing against published examples.

Status of a row: READ = inputs and result seen in a copy of the source; READ-IN = inputs or formula seen there, result
calculated apart from this code; MEM = from memory; DERIVED = arithmetic of our own.
US rows are worked in inch, pound-force and second, which fit together like SI units: 231 in³ = 1 US gallon and
1 hp = 6600 in·lbf/s.
"""

import math
from collections.abc import Callable

import pytest

from oilpath.physics.formulas import cylinder, holding, pump, travel

GPM = 231 / 60  # in³/s
HP = 6600.0  # in·lbf/s
LPM = 1e-3 / 60  # m³/s
BAR = 1e5

COURSE = "mechanicalengineeringcourse.com, cylinder example; READ-IN"
ESP = "A. Esposito, Fluid Power with Applications, "  # seen through public worked-solution notebooks
EXACT = 1e-12
C1_CAP, C1_ROD = cylinder.cap_area(0.100), cylinder.annulus_area(0.100, 0.070)
C2_CAP, C2_ROD = cylinder.cap_area(2.0), cylinder.annulus_area(2.0, 1.0)
C8_ROD = 1 / math.sqrt(2)  # rod of half the area of a bore of 1

CHECKS: list[tuple[str, str, Callable[[], float], float, float]] = [
    ("C1 cap area [cm²]", COURSE, lambda: C1_CAP * 1e4, 78.54, 1e-3),
    ("C1 force [kN]", COURSE, lambda: cylinder.force(200 * BAR, C1_CAP) / 1e3, 157.08, 1e-3),
    ("C1 power [kW]", COURSE, lambda: pump.hydraulic_power(200 * BAR, 40 * LPM) / 1e3, 13.33, 1e-3),
    (
        "C2 power extending [hp]",
        ESP + "Ex 6.1; READ",
        lambda: pump.hydraulic_power(1000 / C2_CAP, 20 * GPM) / HP,
        3.72,
        5e-3,
    ),
    (
        "C2 power retracting [hp]",
        ESP + "Ex 6.1; READ",
        lambda: pump.hydraulic_power(1000 / C2_ROD, 20 * GPM) / HP,
        4.96,
        5e-3,
    ),
    ("C3 retracting force [lb]", ESP + "Ex 9.1; READ", lambda: cylinder.force(1000, 25.0 - 7.0), 18000, 3e-3),
    ("C3 power [hp]", ESP + "Ex 9.1; READ", lambda: pump.hydraulic_power(1000, 20 * GPM) / HP, 11.7, 3e-3),
    ("C4 flow [gpm]", ESP + "Ex 3.8; READ", lambda: cylinder.flow_for_time(8.0, 120, 10) / GPM, 24.9, 4e-3),
    (
        "C4 power [hp]",
        ESP + "Ex 3.8; READ",
        lambda: pump.hydraulic_power(1000, cylinder.flow_for_time(8.0, 120, 10)) / HP,
        14.5,
        4e-3,
    ),
    ("C5 flow [gpm]", ESP + "Ex 3.9; READ", lambda: cylinder.flow_for_time(8.1, 120, 10) / GPM + 0.2, 25.4, 3e-3),
    ("C8 area ratio", "valvehydraulic.info, regeneration; READ", lambda: cylinder.area_ratio(1.0, C8_ROD), 2, EXACT),
    (
        "C10 leakage behind a drift [mL/min]",
        "Q = A·dx/t; DERIVED",
        lambda: holding.leakage_from_drift(cylinder.cap_area(0.120), 0.008, 240) * 60e6,
        22.6,
        2e-3,
    ),
    (
        "C11 raised track [km/h]",
        "distance over time; DERIVED",
        lambda: travel.track_speed(7, 4.0, 56) * 3.6,
        1.8,
        EXACT,
    ),
    ("C11 ground [km/h]", "distance over time; DERIVED", lambda: travel.ground_speed(30, 21.6) * 3.6, 5.0, EXACT),
    ("C12 swing [rpm]", "turns over time; DERIVED", lambda: travel.swing_speed(5, 30) * 60, 10, EXACT),
    (
        "O16 shrinking column, rigid barrel [mm]",
        "cubic expansion 0.00070 per kelvin, engineeringtoolbox d_315; DERIVED",
        lambda: holding.cooling_shrinkage(0.8, 20) * 1e3,
        11.2,
        1e-3,
    ),
    (
        "O16 shrinking column, steel barrel [mm]",
        "cubic expansion 0.00070 per kelvin, engineeringtoolbox d_315, steel 11.5e-6; DERIVED",
        lambda: round(holding.cooling_shrinkage(0.8, 20, steel_expansion=11.5e-6) * 1e3, 1),  # printed with one decimal
        10.6,
        1e-3,
    ),
    ("C1 speed [mm/s]", COURSE, lambda: 1e3 / cylinder.stroke_time(C1_CAP, 1.0, 40 * LPM), 84.88, 1e-3),
    ("C2 force extending [lb]", ESP + "Ex 6.1; READ", lambda: cylinder.force(318, C2_CAP), 1000, 5e-3),
    ("C2 force retracting [lb]", ESP + "Ex 6.1; READ", lambda: cylinder.force(425, C2_ROD), 1000, 5e-3),
    (
        "C2 speed extending [ft/s]",
        ESP + "Ex 6.1; READ",
        lambda: 1 / cylinder.stroke_time(C2_CAP, 12.0, 20 * GPM),
        2.05,
        5e-3,
    ),
    (
        "C2 speed retracting [ft/s]",
        ESP + "Ex 6.1; READ",
        lambda: 1 / cylinder.stroke_time(C2_ROD, 12.0, 20 * GPM),
        2.73,
        5e-3,
    ),
    (
        "C3 retracting speed [in/s]",
        ESP + "Ex 9.1; READ",
        lambda: 1 / cylinder.stroke_time(25.0 - 7.0, 1.0, 20 * GPM),
        4.28,
        3e-3,
    ),
    ("C6 force [N]", ESP + "Ex 3.13; READ", lambda: cylinder.force(200 / 25, 100), 800, EXACT),
    (
        "C9 pressure after equalising over before",
        "idea: trade article on piston seals and drift, ratio DERIVED; READ-IN",
        lambda: holding.end_pressures(1.0, 0.0, 0.0, C1_CAP / C1_ROD)[0],
        2.041,
        1e-3,
    ),
    (
        "O10 expansion [L]",
        "engineeringtoolbox d_315; READ; a column shrinks as a free volume does",
        lambda: holding.cooling_shrinkage(100.0, 20.0, 0.00070),
        1.4,
        EXACT,
    ),
    (
        "O11 equivalent volume [in³]",
        "engineering page on bulk modulus and locked-in oil (MIL-H-83282); READ",
        lambda: holding.cooling_shrinkage(100.0, 50.0, 4.6e-4),
        2.3,
        EXACT,
    ),
]


@pytest.mark.parametrize(
    ("source", "compute", "expected", "tolerance"), [c[1:] for c in CHECKS], ids=[c[0] for c in CHECKS]
)
def test_published_value(source: str, compute: Callable[[], float], expected: float, tolerance: float) -> None:
    assert compute() == pytest.approx(expected, rel=tolerance), source


def test_what_a_leaking_seal_cannot_lock() -> None:
    """C9b: trade article on seals and drift, READ: a double-rod cylinder, and a load that the annulus carries."""
    # Both ends of a double-rod cylinder are equal: what holds the load never equalises, and the rod moves on.
    assert holding.creep_flow(1.0, 0.0, 0.0, 1 + 1e-6) * 1e6 == pytest.approx(0, abs=1e-3)
    assert holding.creep_flow(1.0, 0.0, 1e-3, 1.0) > 0
    # The load that the annulus carries: equal pressures push the way it pulls, so that nothing stops it.
    annulus_over_cap = C1_ROD / C1_CAP
    assert holding.creep_flow(1.0, 0.0, 0.0, annulus_over_cap) == pytest.approx(1.0)
    # The load that the cap end carries is met at D²/d² times its pressure.
    assert holding.creep_flow(1.0, 0.0, 0.0, 1 / annulus_over_cap) == pytest.approx(0, abs=1e-12)
