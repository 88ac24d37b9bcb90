"""Weights of the severities that fit a sheet, against the plain definition."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.ranking.severities import of_cause, severities

LOGS = st.lists(st.floats(-800, 50), min_size=2, max_size=6)


@given(LOGS)
def test_a_row_is_the_softmax_of_its_nodes(logs: list[float]) -> None:
    """exp(x) / Σ exp(x), as in any text on probability."""
    weights = severities(np.ones(len(logs), int), np.arange(len(logs)), np.array(logs), 2, 6)
    top = max(logs)
    total = math.fsum(math.exp(x - top) for x in logs)
    assert weights[1, : len(logs)] == pytest.approx([math.exp(x - top) / total for x in logs])
    assert not weights[1, len(logs) :].any()
    assert weights.sum(axis=1) == pytest.approx([1, 1])


def test_where_the_readings_tell_nothing_all_severities_are_alike() -> None:
    weights = severities(np.array([1]), np.array([0]), np.array([-3.0]), 3, 4)
    assert weights == pytest.approx(np.full((3, 4), 0.25))


def test_variants_count_by_what_each_is_likely() -> None:
    weights = np.array([[0.5, 0.5], [1.0, 0.0], [0.2, 0.8]])
    single = np.array([0.9, 0.03, 0.01])
    assert of_cause(weights, single, np.array([1, 2])) == pytest.approx((0.75, 0.0, 0.05, 0.2))
    assert of_cause(weights, np.zeros(3), np.array([1, 2])) == pytest.approx((0.5, 0.0, 0.1, 0.4))
