"""Weights of evidence: P(reading | the others, cause) over P(reading | the others, not the cause), in decibans."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from oilpath.arrays import Array, Indexes, Mask, small_product
from oilpath.flow import Weight
from oilpath.ranking.cause_index import CauseIndex
from oilpath.ranking.posterior import Posterior

DECIBANS = 10 / math.log(10)
LEAST = 0.5
"""decibans below which a weight is not shown"""

Weights = tuple[tuple[Weight, ...], tuple[Weight, ...]]
"""what speaks for, and what against, strongest first"""


def weights(
    post: Posterior,
    causes: CauseIndex,
    chosen: Indexes,
    by_finding: Mapping[str, Array],
    most_probable: Indexes,
) -> list[Weights]:
    """Weights for each of the chosen causes (indexes into the cause index), alone or with others.

    by_finding: what each sign, code and check adds to the ln likelihood of the hypotheses; a cause has that of its
    most_probable one.
    """
    belongs, whole, without = _explanations(post, causes, chosen)
    inside = belongs.astype(np.float64)
    all_of = np.exp(whole - whole.max())[:, None]
    all_but_one = np.exp(without - without.max(axis=0, initial=-np.inf))

    def ratio(of: Array) -> Array:
        """ln P(all readings) − ln P(all but each), shape (chosen, R), but for what is the same inside and outside."""
        result: Array = np.log(np.maximum(small_product(of, all_of), 1e-300)) - np.log(
            np.maximum(small_product(of, all_but_one), 1e-300)
        )
        return result

    # summed apart, not as a difference from the total: nearly all may be inside
    values = (DECIBANS * (ratio(inside) - ratio(1 - inside))).tolist()
    found = []
    for row, number in zip(values, chosen.tolist(), strict=True):
        listed = [
            Weight(x.result, v) for x, v in zip(post.question.readings.evidence, row, strict=True) if abs(v) >= LEAST
        ]
        if number < causes.causes:
            best = int(most_probable[number])
            listed += [
                Weight(result, DECIBANS * float(column[best])) for result, column in by_finding.items() if column[best]
            ]
        found.append(_split(listed))
    return found


def _explanations(post: Posterior, causes: CauseIndex, chosen: Indexes) -> tuple[Mask, Array, Array]:
    """Single causes, none, unknown and sets: which hold a chosen cause (chosen, N), and the ln prior·likelihood of each
    with all readings (N,), and with all but one (N, R)."""
    rows = post.rows
    owner = np.concatenate([causes.owner[rows.hypothesis], [causes.causes, causes.causes + 1]])
    inside = owner == chosen[:, None]
    whole = [
        rows.prior + rows.fit.plain,
        post.question.none_by_chance + post.sound.plain,
        post.unknown_prior + post.unknown_fit.plain,
    ]
    without = [
        rows.prior[:, None] + rows.fit.without,
        post.question.none_by_chance + post.sound.without,
        post.unknown_prior + post.unknown_fit.without,
    ]
    if post.found:
        members = [set(causes.owner[list(one.members)].tolist()) for one in post.found]
        together = [[number in held for held in members] for number in chosen.tolist()]
        inside = np.concatenate([inside, np.array(together, dtype=np.bool_).reshape(len(chosen), len(members))], axis=1)
        whole.append(np.array([one.plain for one in post.found]))
        without.append(np.stack([one.without for one in post.found]))
    return inside, np.concatenate(whole), np.concatenate(without)


def _split(weights: Sequence[Weight]) -> Weights:
    ordered = sorted((w for w in weights if abs(w.weight) >= LEAST), key=lambda w: (-abs(w.weight), w.result))
    return tuple(w for w in ordered if w.weight > 0), tuple(w for w in ordered if w.weight < 0)
