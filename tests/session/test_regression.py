"""The line through points: certified values of reference data, tables of Student's t, and what always holds."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.session.regression import Line, crossing, fit_line, scatter_of, student_quantile

# NIST Statistical Reference Datasets, linear regression, "Norris" (calibration of ozone monitors), y and x; data from
# memory, which the certified values below prove right.
NORRIS = [
    (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5), (668.5, 666.3),
    (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4), (0.1, 0.6), (778.1, 775.5),
    (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6), (557.7, 556.0), (228.3, 228.1), (998.0, 995.8),
    (888.8, 887.6), (119.6, 120.2), (0.3, 0.3), (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2),
    (998.5, 999.0), (778.9, 779.0), (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9),
    (0.2, 0.5),
]  # fmt: skip


def test_certified_values_of_a_reference_data_set() -> None:
    """NIST StRD Norris: certified estimates and standard deviations, to ten digits."""
    y, x = zip(*NORRIS, strict=True)
    line = fit_line(x, y, [1.0] * len(x))
    line = line.widened(line.scatter)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-10)
    assert line.value(0.0) == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.scatter == pytest.approx(0.884796396144373, rel=1e-10)
    assert line.u_slope == pytest.approx(0.429796848199937e-3, rel=1e-10)
    assert line.uncertainty(0.0) == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.freedom == 34


# Table of Student's t, two-sided 90, 95 and 99 % (Abramowitz & Stegun, table 26.10, as in every textbook).
@pytest.mark.parametrize(
    ("freedom", "t90", "t95", "t99"),
    [(1, 6.314, 12.706, 63.657), (2, 2.920, 4.303, 9.925), (3, 2.353, 3.182, 5.841), (4, 2.132, 2.776, 4.604),
     (5, 2.015, 2.571, 4.032), (10, 1.812, 2.228, 3.169), (30, 1.697, 2.042, 2.750), (120, 1.658, 1.980, 2.617)],
)  # fmt: skip
def test_student_quantiles_of_the_tables(freedom: int, t90: float, t95: float, t99: float) -> None:
    found = [student_quantile(probability, freedom) for probability in (0.90, 0.95, 0.99)]
    assert found == pytest.approx([t90, t95, t99], abs=6e-4)


def test_with_much_freedom_it_is_the_normal_law() -> None:
    """The normal quantile 1.959964 (any table); a million degrees of freedom answer at once."""
    assert student_quantile(0.95, 1_000_000) == pytest.approx(1.959964, abs=3e-4)


POINTS = st.lists(
    st.tuples(st.integers(0, 20_000), st.floats(-50, 50), st.floats(0.05, 5)), min_size=3, max_size=12
).filter(lambda points: len({x for x, _, _ in points}) > 2)


@given(POINTS)
def test_a_library_gives_the_same_line(points: list[tuple[int, float, float]]) -> None:
    """numpy.polyfit as second opinion: weights 1/u, covariance not scaled."""
    x, y, u = ([float(value) for value in column] for column in zip(*points, strict=True))
    line = fit_line(x, y, u)
    about = np.array(x) - line.at
    (slope, level), covariance = np.polyfit(about, y, 1, w=1 / np.array(u), cov="unscaled")
    assert line.slope == pytest.approx(slope, rel=1e-6, abs=1e-9)
    assert line.level == pytest.approx(level, rel=1e-6, abs=1e-9)
    assert line.u_slope == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-6)
    assert line.u_level == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-6)


@given(POINTS, st.floats(-200, 200))
def test_the_ends_of_a_crossing_lie_on_the_band(points: list[tuple[int, float, float]], level: float) -> None:
    x, y, u = ([float(value) for value in column] for column in zip(*points, strict=True))
    line = fit_line(x, y, u)
    found = crossing(line, level, 2.0, 0.3)
    if found is None:
        assert abs(line.slope) <= 2.0 * line.u_slope * (1 + 1e-9)
        return
    assert line.value(found.at) == pytest.approx(level, abs=1e-6 * (1 + abs(level)))
    assert found.earliest is not None
    assert found.latest is not None
    assert found.earliest <= found.at + 1e-6 * abs(found.at) + 1e-9
    assert found.latest >= found.at - 1e-6 * abs(found.at) - 1e-9
    for end in (found.earliest, found.latest):
        off, width = abs(line.value(end) - level), 2.0 * math.hypot(line.uncertainty(end), 0.3)
        assert off == pytest.approx(width, rel=1e-4)


def test_a_flat_line_crosses_nothing() -> None:
    assert crossing(Line(0.0, 1.0, 0.01, 0.1, 0.01, 1.0, 3), 5.0, 2.0) is None


def test_points_that_lie_better_than_stated_do_not_make_the_line_surer() -> None:
    line = fit_line([0.0, 1.0, 2.0], [1.0, 2.0, 3.0], [0.5] * 3)
    assert line.u_slope == pytest.approx(0.5 / math.sqrt(2))
    assert scatter_of(line) == (1.0, 9)


def test_residuals_are_pooled_with_the_stated_uncertainty_until_they_refute_it() -> None:
    """JCGM 100, G.4.2: an uncertainty good to 25 % has 8 degrees of freedom; (8·1 + 2·2.25)/10 = 1.25."""
    stated = Line(0.0, 1.0, 0.0, 1.0, 1.0, 1.5, 2)
    factor, freedom = scatter_of(stated)
    assert (factor**2, freedom) == (pytest.approx(1.25), 10)
    assert scatter_of(replace(stated, scatter=3.0)) == (3.0, 2)


@pytest.mark.parametrize(
    "points",
    [([0, 1], [0, 1], [1, 1]), ([0, 1, 2], [0, 1], [1, 1, 1]), ([1, 1, 1], [0, 1, 2], [1, 1, 1]),
     ([0, 1, 2], [0, 1, 2], [1, 0, 1]), ([0, 1, math.nan], [0, 1, 2], [1, 1, 1])],
)  # fmt: skip
def test_what_gives_no_line_is_refused(points: tuple[list[float], list[float], list[float]]) -> None:
    with pytest.raises(ValueError, match=r"point|uncertainty"):
        fit_line(*points)


@pytest.mark.parametrize(("probability", "freedom"), [(0.0, 3), (1.0, 3), (0.95, 0)])
def test_quantiles_outside_their_range_are_refused(probability: float, freedom: int) -> None:
    with pytest.raises(ValueError, match="must be"):
        student_quantile(probability, freedom)
