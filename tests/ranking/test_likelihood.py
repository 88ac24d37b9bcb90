"""The density of a sheet against direct linear algebra: covariance written out, rows deleted, Student's t in full."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.arrays import Array
from oilpath.ranking.likelihood import SheetScatter, approximate_robust, left_out, likelihood, scatter


def log_t(x: Array, covariance: Array, freedom: float) -> float:
    """Multivariate t, directly. Source: Kotz and Nadarajah, Multivariate t Distributions, 2004, (1.1) (from memory)."""
    p = len(x)
    if p == 0:
        return 0.0
    sign, log_det = (float(x) for x in np.linalg.slogdet(covariance))
    assert sign > 0
    distance = float(x @ np.linalg.solve(covariance, x))
    return (
        math.lgamma((freedom + p) / 2)
        - math.lgamma(freedom / 2)
        - p / 2 * math.log(freedom * math.pi)
        - log_det / 2
        - (freedom + p) / 2 * math.log(1 + distance / freedom)
    )


def covariance_of(s: SheetScatter, effect: Array, wider: Array | float = 0.0) -> Array:
    alike = (s.off * effect)[:, None] * s.kinds
    whole: Array = np.diag(s.variance + wider + (s.model_error * effect) ** 2) + s.shared @ s.shared.T + alike @ alike.T
    return whole


def case(seed: int, r: int, k: int, n: int, gross: float = 0.01, kinds: int = 0) -> tuple[SheetScatter, Array]:
    random = np.random.default_rng(seed)
    shared = random.normal(size=(r, k)) * random.choice([0.0, 0.05], size=(r, k))
    variance, width = random.uniform(1e-4, 1e-2, r), random.uniform(1, 4, r)
    members = np.eye(kinds)[random.integers(0, kinds, r)] if kinds else None
    off = random.choice([0.3, 0.6], size=r) if kinds else None
    s = scatter(random.normal(0, 0.2, r), variance, shared, width, 0.2, 5.0, gross, kinds=members, off=off)
    return s, random.normal(0, 0.2, (n, r))


@pytest.mark.parametrize("kinds", [0, 1, 3])
@pytest.mark.parametrize("k", [0, 1, 4])
@given(seed=st.integers(0, 2**32 - 1), r=st.integers(1, 9))
def test_densities_are_those_of_direct_linear_algebra(k: int, kinds: int, seed: int, r: int) -> None:
    s, effect = case(seed, r, k, 3, kinds=kinds)
    got = likelihood(s, effect)
    for n in range(3):
        covariance, x = covariance_of(s, effect[n]), s.e - effect[n]
        assert got.plain[n] == pytest.approx(log_t(x, covariance, 5.0), rel=1e-9, abs=1e-8)
        assert got.distance[n] == pytest.approx(x @ np.linalg.solve(covariance, x), rel=1e-8)
        for i in range(r):
            rest = np.delete(np.arange(r), i)
            direct = log_t(x[rest], covariance[np.ix_(rest, rest)], 5.0)
            assert got.without[n, i] == pytest.approx(direct, rel=1e-8, abs=1e-7)


@given(seed=st.integers(0, 2**32 - 1), r=st.integers(1, 9), gross=st.floats(0, 0.05))
def test_one_gross_reading(seed: int, r: int, gross: float) -> None:
    s, effect = case(seed, r, 2, 2, gross or 1e-300)
    got = likelihood(s, effect)
    # (1 − Rε)·t(all) + ε·Σᵢ t(all but i)·Uᵢ
    plain, without = np.exp(got.plain), np.exp(got.without)
    mixed = (1 - r * s.gross) * plain + s.gross * (without / s.width).sum(axis=1)
    assert got.robust == pytest.approx(np.log(mixed), rel=1e-9, abs=1e-9)


def test_a_sheet_of_many_readings_keeps_half_its_weight_for_good_ones() -> None:
    s, effect = case(1, 8, 1, 2, gross=0.4)  # 8 × 0.4 would be more than certain
    assert np.isfinite(likelihood(s, effect).robust).all()


@given(seed=st.integers(0, 2**32 - 1), wider=st.floats(0, 1))
def test_widened_readings(seed: int, wider: float) -> None:
    s, effect = case(seed, 5, 2, 1)
    added = np.array([wider, 0, 0, wider, 0])
    got = likelihood(s, effect, wider=added)
    assert got.plain[0] == pytest.approx(log_t(s.e - effect[0], covariance_of(s, effect[0], added), 5.0), abs=1e-8)


@pytest.mark.parametrize("k", [0, 3])
@given(seed=st.integers(0, 2**32 - 1), smear=st.floats(0, 1))
def test_a_node_that_stands_for_its_neighbourhood(k: int, seed: int, smear: float) -> None:
    # all effects of a row share one factor: Σ + smear²·Δ·Δᵀ
    s, effect = case(seed, 5, k, 2)
    got = likelihood(s, effect, smear=np.array([smear, 0.0]))
    for n, factor in enumerate((smear, 0.0)):
        covariance, x = covariance_of(s, effect[n]) + factor**2 * np.outer(effect[n], effect[n]), s.e - effect[n]
        assert got.plain[n] == pytest.approx(log_t(x, covariance, 5.0), rel=1e-6, abs=1e-6)
        for i in range(5):
            rest = np.delete(np.arange(5), i)
            direct = log_t(x[rest], covariance[np.ix_(rest, rest)], 5.0)
            assert got.without[n, i] == pytest.approx(direct, rel=1e-6, abs=1e-5)


def test_no_reading_says_nothing() -> None:
    s = scatter(np.zeros(0), np.zeros(0), np.zeros((0, 0)), np.zeros(0), 0.2, 5.0, 0.01)
    got = likelihood(s, np.zeros((3, 0)))
    assert got.robust.tolist() == got.plain.tolist() == [0, 0, 0]
    assert got.without.shape == (3, 0)


def test_a_reading_that_all_predict_alike_tells_nothing_between_them() -> None:
    # with a known scale and no scatter in common; a marginalised scale is itself told a little by every reading
    def ratio(readings: int) -> float:
        e = np.array([0.3, 0.02])[:readings]
        s = scatter(e, np.full(readings, 0.01), np.zeros((readings, 0)), np.ones(readings), 0.0, 1e12, 1e-300)
        effect = np.array([[0.3, 0.0], [0.0, 0.0]])[:, :readings]
        plain = likelihood(s, effect).robust
        return float(plain[0] - plain[1])

    assert ratio(2) == pytest.approx(ratio(1), rel=1e-3)


def test_shared_scatter_forgives_what_all_readings_have_in_common() -> None:
    e = np.full(6, 0.06)
    alone = scatter(e, np.full(6, 0.001), np.zeros((6, 0)), np.ones(6), 0.2, 5.0, 0.01)
    together = scatter(e, np.full(6, 0.0004), np.full((6, 1), 0.0006**0.5), np.ones(6), 0.2, 5.0, 0.01)
    nothing = np.zeros((1, 6))
    assert likelihood(together, nothing).distance[0] < 0.7 * likelihood(alone, nothing).distance[0]


def test_one_gross_reading_costs_a_bounded_amount() -> None:
    def worst(e: float) -> float:
        s = scatter(np.array([0.0, 0.0, 0.0, e]), np.full(4, 1e-3), np.zeros((4, 0)), np.full(4, 3.0), 0.2, 5.0, 0.01)
        return float(likelihood(s, np.zeros((1, 4))).robust[0])

    assert worst(1.0) == pytest.approx(worst(2.5), abs=0.2)


def sure(s: SheetScatter) -> SheetScatter:
    """The same where no reading is a gross mistake: a first look takes only the likeliest of them."""
    return replace(s, gross=1e-300)


@given(seed=st.integers(0, 2**32 - 1), r=st.integers(1, 9))
def test_a_first_look_is_right_where_the_model_is_trusted(seed: int, r: int) -> None:
    s, effect = case(seed, r, 2, 4)
    trusted = sure(replace(s, model_error=0.0))
    assert approximate_robust(trusted, effect) == pytest.approx(likelihood(trusted, effect).plain, abs=1e-7)


@given(seed=st.integers(0, 2**32 - 1), r=st.integers(1, 9))
def test_a_first_look_is_the_same_without_shared_scatter(seed: int, r: int) -> None:
    s, effect = case(seed, r, 0, 4)
    assert approximate_robust(sure(s), effect) == pytest.approx(likelihood(s, effect).plain, abs=1e-7)


@given(seed=st.integers(0, 2**32 - 1), r=st.integers(1, 9))
def test_a_first_look_takes_the_likeliest_gross_mistake_for_all(seed: int, r: int) -> None:
    s, effect = case(seed, r, 0, 4)
    quick, whole = approximate_robust(s, effect), likelihood(s, effect).robust
    assert (quick <= whole + 1e-9).all()
    assert (quick >= whole - math.log(r) - 1.5).all()


@given(seed=st.integers(0, 2**32 - 1), r=st.integers(3, 9), kinds=st.integers(0, 3), smear=st.floats(0, 1))
def test_readings_left_out_are_as_never_made(seed: int, r: int, kinds: int, smear: float) -> None:
    s, effect = case(seed, r, 2, 3, kinds=kinds)
    random = np.random.default_rng(seed)
    group = np.sort(random.permutation(r)[: random.integers(1, r - 1)]).tolist()
    doubt, width = random.choice([0.25, 1.0], 3), np.full(3, smear)
    whole, rest = left_out(s, effect, [group], smear=width, doubt=doubt)
    keep = np.delete(np.arange(r), group)
    members, off = (s.kinds[keep], s.off[keep]) if kinds else (None, None)
    fewer = scatter(s.e[keep], s.variance[keep], s.shared[keep], s.width[keep], 0.2, 5.0, 0.01, kinds=members, off=off)
    assert whole == pytest.approx(likelihood(s, effect, smear=width, doubt=doubt).plain, rel=1e-9, abs=1e-8)
    never = likelihood(fewer, effect[:, keep], smear=width, doubt=doubt).plain
    assert rest == pytest.approx(never, rel=1e-7, abs=1e-6)


@given(seed=st.integers(0, 2**32 - 1), r=st.integers(1, 9), power=st.floats(0.1, 1))
def test_tempered_readings_count_for_less(seed: int, r: int, power: float) -> None:
    s, effect = case(seed, r, 2, 3, kinds=2)
    whole, less = likelihood(s, effect), likelihood(replace(s, tempering=power), effect)
    assert less.plain == pytest.approx(power * whole.plain, rel=1e-9, abs=1e-9)
    assert less.without == pytest.approx(power * whole.without, rel=1e-9, abs=1e-9)
    quick = approximate_robust(replace(sure(s), tempering=power), effect)  # mistakes are no rarer for it
    assert quick == pytest.approx(power * approximate_robust(sure(s), effect), rel=1e-9, abs=1e-9)


@given(seed=st.integers(0, 2**32 - 1), r=st.integers(2, 9))
def test_a_first_look_knows_kinds_that_have_nothing_to_do_with_each_other(seed: int, r: int) -> None:
    s, effect = case(seed, r, 0, 4, kinds=2)
    trusted = sure(replace(s, model_error=0.0))
    assert approximate_robust(trusted, effect) == pytest.approx(likelihood(trusted, effect).plain, abs=1e-7)


def test_a_first_look_at_no_reading_says_nothing() -> None:
    s, _ = case(1, 1, 0, 1)
    empty = scatter(np.zeros(0), np.zeros(0), np.zeros((0, 0)), np.zeros(0), s.model_error, s.freedom, s.gross)
    assert approximate_robust(empty, np.zeros((3, 0))).tolist() == [0.0, 0.0, 0.0]
