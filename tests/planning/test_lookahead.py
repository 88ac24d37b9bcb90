"""Checks and repairs together, against the exact optimum by dynamic programming and a published example."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from oilpath.arrays import Array
from oilpath.planning.lookahead import Lookahead, Task

NO_REPAIR = np.zeros((0, 6), dtype=np.bool_), np.zeros(0)


def certain(outcomes: Array) -> Array:
    """(checks, causes) of 0 and 1 as P(outcome | cause), (checks, 2, causes)."""
    return np.stack([1 - outcomes, outcomes], axis=1)


def pattipati() -> tuple[Task, Array]:
    """Six states, five tests of cost 1: K. R. Pattipati, M. G. Alexandridis, IEEE Trans. Syst. Man Cybern. 20 (1990)
    872; inputs from memory, optimum recomputed by dynamic programming."""
    outcomes = np.array(
        [[0, 0, 0, 1, 1, 1], [0, 1, 0, 0, 1, 1], [0, 0, 1, 0, 0, 1], [0, 0, 1, 1, 0, 1], [0, 1, 0, 1, 0, 0]],
        dtype=float,
    )
    task = Task(certain(outcomes), np.ones(5), *NO_REPAIR)
    return task, np.array([0.70, 0.01, 0.02, 0.10, 0.05, 0.12])


def test_the_published_sequence() -> None:
    """Optimum 2.18; largest information gain at each step 2.86."""
    task, prior = pattipati()
    assert optimum(task, prior) == pytest.approx(2.18, abs=1e-9)
    assert Lookahead(task, depth=0).by_rule(prior) == pytest.approx(2.86, abs=1e-9)
    assert Lookahead(task).expected(prior) == pytest.approx(2.18, abs=1e-9)


def test_evidence_by_odds() -> None:
    """Prior 0.05 and a likelihood ratio of 20: 0.05·20 / (0.05·20 + 0.95) = 0.512821 (arithmetic of Bayes' rule)."""
    joint = np.array([0.05, 0.95]) * np.array([0.8, 0.04])
    assert joint[0] / joint.sum() == pytest.approx(0.512821, abs=1e-6)


def test_a_cheap_repair_is_the_cheapest_test() -> None:
    """Adjusting for 10 min holds in 60 of 100: 10 + 0.4·100 = 50, against a sure check of 45 min first: 45 + 6 + 40."""
    task = Task(certain(np.array([[1.0, 0.0]])), np.array([45.0]), np.eye(2, dtype=np.bool_), np.array([10.0, 100.0]))
    plan = Lookahead(task)
    assert plan.choose(np.array([0.6, 0.4])) == ("repair", 0)
    assert plan.expected(np.array([0.6, 0.4])) == pytest.approx(50.0)


def test_a_dear_repair_waits_for_the_check() -> None:
    task = Task(certain(np.array([[1.0, 0.0]])), np.array([15.0]), np.eye(2, dtype=np.bool_), np.array([300.0, 400.0]))
    plan = Lookahead(task)
    assert plan.choose(np.array([0.6, 0.4])) == ("check", 0)
    assert plan.expected(np.array([0.6, 0.4])) == pytest.approx(15 + 0.6 * 300 + 0.4 * 400)


def test_nothing_that_can_be_done_ends_at_once() -> None:
    task = Task(np.zeros((0, 2, 2)), np.zeros(0), np.zeros((1, 2), dtype=np.bool_), np.array([5.0]))
    assert Lookahead(task).choose(np.array([0.5, 0.5])) is None
    assert Lookahead(task).expected(np.array([0.5, 0.5])) == 0.0


# --- against the optimum ------------------------------------------------------------------


def optimum(task: Task, prior: Array) -> float:
    """Fewest expected minutes of any plan: all orders, by what came out of each check and which repairs were tried."""
    checks = len(task.minutes)

    @cache
    def least(state: bytes, made: int, tried: int) -> float:
        belief = np.frombuffer(state)
        success = task.fixes @ belief if len(task.fixes) else np.zeros(0)
        ended = belief.max() >= task.isolated if not len(task.fixes) else False
        if ended or (len(task.fixes) and success.max() <= 1e-9):
            return 0.0
        best = np.inf
        for number in range(len(task.fixes)):
            if tried >> number & 1 or success[number] <= 1e-9:
                continue
            left = np.where(task.fixes[number], 0.0, belief)
            total = float(left.sum())
            more = total * step(left / total, made, tried | 1 << number) if total > 1e-9 else 0.0
            best = min(best, float(task.repair_minutes[number]) + more)
        for number in range(checks):
            if made >> number & 1:
                continue
            rows = [row for row in task.likelihood[number] * belief if row.sum() > 1e-9]
            if len(rows) == 1 and np.allclose(rows[0] / rows[0].sum(), belief):
                continue
            cost = float(task.minutes[number])
            for row in rows:
                cost += float(row.sum()) * step(row / row.sum(), made | 1 << number, tried)
            best = min(best, cost)
        return best if np.isfinite(best) else 0.0

    def step(belief: Array, made: int, tried: int) -> float:
        sure = bool(((task.likelihood == 0) | (task.likelihood == 1)).all())
        # with certain outcomes a check made again says nothing, so that what was made does not matter
        return least(np.round(belief, 10).tobytes(), 0 if sure else made, 0 if sure else tried)

    return step(prior, 0, 0)


def random_task(seed: int, causes: int, checks: int, repairs: int, *, noisy: bool) -> tuple[Task, Array]:
    """A task in which every cause can be repaired."""
    rng = np.random.default_rng(seed)
    outcomes = rng.integers(0, 2, size=(checks, causes)).astype(float)
    likelihood = certain(outcomes)
    if noisy:
        wrong = rng.uniform(0.03, 0.2, size=(checks, 1, 1))
        likelihood = likelihood * (1 - wrong) + (1 - likelihood) * wrong
    fixes = rng.random((repairs, causes)) < 0.25
    fixes[rng.integers(0, repairs, size=causes), np.arange(causes)] = True
    minutes = rng.integers(5, 60, size=checks).astype(float)
    return Task(likelihood, minutes, fixes, rng.integers(15, 400, size=repairs).astype(float)), rng.dirichlet(
        np.ones(causes)
    )


def excess(count: int) -> Array:
    """How far ours is above the optimum, as a share, on random problems: certain outcomes, or noisy ones."""
    found = []
    for seed in range(count):
        rng = np.random.default_rng(10_000 + seed)
        noisy = seed % 4 == 0
        causes = int(rng.integers(2, 11))
        checks = int(rng.integers(1, 5 if noisy else 13))
        repairs = int(rng.integers(1, 4 if noisy else 7))
        task, prior = random_task(seed, causes, checks, repairs, noisy=noisy)
        found.append(Lookahead(task).expected(prior) / optimum(task, prior) - 1)
    return np.array(found)


def test_near_the_optimum_on_random_problems() -> None:
    above = excess(24)
    assert above.min() > -1e-9
    assert above.mean() <= 0.02
    assert above.max() <= 0.10


@pytest.mark.slow
def test_near_the_optimum_on_two_hundred_problems() -> None:
    """Up to 10 causes, 12 checks, 6 repairs: mean within 2 %, worst within 10 %."""
    above = excess(200)
    assert above.mean() <= 0.02
    assert above.max() <= 0.10
