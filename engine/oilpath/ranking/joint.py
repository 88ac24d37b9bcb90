"""Weights of readings taken together: P(group | the others, cause) over P(group | the others, not the cause).

Readings that say the same each add nothing to the others; together they may carry an answer. The likelihood of the
readings outside a group is computed for every explanation that counts, without slips of writing and gross mistakes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from oilpath.arrays import Array, Indexes, Mask, inverse_roots, small_product
from oilpath.flow import JointWeight
from oilpath.flow.ids import STANDARD
from oilpath.ranking.cause_index import CauseIndex
from oilpath.ranking.evidence import censor
from oilpath.ranking.likelihood import left_out
from oilpath.ranking.posterior import Posterior
from oilpath.ranking.question import Question
from oilpath.ranking.weights import DECIBANS, LEAST

NEAR = 5.0
"""nats behind the best, at first look, within which an explanation is computed"""


def joint_weights(post: Posterior, causes: CauseIndex, chosen: Indexes) -> dict[int, tuple[JointWeight, ...]]:
    """For each chosen cause (index into the cause index) the groups of readings that speak, strongest first."""
    q = post.question
    groups = list(_groups(q))
    if not groups or not len(chosen):
        return {}
    told = _Explanations(post, causes, chosen)
    whole, *rests = told.joint(groups)
    values: dict[int, list[JointWeight]] = {number: [] for number in chosen.tolist()}
    for members, rest in zip(groups, rests, strict=True):
        results = tuple(q.readings.evidence[member].result for member in members)
        for number, held in zip(chosen.tolist(), told.inside, strict=True):
            weight = DECIBANS * (_share(whole, held) - _share(rest, held))
            if abs(weight) >= LEAST:
                values[number].append(JointWeight(results, weight))
    return {n: tuple(sorted(one, key=lambda w: (-abs(w.weight), w.results))) for n, one in values.items() if one}


def _share(joint: Array, held: Mask) -> float:
    """ln odds of the explanations that hold a cause against those that do not."""
    if held.all() or not held.any():
        return 0.0
    return float(np.logaddexp.reduce(joint[held]) - np.logaddexp.reduce(joint[~held]))


def _groups(q: Question) -> Iterator[tuple[int, ...]]:
    """Two readings or more, but not all, of one test, and one of them out: those of each side, and all of them; each
    group once."""
    found: dict[tuple[str, ...], list[int]] = {}
    for number, x in enumerate(q.readings.evidence):
        if x.variant == STANDARD:
            found.setdefault((x.test,), []).append(number)
            if "side" in x.keys:
                found.setdefault((x.test, x.keys["side"]), []).append(number)
    every = len(q.readings.e)
    yield from sorted({tuple(one) for one in found.values() if 1 < len(one) < every and q.readings.out[one].any()})


class _Explanations:
    """Single causes, none, sets and unknown, N in all: which of them hold each cause chosen, `inside` (chosen, N)."""

    def __init__(self, post: Posterior, causes: CauseIndex, chosen: Indexes) -> None:
        q, rows = post.question, post.rows
        r, s = len(q.readings.e), len(post.found)
        sums = [sum(q.effects[h, n] for h, n in zip(one.members, one.nodes, strict=True)) for one in post.found]
        together = censor(np.array(sums).reshape(s, r), q.readings.censored)
        effects = [q.effects[rows.hypothesis, rows.node], np.zeros((1, r)), together, np.zeros((1, r))]
        of_sets = np.array([q.doubt[list(one.members)].max() for one in post.found])
        # of a set what is known is its weight with all readings
        fitted = left_out(q.scattered, together, (), doubt=of_sets)[0] if s else np.zeros(0)
        known = np.array([one.plain for one in post.found])
        owner = np.concatenate([causes.owner[rows.hypothesis], [causes.causes], np.full(s, -1), [causes.causes + 1]])
        members = [set(causes.owner[list(one.members)].tolist()) for one in post.found]
        self._q = q
        self._effects = np.concatenate(effects)
        self._smear = np.concatenate([q.model.steps[rows.hypothesis] / math.sqrt(12), np.zeros(2 + s)])
        self._doubt = np.concatenate([q.doubt[rows.hypothesis], [1.0], of_sets, [1.0]])
        self._prior = np.concatenate([rows.prior, [q.none_by_chance], known - fitted, [post.unknown_prior]])
        self.inside: Mask = owner == chosen[:, None]
        for line, number in zip(self.inside, chosen.tolist(), strict=True):
            line[len(rows.node) + 1 : -1] = [number in held for held in members]

    def joint(self, groups: Sequence[tuple[int, ...]]) -> Array:
        """ln prior·likelihood of every explanation by all readings, then by all but each group, (1 + groups, N).

        -inf where it hardly counts with any of these: far behind the best, and behind the best that holds a chosen
        cause.
        """
        first = self._prior + self._first_look(groups)
        counts = first > first.max(axis=1, keepdims=True) - NEAR
        for held in self.inside:
            counts |= held & (first > first.max(axis=1, keepdims=True, where=held, initial=-np.inf) - NEAR)
        counted = counts.any(axis=0)
        counted[-1] = False
        s, out = self._q.scattered, self._q.readings.out
        smear, doubt = self._smear[counted], self._doubt[counted]
        values = np.full(first.shape, -np.inf)
        values[:, counted] = left_out(s, self._effects[counted], groups, smear=smear, doubt=doubt)
        wider = np.where(out, self._q.readings.spread**2, 0.0)
        values[:, -1:] = left_out(s, self._effects[-1:], groups, wider=wider)
        result: Array = values + self._prior
        return result

    def _first_look(self, groups: Sequence[tuple[int, ...]]) -> Array:
        """ln density but for a constant, (1 + groups, N), with one precision for all: good to a few nats."""
        s = self._q.scattered
        share = 1 / (1 + (s.model_error**2 + (self._doubt[:, None] * s.off) ** 2) * self._effects**2 / s.variance)
        delta = (s.e - self._effects) * np.sqrt(share)
        alpha = small_product(delta, s.precision)
        distance, log_share = (alpha * delta).sum(axis=1), np.log(share)
        total, values = log_share.sum(axis=1), []
        for group in ([], *map(list, groups)):
            root = inverse_roots(s.precision[np.ix_(group, group)][None])[0][0]
            left = np.maximum(distance - ((alpha[:, group] @ root.T) ** 2).sum(axis=1), 0.0)
            t = (s.freedom + len(s.e) - len(group)) / 2 * np.log1p(left / s.freedom)
            values.append(s.tempering * (0.5 * (total - log_share[:, group].sum(axis=1)) - t))
        return np.stack(values)
