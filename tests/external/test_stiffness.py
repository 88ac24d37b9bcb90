"""Stiffness of oil with air against published formulas and values; status words as in test_cylinders.py."""

from collections.abc import Callable

import pytest

from oilpath.physics.formulas import oil, stiffness

PSI, BAR = 6894.757293168, 1e5
MERRITT = "H. E. Merritt, Hydraulic Control Systems, eq 4-49 as quoted in another book; READ-IN"
RABIE = "M. G. Rabie, Fluid Power Engineering, eq 2.50 to 2.57, p. 32; READ-IN"
CHART = "published correction chart for bulk modulus with air; formula of a general simulation library; READ"
SAME = "formula of a general simulation library; DERIVED"
WALL = stiffness.wall_modulus(10.0, 1.0, 30e6)  # psi, steel pipe of D/t 10


def _at_atmosphere(bar: float, air: float) -> float:
    return stiffness.modulus_air_at_atmosphere(bar * BAR, air, 1.6e9) / 1e9


CHECKS: list[tuple[str, str, Callable[[], float], float, float]] = [
    ("O13 term of the wall [1e-6/psi]", MERRITT, lambda: round(1e6 / WALL, 2), 0.33, 2e-3),
    (
        "O13 isothermal [psi]",
        MERRITT,
        lambda: stiffness.effective_modulus(250e3, 0.01, 500.0, WALL),
        41_100,
        2e-3,
    ),
    ("O13 adiabatic [psi]", MERRITT, lambda: stiffness.effective_modulus(250e3, 0.01, 700.0, WALL), 53_700, 2e-3),
    (
        "O14 share at the pressure [GPa]",
        RABIE,
        lambda: stiffness.modulus_air_at_pressure(34.5 * BAR - stiffness.ATMOSPHERE, 0.01, 1.7237e9) / 1e9,
        0.288,
        2e-3,
    ),
    (
        "O15 share at the atmosphere, factor",
        CHART,
        lambda: stiffness.modulus_air_at_atmosphere(2000 * PSI, 0.02, 300e3 * PSI) / (300e3 * PSI),
        0.979,
        5e-3,
    ),
    (
        "O15 chart, factor",
        CHART,
        lambda: stiffness.modulus_air_at_atmosphere(2000 * PSI, 0.02, 300e3 * PSI) / (300e3 * PSI),
        0.98,
        5e-3,
    ),
    ("O15b 0.5 % at 10 bar [GPa]", SAME, lambda: _at_atmosphere(10, 0.005), 0.959, 5e-3),
    ("O15b 1 % at 10 bar [GPa]", SAME, lambda: _at_atmosphere(10, 0.01), 0.685, 5e-3),
    ("O15b 2 % at 10 bar [GPa]", SAME, lambda: _at_atmosphere(10, 0.02), 0.436, 5e-3),
    ("O15b 0.5 % at 50 bar [GPa]", SAME, lambda: _at_atmosphere(50, 0.005), 1.552, 5e-3),
    ("O15b 1 % at 50 bar [GPa]", SAME, lambda: _at_atmosphere(50, 0.01), 1.506, 5e-3),
    ("O15b 2 % at 50 bar [GPa]", SAME, lambda: _at_atmosphere(50, 0.02), 1.423, 5e-3),
    ("O15b 0.5 % at 200 bar [GPa]", SAME, lambda: _at_atmosphere(200, 0.005), 1.597, 5e-3),
    ("O15b 1 % at 200 bar [GPa]", SAME, lambda: _at_atmosphere(200, 0.01), 1.594, 5e-3),
    ("O15b 2 % at 200 bar [GPa]", SAME, lambda: _at_atmosphere(200, 0.02), 1.587, 5e-3),
    (
        "S10 locked oil [bar/K]",
        "as O12, public page on pressure change by temperature; READ",
        lambda: stiffness.locked_pressure_rise(1, 7e-4, stiffness.BULK_MODULUS) / BAR,
        11,
        3e-2,
    ),
]


@pytest.mark.parametrize(
    ("source", "compute", "expected", "tolerance"), [c[1:] for c in CHECKS], ids=[c[0] for c in CHECKS]
)
def test_published_value(source: str, compute: Callable[[], float], expected: float, tolerance: float) -> None:
    assert compute() == pytest.approx(expected, rel=tolerance), source


def test_terms_of_the_pipe_example() -> None:
    """O13: the terms stand as 0.33 : 4 : 20; READ-IN."""
    terms = [1e6 / WALL, 1e6 / 250e3, 1e6 * 0.01 / 500]
    assert [round(term, 2) for term in terms] == [0.33, 4, 20]
    assert stiffness.effective_modulus(250e3, 0.01, 500.0, WALL) == pytest.approx(1e6 / sum(terms))


def test_pressure_lost_by_cooling_of_locked_oil() -> None:
    """O17: a published case, READ to the middle, order of magnitude: throttled from 350 bar, cooled, 250 bar lost."""
    heated = oil.relief_heating(350 * BAR, 895, 1800)  # K, as in R4
    lost = stiffness.locked_pressure_rise(-23.0, 7e-4, stiffness.BULK_MODULUS) / BAR
    assert lost == pytest.approx(-250, rel=0.05)
    assert heated == pytest.approx(23, rel=0.1)


def test_the_trade_claim_holds_for_one_share_only() -> None:
    """A claim of the trade, 0.5 % of air halves the stiffness at 50 bar: true for the share at 50 bar; DERIVED."""
    assert stiffness.modulus_air_at_pressure(50 * BAR, 0.005) / 1e9 == pytest.approx(0.62, rel=0.01)
    assert 1 - _at_atmosphere(50, 0.005) / 1.6 == pytest.approx(0.03, abs=0.001)
