"""Posterior over all hypotheses: none, unknown, every single cause on its severity grid, and sets of causes.

What has little chance at first look gets no second one; a cause without any effect on the sheet's readings is as
likely to explain them as `none`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oilpath.arrays import Array, Mask
from oilpath.circuit.model import Predictions
from oilpath.formats.knowledge import Priors
from oilpath.ranking.evidence import Readings, censor
from oilpath.ranking.likelihood import Likelihood, Scatter, first_look, glance, likelihood, scatter
from oilpath.ranking.priors import together
from oilpath.ranking.rows import Rows
from oilpath.ranking.sets import Alone, Found, sets_of

STRIDE = 2
"""every so-manieth severity node is looked at first"""
SLACK = 3.0
"""nats further behind up to which a severity of such a cause is looked at again; at least ln of the severities"""
NEAR = 7.0
"""nats behind the best, at first look, within which a cause is looked at again on the whole grid"""


@dataclass(frozen=True, slots=True)
class Posterior:
    """Probabilities that add to one: `none`, `unknown`, `single` (H,), `sets` ((hypotheses, probability), …)."""

    none: float
    unknown: float
    single: Array
    sets: tuple[tuple[tuple[int, ...], float], ...]
    found: tuple[Found, ...]
    """the sets in full, in the same order"""
    rows: Rows
    sound: Likelihood
    strange: Likelihood
    unknown_prior: float
    effects: Array
    """(H, S, R) predicted effects, veers censored"""
    findings: Array
    odds: Array
    scattered: Scatter
    censored: Array


def posterior(
    model: Predictions,
    readings: Readings,
    table: Array,
    odds: Array,
    findings: Array,
    priors: Priors,
    none_prior: float,
    near: float = NEAR,
    suspected: Mask | None = None,
) -> Posterior:
    """The posterior of one sheet.

    table (H, S, R) are the predicted effects on the sheet's readings, odds (H,) the prior odds, findings (H,) what
    signs, codes and checks add to the ln likelihood, suspected (H,) the candidates for sets, all where left out.
    """
    effects = censor(table, readings.censored)

    r = len(readings.e)
    scattered = scatter(
        readings.e, readings.variance, readings.shared, readings.width, priors.model_error, priors.freedom, priors.gross
    )  # fmt: skip
    nothing = np.zeros((1, r))
    sound = likelihood(scattered, nothing)
    strange = likelihood(scattered, nothing, wider=np.where(readings.out, readings.spread**2, 0.0))
    # Which readings an unknown thing strikes was not foretold, nor how many: k of them with 1/k(k + 1), one in half of
    # the cases. Without that it would explain several faults at once better than they do.
    struck = max(1, int(readings.out.sum()))
    subsets = math.comb(max(r, struck), struck) * struck * (struck + 1)
    unknown_prior = math.log(priors.unknown / (1 - priors.unknown) / none_prior / subsets)
    smear = model.steps / math.sqrt(12)
    rows = _single_rows(effects, odds, findings, scattered, sound, smear, near)
    joint = rows.joint
    per_hypothesis = np.full(len(odds), -np.inf)
    np.logaddexp.at(per_hypothesis, rows.hypothesis, joint)
    sets = sets_of(
        model,
        readings,
        scattered,
        Alone(effects, np.log(odds) + findings, findings, rows, sound, per_hypothesis),
        math.log(together(odds, priors)),
        np.ones(len(odds), dtype=np.bool_) if suspected is None else suspected,
        near,
    )
    everything = np.concatenate(
        [[sound.robust[0], unknown_prior + strange.robust[0]], per_hypothesis, [one.weight for one in sets]]
    )
    total = np.logaddexp.reduce(everything)
    shares = np.exp(everything - total)
    h = len(odds)
    return Posterior(
        none=float(shares[0]),
        unknown=float(shares[1]),
        single=shares[2 : 2 + h],
        sets=tuple((one.members, float(share)) for one, share in zip(sets, shares[2 + h :], strict=True)),
        found=tuple(sets),
        rows=rows,
        sound=sound,
        strange=strange,
        unknown_prior=unknown_prior,
        effects=effects,
        findings=findings,
        odds=odds,
        scattered=scattered,
        censored=readings.censored,
    )


def _single_rows(
    effects: Array, odds: Array, findings: Array, scattered: Scatter, sound: Likelihood, smear: Array, near: float
) -> Rows:
    h, s, r = effects.shape
    log_odds = np.log(odds) + findings
    shown = np.flatnonzero(np.abs(effects).max(axis=(1, 2), initial=0.0) > 1e-9)
    silent = np.setdiff1d(np.arange(h), shown)
    nodes = np.arange(STRIDE - 1, s, STRIDE)
    ahead = effects[shown][:, nodes]
    value = glance(scattered, ahead.reshape(len(shown) * len(nodes), r)).reshape(ahead.shape[:2])
    best = value.argmax(axis=1)
    # what a hypothesis that is far behind has in all, at the one severity that fits it best
    whole = np.logaddexp.reduce(value, axis=1) - value.max(axis=1, initial=-np.inf) - math.log(len(nodes))
    behind = log_odds[shown] + whole + value.max(axis=1, initial=-np.inf)
    top = max(behind.max(initial=-np.inf), float(sound.robust[0]))
    fine = behind > top - near
    far = np.flatnonzero(~fine)
    look = first_look(scattered, ahead[far, best[far]])
    # of those that are near, the severities that may count: a node between two is as good as the better of them
    beside = np.repeat(value[fine], STRIDE, axis=1)
    beside[:, STRIDE:] = np.maximum(beside[:, STRIDE:], np.repeat(value[fine, :-1], STRIDE, axis=1))
    counts = log_odds[shown[fine], None] - math.log(s) + beside > top - near - SLACK
    fine_h, fine_n = shown[fine][np.nonzero(counts)[0]], np.nonzero(counts)[1]
    more = likelihood(scattered, effects[fine_h, fine_n], smear=smear[fine_h])
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
