"""The single causes of a sheet on their severity grids: what each severity says of the readings.

Every second severity is looked at, those that look promising at first look exactly; between them the ln densities
are interpolated, for they are smooth in severity: every effect is off by far more than a step of the grid.
"""

from __future__ import annotations

import math

import numpy as np

from oilpath.arrays import Array, Indexes, Mask, without
from oilpath.ranking.likelihood import Likelihood, approximate_likelihood, approximate_robust, likelihood
from oilpath.ranking.question import Question
from oilpath.ranking.rows import Rows

STRIDE = 2
"""every n-th severity node is computed; between two, one is interpolated"""
FIRST = 32
"""rows that are looked at exactly to begin with, the most promising"""
OFF = 0.005
"""nats by which an interpolated severity may be off; more where it is far behind and counts for little"""
SLACK = 3.0
"""nats further behind up to which a severity of such a cause is looked at again; at least ln of the severities"""


class _Exact:
    """What is known exactly of N hypotheses at S severities: `done` (N, S), and there `fit` (N, S, …)."""

    def __init__(self, q: Question, shown: Indexes) -> None:
        shape = (len(shown), *q.effects.shape[1:])
        self._q, self._shown = q, shown
        self.done: Mask = np.zeros(shape[:2], dtype=np.bool_)
        self.fit = Likelihood(np.zeros(shape[:2]), np.zeros(shape), np.zeros(shape[:2]), np.zeros(shape[:2]))

    def compute(self, row: Indexes, node: Indexes) -> None:
        """Those of some rows at some nodes that are not known yet."""
        new = ~self.done[row, node]
        row, node = row[new], node[new]
        number, q = self._shown[row], self._q
        got = likelihood(
            q.scattered, q.effects[number, node], smear=q.model.steps[number] / math.sqrt(12), doubt=q.doubt[number]
        )
        fit = self.fit
        fit.plain[row, node], fit.without[row, node] = got.plain, got.without
        fit.robust[row, node], fit.distance[row, node] = got.robust, got.distance
        self.done[row, node] = True

    def at(self, row: Indexes, node: Indexes) -> Likelihood:
        """Of some rows at some nodes."""
        fit = self.fit
        return Likelihood(fit.plain[row, node], fit.without[row, node], fit.robust[row, node], fit.distance[row, node])

    def interpolate(self, row: Indexes, node: Indexes, allowed: Array) -> Mask:
        """Fill in some nodes between two that are known where that may be off by less than `allowed` nats; which it is.

        By cubics through four nodes, whose error is estimated by the difference of the two parabolas through three.
        """
        last = self.done.shape[1] - 1
        far = np.clip(node[:, None] + np.array([-3, 3]), 0, last)
        reach = (np.abs(far - node[:, None]) == 3) & self.done[row[:, None], far]

        def bends(values: Array, i: Indexes) -> tuple[Array, Array, Array]:
            low, high = values[row[i], node[i] - 1], values[row[i], node[i] + 1]
            there = reach[i].reshape(len(i), 2, *[1] * (low.ndim - 1))
            before = 2 * low - high - values[row[i], far[i, 0]]
            after = 2 * high - low - values[row[i], far[i, 1]]
            before, after = np.where(there[:, 0], before, after), np.where(there[:, 1], after, before)
            return (low + high) / 2, before, after

        _, before, after = bends(self.fit.robust, np.arange(len(row)))
        off = np.where(reach.all(axis=1), np.abs(before - after) / 16, np.abs(before) / 8)
        sure: Mask = (off < allowed) & reach.any(axis=1) & ~self.done[row, node]
        for values in (self.fit.plain, self.fit.without, self.fit.robust, self.fit.distance):
            i = np.flatnonzero(sure)
            middle, before, after = bends(values, i)
            values[row[i], node[i]] = middle + (before + after) / 16
        self.done[row[sure], node[sure]] = True
        return sure


def _first_look(q: Question, exact: _Exact, shown: Indexes, nodes: Indexes, sound: float) -> Array:
    """ln likelihood of some hypotheses at some severities (N, M), exact where it may count.

    At first look each kind of reading is taken by itself, which flatters a hypothesis. So what lies far behind the best
    exact value even at first look is far behind indeed.
    """
    n, m, r = len(shown), len(nodes), q.effects.shape[-1]
    value = approximate_robust(q.scattered, q.effects[shown][:, nodes].reshape(n * m, r), np.repeat(q.doubt[shown], m))
    prior = np.repeat(q.log_odds[shown], m) - math.log(max(m, 1))
    bound, top, done = prior + value, sound, np.zeros(n * m, dtype=np.bool_)
    for many in (FIRST, n * m):
        promising = np.argsort(-bound, kind="stable")[:many]
        promising = promising[(bound[promising] > top - q.search.near) & ~done[promising]]
        row, node = promising // m, nodes[promising % m]
        exact.compute(row, node)
        value[promising] = exact.fit.robust[row, node]
        done[promising] = True
        top = max(top, float((prior[promising] + value[promising]).max(initial=-np.inf)))
    result: Array = value.reshape(n, m)
    return result


def single_rows(q: Question, sound: Likelihood) -> Rows:
    """The rows of the posterior; sound: the likelihood of the sound machine, one row."""
    near = q.search.near
    effects, log_odds, scattered = q.effects, q.log_odds, q.scattered
    h, s, _ = effects.shape
    shown = np.flatnonzero(np.abs(effects).max(axis=(1, 2), initial=0.0) > 1e-9)
    silent = without(h, shown)
    nodes = np.arange(STRIDE - 1, s, STRIDE)
    exact = _Exact(q, shown)
    value = _first_look(q, exact, shown, nodes, float(sound.robust[0]))
    best = value.argmax(axis=1)
    # what a hypothesis that is far behind has in all, at the one severity that fits it best
    whole = np.logaddexp.reduce(value, axis=1) - value.max(axis=1, initial=-np.inf) - math.log(len(nodes))
    behind = log_odds[shown] + whole + value.max(axis=1, initial=-np.inf)
    top = max(behind.max(initial=-np.inf), float(sound.robust[0]))
    fine = np.flatnonzero(behind > top - near)
    far = without(len(shown), fine)
    look = approximate_likelihood(scattered, effects[shown[far], nodes[best[far]]], q.doubt[shown[far]])
    flattered = look.robust - value[far, best[far]]
    look = Likelihood(
        look.plain - flattered, look.without - flattered[:, None], look.robust - flattered, look.distance
    )  # fmt: skip
    # of those that are near, the severities that may count: a node between two is as good as the better of them
    beside = np.repeat(value[fine], STRIDE, axis=1)
    beside[:, STRIDE:] = np.maximum(beside[:, STRIDE:], np.repeat(value[fine, :-1], STRIDE, axis=1))
    counts = log_odds[shown[fine], None] - math.log(s) + beside > top - near - SLACK
    row, fine_n = fine[np.nonzero(counts)[0]], np.nonzero(counts)[1]
    exact.compute(*_needed(fine, counts))
    between = ~exact.done[row, fine_n]
    behind = top - log_odds[shown[fine], None] + math.log(s) - beside
    allowed = np.where(math.isinf(near), 0.0, OFF * np.exp(np.clip(behind[counts] / 2, 0.0, 1.5)))
    exact.interpolate(row[between], fine_n[between], allowed[between])
    exact.compute(row, fine_n)
    more, fine_h = exact.at(row, fine_n), shown[row]
    hypothesis = np.concatenate([shown[far], fine_h, silent])
    node = np.concatenate([nodes[best[far]], fine_n, np.zeros(len(silent), dtype=int)])
    prior = log_odds[hypothesis] + np.concatenate(
        [whole[far], np.full(len(fine_h), -math.log(s)), np.zeros(len(silent))]
    )
    size = len(silent)
    order = np.lexsort((node, hypothesis))

    def joined(quick: Array, exact: Array, of_sound: Array) -> Array:
        result: Array = np.concatenate([quick, exact, np.repeat(of_sound, size, axis=0)])[order]
        return result

    fit = Likelihood(
        joined(look.plain, more.plain, sound.plain),
        joined(look.without, more.without, sound.without),
        joined(look.robust, more.robust, sound.robust),
        joined(look.distance, more.distance, sound.distance),
    )
    return Rows(hypothesis[order], node[order], prior[order], fit)


def _needed(rows: Indexes, counts: Mask) -> tuple[Indexes, Indexes]:
    """Rows and nodes that must be known so that all that count (rows, S) are, or lie between two that are."""
    needed = counts.copy()
    between = slice(2, -1, 2)
    needed[:, 1:-2:2] |= counts[:, between]
    needed[:, 3::2] |= counts[:, between]
    needed[:, between] = False
    row, node = np.nonzero(needed)
    return rows[row], node
