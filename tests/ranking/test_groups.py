"""Complete linkage against a plain version of the same, and what makes two causes alike."""

import math
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.arrays import Array
from oilpath.ranking.groups import APART, complete_linkage, distances, said_apart


def plain_linkage(apart: Array, limit: float) -> set[frozenset[int]]:
    """Merge the two clusters whose farthest members are nearest, again and again."""
    clusters = [frozenset([i]) for i in range(len(apart))]
    while True:
        pairs = [(max(apart[i, j] for i in a for j in b), a, b) for a, b in combinations(clusters, 2)]
        near = min(pairs, key=lambda p: p[0], default=None)
        if near is None or near[0] >= limit:
            return set(clusters)
        clusters = [c for c in clusters if c not in near[1:]] + [near[1] | near[2]]


@given(seed=st.integers(0, 2**32 - 1), n=st.integers(0, 9), limit=st.floats(0.1, 2.5))
def test_clusters_are_those_of_the_plain_method(seed: int, n: int, limit: float) -> None:
    points = np.random.default_rng(seed).normal(size=(n, 2))
    apart = np.linalg.norm(points[:, None] - points[None, :], axis=2)
    found = complete_linkage(apart, limit)
    assert {frozenset(cluster) for cluster in found} == plain_linkage(apart, limit)
    assert sorted(i for cluster in found for i in cluster) == list(range(n))
    for cluster in found:
        assert all(apart[i, j] < limit for i, j in combinations(cluster, 2))
    assert found == sorted(found, key=lambda c: min(c))


def test_the_given_distances_are_left_alone() -> None:
    apart = np.array([[0.0, 0.5], [0.5, 0.0]])
    assert complete_linkage(apart) == [[0, 1]]
    assert apart.tolist() == [[0.0, 0.5], [0.5, 0.0]]


@pytest.mark.parametrize(("likelier", "together"), [(1.0, True), (1.9, True), (2.1, False), (12.0, False)])
def test_a_sign_that_makes_a_cause_twice_as_likely_tells_it_apart(likelier: float, together: bool) -> None:
    assert bool(said_apart(np.array([0.0, math.log(likelier)]))[0, 1] < APART) is together


def one_row_each(effects: Array, variance: Array, shared: Array, model_error: float) -> Array:
    each = np.arange(len(effects))
    return distances(effects, each, each, variance, shared, model_error)


@given(seed=st.integers(0, 2**32 - 1))
def test_distance_is_mahalanobis(seed: int) -> None:
    random = np.random.default_rng(seed)
    effects, shared, variance = random.normal(size=(4, 5)), random.normal(size=(5, 2)), random.uniform(0.1, 1, 5)
    inverse = np.linalg.inv(np.diag(variance) + shared @ shared.T)
    got = one_row_each(effects, variance, shared, 0.0)
    for i in range(4):
        for j in range(4):
            step = effects[i] - effects[j]
            assert got[i, j] == pytest.approx((step @ inverse @ step) ** 0.5, abs=1e-6)


@given(seed=st.integers(0, 2**32 - 1))
def test_a_cause_is_as_near_as_what_it_can_do(seed: int) -> None:
    random = np.random.default_rng(seed)
    owner, best = np.array([0, 0, 1, 2, 2, 2]), np.array([1, 2, 4])
    effects, variance, nothing = random.normal(size=(6, 3)), random.uniform(0.1, 1, 3), np.zeros((3, 0))
    got = distances(effects, owner, best, variance, nothing, 0.0)

    shares = np.linspace(0, 1, 2001)[:, np.newaxis]

    def far(row: int, cause: int) -> float:
        own = effects[owner == cause]
        ways = np.concatenate([a + shares * (b - a) for a, b in pairwise(own)] or [own])
        return float(np.sqrt(((effects[row] - ways) ** 2 / variance).sum(axis=1)).min())

    for a in range(3):
        for b in range(3):
            assert got[a, b] == pytest.approx(min(far(best[a], b), far(best[b], a)), abs=2e-3, rel=2e-3)
    assert got == pytest.approx(got.T)


def test_the_models_own_error_brings_large_effects_nearer() -> None:
    effects, variance, shared = np.array([[1.0, 1.0], [1.1, 0.9]]), np.full(2, 1e-3), np.zeros((2, 0))
    trusting, doubting = (one_row_each(effects, variance, shared, error)[0, 1] for error in (0.0, 0.2))
    assert trusting > APART > doubting


def test_no_readings_part_nothing() -> None:
    apart = one_row_each(np.zeros((3, 0)), np.zeros(0), np.zeros((0, 0)), 0.2)
    assert complete_linkage(apart) == [[0, 1, 2]]
