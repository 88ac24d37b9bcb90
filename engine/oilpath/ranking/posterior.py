"""Posterior over all hypotheses: none, unknown, every single cause on its severity grid, and sets of causes.

Rows with little chance are looked at on a coarse grid only; a cause without any effect on the sheet's readings is as
likely to explain them as `none`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

import numpy as np

from oilpath.arrays import Array
from oilpath.circuit.model import SEVERITIES, Predictions
from oilpath.formats.knowledge import Priors
from oilpath.ranking.evidence import Readings, censor
from oilpath.ranking.likelihood import Likelihood, Scatter, likelihood, scatter
from oilpath.ranking.priors import together

FIRST = 2
"""severity nodes of a cause that are looked at first: those that fit best when scatter in common is left out"""
NEAR = 7.0
"""nats behind the best within which a cause is looked at on the whole grid"""
TOLD = 1.5
"""nats for a cause from which a sign counts as something to explain"""
DOUBT = 2.0
"""nats by which a reading must be likelier than a gross mistake, or sets of causes are tried"""


@dataclass(frozen=True, slots=True)
class Rows:
    """Evaluated rows of single causes: hypothesis, severity node, ln prior weight, likelihood."""

    hypothesis: np.ndarray
    node: np.ndarray
    prior: Array
    fit: Likelihood

    @property
    def joint(self) -> Array:
        """ln prior + ln likelihood of every row."""
        result: Array = self.prior + self.fit.robust
        return result


@dataclass(frozen=True, slots=True)
class Posterior:
    """Probabilities that add to one: `none`, `unknown`, `single` (H,), `sets` ((hypotheses, probability), …)."""

    none: float
    unknown: float
    single: Array
    sets: tuple[tuple[tuple[int, ...], float], ...]
    rows: Rows
    sound: Likelihood
    strange: Likelihood
    unknown_prior: float
    effects: Array
    """(H, S, R) predicted effects, veers censored"""
    findings: Array
    odds: Array


def posterior(
    model: Predictions,
    readings: Readings,
    table: Array,
    odds: Array,
    findings: Array,
    priors: Priors,
    none_prior: float,
    near: float = NEAR,
) -> Posterior:
    """The posterior of one sheet.

    table (H, S, R) are the predicted effects on the sheet's readings, odds (H,) the prior odds, findings (H,) what
    signs, codes and checks add to the ln likelihood.
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
    further = math.log(together(odds, priors))
    sets = _sets(model, readings, effects, odds, findings, rows, sound, per_hypothesis, scattered, further)
    everything = np.concatenate(
        [[sound.robust[0], unknown_prior + strange.robust[0]], per_hypothesis, [value for _, value in sets]]
    )
    total = np.logaddexp.reduce(everything)
    shares = np.exp(everything - total)
    h = len(odds)
    return Posterior(
        none=float(shares[0]),
        unknown=float(shares[1]),
        single=shares[2 : 2 + h],
        sets=tuple((members, float(share)) for (members, _), share in zip(sets, shares[2 + h :], strict=True)),
        rows=rows,
        sound=sound,
        strange=strange,
        unknown_prior=unknown_prior,
        effects=effects,
        findings=findings,
        odds=odds,
    )


def _single_rows(
    effects: Array, odds: Array, findings: Array, scattered: Scatter, sound: Likelihood, smear: Array, near: float
) -> Rows:
    h, s, _ = effects.shape
    log_odds = np.log(odds) + findings
    shown = np.abs(effects).max(axis=(1, 2), initial=0.0) > 1e-9
    coarse_h = np.repeat(np.flatnonzero(shown), FIRST)
    coarse_n = _first_nodes(effects[shown], scattered).ravel()
    coarse = likelihood(scattered, effects[coarse_h, coarse_n], smear=2 * smear[coarse_h])
    value = log_odds[coarse_h] + coarse.robust
    best = np.full(h, -np.inf)
    np.maximum.at(best, coarse_h, value)
    top = max(best.max(initial=-np.inf), float(sound.robust[0]))
    fine = shown & (best > top - near)
    kept = ~fine[coarse_h]
    coarse_h, coarse_n = coarse_h[kept], coarse_n[kept]
    fine_h, fine_n = (a.ravel() for a in np.meshgrid(np.flatnonzero(fine), np.arange(s), indexing="ij"))
    more = likelihood(scattered, effects[fine_h, fine_n], smear=smear[fine_h])
    silent = np.flatnonzero(~shown)
    hypothesis = np.concatenate([coarse_h, fine_h, silent])
    node = np.concatenate([coarse_n, fine_n, np.zeros(len(silent), dtype=int)])
    prior = log_odds[hypothesis] - math.log(s) * shown[hypothesis]
    size = len(silent)
    joined = Likelihood(
        np.concatenate([coarse.plain[kept], more.plain, np.repeat(sound.plain, size)]),
        np.concatenate([coarse.without[kept], more.without, np.repeat(sound.without, size, axis=0)]),
        np.concatenate([coarse.robust[kept], more.robust, np.repeat(sound.robust, size)]),
        np.concatenate([coarse.distance[kept], more.distance, np.repeat(sound.distance, size)]),
    )
    order = np.lexsort((node, hypothesis))
    return Rows(
        hypothesis[order],
        node[order],
        prior[order],
        Likelihood(joined.plain[order], joined.without[order], joined.robust[order], joined.distance[order]),
    )


def _first_nodes(effects: Array, scattered: Scatter) -> np.ndarray:
    """The severity nodes (H, FIRST) that fit best, readings taken alone, one gross one allowed; ascending."""
    variance = scattered.variance + (scattered.shared**2).sum(axis=1) + (scattered.model_error * effects) ** 2
    squares = (scattered.e - effects) ** 2 / variance
    gross = squares.max(axis=-1, initial=0.0)
    r, freedom = effects.shape[-1], scattered.freedom
    apart = (np.sqrt(variance) / scattered.width).min(axis=-1, initial=1.0) * scattered.gross
    whole = (freedom + r) * np.log1p(squares.sum(axis=-1) / freedom)
    less = (freedom + r - 1) * np.log1p((squares.sum(axis=-1) - gross) / freedom) - 2 * np.log(apart)
    fit = np.minimum(whole, less) + np.log(variance).sum(axis=-1)
    return np.sort(np.argsort(fit, axis=1, kind="stable")[:, :FIRST], axis=1)


def _sets(
    model: Predictions,
    readings: Readings,
    effects: Array,
    odds: Array,
    findings: Array,
    rows: Rows,
    sound: Likelihood,
    per_hypothesis: Array,
    scattered: Scatter,
    further: float,
    most: int = 3,
) -> list[tuple[tuple[int, ...], float]]:
    """Sets of two to four causes by beam search, tried only where no single cause explains the sheet.

    Each round adds to the best sets so far the causes that best explain what they leave over.
    """
    r = len(readings.e)
    if r == 0:
        return []
    if not _leaves_something(rows, sound, scattered, readings, effects, findings):
        return []
    log_odds = np.log(odds) + findings
    node_of = {int(h): int(n) for h, n in zip(*_best_nodes(rows), strict=True)}
    beam: list[tuple[float, tuple[int, ...], tuple[int, ...]]] = []
    for h in np.argsort(-per_hypothesis, kind="stable")[:4]:
        beam.append((float(per_hypothesis[h]), (int(h),), (node_of.get(int(h), 0),)))
    found: dict[tuple[int, ...], float] = {}
    for _ in range(most):
        tried: list[tuple[tuple[int, ...], Array]] = []
        for _, members, nodes in beam:
            already = sum(effects[h, n] for h, n in zip(members, nodes, strict=True))
            for other, node in _explain(readings.e - already, effects, readings, log_odds, findings, members):
                around = [sorted({max(0, n - 2), n, min(SEVERITIES - 1, n + 2)}) for n in (*nodes, node)]
                if len(around) > 2:
                    around[:-2] = [[n] for n in nodes[:-1]]
                tried.append(((*members, other), np.array(list(product(*around)))))
        if not tried:
            break
        predicted = censor(model.combined(tried, readings.evidence), readings.censored)
        value = likelihood(scattered, predicted).robust
        step: list[tuple[float, tuple[int, ...], tuple[int, ...]]] = []
        at = 0
        for members, nodes_tried in tried:
            mine = value[at : at + len(nodes_tried)]
            at += len(nodes_tried)
            key = tuple(sorted(members))
            prior = float(sum(log_odds[h] for h in members)) + (len(members) - 1) * further
            prior -= len(members) * math.log(SEVERITIES / 2)
            weight = prior + float(np.logaddexp.reduce(mine))
            if key not in found or weight > found[key]:
                found[key] = weight
                step.append((weight, members, tuple(int(n) for n in nodes_tried[int(np.argmax(mine))])))
        step.sort(key=lambda s: (-s[0], s[1]))
        if not step or (beam and step[0][0] < beam[0][0]):
            break
        beam = step[:3]
    return sorted(found.items())


def _leaves_something(
    rows: Rows, sound: Likelihood, scattered: Scatter, readings: Readings, effects: Array, findings: Array
) -> bool:
    """Whether the best single explanation leaves a reading or a finding over.

    A failing reading of which it explains less than half, one that it takes for a gross mistake or nearly so, or a sign
    that speaks for another cause.
    """
    best = int(np.argmax(rows.joint)) if len(rows.joint) else -1
    single = best >= 0 and rows.joint[best] > sound.robust[0]
    fit, row = (rows.fit, best) if single else (sound, 0)
    h = int(rows.hypothesis[best]) if single else -1
    effect = effects[h, rows.node[best]] if single else np.zeros(len(readings.e))
    unlikely = fit.plain[row] - fit.without[row] < np.log(scattered.gross / scattered.width) + DOUBT
    unexplained = readings.out & (readings.e * effect < 0.5 * readings.e**2)
    others = findings > max(TOLD, float(findings[h]) if single else 0.0)
    left = unexplained.sum() > (0 if single else 1)  # one reading alone is left to chance
    return bool(unlikely.any() or left or (single and others.any()))


def _best_nodes(rows: Rows) -> tuple[np.ndarray, np.ndarray]:
    """Hypotheses and the severity node at which each fits best."""
    order = np.lexsort((-rows.joint, rows.hypothesis))
    first = np.unique(rows.hypothesis[order], return_index=True)[1]
    return rows.hypothesis[order][first], rows.node[order][first]


def _explain(
    left: Array,
    effects: Array,
    readings: Readings,
    log_odds: Array,
    findings: Array,
    members: tuple[int, ...],
    width: int = 10,
) -> list[tuple[int, int]]:
    """Causes (and severity nodes) that best explain what a set leaves over, by weighted squares and prior."""
    weight = 1 / (readings.variance + (readings.shared**2).sum(axis=1))
    gain = (weight * (2 * left * effects - effects**2)).sum(axis=-1) / (1 + 0.05 * len(left))
    node = gain.argmax(axis=1)
    score = gain[np.arange(len(gain)), node] / 2 + log_odds
    score[list(members)] = -np.inf
    order = np.argsort(-score, kind="stable")[:width]
    return [(int(h), int(node[h])) for h in order if gain[h, node[h]] > 0 or findings[h] > TOLD]
