"""From judged results to ranked causes: shares, severities, weights, groups and sets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from oilpath.arrays import Array, Indexes, Mask
from oilpath.flow import (
    CauseSet,
    ConditionResult,
    Group,
    JointWeight,
    Measured,
    RankedCause,
    Ranking,
    Result,
    Suspicions,
    evidence_in,
)
from oilpath.ranking.cause_index import CauseIndex
from oilpath.ranking.evidence import readings
from oilpath.ranking.extent import extents
from oilpath.ranking.groups import alike
from oilpath.ranking.joint import joint_weights
from oilpath.ranking.pattern import pattern_for
from oilpath.ranking.posterior import Posterior, posterior
from oilpath.ranking.priors import observed, odds
from oilpath.ranking.question import USUAL, Question, Search, question
from oilpath.ranking.remarks import came_to_nothing, remarks
from oilpath.ranking.remedies import tried
from oilpath.ranking.severities import WORKED_OUT, of_cause, severities
from oilpath.ranking.weights import DECIBANS, weights

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.documents.sheet import Remedy

SHOWN = 0.002
"""share below which severity and weights of a cause are not computed"""
JOINTLY = 2
"""causes for which readings are weighed in groups as well: the likeliest, if their share is this or more"""
LEADING = 0.05
SHOWN_SET = 0.01
"""probability from which a set of causes is shown"""


def rank(
    results: Sequence[Result],
    suspicions: Suspicions,
    bench: Bench,
    *,
    routine: bool = True,
    hours: float | None = None,
    remedies: Sequence[Remedy] = (),
    search: Search = USUAL,
) -> Ranking:
    """Rank all causes of a machine on the results of one sheet, `none` and `unknown` among them.

    routine: whether the machine was tested without a complaint; hours: those that it has run, None if not stated.
    remedies: what was tried since.
    """
    # in one order, so that the order in which readings were made tips no tie by the last digit of a sum
    results = sorted(results, key=lambda one: one.id)
    q, by_finding = _asked(results, suspicions, bench, search, remedies, routine=routine, hours=hours)
    post, who = posterior(q), bench.causes
    share, present = _shares(post, who)
    # rounded: causes with the same share are ordered by name, not by the last digit of a floating-point sum
    order = np.lexsort((who.place, -np.round(np.log(np.maximum(share, 1e-300)), 10)))
    there = {who.keys[i]: float(present[i]) for i in order.tolist()}
    idle = came_to_nothing(there, suspicions)
    most_probable = who.most_probable(post.single)
    fitting = severities(post.rows.hypothesis, post.rows.node, post.rows.joint, len(post.single))
    shown = order[share[order] > SHOWN]
    asked = np.array(sorted({*shown.tolist(), *map(who.keys.index, idle)}), dtype=np.intp)
    found = weights(post, who, asked, by_finding, most_probable)
    lead = _leading(share, shown, who.causes)
    joint = joint_weights(post, who, lead)
    speaks = {who.keys[i]: one for i, one in zip(asked.tolist(), found, strict=True)}
    extent = extents((int(most_probable[i]) for i in shown.tolist() if i < who.causes), post, bench.machine)
    before = np.concatenate([-np.expm1(-who.gathered(np.log1p(q.odds))), [q.none_prior, q.priors.unknown]])
    prior, total = _decibans(before).tolist(), _decibans(present).tolist()
    for i in lead.tolist():  # what no reading and no group of them carries, all carry together
        if not joint.get(i) and not speaks[who.keys[i]][0] and len(q.readings.evidence) > 1:
            everything = tuple(one.result for one in q.readings.evidence)
            joint[i] = (JointWeight(everything, total[i] - prior[i]),)
    causes = []
    for i in order.tolist():
        key, best = who.keys[i], int(most_probable[i]) if i < who.causes else None
        detailed = share[i] > SHOWN
        causes.append(
            RankedCause(
                cause=key[0],
                part=key[1],
                variant=None if best is None else q.model.hypotheses[best].variant,
                title=None if best is None else who.titles[best],
                probability=float(share[i]),
                present=there[key],
                severity=extent[best] if detailed and best is not None else None,
                prior=prior[i],
                total=total[i],
                speaks_for=speaks[key][0] if detailed else (),
                together=joint.get(i, ()),
                speaks_against=speaks[key][1] if detailed else (),
                nodes=() if best is None or share[i] < WORKED_OUT else of_cause(fitting, post.single, who.members(i)),
            )
        )
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    groups = _groups(post, who, most_probable, place, causes, something_out=_something_out(results))
    against = {key: speaks[key] for key in idle}
    return Ranking(tuple(causes), groups, _sets(post, who, place), remarks(causes, suspicions, against))


def _asked(
    results: Sequence[Result],
    suspicions: Suspicions,
    bench: Bench,
    search: Search,
    remedies: Sequence[Remedy],
    *,
    routine: bool,
    hours: float | None,
) -> tuple[Question, dict[str, Array]]:
    """What is asked of the posterior, and what each sign, code and check adds to the ln likelihood of hypotheses."""
    model, priors = bench.model, bench.priors
    evidence = evidence_in(results)
    found = pattern_for(evidence, bench)
    seen = [x for x, ok in zip(evidence, found.known.tolist(), strict=True) if ok]
    findings, by_finding = observed(suspicions, results, bench)
    for name, said in tried(remedies, bench).items():
        findings, by_finding[name] = findings + said, said
    before = odds(model.hypotheses, priors, routine=routine, hours=hours, counted=bench.learned.frequency)
    before = np.where(model.silent & (findings <= 0), before * priors.silent, before)
    q = question(
        model,
        readings(results, seen, bench.circuit, bench.knowledge, found.sources),
        found.effects,
        before,
        findings,
        priors,
        priors.none_routine if routine else priors.none_complaint,
        _suspected(suspicions, bench.causes),
        search,
        model.doubt,
        found,
    )
    return q, by_finding


def _suspected(suspicions: Suspicions, who: CauseIndex) -> Mask:
    """Hypotheses whose cause a rule suspects, shape (H,)."""
    named = {(s.cause, s.part) for s in suspicions.suspicions if s.accuses}
    causes = np.array([key in named for key in who.keys[: who.causes]], dtype=np.bool_)
    result: Mask = causes[who.owner]
    return result


def _shares(post: Posterior, who: CauseIndex) -> tuple[Array, Array]:
    """Share and presence of every cause, then of none and unknown, each (C + 2,)."""
    share, present = post.single.copy(), post.single.copy()
    for inside, chance in post.sets:
        share[list(inside)] += chance / len(inside)
        present[list(inside)] += chance
    rest = [post.none, post.unknown]
    there = np.minimum(who.gathered(present), 1.0)
    return np.concatenate([who.gathered(share), rest]), np.concatenate([there, rest])


def _decibans(probability: Array) -> Array:
    """Odds in decibans, bounded where a probability is all but 0 or 1."""
    p = np.clip(probability, 1e-15, 1 - 1e-15)
    result: Array = DECIBANS * np.log(p / (1 - p))
    return result


def _something_out(results: Sequence[Result]) -> bool:
    """Whether a reading is out or asked about, a sign seen or a code active; a condition that was not kept is not."""
    return any(
        one.verdict == "fail" or (isinstance(one, Measured) and bool(one.questions))
        for one in results
        if not isinstance(one, ConditionResult)
    )


def _groups(
    post: Posterior,
    who: CauseIndex,
    most_probable: Indexes,
    place: Indexes,
    causes: Sequence[RankedCause],
    *,
    something_out: bool,
) -> tuple[Group, ...]:
    """Partition of all causes, best first; none and unknown stand alone. Causes that no reading shows are one group,
    which never leads where something is out: then it stands last."""
    clusters, silent = alike(post, most_probable)
    groups = []
    for cluster in [*clusters, silent, [who.causes], [who.causes + 1]]:
        inside = tuple(sorted(place[cluster].tolist()))
        if inside:
            probability = math.fsum(causes[n].probability for n in inside)
            groups.append(Group(probability, inside, silent=cluster is silent and len(inside) > 1))
    return tuple(sorted(groups, key=lambda g: (g.silent and something_out, -g.probability, g.members)))


def _sets(post: Posterior, who: CauseIndex, place: Indexes) -> tuple[CauseSet, ...]:
    """Sets of causes above SHOWN_SET, best first; variants of the same causes count together."""
    together: dict[tuple[int, ...], float] = {}
    for inside, chance in post.sets:
        key = tuple(sorted(set(place[who.owner[list(inside)]].tolist())))
        if len(key) > 1:
            together[key] = together.get(key, 0.0) + chance
    likely = [CauseSet(key, chance) for key, chance in together.items() if chance > SHOWN_SET]
    return tuple(sorted(likely, key=lambda s: (-s.probability, s.members)))


def _leading(share: Array, shown: Indexes, causes: int) -> Indexes:
    """The few likeliest causes, of those that are shown, best first; none and unknown are no causes."""
    found: Indexes = shown[(shown < causes) & (share[shown] >= LEADING)][:JOINTLY]
    return found
