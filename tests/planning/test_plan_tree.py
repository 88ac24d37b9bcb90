"""Information and the greedy plan as numbers: textbook values, properties, the exact optimum by brute force."""

from functools import cache
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.arrays import Array
from oilpath.planning.plan_tree import Choices, PlanLimits, PlanNode, bits, expected_minutes, grow, units

LIMITS = PlanLimits(closed=0.0, depth=9)


def choices(likelihood: object, minutes: object = None, cost: object = None) -> Choices:
    table = np.asarray(likelihood, dtype=float)
    took = np.full(len(table), 10.0) if minutes is None else np.asarray(minutes, dtype=float)
    return Choices(table, took, took if cost is None else np.asarray(cost, dtype=float), np.arange(table.shape[2]))


def random_choices(seed: int, checks: int, causes: int) -> tuple[Choices, Array]:
    rng = np.random.default_rng(seed)
    sure = rng.choice([0.05, 0.95], size=(checks, causes), p=[0.5, 0.5])
    prior = rng.dirichlet(np.ones(causes))
    return choices(np.stack([sure, 1 - sure], axis=1), rng.integers(5, 60, size=checks)), prior


def test_a_binary_symmetric_channel() -> None:
    """Capacity of the binary symmetric channel, 1 − H(p): C. E. Shannon, A mathematical theory of communication (1948),
    section 15; p = 0.11 gives 0.5 bit (H(0.11) = 0.4999)."""
    noisy = choices([[[0.89, 0.11], [0.11, 0.89]]])
    assert bits(noisy, np.array([0.5, 0.5]))[0] == pytest.approx(0.5, abs=2e-4)


def test_a_check_that_answers_everything_and_one_that_answers_nothing() -> None:
    both = choices([[[1, 0, 0], [0, 1, 0], [0, 0, 1]], [[0.2] * 3, [0.3] * 3, [0.5] * 3]])
    prior = np.array([0.5, 0.25, 0.25])
    assert bits(both, prior) == pytest.approx([1.5, 0.0])  # entropy of (1/2, 1/4, 1/4)


@given(st.integers(0, 10_000), st.integers(1, 5), st.integers(2, 6))
def test_information_is_the_drop_of_entropy(seed: int, checks: int, causes: int) -> None:
    found, prior = random_choices(seed, checks, causes)
    gain = bits(found, prior)

    def entropy(p: Array) -> float:
        return float(-(p[p > 0] * np.log2(p[p > 0])).sum())

    for number in range(checks):
        joint = found.likelihood[number] * prior
        after = sum(float(row.sum()) * entropy(row / row.sum()) for row in joint)
        assert gain[number] == pytest.approx(entropy(prior) - after, abs=1e-9)
        assert -1e-12 <= gain[number] <= entropy(prior) + 1e-12


def leaves(node: PlanNode) -> list[PlanNode]:
    return [node] if node.check is None else [leaf for child in node.children for leaf in leaves(child)]


@given(st.integers(0, 10_000), st.integers(1, 6), st.integers(2, 6))
def test_the_ends_of_a_plan_hold_all_that_was_at_its_start(seed: int, checks: int, causes: int) -> None:
    found, prior = random_choices(seed, checks, causes)
    root = grow(found, prior, PlanLimits())
    ends = leaves(root)
    assert sum(leaf.share for leaf in ends) == pytest.approx(1.0)
    np.testing.assert_allclose(sum(leaf.share * leaf.causes for leaf in ends), prior, atol=1e-12)
    for leaf in ends:
        assert leaf.end in {"isolated", "closed", "deep", "inseparable"}
        assert (units(found, leaf.causes).max() >= 0.9) == (leaf.end == "isolated")
        assert len(set(leaf.made)) == len(leaf.made) <= 5


def test_one_part_with_two_causes_is_one_unit() -> None:
    found = Choices(np.array([[[0.9, 0.1, 0.5], [0.1, 0.9, 0.5]]]), np.ones(1), np.ones(1), np.array([0, 0, 1]))
    assert grow(found, np.array([0.5, 0.45, 0.05]), PlanLimits()).end == "isolated"


def test_the_rest_that_no_check_names_is_no_unit() -> None:
    found = Choices(np.array([[[0.9, 0.1], [0.1, 0.9]]]), np.ones(1), np.ones(1), np.array([0, -1]))
    assert grow(found, np.array([0.05, 0.95]), PlanLimits()).end != "isolated"


def test_the_first_of_two_that_are_alike_is_chosen() -> None:
    twice = choices([[[0.9, 0.1], [0.1, 0.9]]] * 2)
    assert grow(twice, np.array([0.5, 0.5]), PlanLimits()).check == 0


def test_no_checks_at_all() -> None:
    none = Choices(np.zeros((0, 0, 2)), np.zeros(0), np.zeros(0), np.arange(2))
    root = grow(none, np.array([0.5, 0.5]), PlanLimits())
    assert (root.check, root.end, expected_minutes(root, none)) == (None, "inseparable", 0.0)


def test_expected_minutes_by_hand() -> None:
    """Two sure checks of 10 and 20 min over three causes: the first splits off one half, the other half goes on."""
    sure = choices([[[1, 0, 0], [0, 1, 1]], [[0, 1, 0], [1, 0, 1]]], [10, 20])
    root = grow(sure, np.array([0.5, 0.25, 0.25]), LIMITS)
    assert root.check == 0
    assert expected_minutes(root, sure) == pytest.approx(10 + 0.5 * 20)


def best_possible(found: Choices, prior: Array, limits: PlanLimits) -> float:
    """Fewest expected minutes of any plan that ends where the greedy one must: all orders tried, by brute force."""
    checks, outcomes, _ = found.likelihood.shape

    @cache
    def least(seen: tuple[tuple[int, int], ...]) -> float:
        joint = prior.copy()
        for number, outcome in seen:
            joint = joint * found.likelihood[number, outcome]
        share = float(joint.sum())
        after = joint / share
        if units(found, after).max() >= limits.isolated:
            return 0.0
        gain = bits(found, after)
        made = {number for number, _ in seen}
        open_ = [number for number in range(checks) if number not in made and gain[number] >= limits.bits]
        return min(
            (
                share * float(found.minutes[number])
                + sum(least(tuple(sorted((*seen, (number, outcome))))) for outcome in range(outcomes))
                for number in open_
            ),
            default=0.0,
        )

    return least(())


def test_the_greedy_plan_against_the_exact_optimum() -> None:
    """Information for its cost is no exact rule; on small problems it must stay near the best plan that there is."""
    ratios = []
    for seed, (checks, causes) in product(range(40), [(3, 3), (4, 3), (4, 4)]):
        found, prior = random_choices(seed, checks, causes)
        exact = best_possible(found, prior, LIMITS)
        greedy = expected_minutes(grow(found, prior, LIMITS), found)
        assert greedy >= exact - 1e-9
        if exact > 0:
            ratios.append(greedy / exact)
    assert len(ratios) > 60
    # Measured when this was written: mean 1.024, worst 1.343, the optimum itself in 77 % of the problems.
    assert np.mean(ratios) < 1.05
    assert max(ratios) < 1.5
    assert np.mean(np.isclose(ratios, 1.0)) > 0.7
