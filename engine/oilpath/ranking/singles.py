"""The single causes of a sheet on their severity grids: what each severity says of the readings.

Every severity is looked at. What comes near the best is computed exactly, and of every cause that does not the severity
that fits it best.
"""

from __future__ import annotations

import math

import numpy as np

from oilpath.arrays import LOWEST, Array, Indexes, log_sum, without
from oilpath.ranking.few import few_of
from oilpath.ranking.likelihood import Likelihood, approximate_robust, likelihood
from oilpath.ranking.pattern import Pattern, pattern_of
from oilpath.ranking.question import USUAL, Question
from oilpath.ranking.rows import Rows

FIRST = 16
"""rows of causes that move many readings that are computed to begin with, the most promising"""
TAIL, TAIL_BUT_ONE = 4.5, 2.5
"""nats behind its best severity from which a severity is not computed but counted with those that are: by all readings,
and by all but the one that fits worst"""


class _Severities:
    """The causes that readings show, N of the hypotheses, at S severities.

    `value` (N, S) is their ln likelihood, at first look to begin with, `least` (N, S) no more than it is, and `but_one`
    (N, S) that without the reading that fits worst. Where a cause moves few readings the first look is good to a nat,
    else it flatters. `done` (N, S) is what is computed.
    """

    def __init__(self, q: Question, p: Pattern) -> None:
        self._scattered = q.scattered
        self._effects, self._smear, self._doubt = p.effects[p.shown], p.smear[p.shown], q.doubt[p.shown]
        n, s, r = self._effects.shape
        self.value, self.least, self.but_one = np.empty((n, s)), np.full((n, s), -np.inf), np.full((n, s), -np.inf)
        self._groups = tuple(few_of(q.scattered, p.moved))
        self._group = np.full(n, -1)
        self._place = np.arange(n)
        for number, few in enumerate(self._groups):
            row = few.moved.row
            self.least[row], self.value[row], self.but_one[row] = few.promise()
            self._group[row], self._place[row] = number, np.arange(len(row))
        self.large = np.flatnonzero(self._group < 0)
        rows = self._effects[self.large].reshape(len(self.large) * s, r)
        doubt = np.repeat(self._doubt[self.large], s)
        self.value[self.large] = approximate_robust(q.scattered, rows, doubt).reshape(len(self.large), s)
        self.done = np.zeros((n, s), dtype=np.bool_)
        self._fit = Likelihood(np.empty((n, s)), np.empty((n, s, r)), np.empty((n, s)), np.empty((n, s)))

    def compute(self, row: Indexes, node: Indexes) -> None:
        """Compute those of some rows at some severities that are not computed yet."""
        new = ~self.done[row, node]
        row, node = row[new], node[new]
        for number in range(-1, len(self._groups)):
            inside = self._group[row] == number
            if inside.any():
                self._take(number, row[inside], node[inside])
        self.done[row, node] = True

    def best_of_large(self, which: Indexes, prior: Array) -> float:
        """The best ln prior·likelihood of some rows of causes that move many readings, counted one after the other.

        prior (N, S): ln, of every severity.
        """
        row, node = self.large[which // self.value.shape[1]], which % self.value.shape[1]
        self.compute(row, node)
        return float((prior[row, node] + self.value[row, node]).max(initial=-np.inf))

    def _take(self, number: int, row: Indexes, node: Indexes) -> None:
        if number < 0:
            effects, smear, doubt = self._effects[row, node], self._smear[row], self._doubt[row]
            got = likelihood(self._scattered, effects, smear=smear, doubt=doubt)
        else:
            got = self._groups[number].exact(self._place[row], node)
        fit = self._fit
        fit.plain[row, node], fit.without[row, node] = got.plain, got.without
        fit.robust[row, node], fit.distance[row, node] = got.robust, got.distance
        self.value[row, node] = got.robust

    def at(self, row: Indexes, node: Indexes) -> Likelihood:
        """What was computed of some rows at some severities."""
        fit = self._fit
        return Likelihood(fit.plain[row, node], fit.without[row, node], fit.robust[row, node], fit.distance[row, node])


def single_rows(q: Question, sound: Likelihood) -> Rows:
    """The rows of the posterior; sound: the likelihood of the sound machine, one row."""
    h, s, _ = q.effects.shape
    p = q.pattern or pattern_of(q.effects, q.scattered, q.model.steps, q.doubt)
    shown, near = p.shown, q.search.near
    found, prior = _Severities(q, p), q.log_odds[shown] - math.log(s)
    by_chance = q.by_chance[shown]
    each = prior[:, None] + by_chance
    top = max(float(sound.robust[0]) + q.none_by_chance, float((each + found.least).max(initial=-np.inf)))
    of_large = each[found.large] + found.value[found.large]
    bound = of_large.ravel()
    if (bound > top - near).sum() > 2 * FIRST:  # the best of them may leave most of the others far behind
        top = max(top, found.best_of_large(np.argsort(-bound, kind="stable")[:FIRST], each))
    asked = bound > top - near
    asked[of_large.argmax(axis=1) + s * np.arange(len(of_large))] = True
    top = max(top, found.best_of_large(np.flatnonzero(asked), each))
    value = found.value + by_chance
    value[found.large] = np.where(found.done[found.large], value[found.large], LOWEST)
    best = value.max(axis=1, initial=LOWEST)
    whole = log_sum(found.value + by_chance, axis=1)
    further = near - USUAL.near
    counts = value > best[:, None] - TAIL - further
    but_one = found.but_one + by_chance
    counts |= but_one > but_one.max(axis=1, initial=LOWEST)[:, None] - TAIL_BUT_ONE - further
    counts &= (prior + whole > top - near)[:, None]
    counts |= (value == best[:, None]) | found.done
    row, node = np.nonzero(counts)
    # what is not computed counts with what is
    rest = log_sum(np.where(counts, found.value + by_chance, LOWEST), axis=1)
    found.compute(row, node)
    silent = without(h, shown)
    hypothesis = np.concatenate([shown[row], silent])
    order = np.argsort(hypothesis, kind="stable")
    own = np.concatenate(
        [(whole - rest)[row] - math.log(s) + by_chance[row, node], np.full(len(silent), q.none_by_chance)]
    )

    def joined(computed: Array, of_sound: Array) -> Array:
        result: Array = np.concatenate([computed, np.repeat(of_sound, len(silent), axis=0)])[order]
        return result

    got = found.at(row, node)
    fit = Likelihood(
        joined(got.plain, sound.plain),
        joined(got.without, sound.without),
        joined(got.robust, sound.robust),
        joined(got.distance, sound.distance),
    )
    node = np.concatenate([node, np.zeros(len(silent), dtype=np.intp)])
    return Rows(hypothesis[order], node[order], (q.log_odds[hypothesis] + own)[order], fit)
