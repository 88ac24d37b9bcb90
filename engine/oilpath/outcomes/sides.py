"""Probabilities that a reading is noticeably low, as usual or high, and the outcome that several readings give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import product

import numpy as np

from oilpath.arrays import Array
from oilpath.knowledge.check import SIDES, Check

_STEPS = 2048


@lru_cache(maxsize=16)
def _student(freedom: float) -> tuple[Array, Array]:
    """θ from −π/2 to π/2 and the share of Student's t below √ν·tan θ; its density there goes with cos^(ν−1) θ."""
    theta = np.linspace(-np.pi / 2, np.pi / 2, 2 * _STEPS + 1)
    density = np.cos(theta) ** (freedom - 1)
    density[[0, -1]] = 0.0 if freedom > 1 else 1.0
    # Simpson on every pair of steps; the odd points are not kept.
    pieces = density[:-2:2] + 4 * density[1:-1:2] + density[2::2]
    below = np.concatenate([[0.0], np.cumsum(pieces)])
    return theta[::2], below / below[-1]


def student(t: Array, freedom: float) -> Array:
    """Cumulative distribution of Student's t, elementwise, right to 1e-6; freedom ≥ 1."""
    theta, below = _student(freedom)
    found: Array = np.interp(np.arctan(t / np.sqrt(freedom)), theta, below)
    return found


def sides(effect: Array, sd: Array, noticeable: Array | float, freedom: float) -> Array:
    """P(below), P(within), P(above) of ±noticeable, shape (3, …), for a reading that lies around its effect.

    The scatter is that of a t distribution, for its scale is not well known.
    """
    below, above = student(-(noticeable + effect) / sd, freedom), student((effect - noticeable) / sd, freedom)
    return np.stack([below, np.maximum(1 - below - above, 0.0), above])


def outcomes(check: Check, lie: Mapping[str, Array], gross: float) -> Array:
    """P(outcome) of a check, shape (outcomes, …), from the sides (3, …) on which each of its readings may lie.

    Given cause and severity the readings are independent; what they share lies in both. `gross` is the probability that
    the outcome is any of them by mistake. Outcomes that no reading gives have their declared probability.
    """
    words = [one.outcome for one in check.outcomes]
    read = check.read
    chance = np.zeros((len(words), *lie[read[0]].shape[1:]))
    for combination in product(range(len(SIDES)), repeat=len(read)):
        where = {name: SIDES[side] for name, side in zip(read, combination, strict=True)}
        given = next(one.outcome for one in check.gives if one.holds(where))
        chance[words.index(given)] += np.prod([lie[n][s] for n, s in zip(read, combination, strict=True)], axis=0)
    fixed = np.array([check.otherwise.get(word, 0.0) for word in words])
    possible: Sequence[bool] = [word not in check.otherwise for word in words]
    chance /= chance.sum(axis=0)
    chance = (1 - gross) * chance + gross / sum(possible) * np.reshape(possible, (-1, *[1] * (chance.ndim - 1)))
    result: Array = chance * (1 - fixed.sum()) + fixed.reshape(-1, *[1] * (chance.ndim - 1))
    return result
