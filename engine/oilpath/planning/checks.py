"""The checks worth making, best first, and the plan made from them."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from fnmatch import translate
from typing import TYPE_CHECKING

import numpy as np

from oilpath.arrays import Array
from oilpath.flow import (
    CheckResult,
    Group,
    NextCheck,
    Outcome,
    Plan,
    PlanBranch,
    PlanStep,
    RankedCause,
    Ranking,
    Remaining,
    Result,
    SignResult,
)
from oilpath.flow.notes import Amount, Named, Note, note
from oilpath.knowledge.applicability import cautions_on
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.machine.graph import CircuitGraph
from oilpath.outcomes import Table, table
from oilpath.outcomes.places import Places
from oilpath.planning.gauges import gauge_points
from oilpath.planning.plan_tree import Choices, PlanLimits, PlanNode, bits, expected_minutes, grow, units
from oilpath.planning.proofs import proving
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench

#: Causes with a smaller share are not planned for one by one; together they stand as a rest that no check names.
PLANNED = 1e-3
#: A check is offered when it tells something about a cause with at least this share …
RELEVANT = 5e-3
#: … and brings at least so much.
LEAST_BITS = 0.01
MOST_CHECKS = 12
#: Share from which the checks that prove the leading cause are offered, even if they hardly tell anything new.
CONFIRMED = 0.9


@dataclass(frozen=True, slots=True)
class Scene:
    """The causes planned for, their probabilities with that of the rest last, and the checks weighed against them."""

    causes: tuple[RankedCause, ...]
    prior: Array
    table: Table
    choices: Choices
    bench: Bench

    @property
    def graph(self) -> CircuitGraph:
        return self.bench.circuit

    def remaining(self, after: Array, most: int, least: float = 0.0) -> tuple[Remaining, ...]:
        """The most probable causes of a state, best first; ties in the order of the ranking."""
        order = np.argsort(-np.round(after[: len(self.causes)], 12), kind="stable")[:most]
        return tuple(
            Remaining(self.causes[i].cause, self.causes[i].part, float(after[i])) for i in order if after[i] > least
        )


def advise(
    ranking: Ranking,
    results: Sequence[Result],
    bench: Bench,
    *,
    made: Collection[tuple[str, str]] = (),
) -> tuple[Ranking, tuple[NextCheck, ...], Plan]:
    """The ranking with `parted_by` of its groups filled, the next checks, and the plan down to one replaceable part.

    Next checks: most information for its cost first. Left out are checks whose outcome is on the sheet or in `made`
    (check, part), and those whose readings are. Cost is minutes, weighted by intrusiveness and hazards; the plan's
    minutes are plain ones.
    """
    scene = scene_of(ranking, results, bench, made)
    plan = replace(_plan(scene), gauge_points=gauge_points(scene.causes, results, bench))
    return _parted(ranking, scene), _next_checks(scene), plan


def _parted(ranking: Ranking, scene: Scene) -> Ranking:
    if all(len(group.members) < 2 for group in ranking.groups):
        return ranking
    where = {(cause.cause, cause.part, cause.variant): column for column, cause in enumerate(scene.causes)}

    def columns(group: Group) -> list[int]:
        members = [ranking.causes[number] for number in group.members]
        return [where[key] for m in members if (key := (m.cause, m.part, m.variant)) in where]

    inside = {number: held for number, group in enumerate(ranking.groups) if len(held := columns(group)) > 1}
    inside = {number: held for number, held in inside.items() if scene.prior[held].sum() > 0}
    if not inside or not len(scene.choices.cost):
        return ranking
    states = np.zeros((len(scene.prior), len(inside)))
    for state, held in enumerate(inside.values()):
        states[held, state] = scene.prior[held] / scene.prior[held].sum()
    gain = bits(scene.choices, states)
    groups = list(ranking.groups)
    for state, number in enumerate(inside):
        best = int(np.round(gain[:, state] / scene.choices.cost, 12).argmax())
        if gain[best, state] >= LEAST_BITS:
            groups[number] = replace(groups[number], parted_by=scene.table.checks[best][0].check)
    return replace(ranking, groups=tuple(groups))


def cost(check: Check) -> float:
    """Minutes, plus extra for opening lines, for danger, and for waiting (2 min an hour). Figures from memory."""
    return 2 * check.wait + check.minutes * (1 + 0.15 * check.intrusiveness + 0.1 * len(check.hazards))


def scene_of(
    ranking: Ranking,
    results: Sequence[Result],
    bench: Bench,
    made: Collection[tuple[str, str]],
) -> Scene:
    causes = tuple(cause for cause in ranking.causes if cause.probability >= PLANNED)
    shares = np.array([cause.probability for cause in causes])
    rest = max(sum(cause.probability for cause in ranking.causes) - float(shares.sum()), 0.0)
    prior = np.append(shares, rest)
    prior /= prior.sum() or 1.0
    done = frozenset(made) | _done(results, bench.wanted) | _spoilt(results, bench)
    # The rest is asked about as a cause of no kind, so that every check answers as for a sound machine.
    asked = [*((one.cause, one.part) for one in causes), ("", "")]
    found = table(bench, asked, [*(one.nodes for one in causes), ()], done)
    worth = np.flatnonzero((found.affected & (prior >= RELEVANT)).any(axis=1))
    kept = Table(tuple(found.checks[row] for row in worth), found.likelihood[worth], found.affected[worth])
    # At `none` and `unknown` there is no part to replace: a cause there (a wrong setting) counts by itself.
    whole = {one.part for one in ranking.causes if "." not in one.cause}
    numbers: dict[tuple[str, ...], int] = {}
    keys = [(one.part, one.cause) if one.part in whole else (one.part,) for one in causes]
    unit = [numbers.setdefault(key, len(numbers)) for key in keys]
    choices = Choices(
        kept.likelihood,
        np.array([check.minutes for check, _ in kept.checks]),
        np.array([cost(check) for check, _ in kept.checks]),
        np.array([*unit, -1], dtype=np.intp),
    )
    return Scene(causes, prior, kept, choices, bench)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A check at a part, and the results (ids or patterns of ids) that make it unnecessary once all are there."""

    check: str
    part: str
    ids: frozenset[str]
    patterns: tuple[Callable[[str], object], ...]


def wanted_results(places: Places, knowledge: Knowledge) -> tuple[Wanted, ...]:
    """The `Wanted` of every check that readings can replace, at each part where the check can be made."""
    found = []
    for check in knowledge.checks:
        for part in places.of(check) if check.readings else ():
            wanted = [
                places.named(template, part).replace("{function}", function)
                for template in check.readings
                for function in (sorted(places.functions(part)) if "{function}" in template else [""])
            ]
            patterns = tuple(re.compile(translate(want)).match for want in wanted if any(c in want for c in "*?["))
            ids = frozenset(want for want in wanted if not any(c in want for c in "*?["))
            if wanted:
                found.append(Wanted(check.check, part, ids, patterns))
    return tuple(found)


def _done(results: Sequence[Result], wanted: Sequence[Wanted]) -> frozenset[tuple[str, str]]:
    """Checks that are no longer needed: the sheet has their outcome, or valid readings of everything they measure."""
    outcomes = {(one.check, one.part) for one in results if isinstance(one, CheckResult)}
    ids = {one.id for one in results if one.verdict != "invalid"}
    for one in wanted:
        if one.ids <= ids and all(any(map(fits, ids)) for fits in one.patterns):
            outcomes.add((one.check, one.part))
    return frozenset(outcomes)


def _spoilt(results: Sequence[Result], bench: Bench) -> frozenset[tuple[str, str]]:
    """Checks ruled out by what was found. With metal in the oil, for example, no part is swapped for a good one."""
    seen = {one.sign for one in results if isinstance(one, SignResult) and one.seen}
    seen |= {f"{one.check}={one.outcome}" for one in results if isinstance(one, CheckResult)}
    kept_off = [check for check in bench.knowledge.checks if seen.intersection(check.not_after)]
    return frozenset((check.check, part) for check in kept_off for part in bench.places.of(check))


def _next_checks(scene: Scene) -> tuple[NextCheck, ...]:
    gain = bits(scene.choices, scene.prior)
    worth = np.round(gain / scene.choices.cost, 12)
    order = [int(number) for number in np.argsort(-worth, kind="stable")]
    telling = [number for number in order if gain[number] >= LEAST_BITS][:MOST_CHECKS]
    proofs = _confirming(scene)
    kept = [(check.check, part) for check, part in scene.table.checks]
    confirm = [number for number in order if number not in telling and kept[number] in proofs]
    return tuple(_next_check(scene, number, float(gain[number])) for number in (*telling, *confirm))


def _confirming(scene: Scene) -> frozenset[tuple[str, str]]:
    """The checks that prove the leading cause: wanted however sure it is already."""
    lead = max(scene.causes, key=lambda one: one.probability, default=None)
    if lead is None or lead.probability < CONFIRMED:
        return frozenset()
    return frozenset(proving(lead.cause, lead.part, scene.bench))


def _next_check(scene: Scene, number: int, gain: float) -> NextCheck:
    check, part = scene.table.checks[number]
    bench = scene.bench
    outcomes = []
    for one, joint in zip(check.outcomes, scene.choices.likelihood[number] * scene.prior, strict=False):
        total = float(joint.sum())
        outcomes.append(Outcome(one.outcome, one.says, total, scene.remaining(joint / total, 3)))
    return NextCheck(
        check=check.check,
        part=part,
        minutes=check.minutes,
        bits=gain,
        tools=check.tools,
        cautions=tuple(
            bench.knowledge.cautions[name].says for name in cautions_on(check.cautions, bench.knowledge, bench.machine)
        ),
        how=check.how,
        trap=check.trap,
        outcomes=tuple(outcomes),
    )


def _plan(scene: Scene) -> Plan:
    limits = PlanLimits()
    root = grow(scene.choices, scene.prior, limits)
    if root.check is None:
        return Plan(None, None, _why_no_plan(scene, root))
    return Plan(_step(scene, root), expected_minutes(root, scene.choices), _remarks(scene, root, limits))


def _step(scene: Scene, node: PlanNode) -> PlanStep:
    assert node.check is not None
    check, part = scene.table.checks[node.check]
    branches = []
    for one, child in zip(check.outcomes, node.children, strict=False):
        ended = child.check is None
        left = _left(scene, child) if ended else ()
        following = None if ended else _step(scene, child)
        branches.append(PlanBranch(one.outcome, one.says, child.share, left, following))
    return PlanStep(check.check, part, check.minutes, tuple(branches))


def _left(scene: Scene, node: PlanNode) -> tuple[Remaining, ...]:
    """What is left at the end of a branch: the causes at the one part, or the most probable ones that stay together."""
    if node.end != "isolated":
        return scene.remaining(node.causes, 5, 0.05)
    same = scene.choices.unit == units(scene.choices, node.causes).argmax()
    return scene.remaining(np.where(same, node.causes, 0.0), 3, 0.01)


def _why_no_plan(scene: Scene, root: PlanNode) -> tuple[Note, ...]:
    left = _left(scene, root)
    if root.end == "isolated":
        return (note("one-part-already", causes=_named(left)),)
    if left:
        return (note("no-check-tells-apart", causes=_named(left)),)
    return (note("no-check-tells-any-apart"),)


def _remarks(scene: Scene, root: PlanNode, limits: PlanLimits) -> tuple[Note, ...]:
    ends: dict[str, float] = {}
    together: dict[tuple[Named, ...], float] = {}
    waiting = [root]
    while waiting:
        node = waiting.pop(0)
        waiting += node.children
        if node.end:
            ends[node.end] = ends.get(node.end, 0.0) + node.share
        if node.end == "inseparable" and len(left := _left(scene, node)) > 1:
            names = _named(left)
            together[names] = together.get(names, 0.0) + node.share
    said = [note("comes-down-to-one-part", share=_share(ends.get("isolated", 0.0)))]
    ordered = sorted(together.items(), key=lambda pair: (-round(pair[1], 9), [(one.id, one.at) for one in pair[0]]))
    for names, share in ordered[:3]:
        said.append(note("ends-not-told-apart", causes=names, share=_share(share)))
    if (deep := ends.get("deep", 0.0)) >= limits.closed:
        said.append(note("stops-after-checks", checks=limits.depth, share=_share(deep)))
    if (closed := ends.get("closed", 0.0)) >= limits.closed:
        said.append(note("unlikely-not-followed", least=_share(limits.closed), share=_share(closed)))
    return tuple(said)


def _named(left: Sequence[Remaining]) -> tuple[Named, ...]:
    return tuple(Named("cause", one.cause, one.part) for one in left)


def _share(probability: float) -> Amount:
    return Amount(probability, "ratio")
