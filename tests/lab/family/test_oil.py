"""The oil of the family against published tables and the laws of gap and orifice."""

import math

import pytest

from oilpath.lab.family.oil import Leak, lost, viscosity


@pytest.mark.parametrize(
    ("grade", "celsius", "expected"),
    [
        # Walther's line as in ASTM D341 through ISO VG at 40 °C and an index of 100 (ASTM D2270)
        (32, 20, 86.8), (32, 55, 17.9), (32, 80, 8.5), (46, 20, 134), (46, 55, 24.7), (46, 60, 20.6), (46, 80, 11.1),
        (68, 20, 214), (68, 55, 34.9), (68, 80, 14.8),
    ],
)  # fmt: skip
def test_viscosity_follows_walthers_line(grade: int, celsius: float, expected: float) -> None:
    assert viscosity(grade, 100, celsius) == pytest.approx(expected, rel=0.03)


def test_the_grade_is_the_viscosity_at_40_degrees() -> None:
    assert viscosity(46, 130, 40) == pytest.approx(46)  # ISO 3448


def test_a_higher_index_thins_less() -> None:
    assert viscosity(46, 150, 90) > viscosity(46, 100, 90)  # what the index is, ASTM D2270


def test_a_gap_is_laminar() -> None:
    """q ∝ Δp/ν, as in the clearance formula of Fox and McDonald, example 8.1."""
    gap = Leak(2.0)
    assert gap.at(30, 25) == pytest.approx(2.0)
    assert gap.at(15, 25) == pytest.approx(1.0)
    assert gap.at(30, 50) == pytest.approx(1.0)


def test_an_orifice_goes_with_the_root_of_pressure_whatever_the_oil() -> None:
    """q = C·A·√(2Δp/ρ): no viscosity in it; Esposito, Fluid Power with Applications, example 8.4."""
    chip = Leak(2.0, orifice=1.0)
    assert chip.at(30, 25) == chip.at(30, 100) == pytest.approx(2.0)
    assert chip.at(7.5, 25) == pytest.approx(1.0)


def test_leaks_add_and_need_pressure() -> None:
    leaks = (Leak(1.0), Leak(2.0, 0.5))
    assert lost(leaks, 30, 25) == pytest.approx(3.0)
    assert lost(leaks, -1, 25) == 0.0
    assert lost((), 30, 25) == 0.0


def test_between_gap_and_orifice_lies_between() -> None:
    mixed = Leak(2.0, 0.5).at(10, 25)
    assert Leak(2.0).at(10, 25) < mixed < Leak(2.0, 1.0).at(10, 25)
    assert mixed == pytest.approx((Leak(2.0).at(10, 25) + 2.0 * math.sqrt(1 / 3)) / 2)
