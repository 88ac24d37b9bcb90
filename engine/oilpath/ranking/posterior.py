"""Posterior over all hypotheses: none, unknown, every single cause on its severity grid, and sets of causes.

Hypotheses that look improbable at a first, approximate look are not computed exactly. A cause without any effect on
the sheet's readings explains them as well as `none` does.
"""

from __future__ import annotations

import math

import numpy as np

from oilpath.arrays import Array, without
from oilpath.ranking.likelihood import Likelihood, approximate_likelihood, approximate_robust, likelihood
from oilpath.ranking.question import Question
from oilpath.ranking.rows import Rows
from oilpath.ranking.sets import Alone, Found, sets_of
from oilpath.records import dataclass

STRIDE = 2
"""every n-th severity node is looked at first"""
FIRST = 32
"""rows that are looked at exactly to begin with, the most promising"""
SLACK = 3.0
"""nats further behind up to which a severity of such a cause is looked at again; at least ln of the severities"""


@dataclass(frozen=True, slots=True)
class Posterior:
    """Probabilities that add to one: `none`, `unknown`, `single` (H,), `sets` ((hypotheses, probability), …)."""

    question: Question
    none: float
    unknown: float
    single: Array
    sets: tuple[tuple[tuple[int, ...], float], ...]
    found: tuple[Found, ...]
    """the sets in full, in the same order"""
    rows: Rows
    sound: Likelihood
    unknown_fit: Likelihood
    unknown_prior: float


def posterior(q: Question) -> Posterior:
    """The posterior of one sheet."""
    nothing = np.zeros((1, len(q.readings.e)))
    sound = likelihood(q.scattered, nothing)
    unknown_fit = likelihood(q.scattered, nothing, wider=np.where(q.readings.out, q.readings.spread**2, 0.0))
    unknown_prior = _unknown_prior(q)
    rows = _single_rows(q, sound)
    value = np.full(len(q.odds), -np.inf)
    np.logaddexp.at(value, rows.hypothesis, rows.joint)
    sets = sets_of(q, Alone(rows, sound, value))
    everything = np.concatenate(
        [[sound.robust[0], unknown_prior + unknown_fit.robust[0]], value, [one.weight for one in sets]]
    )
    shares = np.exp(everything - np.logaddexp.reduce(everything))
    h = len(q.odds)
    return Posterior(
        question=q,
        none=float(shares[0]),
        unknown=float(shares[1]),
        single=shares[2 : 2 + h],
        sets=tuple((one.members, float(share)) for one, share in zip(sets, shares[2 + h :], strict=True)),
        found=tuple(sets),
        rows=rows,
        sound=sound,
        unknown_fit=unknown_fit,
        unknown_prior=unknown_prior,
    )


def _unknown_prior(q: Question) -> float:
    """ln odds of an unknown thing that strikes just the readings that are out.

    It does not say beforehand which readings it strikes, nor how many: k of them with probability 1/k(k + 1), one in
    half of the cases. Without this it would explain several faults at once better than the faults themselves.
    """
    struck = max(1, int(q.readings.out.sum()))
    subsets = math.comb(max(len(q.readings.e), struck), struck) * struck * (struck + 1)
    return math.log(q.priors.unknown / (1 - q.priors.unknown) / q.none_prior / subsets)


def _first_look(q: Question, ahead: Array, before: Array, sound: float) -> Array:
    """ln likelihood of some severities (N, M, R) of hypotheses, exact where it may count; before (N,) ln priors.

    At first look each kind of reading is taken by itself, which flatters a hypothesis. So what lies far behind the best
    exact value even at first look is far behind indeed.
    """
    n, m, r = ahead.shape
    rows = ahead.reshape(n * m, r)
    value = approximate_robust(q.scattered, rows)
    prior = np.repeat(before, m) - math.log(max(m, 1))
    bound, top, done = prior + value, sound, np.zeros(n * m, dtype=np.bool_)
    for many in (FIRST, n * m):
        promising = np.argsort(-bound, kind="stable")[:many]
        promising = promising[(bound[promising] > top - q.search.near) & ~done[promising]]
        value[promising] = likelihood(q.scattered, rows[promising]).robust
        done[promising] = True
        top = max(top, float((prior[promising] + value[promising]).max(initial=-np.inf)))
    result: Array = value.reshape(n, m)
    return result


def _single_rows(q: Question, sound: Likelihood) -> Rows:
    near = q.search.near
    effects, log_odds, scattered = q.effects, q.log_odds, q.scattered
    h, s, _ = effects.shape
    shown = np.flatnonzero(np.abs(effects).max(axis=(1, 2), initial=0.0) > 1e-9)
    silent = without(h, shown)
    nodes = np.arange(STRIDE - 1, s, STRIDE)
    ahead = effects[shown][:, nodes]
    value = _first_look(q, ahead, log_odds[shown], float(sound.robust[0]))
    best = value.argmax(axis=1)
    # what a hypothesis that is far behind has in all, at the one severity that fits it best
    whole = np.logaddexp.reduce(value, axis=1) - value.max(axis=1, initial=-np.inf) - math.log(len(nodes))
    behind = log_odds[shown] + whole + value.max(axis=1, initial=-np.inf)
    top = max(behind.max(initial=-np.inf), float(sound.robust[0]))
    fine = behind > top - near
    far = np.flatnonzero(~fine)
    look = approximate_likelihood(scattered, ahead[far, best[far]])
    flattered = look.robust - value[far, best[far]]
    look = Likelihood(
        look.plain - flattered, look.without - flattered[:, None], look.robust - flattered, look.distance
    )  # fmt: skip
    # of those that are near, the severities that may count: a node between two is as good as the better of them
    beside = np.repeat(value[fine], STRIDE, axis=1)
    beside[:, STRIDE:] = np.maximum(beside[:, STRIDE:], np.repeat(value[fine, :-1], STRIDE, axis=1))
    counts = log_odds[shown[fine], None] - math.log(s) + beside > top - near - SLACK
    fine_h, fine_n = shown[fine][np.nonzero(counts)[0]], np.nonzero(counts)[1]
    more = likelihood(scattered, effects[fine_h, fine_n], smear=q.model.steps[fine_h] / math.sqrt(12))
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
