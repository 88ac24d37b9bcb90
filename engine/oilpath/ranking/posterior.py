"""Posterior over all hypotheses: none, unknown, every single cause on its severity grid, and sets of causes.

Hypotheses that look improbable at a first, approximate look are not computed exactly. A cause without any effect on
the sheet's readings explains them as well as `none` does.
"""

from __future__ import annotations

import math

import numpy as np

from oilpath.arrays import Array
from oilpath.ranking.likelihood import Likelihood, likelihood
from oilpath.ranking.question import Question
from oilpath.ranking.rows import Rows
from oilpath.ranking.sets import Alone, Found, sets_of
from oilpath.ranking.singles import single_rows
from oilpath.records import dataclass


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
    rows = single_rows(q, sound)
    value = np.full(len(q.odds), -np.inf)
    np.logaddexp.at(value, rows.hypothesis, rows.joint)
    sets = sets_of(q, Alone(rows, sound, value))
    everything = np.concatenate(
        [
            [q.none_by_chance + sound.robust[0], unknown_prior + unknown_fit.robust[0]],
            value,
            [one.weight for one in sets],
        ]
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
