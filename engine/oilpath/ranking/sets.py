"""Two to four causes at once: tried where no single cause explains the sheet, among those that a rule suspects.

All pairs of those are weighed at first look (the squared distance of a sum is made of products of its parts), and what
else goes with their leading members is asked of all causes; the best are computed by the circuit model, and tried
with one more as long as they leave something over.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from itertools import product

import numpy as np

from oilpath.arrays import Array, Indexes, Mask, log_sum, small_product
from oilpath.physics.predictions import SEVERITIES
from oilpath.ranking.chance import left_to_chance
from oilpath.ranking.evidence import censor
from oilpath.ranking.likelihood import Likelihood, approximate_robust, likelihood
from oilpath.ranking.priors import together
from oilpath.ranking.question import Question
from oilpath.ranking.rows import Rows
from oilpath.records import dataclass

LARGEST = 4
"""causes in a set"""
TELLING = 1.5
"""nats for a cause from which a sign counts as something to explain"""
DOUBT = 2.0
"""nats by which a reading must be likelier than a gross mistake, or sets of causes are tried"""
CANDIDATES = 60
"""hypotheses of which pairs are made, the most promising"""
EVERY = 3
"""every n-th severity node of a candidate is tried"""
PAIRS = 100
"""pairs that are looked at with their effects added up"""
WORKED_OUT = 20
"""sets of a size that the circuit model works out"""
LEADING = 10
"""members of the best pairs of which is asked what else goes with them"""
BEAM, WIDTH = 3, 6
"""sets that are tried with one more, and how many are tried"""

NEAR = 8.0
"""nats behind the best single explanation, at first look, within which a set is worked out"""
FLAT = 7.0
"""nats by which a set may be better about a guess than at it"""

NEXT, AROUND = (-1, 0, 1), (-2, 0, 2)
"""severity nodes about a guess at which a set is looked at, and about the best of them at which it is computed"""

Members = tuple[int, ...]
_Tried = tuple[Indexes, Indexes]
"""hypotheses and a guess of their severity nodes, each (sets, members)"""


@dataclass(frozen=True, slots=True)
class Alone:
    """What the causes say one by one: their rows, the sound machine, ln prior·likelihood of every hypothesis (H,)."""

    rows: Rows
    sound: Likelihood
    value: Array


@dataclass(frozen=True, slots=True)
class Found:
    """A set with its weight (ln prior·likelihood), the severity node at which each member fits best, and whether it
    leaves something over there; `plain`, of all readings, and `without` (R,), of all but each, lack the gross term."""

    weight: float
    members: Members
    nodes: tuple[int, ...]
    leaves: bool = True
    plain: float = -math.inf
    without: Array = field(default_factory=lambda: np.zeros(0))


def sets_of(q: Question, alone: Alone) -> list[Found]:
    """Sets of two to four hypotheses, by ascending members.

    Pairs are made of the hypotheses that are suspected, and those not more than `search.near` nats behind the best
    alone; to what leads among them any other may be added.
    """
    if not len(q.readings.e) or not _one_leaves_something(q, alone):
        return []
    candidates = _candidates(q, q.suspected | (alone.value > alone.value.max() - q.search.near))
    whole = _candidates(q, np.ones_like(q.suspected))
    found: dict[Members, Found] = {}
    best, tried = float(alone.value.max()), _pairs(q, candidates.most_promising(q))
    tried = _joined(tried, _with_one_more(q, whole, _singly(tried)))
    for _ in range(2, LARGEST + 1):
        top = max(best, float(alone.sound.robust[0]) + q.none_by_chance)
        step = _weighed(q, tried, top - (q.search.near if math.isinf(q.search.near) else NEAR))
        found |= {one.members: one for one in step}
        if not step or step[0].weight < best or not step[0].leaves:
            break
        best = step[0].weight
        tried = _with_one_more(q, whole, step[:BEAM])
    return [found[members] for members in sorted(found)]


def _one_leaves_something(q: Question, alone: Alone) -> bool:
    """Whether the best single explanation (one cause, or nothing wrong) leaves something over."""
    rows = alone.rows
    best = int(np.argmax(rows.joint)) if len(rows.joint) else -1
    if best < 0 or rows.joint[best] <= alone.sound.robust[0] + q.none_by_chance:
        return _leaves(q, alone.sound, 0, np.zeros(len(q.readings.e)), ())
    h = int(rows.hypothesis[best])
    return _leaves(q, rows.fit, best, q.effects[h, rows.node[best]], (h,))


def _leaves(q: Question, fit: Likelihood, row: int, effect: Array, members: Members) -> bool:
    """Whether an explanation leaves a reading or a finding over.

    A failing reading of which it explains less than half, one that it takes for a gross mistake or nearly so, or a sign
    that speaks for another cause. On a sound machine one reading that is out is put down to chance.
    """
    unlikely = fit.plain[row] - fit.without[row] < np.log(q.scattered.gross / q.scattered.width) + DOUBT
    unexplained = q.readings.out & (q.readings.e * effect < 0.5 * q.readings.e**2)
    pointed = max((float(q.findings[h]) for h in members), default=0.0)
    others = bool(members) and bool((q.findings > max(TELLING, pointed)).any())
    return bool(unlikely.any() or unexplained.sum() > (0 if members else 1) or others)


@dataclass(frozen=True, slots=True)
class _Candidates:
    """Hypotheses (C,), ascending, of which sets are made; `weighed` (C, S, R) their effects times the precision of the
    sound machine, `own` (C, S) the squared size of an effect."""

    number: Indexes
    weighed: Array
    own: Array

    def gain(self, left: Array) -> Array:
        """By how much the squared distance of what is left over, (M, R), falls with each, shape (M, C, S)."""
        c, s, r = self.weighed.shape
        result: Array = 2 * small_product(left, self.weighed.reshape(c * s, r).T).reshape(len(left), c, s) - self.own
        return result

    def most_promising(self, q: Question) -> Indexes:
        """Those that alone would explain most, ascending."""
        promise = self.gain(q.scattered.e[None])[0].max(axis=1, initial=-np.inf) / 2 + q.log_odds[self.number]
        return np.sort(self.number[np.argsort(-promise, kind="stable")[:CANDIDATES]])


def _candidates(q: Question, which: Mask) -> _Candidates:
    chosen = np.flatnonzero(which)
    effects = q.effects[chosen]
    flat = effects.reshape(-1, effects.shape[-1])
    weighed = small_product(flat, q.scattered.precision)
    own = (weighed * flat).sum(axis=1).reshape(effects.shape[:2])
    return _Candidates(chosen, weighed.reshape(effects.shape), own)


def _pairs(q: Question, candidates: Indexes) -> _Tried:
    """The most promising pairs of candidates."""
    scattered, log_odds = q.scattered, q.log_odds[candidates]
    nodes = np.arange(EVERY // 2, SEVERITIES, EVERY)
    c, m = len(candidates), len(nodes)
    effects = q.effects[candidates][:, nodes].reshape(c * m, len(scattered.e))
    weighed = small_product(effects, scattered.precision)
    between = small_product(weighed, effects.T)
    own, toward = between.diagonal(), weighed @ scattered.e
    each = own - 2 * toward
    # what the model does not know of large effects counts as scatter, here of all readings alike
    r = len(scattered.e)
    known = 2 * scattered.model_error**2 / r
    between *= 2
    distance = between + (each[:, None] + each[None, :] + scattered.e @ scattered.precision @ scattered.e)
    between += own[:, None] + own[None, :]
    distance /= 1 + known * between
    misfit = distance.reshape(c, m, c, m).transpose(0, 2, 1, 3).reshape(c, c, m * m)
    first, second = np.triu_indices(c, 1)
    misfit = misfit[first, second]
    at = misfit.argmin(axis=1)
    least = np.maximum(misfit[np.arange(len(at)), at], 0.0)
    promise = log_odds[first] + log_odds[second]
    promise -= (scattered.freedom + r) / 2 * np.log1p(least / scattered.freedom)
    order = np.argsort(-promise, kind="stable")[:PAIRS]
    of_pair = np.stack([first[order], second[order]], axis=1)
    return candidates[of_pair], nodes[np.stack(np.divmod(at[order], m), axis=1)]


def _with_one_more(q: Question, candidates: _Candidates, sets: Sequence[Found]) -> _Tried:
    """Each set with one of the candidates that best explain what it leaves over, by the fall in distance and prior."""
    numbers = candidates.number
    prior, pointed, inside = q.log_odds[numbers], q.findings[numbers] > TELLING, set(numbers.tolist())
    members: list[Members] = []
    nodes: list[tuple[int, ...]] = []
    left = q.scattered.e - np.array(
        [sum(q.effects[h, n] for h, n in zip(one.members, one.nodes, strict=True)) for one in sets]
    ).reshape(len(sets), len(q.scattered.e))
    gain = candidates.gain(left)
    node, most = gain.argmax(axis=2), gain.max(axis=2, initial=-np.inf)
    score = np.where((most > 0) | pointed, most / 2 + prior, -np.inf)
    for line, one in enumerate(sets):
        score[line, np.searchsorted(numbers, [h for h in one.members if h in inside])] = -np.inf
    best = np.argsort(-score, axis=1, kind="stable")[:, :WIDTH]
    for line, one in enumerate(sets):
        for i in best[line].tolist():
            if score[line, i] > -np.inf:
                members.append((*one.members, int(numbers[i])))
                nodes.append((*one.nodes, int(node[line, i])))
    shape = (len(members), len(sets[0].members) + 1 if sets else 2)
    return np.array(members, dtype=np.intp).reshape(shape), np.array(nodes, dtype=np.intp).reshape(shape)


def _singly(pairs: _Tried) -> list[Found]:
    """The members of the first pairs, one by one: what else goes with each is looked at beyond the most promising."""
    ahead = zip(pairs[0].ravel().tolist(), pairs[1].ravel().tolist(), strict=True)
    at: dict[int, int] = {}
    for h, node in ahead:
        at.setdefault(h, node)
    return [Found(0.0, (h,), (node,)) for h, node in list(at.items())[:LEADING]]


def _joined(first: _Tried, second: _Tried) -> _Tried:
    return np.concatenate([first[0], second[0]]), np.concatenate([first[1], second[1]])


def _weighed(q: Question, tried: _Tried, least: float) -> list[Found]:
    """Sets by what the circuit model says of them, best first.

    Which of them it is asked about is decided by effects that are added up: the best, of those whose weight is more
    than `least`.
    """
    members, nodes = tried
    t, k = members.shape
    if not t:
        return []
    further = math.log(together(q.odds, q.priors))
    prior = q.log_odds[members].sum(axis=1) + (k - 1) * further - k * math.log(SEVERITIES / 2)
    doubt = q.doubt[members].max(axis=1)
    guess = q.effects[members, nodes].sum(axis=1)
    look = prior + approximate_robust(q.scattered, censor(guess, q.readings.censored), doubt)
    near = np.flatnonzero(look > least - FLAT)
    if not len(near):
        return []
    members, nodes, prior, doubt = members[near], nodes[near], prior[near], doubt[near]
    around = _around(nodes, NEXT)
    effects = censor(q.effects[members[:, None, :], around].sum(axis=2), q.readings.censored)
    t, most = around.shape[:2]
    value = approximate_robust(q.scattered, effects.reshape(t * most, -1), np.repeat(doubt, most)).reshape(t, most)
    look = prior + log_sum(value, axis=1)
    order = np.argsort(-look, kind="stable")
    order = _first_of_each(members, order[look[order] > least])[:WORKED_OUT]
    if not len(order):
        return []
    members, prior = members[order], prior[order]
    around = _around(around[order, value[order].argmax(axis=1)], AROUND)
    sets = [(tuple(inside), at) for inside, at in zip(members.tolist(), around, strict=True)]
    predicted = censor(q.model.combined(sets, q.readings.evidence), q.readings.censored)
    fit = likelihood(q.scattered, predicted, doubt=np.repeat(q.doubt[members].max(axis=1), around.shape[1]))
    by_chance = left_to_chance(predicted, q.readings, q.priors).reshape(len(sets), -1)
    value = fit.robust.reshape(by_chance.shape) + by_chance
    weight = prior + log_sum(value, axis=1)
    plain = prior + log_sum(fit.plain.reshape(value.shape) + by_chance, axis=1)
    without = prior[:, None] + log_sum(fit.without.reshape(*value.shape, -1) + by_chance[:, :, None], axis=1)
    found = []
    for row, (inside, at) in enumerate(sets):
        by_number = np.argsort(inside)
        node = int(value[row].argmax())
        line = row * value.shape[1] + node
        leaves = _leaves(q, fit, line, predicted[line], inside)
        key = tuple(np.array(inside)[by_number].tolist())
        best = tuple(at[node][by_number].tolist())
        found.append(Found(float(weight[row]), key, best, leaves, float(plain[row]), without[row]))
    return sorted(found, key=lambda one: (-one.weight, one.members))


def _first_of_each(members: Indexes, order: Indexes) -> Indexes:
    """The order without sets that came before, their members in whatever order."""
    seen: dict[Members, int] = {}
    for row, inside in zip(order.tolist(), np.sort(members[order], axis=1).tolist(), strict=True):
        seen.setdefault(tuple(inside), row)
    return np.array(list(seen.values()), dtype=np.intp)


def _around(nodes: Indexes, steps: tuple[int, ...]) -> Indexes:
    """Severity nodes about a guess (sets, members): those of the two latest members varied, (sets, 9, members)."""
    step = np.zeros((len(steps) ** 2, nodes.shape[1]), dtype=np.intp)
    step[:, -2:] = list(product(steps, steps))
    middle = nodes.copy()
    middle[:, -2:] = np.clip(nodes[:, -2:], -steps[0], SEVERITIES - 1 - steps[-1])
    result: Indexes = middle[:, None, :] + step
    return result
