"""Laws of oil."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import oil, stiffness

ZERO = 273.15
grades = st.sampled_from([22, 32, 46, 68, 100, 150])
indexes = st.floats(0, 250)
temperatures = st.floats(ZERO - 20, ZERO + 100)


@given(grades, indexes)
def test_index_and_viscosity_at_100_are_inverse(grade: int, index: float) -> None:
    hot = oil.viscosity_at_100(grade * 1e-6, index)
    # The quadratic fits to the standard's table meet with small steps, worth up to half an index point.
    assert oil.viscosity_index(grade * 1e-6, hot) == pytest.approx(index, abs=0.6)


@given(grades, indexes)
def test_line_goes_through_its_two_points(grade: int, index: float) -> None:
    nominal = grade * 1e-6
    assert oil.kinematic_viscosity(ZERO + 40, nominal, index) == pytest.approx(nominal)
    assert oil.kinematic_viscosity(ZERO + 100, nominal, index) == pytest.approx(oil.viscosity_at_100(nominal, index))


@given(grades, indexes, temperatures, st.floats(0.1, 40))
def test_viscosity_falls_with_temperature(grade: int, index: float, temperature: float, warmer: float) -> None:
    cold = oil.kinematic_viscosity(temperature, grade * 1e-6, index)
    assert oil.kinematic_viscosity(min(temperature + warmer, ZERO + 101), grade * 1e-6, index) < cold


@given(grades, st.floats(0, 240), st.floats(ZERO - 20, ZERO + 38))
def test_higher_index_is_thinner_when_cold(grade: int, index: float, temperature: float) -> None:
    plain = oil.kinematic_viscosity(temperature, grade * 1e-6, index)
    assert oil.kinematic_viscosity(temperature, grade * 1e-6, index + 10) < plain


@given(grades, indexes, temperatures, temperatures)
def test_ratio_turns_round(grade: int, index: float, one: float, other: float) -> None:
    there = oil.viscosity_ratio(one, other, grade * 1e-6, index)
    assert there * oil.viscosity_ratio(other, one, grade * 1e-6, index) == pytest.approx(1)


@given(st.floats(2e-6, 500e-6), st.floats(1.5, 8))
def test_walther_gives_back_its_points(hot: float, thicker: float) -> None:
    line = oil.walther_constants(hot * thicker, 313.15, hot, 373.15)
    assert oil.walther_viscosity(313.15, line) == pytest.approx(hot * thicker, rel=1e-9)
    assert line == pytest.approx(oil.walther_constants(hot, 373.15, hot * thicker, 313.15))


@given(st.floats(-60, 60))
def test_locked_oil_needs_the_pressure_that_undoes_its_expansion(warming: float) -> None:
    rise = stiffness.locked_pressure_rise(warming, 7e-4, stiffness.BULK_MODULUS)
    assert stiffness.compression(1.0, rise, stiffness.BULK_MODULUS) == pytest.approx(
        -oil.thermal_expansion(1.0, warming, 7e-4)
    )


def test_grades_do_not_overlap() -> None:
    limits = [oil.grade_limits(grade) for grade in oil.ISO_GRADES]
    assert all(thin[1] < thick[0] for thin, thick in pairwise(limits))


@pytest.mark.peer("chemicals")
@pytest.mark.parametrize("index", [0, 60, 95, 110, 150, 200])
def test_index_agrees_with_another_reading_of_the_standard(index: float) -> None:
    peer = pytest.importorskip("chemicals.viscosity")
    for grade in (22, 32, 46, 68, 100, 150):
        hot = oil.viscosity_at_100(grade * 1e-6, index)
        assert peer.viscosity_index(grade * 1e-6, hot) == pytest.approx(index, abs=0.3)


@pytest.mark.parametrize("edge", [3.8, 4.4, 5.0, 6.4, 7.0, 7.7, 9.0, 12.0, 15.0, 18.0, 22.0, 28.0, 40.0, 55.0, 70.0])
@pytest.mark.parametrize("index", [20, 90])
def test_fits_to_the_table_meet_at_their_edges(edge: float, index: float) -> None:
    """The table of ASTM D2270 is one smooth curve, so neighbouring fits must agree where they meet."""
    above = edge * 1e-6
    low, high = 1.2 * above, 100 * above
    while high - low > 1e-9 * above:  # the viscosity at 40 °C that has this index just above the edge
        middle = (low + high) / 2
        low, high = (middle, high) if oil.viscosity_index(middle, above) > index else (low, middle)
    assert oil.viscosity_index(low, above * (1 - 1e-9)) == pytest.approx(index, abs=0.2)


@given(st.floats(235, 420), st.floats(800, 900), st.floats(0, 3))
def test_density_falls_as_the_volume_grows(temperature: float, density: float, warmer: float) -> None:
    here, there = oil.density(temperature, density), oil.density(temperature + warmer, density)
    assert there <= here
    grown = 1 + oil.thermal_expansion(1.0, temperature - oil.T_15, 7e-4)
    assert here * grown == pytest.approx(density)
