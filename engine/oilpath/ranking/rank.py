"""From judged results to ranked causes: shares, severities, weights, groups and sets."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from oilpath.arrays import Array, Indexes
from oilpath.circuit.hypotheses import Hypothesis
from oilpath.circuit.model import Predictions, predictions
from oilpath.flow import CauseSet, Evidence, Group, RankedCause, Ranking, Result, Severity, Suspicions, Weight
from oilpath.formats.knowledge import Knowledge
from oilpath.formats.machine import Machine
from oilpath.ranking.evidence import readings, usable
from oilpath.ranking.groups import complete_linkage, distances
from oilpath.ranking.posterior import NEAR, Posterior, posterior
from oilpath.ranking.priors import is_routine, observed, odds

NONE, UNKNOWN, MACHINE = "none", "unknown", "machine"
DECIBANS = 10 / math.log(10)
TOLD = 0.002
"""share below which a cause's weights are not worked out"""

UNFORESEEN, UNLIKELY = 0.2, 0.02
"""presence from which a cause should have been suspected, and below which a suspicion has come to nothing"""
MOST_REMARKS = 3
FITS = 2.0
"""nats behind a cause's best severity within which a severity still fits"""

Key = tuple[str, str]


def rank(
    results: Sequence[Result],
    suspicions: Suspicions,
    machine: Machine,
    knowledge: Knowledge,
    complaint: str | None = None,
    *,
    near: float = NEAR,
) -> Ranking:
    """Rank all causes of a machine on the results of one sheet, `none` and `unknown` among them.

    near: nats behind the best within which a cause is looked at on the whole severity grid (inf: every cause).
    """
    model = predictions(machine, knowledge)
    evidence = usable(results)
    table, known = model.predict(evidence)
    seen = [x for x, ok in zip(evidence, known, strict=True) if ok]
    data = readings(results, seen, model.circuit, knowledge)
    routine = is_routine(complaint, knowledge.priors)
    prior_odds = odds(model.hypotheses, knowledge.priors, routine=routine)
    findings, by_finding = observed(model.hypotheses, suspicions, results, machine, knowledge)
    prior_odds = np.where(model.silent & (findings <= 0), prior_odds * knowledge.priors.silent, prior_odds)
    none_prior = knowledge.priors.none_routine if routine else knowledge.priors.none_complaint
    # a circuit whose scatter is well known (built-in instruments) says so
    freedom = machine.circuit.values.get("scatter-freedom", knowledge.priors.freedom)
    priors = knowledge.priors.model_copy(update={"freedom": freedom})
    post = posterior(model, data, table[:, :, known], prior_odds, findings, priors, none_prior, near)

    members = _members(model.hypotheses)
    keys: list[Key] = [*members, (NONE, MACHINE), (UNKNOWN, MACHINE)]
    share, present = _shares(post, members)
    weigher = _Weigher(post, seen, by_finding)
    order = sorted(range(len(keys)), key=lambda i: (-share[i], keys[i]))
    causes = []
    for i in order:
        key = keys[i]
        mine = members.get(key, [])
        causes.append(_ranked(key, mine, share[i], present[i], model, post, none_prior, weigher, knowledge))
    place = {key: n for n, key in enumerate(keys[i] for i in order)}
    groups = _groups(post, members, place, share, keys, causes, data.variance, data.shared, knowledge)
    sets = _sets(post, model.hypotheses, place)
    return Ranking(tuple(causes), groups, sets, _remarks(causes, suspicions, members, weigher))


def _members(hypotheses: Sequence[Hypothesis]) -> dict[Key, list[int]]:
    """Causes at parts → their hypotheses (variants)."""
    members: dict[Key, list[int]] = {}
    for number, h in enumerate(hypotheses):
        members.setdefault((h.cause.cause, h.part), []).append(number)
    return members


def _shares(post: Posterior, members: dict[Key, list[int]]) -> tuple[list[float], list[float]]:
    """Share and presence of every cause, then of none and unknown."""
    single, present = post.single.copy(), post.single.copy()
    for inside, chance in post.sets:
        for h in inside:
            single[h] += chance / len(inside)
            present[h] += chance
    alone, with_others = single.tolist(), present.tolist()
    share = [math.fsum(alone[h] for h in m) for m in members.values()]
    there = [min(1.0, math.fsum(with_others[h] for h in m)) for m in members.values()]
    return [*share, post.none, post.unknown], [*there, post.none, post.unknown]


def _ranked(
    key: Key,
    mine: list[int],
    share: float,
    present: float,
    model: Predictions,
    post: Posterior,
    none_prior: float,
    weigher: _Weigher,
    knowledge: Knowledge,
) -> RankedCause:
    if not mine:
        title = (
            "Nothing wrong that these tests show" if key[0] == NONE else "Something the knowledge base does not hold"
        )
        before = none_prior if key[0] == NONE else knowledge.priors.unknown
        own = weigher.of_alternative(unknown=key[0] == UNKNOWN) if share > TOLD else ((), ())
        return RankedCause(*key, None, title, share, present, None, _odds(before), _odds(present), *own)
    best = mine[0] if len(mine) == 1 else max(mine, key=lambda h: (post.single[h], -h))
    h = model.hypotheses[best]
    title = h.cause.title.replace("{part}", model.circuit.title(h.part))
    before = -math.expm1(-math.fsum(math.log1p(post.odds[n]) for n in mine))
    severity = _severity(best, h, post, model) if share > TOLD else None
    weights = weigher.of_cause(mine) if share > TOLD else ((), ())
    title = title[0].upper() + title[1:]
    return RankedCause(*key, h.variant, title, share, present, severity, _odds(before), _odds(present), *weights)


def _odds(probability: float) -> float:
    """Odds in decibans, bounded where a probability is all but 0 or 1."""
    p = min(max(probability, 1e-15), 1 - 1e-15)
    return DECIBANS * math.log(p / (1 - p))


def _severity(number: int, h: Hypothesis, post: Posterior, model: Predictions) -> Severity | None:
    """Median and central 90 % of the disturbed parameter under the readings."""
    if not h.disturbances or h.disturbances[0].start == h.disturbances[0].end:
        return None
    mine = post.rows.hypothesis == number
    joint, nodes = post.rows.joint[mine], post.rows.node[mine]
    if len(joint) < 2:
        return None
    order = np.argsort(nodes)
    chance = np.exp(joint[order] - joint.max())
    total = np.concatenate([[0.0], np.cumsum(chance)]) / chance.sum()
    # a node stands for all severities half way to its neighbours
    edges = np.concatenate([[nodes[order[0]] - 0.5], nodes[order] + 0.5])
    d, grid = h.disturbances[0], model.severities[number]
    at = np.clip(np.interp([0.5, 0.05, 0.95], total, edges), 0, len(grid) - 1)
    middle, low, high = (float(x) for x in np.interp(at, np.arange(len(grid)), grid))
    size = _size(d.part, model) if d.quantity == "flow" else None
    if size is not None:
        middle, low, high = middle * size, low * size, high * size
    quantity = d.quantity if d.quantity != "flow" or size is not None else "ratio"
    return Severity(d.parameter, middle, min(low, high), max(low, high), quantity)


def _size(part: str, model: Predictions) -> float | None:
    """Flow [m³/s] of one main pump at test speed, of which the model's flows are shares; None where it is not known."""
    machine, pumps = model.machine, model.circuit.main_pumps()
    pump = part if part in pumps else next((p for p in pumps if machine.parts.get(p)), "")
    data = machine.parts.get(pump)
    if data is None or data.displacement is None or machine.engine_speed is None:
        return None
    return float(data.displacement * machine.engine_speed.test * (data.speed_ratio or 1.0))


class _Weigher:
    """Weights of evidence: P(reading | the others, cause) over P(reading | the others, not the cause), in decibans."""

    def __init__(self, post: Posterior, evidence: Sequence[Evidence], by_finding: dict[str, Array]) -> None:
        self.post, self.evidence, self.by_finding = post, evidence, by_finding
        rows = post.rows
        self.whole = np.concatenate(
            [rows.prior + rows.fit.plain, post.sound.plain, post.unknown_prior + post.strange.plain]
        )
        self.without = np.concatenate(
            [rows.prior[:, None] + rows.fit.without, post.sound.without, post.unknown_prior + post.strange.without]
        )
        self.row_of = np.concatenate([rows.hypothesis, [-1, -2]])
        top = self.whole.max()
        self.weight = np.exp(self.whole - top)
        self.apart_top = self.without.max(axis=0, initial=-np.inf)
        self.apart = np.exp(self.without - self.apart_top)

    def of_cause(self, mine: list[int]) -> tuple[tuple[Weight, ...], tuple[Weight, ...]]:
        """(for, against) of a cause with these hypotheses."""
        weights = self._readings(np.isin(self.row_of, mine))
        best = max(mine, key=lambda h: self.post.single[h])
        for result, column in self.by_finding.items():
            if column[best]:
                weights.append(Weight(result, DECIBANS * float(column[best])))
        return _split(weights)

    def of_alternative(self, *, unknown: bool) -> tuple[tuple[Weight, ...], tuple[Weight, ...]]:
        """(for, against) of `none` or `unknown`."""
        return _split(self._readings(self.row_of == (-2 if unknown else -1)))

    def _readings(self, inside: np.ndarray) -> list[Weight]:
        def ratio(chosen: np.ndarray) -> Array:
            whole, apart = self.weight[chosen].sum(), self.apart[chosen].sum(axis=0)
            result: Array = np.log(np.maximum(whole, 1e-300)) - np.log(np.maximum(apart, 1e-300))
            return result

        values = DECIBANS * (ratio(inside) - ratio(~inside))
        return [Weight(x.result, float(v)) for x, v in zip(self.evidence, values, strict=True)]


def _split(weights: list[Weight]) -> tuple[tuple[Weight, ...], tuple[Weight, ...]]:
    """Weights of at least half a deciban, strongest first."""
    told = [w for w in weights if abs(w.weight) >= 0.5]
    told.sort(key=lambda w: (-abs(w.weight), w.result))
    return tuple(w for w in told if w.weight > 0), tuple(w for w in told if w.weight < 0)


def _groups(
    post: Posterior,
    members: dict[Key, list[int]],
    place: dict[Key, int],
    share: list[float],
    keys: list[Key],
    causes: list[RankedCause],
    variance: Array,
    shared: Array,
    knowledge: Knowledge,
) -> tuple[Group, ...]:
    """Partition of all causes; none and unknown stand alone. Causes that no reading shows are one group."""
    best = [max(m, key=lambda h: (post.single[h], -h)) for m in members.values()]
    findings = post.findings[best] if best else np.zeros(0)
    silent = (np.abs(post.effects[best]).max(axis=(1, 2), initial=0.0) < 1e-9) & (np.abs(findings) < 1e-9)
    told = np.flatnonzero(~silent)
    effects, owner, at = _fitting(post, [best[i] for i in told])
    apart = distances(effects, owner, at, variance, shared, knowledge.priors.model_error)
    apart = np.sqrt(apart**2 + (findings[told][:, None] - findings[told][None, :]) ** 2)
    clusters = [[int(told[i]) for i in cluster] for cluster in complete_linkage(apart)]
    if silent.any():
        clusters.append([int(i) for i in np.flatnonzero(silent)])
    clusters += [[len(keys) - 2], [len(keys) - 1]]
    groups = []
    for cluster in clusters:
        inside = tuple(sorted(place[keys[i]] for i in cluster))
        quiet = len(cluster) > 1 and cluster[0] < len(best) and bool(silent[cluster[0]])
        groups.append(Group(_group_title(inside, causes, quiet), sum(share[i] for i in cluster), inside))
    return tuple(sorted(groups, key=lambda g: (-g.probability, g.members)))


def _fitting(post: Posterior, chosen: Sequence[int]) -> tuple[Array, Indexes, Indexes]:
    """Effects of some hypotheses at the severities that fit, whose each row is, and which row fits each best."""
    rows, joint = post.rows, post.rows.joint
    effects: list[Array] = []
    owner: list[int] = []
    best: list[int] = []
    start = np.searchsorted(rows.hypothesis, np.arange(len(post.odds) + 1))
    for number, h in enumerate(chosen):
        mine = joint[start[h] : start[h + 1]]
        nodes = rows.node[start[h] : start[h + 1]]
        fit = np.flatnonzero(mine >= mine.max() - FITS)
        best.append(len(owner) + int(np.argmax(mine[fit])))
        owner += [number] * len(fit)
        effects.append(post.effects[h, nodes[fit]])
    shape = np.concatenate(effects) if effects else np.zeros((0, post.effects.shape[2]))
    return shape, np.array(owner, dtype=np.intp), np.array(best, dtype=np.intp)


def _group_title(inside: tuple[int, ...], causes: list[RankedCause], quiet: bool) -> str:
    if quiet:
        return "Causes that no reading of this sheet shows"
    first = causes[inside[0]].title
    if len(inside) == 1:
        return first
    if len(inside) == 2:
        second = causes[inside[1]].title
        return f"{first}, or {second[0].lower()}{second[1:]}"
    return f"{first}, or {len(inside) - 1} others alike on this sheet"


def _sets(post: Posterior, hypotheses: Sequence[Hypothesis], place: dict[Key, int]) -> tuple[CauseSet, ...]:
    """Sets of causes above 0.01, best first; variants of the same causes count together."""
    together: dict[tuple[int, ...], float] = {}
    for inside, chance in post.sets:
        key = tuple(sorted({place[hypotheses[h].cause.cause, hypotheses[h].part] for h in inside}))
        if len(key) > 1:
            together[key] = together.get(key, 0.0) + chance
    told = [CauseSet(key, chance) for key, chance in together.items() if chance > 0.01]
    return tuple(sorted(told, key=lambda s: (-s.probability, s.members)))


def _remarks(
    causes: list[RankedCause], suspicions: Suspicions, members: dict[Key, list[int]], weigher: _Weigher
) -> tuple[str, ...]:
    """Where rules and ranking differ: likely, but not foreseen by a rule; suspected, but unlikely, and why."""
    suspected = {(s.cause, s.part): s for s in suspicions.suspicions if s.likelihood is None or s.likelihood >= 1}
    remarks = []
    for cause in causes:
        if cause.present > UNFORESEEN and "." in cause.cause and (cause.cause, cause.part) not in suspected:
            remarks.append(f"{cause.title}: not foreseen by a rule.")
    leading = {s.rule for key, s in suspected.items() if any(_is(c, key) and c.present > UNFORESEEN for c in causes)}
    for cause in causes:
        told = suspected.get((cause.cause, cause.part))
        if told is None or cause.present >= UNLIKELY or told.rule in leading:
            continue
        against = weigher.of_cause(members[cause.cause, cause.part])[1]
        if against and len(remarks) < MOST_REMARKS:
            remarks.append(f"{cause.title}: suspected by a rule, but {against[0].result} speaks against it.")
    return tuple(remarks)


def _is(cause: RankedCause, key: Key) -> bool:
    return (cause.cause, cause.part) == key
