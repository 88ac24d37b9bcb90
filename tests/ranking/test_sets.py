"""Sets of causes: which are tried, and that the quick look at pairs agrees with adding up their effects."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from oilpath.knowledge.base import Knowledge
from oilpath.physics.predictions import Predictions
from oilpath.ranking.evidence import Readings
from oilpath.ranking.posterior import posterior
from oilpath.ranking.question import Question, Search, question
from oilpath.ranking.sets import EVERY, PAIRS, Found, _around, _candidates, _pairs, _with_one_more

from .conftest import Find, SheetOf
from .test_posterior import prepare, solve

PAIR = (("pilot-valve.low-output", "bucket-curl-pilot", 12), ("travel-motor.worn", "travel-left-motor", 12))


def random_question(knowledge: Knowledge, seed: int, h: int = 5, s: int = 16, r: int = 4) -> Question:
    """Five causes and four readings of which the model is trusted, with no machine behind them."""
    random = np.random.default_rng(seed)
    deviations, shared = random.normal(0, 0.3, r), random.normal(0, 0.05, size=(r, 2))
    read = Readings(
        (), deviations, random.uniform(1e-3, 1e-2, r), shared, np.zeros(r, dtype=bool), np.full(r, 0.3),
        np.full(r, 3.0), np.full(r, np.inf),
    )  # fmt: skip
    effects = random.normal(0, 0.4, (h, 1, r)) * np.linspace(0.1, 1, s)[None, :, None]
    priors = knowledge.priors.model_copy(update={"model_error": 0.0, "freedom": 5})
    model: Any = None
    return question(model, read, effects, random.uniform(0.01, 0.1, h), np.zeros(h), priors, 0.5)


@pytest.mark.parametrize("seed", range(8))
def test_the_best_pair_is_that_of_all_pairs_and_severities(knowledge: Knowledge, seed: int) -> None:
    q = random_question(knowledge, seed)
    covariance = np.diag(q.readings.variance) + q.readings.shared @ q.readings.shared.T
    best: tuple[float, tuple[int, ...], tuple[int, ...]] = (-math.inf, (), ())
    for a in range(5):
        for b in range(a + 1, 5):
            for m in range(EVERY // 2, 16, EVERY):
                for n in range(EVERY // 2, 16, EVERY):
                    x = q.readings.e - q.effects[a, m] - q.effects[b, n]
                    distance = float(x @ np.linalg.solve(covariance, x))
                    promise = q.log_odds[a] + q.log_odds[b] - 4.5 * math.log1p(distance / 5)
                    best = max(best, (promise, (a, b), (m, n)))
    members, nodes = _pairs(q, np.arange(5))
    assert (tuple(members[0]), tuple(nodes[0])) == best[1:]
    assert len(members) == min(PAIRS, 10)


def test_fewer_than_two_candidates_make_no_pair(knowledge: Knowledge) -> None:
    q = random_question(knowledge, 1)
    for few in ([], [3]):
        members, nodes = _pairs(q, np.array(few, dtype=np.intp))
        assert members.shape == nodes.shape == (0, 2)


def test_one_more_is_none_of_those_there(knowledge: Knowledge) -> None:
    q = random_question(knowledge, 2)
    members, nodes = _with_one_more(q, _candidates(q, np.ones(5, dtype=np.bool_)), [Found(0.0, (1, 3), (4, 7))])
    assert members.shape == nodes.shape
    assert (members[:, :2] == [1, 3]).all()
    assert not set(members[:, 2].tolist()) & {1, 3}


def test_severities_about_a_guess_stay_on_the_grid() -> None:
    for guess in (0, 1, 7, 14, 15):
        about = _around(np.array([[3, guess, guess]]), (-2, 0, 2))
        assert about.shape == (1, 9, 3)
        assert len({tuple(row) for row in about[0].tolist()}) == 9
        assert about.min() >= 0
        assert about.max() <= 15
        assert (about[0, :, 0] == 3).all()


def test_two_causes_in_whatever_order_are_the_same_set(
    model: Predictions, knowledge: Knowledge, sheet_of: SheetOf, find: Find
) -> None:
    first, second = solve(model, knowledge, sheet_of(*PAIR)), solve(model, knowledge, sheet_of(*PAIR[::-1]))
    assert first.sets == second.sets
    assert all(list(members) == sorted(set(members)) for members, _ in first.sets)
    true = tuple(sorted(find(cause, part) for cause, part, _ in PAIR))
    assert max(first.sets, key=lambda one: one[1])[0] == true


def test_nobody_suspected_and_nobody_near_makes_no_set(
    model: Predictions, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    data, table, prior, findings = prepare(model, knowledge, sheet_of(*PAIR))
    nobody = np.zeros(len(prior), dtype=np.bool_)
    routine = knowledge.priors.none_routine
    asked = question(model, data, table, prior, findings, knowledge.priors, routine, nobody, Search(0.0))
    assert posterior(asked).sets == ()
    assert posterior(replace(asked, suspected=~nobody)).sets
