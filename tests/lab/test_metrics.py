"""Scores of stated probabilities: limits, what must not change them, what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.lab.metrics import brier, log_score, reciprocal_rank


def test_certain_and_right_or_wrong() -> None:
    right, wrong = [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]]
    assert (brier(right, [0]), log_score(right, [0]), reciprocal_rank(right, [0])) == (0.0, 0.0, 1.0)
    assert (brier(wrong, [0]), log_score(wrong, [0])) == (2.0, math.inf)
    assert reciprocal_rank(wrong, [0]) == pytest.approx(1 / 3)  # it ties with the third


def test_a_tie_counts_against_the_truth() -> None:
    assert reciprocal_rank([[0.25] * 4], [2]) == 0.25


@given(seed=st.integers(0, 2**32 - 1), cases=st.integers(1, 6), many=st.integers(2, 6))
def test_the_order_of_cases_and_alternatives_does_not_matter(seed: int, cases: int, many: int) -> None:
    random = np.random.default_rng(seed)
    table, truth = random.dirichlet(np.ones(many), cases), random.integers(0, many, cases)
    rows, columns = random.permutation(cases), random.permutation(many)
    moved = table[rows][:, columns]
    where = np.argsort(columns)[truth[rows]]
    for score in (brier, log_score, reciprocal_rank):
        assert score(moved, where.tolist()) == pytest.approx(score(table, truth.tolist()))


@given(chance=st.floats(0.05, 0.95), stated=st.floats(0.05, 0.95))
def test_nobody_gains_by_stating_another_probability_than_he_believes(chance: float, stated: float) -> None:
    """Both scores are proper: their expectation is least at the true probability."""
    for score in (brier, log_score):
        expected = [
            chance * score([[p, 1 - p]], [0]) + (1 - chance) * score([[p, 1 - p]], [1]) for p in (chance, stated)
        ]
        assert expected[0] <= expected[1] + 1e-12


@pytest.mark.parametrize("score", [brier, log_score, reciprocal_rank])
@pytest.mark.parametrize(
    ("table", "truth", "message"),
    [
        ([], [], "one or more"),
        ([[0.5, 0.5]], [0, 1], "each"),
        ([[0.5, 0.5]], [2], "2 alternatives"),
        ([[0.5, 0.5]], [-1], "counted from 0"),
    ],
)
def test_tables_that_do_not_fit_are_refused(
    score: object, table: list[list[float]], truth: list[int], message: str
) -> None:
    assert callable(score)
    with pytest.raises(ValueError, match=message):
        score(table, truth)
