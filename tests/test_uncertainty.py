"""Laws of the uncertainty of readings and of the probability of being out."""

import math
import statistics
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath import uncertainty as un

values = st.floats(-1e6, 1e6)
spreads = st.floats(1e-6, 1e5)
components = st.lists(st.floats(0, 1e6), max_size=6)
# Whole numbers keep the arithmetic of means exact enough to compare.
repeats = st.lists(st.integers(0, 1000).map(float), min_size=2, max_size=8)


@given(values, spreads, values, st.floats(0, 1e6))
def test_in_below_and_above_make_one(value: float, u: float, lower: float, width: float) -> None:
    upper = lower + width
    out = un.probability_out(value, u, lower, upper)
    assert 0 <= out <= 1
    below, above = un.probability_out(value, u, lower, None), un.probability_out(value, u, None, upper)
    assert out == pytest.approx(min(1, below + above))


@given(values, spreads, values)
def test_what_is_above_one_limit_is_not_below_it(value: float, u: float, limit: float) -> None:
    assert un.probability_out(value, u, None, limit) + un.probability_out(value, u, limit, None) == pytest.approx(1)


@given(values, spreads, values, spreads)
def test_probability_rises_with_the_reading(value: float, u: float, limit: float, more: float) -> None:
    assert un.probability_out(value + more, u, None, limit) >= un.probability_out(value, u, None, limit)
    assert un.probability_out(value + more, u, limit, None) <= un.probability_out(value, u, limit, None)


@given(values, spreads, values)
def test_mirrored_reading_and_limit_give_the_same(value: float, u: float, limit: float) -> None:
    assert un.probability_out(-value, u, -limit, None) == un.probability_out(value, u, None, limit)


def test_agrees_with_the_normal_law_of_the_standard_library() -> None:
    for value in (-3.0, -0.4, 0.0, 1.7):
        law = statistics.NormalDist(value, 0.8)
        assert un.probability_out(value, 0.8, -1.0, 0.5) == pytest.approx(law.cdf(-1.0) + 1 - law.cdf(0.5))


def test_far_tails_keep_their_figures() -> None:
    """Φ(−10) = 7.6198530e-24 (tables of the normal law, from memory)."""
    assert un.probability_out(0.0, 1.0, None, 10.0) == pytest.approx(7.6198530e-24, rel=1e-7)


@pytest.mark.parametrize(("value", "out"), [(0.9, 1), (1.0, 0), (1.5, 0), (2.0, 0), (2.1, 1)])
def test_certain_reading_is_in_or_out(value: float, out: float) -> None:
    assert un.probability_out(value, 0.0, 1.0, 2.0) == out


@given(components)
def test_combination_does_not_depend_on_order_and_never_shrinks(parts: list[float]) -> None:
    whole = un.combine(*parts)
    assert whole == pytest.approx(un.combine(*reversed(parts)))
    assert whole >= max(parts, default=0) * (1 - 1e-12)
    assert whole <= sum(parts) * (1 + 1e-12)


@given(st.lists(st.tuples(st.floats(-100, 100), st.floats(0, 100)), min_size=1, max_size=5))
def test_no_correlation_is_the_unit_matrix(inputs: list[tuple[float, float]]) -> None:
    sensitivities, us = [c for c, _ in inputs], [u for _, u in inputs]
    unit = [[float(i == j) for j in range(len(us))] for i in range(len(us))]
    plain = un.propagate(sensitivities, us)
    assert un.propagate(sensitivities, us, unit) == pytest.approx(plain)
    assert plain == pytest.approx(un.combine(*(abs(c) * u for c, u in inputs)))


@given(st.floats(0, 100), st.floats(0, 100))
def test_full_correlation_adds_and_cancels(one: float, other: float) -> None:
    together = [[1.0, 1.0], [1.0, 1.0]]
    assert un.propagate([1, 1], [one, other], together) == pytest.approx(one + other)
    # A difference of nearly equal figures keeps only half of their digits under the root.
    assert un.propagate([1, -1], [one, other], together) == pytest.approx(
        abs(one - other), abs=1e-6 * (1 + one + other)
    )


@given(repeats)
def test_pooling_one_group_is_its_standard_deviation(group: list[float]) -> None:
    assert un.pooled_sd([group]) == pytest.approx(statistics.stdev(group))


@given(repeats, repeats, st.integers(-500, 500))
def test_pooling_lies_between_and_ignores_means_and_single_readings(
    one: list[float], other: list[float], shift: int
) -> None:
    pooled = un.pooled_sd([one, other])
    assert pooled is not None
    sds = sorted([statistics.stdev(one), statistics.stdev(other)])
    assert sds[0] - 1e-9 <= pooled <= sds[1] + 1e-9
    assert un.pooled_sd([[x + shift for x in one], [7.0], other, []]) == pytest.approx(pooled)


def test_without_repeats_there_is_no_scatter() -> None:
    assert un.pooled_sd([]) is None
    assert un.pooled_sd([[4.2], [5.1], []]) is None


@given(st.integers(1, 50), st.floats(0, 10), st.floats(0, 10), st.floats(0, 10))
def test_mean_is_never_better_than_its_floor(n: int, scatter: float, least: float, systematic: float) -> None:
    u = un.mean_uncertainty(n, scatter, least, systematic)
    assert u >= systematic
    assert u >= least / math.sqrt(n) * (1 - 1e-12)
    assert un.mean_uncertainty(n + 1, scatter, least, systematic) <= u


def test_single_reading_has_the_least_scatter() -> None:
    assert un.mean_uncertainty(1, None, 0.1, 0.0) == pytest.approx(0.1)
    assert un.mean_uncertainty(4, 0.2, 0.1, 0.1) == pytest.approx(math.sqrt(0.02))


@given(st.floats(0, 1e6))
def test_shapes_in_order_of_width(half: float) -> None:
    assert un.resolution_uncertainty(2 * half) == pytest.approx(un.rectangular(half))
    assert un.rectangular(half) <= un.arcsine(half) <= half


@given(st.floats(0, 30), st.floats(0, 30))
def test_longer_tapes_are_no_better_and_classes_keep_their_order(one: float, other: float) -> None:
    short, long = sorted((one, other))
    assert un.tape_error(short) <= un.tape_error(long)
    assert un.tape_uncertainty(long, "I") < un.tape_uncertainty(long, "II") < un.tape_uncertainty(long, "III")


@given(st.floats(1e3, 1e8), st.sampled_from(un.GAUGE_CLASSES))
def test_gauge_is_rectangular_within_its_class(span: float, accuracy_class: float) -> None:
    assert un.gauge_uncertainty(span, accuracy_class) * math.sqrt(3) == pytest.approx(span * accuracy_class / 100)


def test_thermometer_is_rectangular_within_its_tolerance() -> None:
    assert un.thermometer_uncertainty(328.15) == pytest.approx(2.5 / math.sqrt(3))
    assert un.thermometer_uncertainty(273.15 - 20, "pt100-b") == pytest.approx(0.4 / math.sqrt(3))


def test_coarse_watch_is_worse() -> None:
    assert un.stopwatch_uncertainty(1.0) > un.stopwatch_uncertainty(0.1) > un.stopwatch_uncertainty(0.0) > 0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: un.probability_out(1, 1, None, None), "needs a lower or an upper limit"),
        (lambda: un.probability_out(1, 1, 3, 2), "lower limit 3 is above upper limit 2"),
        (lambda: un.probability_out(1, -1, None, 2), "u must be zero or more"),
        (lambda: un.probability_out(math.nan, 1, None, 2), "value must be a finite number"),
        (lambda: un.probability_out(1, math.nan, None, 2), "u must be zero or more"),
        (lambda: un.probability_out(1, 1, None, math.inf), "upper must be a finite number"),
        (lambda: un.combine(1, -2), "component must be zero or more"),
        (lambda: un.propagate([1], [1, 2]), "1 sensitivities need as many uncertainties"),
        (lambda: un.propagate([1, 1], [1, 1], [[1]]), "must be 2 by 2"),
        (lambda: un.propagate([1, 1], [1, 1], [[1, 0.5], [0.4, 1]]), "the same both ways"),
        (lambda: un.propagate([1, 1], [1, 1], [[1, 1.5], [1.5, 1]]), "within -1 and 1"),
        (lambda: un.propagate([1, 1], [1, 1], [[0.9, 0], [0, 1]]), "with itself must be 1"),
        (
            lambda: un.propagate([1, 1, 1], [1, 1, 1], [[1, -1, -1], [-1, 1, -1], [-1, -1, 1]]),
            "contradict each other",
        ),
        (lambda: un.pooled_sd([[1, math.nan]]), "value must be a finite number"),
        (lambda: un.mean_uncertainty(0, 1, 1, 1), "at least one reading"),
        (lambda: un.mean_uncertainty(2, -1, 1, 1), "scatter must be zero or more"),
        (lambda: un.rectangular(-1), "half width must be zero or more"),
        (lambda: un.tape_error(1, "IV"), "tape class must be I, II or III"),  # type: ignore[arg-type]
        (lambda: un.gauge_error(0, 1), "span must be above zero"),
        (lambda: un.gauge_error(1e7, 0), "accuracy class must be above 0"),
        (lambda: un.thermometer_error(700), "temperature must be"),
        (lambda: un.thermometer_error(300, "hand"), "thermometer must be"),  # type: ignore[arg-type]
    ],
)
def test_figures_that_cannot_be_are_refused_with_a_sentence(call: Callable[[], float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
