"""Weights of readings taken together: P(group | the others, cause) over P(group | the others, not the cause).

Readings that say the same each add nothing to the others; together they may carry an answer. The likelihood of the
readings outside a group is computed anew for every explanation, without slips of writing and gross mistakes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from oilpath.arrays import Array, Indexes, Mask
from oilpath.flow import JointWeight
from oilpath.flow.ids import STANDARD
from oilpath.ranking.cause_index import CauseIndex
from oilpath.ranking.evidence import censor
from oilpath.ranking.likelihood import SheetScatter, likelihood, scatter
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
    effects, smear, doubt, prior, inside = _explanations(post, causes, chosen)
    every = np.ones(len(q.readings.e), dtype=np.bool_)
    whole = _fit(q, every, effects, smear, doubt, prior, inside)
    values: dict[int, list[JointWeight]] = {number: [] for number in chosen.tolist()}
    for members in groups:
        keep = every.copy()
        keep[list(members)] = False
        rest = _fit(q, keep, effects, smear, doubt, prior, inside)
        results = tuple(q.readings.evidence[member].result for member in members)
        for number, held in zip(chosen.tolist(), inside, strict=True):
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


def _explanations(post: Posterior, causes: CauseIndex, chosen: Indexes) -> tuple[Array, Array, Array, Array, Mask]:
    """Single causes, none, unknown and sets: effects (N, R), smear, doubt and ln prior (N,), and which hold each cause
    chosen (chosen, N)."""
    q, rows = post.question, post.rows
    r, s = len(q.readings.e), len(post.found)
    sums = [sum(q.effects[h, n] for h, n in zip(one.members, one.nodes, strict=True)) for one in post.found]
    together = censor(np.array(sums).reshape(s, r), q.readings.censored)
    effects = np.concatenate([q.effects[rows.hypothesis, rows.node], np.zeros((1, r)), together, np.zeros((1, r))])
    smear = np.concatenate([q.model.steps[rows.hypothesis] / math.sqrt(12), np.zeros(2 + s)])
    of_sets = np.array([q.doubt[list(one.members)].max() for one in post.found])
    doubt = np.concatenate([q.doubt[rows.hypothesis], [1.0], of_sets, [1.0]])
    # of a set what is known is its weight with all readings
    fitted = likelihood(_scatter(q, np.ones(r, dtype=np.bool_)), together, doubt=of_sets).plain if s else np.zeros(0)
    known = np.array([one.plain for one in post.found])
    prior = np.concatenate([rows.prior, [0.0], known - fitted, [post.unknown_prior]])
    owner = np.concatenate([causes.owner[rows.hypothesis], [causes.causes], np.full(s, -1), [causes.causes + 1]])
    members = [set(causes.owner[list(one.members)].tolist()) for one in post.found]
    inside = owner == chosen[:, None]
    for line, number in zip(inside, chosen.tolist(), strict=True):
        line[len(rows.node) + 1 : -1] = [number in held for held in members]
    return effects, smear, doubt, prior, inside


def _fit(q: Question, keep: Mask, effects: Array, smear: Array, doubt: Array, prior: Array, inside: Mask) -> Array:
    """ln prior·likelihood of every explanation by the readings that are kept, shape (N,); -inf where it hardly counts:
    far behind the best, and behind the best that holds a chosen cause. The last one is `unknown`."""
    kept = _scatter(q, keep)
    kept_effects = effects[:, keep]
    first = prior + _first_look(kept, kept_effects, doubt)
    counts = first > first.max() - NEAR
    for held in inside:
        counts |= held & (first > first.max(where=held, initial=-np.inf) - NEAR)
    counts[-1] = False
    values = np.full(len(prior), -np.inf)
    fit = likelihood(kept, kept_effects[counts], smear=smear[counts], doubt=doubt[counts])
    values[counts] = prior[counts] + fit.plain
    wider = np.where(q.readings.out, q.readings.spread**2, 0.0)[keep]
    values[-1] = prior[-1] + likelihood(kept, kept_effects[-1:], wider=wider).plain[0]
    return values


def _first_look(s: SheetScatter, effect: Array, doubt: Array) -> Array:
    """ln density of every row but for a constant, shape (N,), with one precision for all: good to a few nats."""
    share = 1 / (1 + (s.model_error**2 + (doubt[:, None] * s.off) ** 2) * effect**2 / s.variance)
    delta = (s.e - effect) * np.sqrt(share)
    distance = ((delta @ s.precision) * delta).sum(axis=1)
    t = (s.freedom + len(s.e)) / 2 * np.log1p(distance / s.freedom)
    result: Array = s.tempering * (0.5 * np.log(share).sum(axis=1) - t)
    return result


def _scatter(q: Question, keep: Mask) -> SheetScatter:
    p, readings = q.priors, q.readings
    return scatter(
        readings.e[keep], readings.variance[keep], readings.shared[keep], readings.width[keep], p.model_error,
        p.freedom, p.gross, kinds=readings.kinds[keep], off=readings.off[keep], tempering=p.tempering,
    )  # fmt: skip
