"""Uncertainty and decision against guides and standards.

Status words as in test_cylinders.py; LIB = a general library agrees.
"""

import math
from collections.abc import Callable

import pytest

from oilpath import uncertainty as un

H1 = "JCGM 100:2008 H.1 (end gauge), full text in the documentation of an open library; READ, LIB GTC 31.66 nm"
H1_MEM = "JCGM 100:2008 H.1.3.4; MEM"
JCGM106 = "JCGM 106:2012 "
TIMING = "Am. J. Phys. 87(2) 110 (2019), abstract; READ"
TAPE = "Directive MI-008 in UK SI 2016/1153, schedule 1I, and two pages of the trade; READ"
GAUGE = "EN 837-1:1996 table 11; READ"
PROBE = "tables of IEC 60584 and IEC 60751; READ"
GRADE_A = "ASME B40.100 grade A, 2-1-2 % of the span: article of the trade, partly MEM; READ-IN"
GPS = "ISO 14253-1:2017, default probability 95 %; MEM"
G8 = "ILAC-G8:09/2019 4.2.3; READ"
EXACT = 1e-12

LENGTH = 50_000_623.0  # nm, the standard of GUM H.1
H1_DIFFERENCE = un.combine(5.8, 3.9, 6.7)
H1_ALPHA = LENGTH * 0.1 * un.rectangular(1e-6)
H1_THETA = LENGTH * 11.5e-6 * un.rectangular(0.05)

RELATIVE: list[tuple[str, str, Callable[[], float], float, float]] = [
    ("U1 combined [nm]", H1, lambda: un.combine(25, H1_DIFFERENCE, H1_ALPHA, H1_THETA), 32, 0.02),
    ("U1b difference [nm]", H1, lambda: H1_DIFFERENCE, 9.7, 0.01),
    ("U1b expansion [nm]", H1, lambda: H1_ALPHA, 2.89, 0.01),
    ("U1b temperature [nm]", H1, lambda: H1_THETA, 16.6, 0.01),
    ("U1 cyclic temperature [°C]", H1_MEM, lambda: un.arcsine(0.5), 0.35, 0.02),
    ("U1 temperature of the bed [°C]", H1_MEM, lambda: un.combine(0.2, un.arcsine(0.5)), 0.41, 0.02),
    ("U7 one-sided 95 %", G8, lambda: 1 - un.probability_out(-1.645, 1, None, 0), 0.95, 1e-3),
    ("U7 no guard band", G8, lambda: un.probability_out(0, 1, None, 0), 0.5, 1e-3),
    ("U10 start to stop [s]", TIMING, lambda: un.stopwatch_uncertainty(resolution=0), 0.10, 0.02),
    ("U13 tape II, 1 m [mm]", TAPE, lambda: un.tape_error(1) * 1e3, 0.5, EXACT),
    ("U13 tape II, 2 m [mm]", TAPE, lambda: un.tape_error(2) * 1e3, 0.7, EXACT),
    ("U13 tape II, 5 m [mm]", TAPE, lambda: un.tape_error(5) * 1e3, 1.3, EXACT),
    ("U13 tape II, 10 m [mm]", TAPE, lambda: un.tape_error(10) * 1e3, 2.3, EXACT),
    ("U13 tape II, 9.2 m rounds up [mm]", TAPE, lambda: un.tape_error(9.2) * 1e3, 2.3, EXACT),
    ("U13 tape I, 10 m [mm]", TAPE, lambda: un.tape_error(10, "I") * 1e3, 1.1, EXACT),
    ("U13 tape III, 10 m [mm]", TAPE, lambda: un.tape_error(10, "III") * 1e3, 4.6, EXACT),
    ("U15 class 1.6, 0 to 10 bar", GAUGE, lambda: un.gauge_error(10, 1.6), 0.16, EXACT),
    ("U15 class 1.6, 0 to 400 bar", GAUGE + " (DERIVED)", lambda: un.gauge_error(400, 1.6), 6.4, EXACT),
    (
        "U15 class 1.6, 0 to 400 bar, standard",
        GAUGE + " (DERIVED)",
        lambda: round(un.gauge_uncertainty(400, 1.6), 1),
        3.7,
        EXACT,
    ),
    ("U16 two per cent of 500 psi", "US Army text SM0486; READ", lambda: un.gauge_error(500, 2.0), 10, EXACT),
    ("U17 grade A, outer quarters [% of span]", GRADE_A, lambda: un.gauge_error(100, 2.0), 2, EXACT),
    ("U17 grade A, middle half [% of span]", GRADE_A, lambda: un.gauge_error(100, 1.0), 1, EXACT),
    ("U9 one-sided 95 %, 1.65 u", GPS, lambda: 1 - un.probability_out(-1.65, 1, None, 0), 0.95, 1e-3),
    ("U18 type K class 2", PROBE, lambda: un.thermometer_error(273.15 + 55), 2.5, EXACT),
    ("U18 Pt100 class B at 55 °C", PROBE, lambda: un.thermometer_error(273.15 + 55, "pt100-b"), 0.575, EXACT),
]


@pytest.mark.parametrize(
    ("source", "compute", "expected", "tolerance"), [c[1:] for c in RELATIVE], ids=[c[0] for c in RELATIVE]
)
def test_published_value(source: str, compute: Callable[[], float], expected: float, tolerance: float) -> None:
    assert compute() == pytest.approx(expected, rel=tolerance), source


# Probability of conforming = 1 - probability of being out, within 0.002
CONFORMING: list[tuple[str, str, float, float, float | None, float | None, float]] = [
    ("U3 two limits", JCGM106 + "7.4, inputs READ, answer 0.66 MEM; READ-IN", 13.6, 1.8, 12.5, 16.3, 0.663),
    ("U4 upper limit", JCGM106 + "7.3.3 example 1; MEM", -5.47, 0.05, None, -5.40, 0.92),
    ("U5 lower limit", JCGM106 + "7.3.3 example 2; MEM", 509.7, 8.6, 490, None, 0.99),
]


@pytest.mark.parametrize(
    ("source", "value", "u", "lower", "upper", "expected"), [c[1:] for c in CONFORMING], ids=[c[0] for c in CONFORMING]
)
def test_probability_of_conforming(
    source: str, value: float, u: float, lower: float | None, upper: float | None, expected: float
) -> None:
    assert 1 - un.probability_out(value, u, lower, upper) == pytest.approx(expected, abs=0.002), source


VOLT, AMPERE, PHASE = 4.999, 19.661e-3, 1.04446
OHM, COS, SIN = VOLT / AMPERE, math.cos(PHASE), math.sin(PHASE)
H2_UNCERTAINTIES = (3.2e-3, 9.5e-6, 7.5e-4)
H2_CORRELATION = ((1, -0.36, 0.86), (-0.36, 1, -0.65), (0.86, -0.65, 1))
# Value, its derivatives by voltage, current and phase, published value and uncertainty
H2 = {
    "R": (OHM * COS, (COS / AMPERE, -OHM * COS / AMPERE, -OHM * SIN), 127.732, 0.071),
    "X": (OHM * SIN, (SIN / AMPERE, -OHM * SIN / AMPERE, OHM * COS), 219.847, 0.295),
    "Z": (OHM, (1 / AMPERE, -OHM / AMPERE, 0.0), 254.260, 0.236),
}


@pytest.mark.parametrize("quantity", sorted(H2))
def test_correlated_inputs(quantity: str) -> None:
    """U2: JCGM 100:2008 H.2, inputs READ (rounded), results MEM, LIB GTC; values 1e-5, uncertainties 3 %."""
    value, sensitivities, expected, expected_u = H2[quantity]
    assert value == pytest.approx(expected, rel=1e-5)
    assert un.propagate(sensitivities, H2_UNCERTAINTIES, H2_CORRELATION) == pytest.approx(expected_u, rel=0.03)


def _risks(acceptance: float) -> tuple[float, float]:
    """Consumer's and producer's risk of the resistors of JCGM 106, summed over the true value."""
    u_made, u_measured, tolerance = 0.12, 0.04, 0.20
    consumer = producer = 0.0
    # Midpoints of cells of equal width, whose edges meet the tolerance limits, so no cell mixes good and bad ones.
    step = 0.0005
    for cell in range(-2000, 2000):
        true = (cell + 0.5) * step
        density = math.exp(-0.5 * (true / u_made) ** 2) / (u_made * math.sqrt(2 * math.pi))
        rejected = un.probability_out(true, u_measured, -acceptance, acceptance)
        if abs(true) > tolerance:
            consumer += density * (1 - rejected) * step
        else:
            producer += density * rejected * step
    return consumer, producer


def test_resistors_of_the_global_risk_example() -> None:
    """U6: JCGM 106:2012, 1500 ohm resistors; inputs READ in a public script, answers MEM; 2 %."""
    assert 1 - un.probability_out(0, 0.12, -0.20, 0.20) == pytest.approx(0.90, rel=0.02)
    assert list(_risks(0.18)) == pytest.approx([0.0099, 0.069], rel=0.02)
    assert list(_risks(0.20)) == pytest.approx([0.019, 0.037], rel=0.02)


def test_guard_band_of_two_standard_uncertainties() -> None:
    """U7: ILAC-G8:09/2019 4.2.3, READ: a value accepted with w = U (k = 2) is out with 2.28 %, below 2.5 %."""
    at_acceptance_limit = un.probability_out(10.0 - 2 * 0.3, 0.3, None, 10.0)
    assert at_acceptance_limit < 0.025
    assert round(at_acceptance_limit, 4) == 0.0228


@pytest.mark.parametrize(
    ("value", "least", "most"),
    [(9.3, 0.0, 0.0228), (9.7, 0.0228, 0.5), (10.3, 0.5, 0.9773), (10.7, 0.9772, 1.0)],
    ids=["pass", "conditional pass", "conditional fail", "fail"],
)
def test_zones_of_the_guard_band(value: float, least: float, most: float) -> None:
    """U8: the four zones of ILAC-G8:09/2019 p. 10 (READ) as probabilities of being out; limit 10, w = 2 u = 0.6."""
    assert least <= un.probability_out(value, 0.3, None, 10.0) <= most
