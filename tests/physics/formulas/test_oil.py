"""Laws of oil."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import oil

ZERO = 273.15
grades = st.sampled_from([22, 32, 46, 68, 100, 150])
indexes = st.floats(0, 250)
temperatures = st.floats(ZERO - 20, ZERO + 100)


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
    low, high = 1.2e-6 * edge, 100e-6 * edge
    for _ in range(60):  # the viscosity at 40 °C whose oil of this index has that of the edge at 100 °C
        middle = (low + high) / 2
        low, high = (middle, high) if oil.viscosity_at_100(middle, index) < 1e-6 * edge else (low, middle)
    below, above = oil.viscosity_at_100(low * (1 - 1e-9), index), oil.viscosity_at_100(low * (1 + 1e-9), index)
    assert above == pytest.approx(below, rel=1e-3)
