"""The chain of reasons of one answer: the steps of the rules that lead somewhere, and where the figures say otherwise.

A step is kept if it suspects, clears, warns or asks for a test, or if such a step rests on it. Something is cleared
only where the rules' readings clear it and the ranking agrees; where it does not, that is a reason of its own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from oilpath.flow import RankedCause, Ranking, Reason, Step, Suspicions
from oilpath.flow.notes import Named, Note, Value, note
from oilpath.knowledge.rule import NOT_STATED

CLEARED_BELOW: Final = 0.05
"""presence below which a cause that the rules clear counts as cleared; from here on the answer says that they differ"""
POINTED: Final = 0.1
"""presence below which the figures do not follow what the rules point at"""
LEADING: Final = 0.3
"""share from which the figures point at a cause, or at nothing being wrong"""
UPPER: Final = 2
"""stratum from which a rule concludes from other rules"""
_MOST: Final = 3
_UNKNOWN: Final = "unknown"

Place = tuple[str, str]


def reasons_of(suspicions: Suspicions, ranking: Ranking) -> tuple[Reason, ...]:
    """The reasons of one answer. Each comes after those it rests on; where rules and figures differ comes last."""
    present = {(one.cause, one.part): one.present for one in ranking.causes}
    suspected = {(one.cause, one.part) for one in suspicions.suspicions if one.accuses}
    steps = [replace(step, cleared=tuple(one for one in step.cleared if one in suspected)) for step in suspicions.steps]
    differing = tuple(_differing(steps, ranking, present))
    steps = [
        replace(step, cleared=tuple(one for one in step.cleared if present.get(one, 0.0) < CLEARED_BELOW))
        for step in steps
    ]
    kept = sorted(_leading_somewhere(steps))
    places = {place: number for number, place in enumerate(kept)}
    return (*_named([steps[place] for place in kept], places), *differing)


def _leading_somewhere(steps: Sequence[Step]) -> set[int]:
    kept: set[int] = set()
    for place in reversed(range(len(steps))):
        step = steps[place]
        if place in kept or step.suspects or step.cleared or step.asks or step.warns:
            kept |= {place, *step.after}
    return kept


def _named(steps: Sequence[Step], places: Mapping[int, int]) -> list[Reason]:
    """Turn steps into reasons. The id of each is its rule with the words it is about."""
    seen: Counter[str] = Counter()
    found: list[Reason] = []
    for step in steps:
        words = dict.fromkeys(word for _, word in step.says.words if word != NOT_STATED and "/" not in word)
        name = "/".join((step.rule, *words))
        seen[name] += 1
        found.append(
            Reason(
                name if seen[name] == 1 else f"{name}/{seen[name]}", step.says, step.results, step.own, step.suspects,
                step.cleared, step.asks, tuple(places[place] for place in step.after), step.warns,
            )
        )  # fmt: skip
    return found


def _differing(steps: Sequence[Step], ranking: Ranking, present: Mapping[Place, float]) -> list[Reason]:
    """Where the ranking contradicts a conclusion of rules on rules, or what the rules clear.

    What no rule rests on alone is no conclusion yet: it counts from the second stratum where no rule at all suspects
    what leads, from the third always.
    """
    lead = max(ranking.causes, key=lambda one: one.probability, default=None)
    if lead is None or lead.cause == _UNKNOWN or lead.probability < LEADING:
        return []
    found: list[Reason] = []
    foreseen = any((lead.cause, lead.part) in step.suspects for step in steps)
    for step in sorted(steps, key=lambda one: -one.stratum):
        if not step.suspects or step.stratum < (UPPER + 1 if foreseen else UPPER):
            continue
        if max(present.get(one, 0.0) for one in step.suspects) < POINTED:
            because = _because(lead, step)
            says = note("rules-against-figures", rules=_causes(step.suspects), figures=_cause(lead), because=because)
            found.append(Reason("rules-against-figures", says, step.results, (), ((lead.cause, lead.part),)))
            break  # the highest of them says it
    for step in steps:
        for one in step.cleared:
            if present.get(one, 0.0) >= POINTED:
                says = note("cleared-against-figures", cause=_causes((one,)), results=_results(step.own))
                found.append(Reason("cleared-against-figures", says, step.results, (), (one,)))
    return [one for number, one in enumerate(found) if one not in found[:number]]


def _because(lead: RankedCause, step: Step) -> Note:
    """What speaks most for the leading cause. If no single reading does, all readings together."""
    strongest = max(lead.speaks_for, key=lambda one: one.weight, default=None)
    if strongest is not None and strongest.weight > 0:
        return note("speaks-most", result=Named("result", strongest.result))
    return note("all-together", results=_results(step.results))


def _results(results: Sequence[str]) -> tuple[Value, ...]:
    return tuple(Named("result", one) for one in results[:_MOST])


def _causes(places: Sequence[Place]) -> tuple[Value, ...]:
    return tuple(Named("cause", cause, part) for cause, part in places[:_MOST])


def _cause(cause: RankedCause) -> Named:
    return Named("cause", cause.cause, cause.part)


def chain_to(reasons: Sequence[Reason], places: Sequence[Place]) -> tuple[int, ...]:
    """The reasons that suspect or clear one of these causes, with all that they rest on, and what rests on the same.

    Of those that rest on the same only warnings, and tests that would narrow it further.
    """
    wanted = set(places)
    kept = {n for n, one in enumerate(reasons) if wanted & {*one.suspects, *one.cleared}}
    for number in sorted(kept, reverse=True):
        kept |= _below(reasons, number)
    beside = {
        n for n, one in enumerate(reasons)
        if n not in kept and one.after and (one.warns or one.asks) and not one.suspects and kept.issuperset(one.after)
    }  # fmt: skip
    return tuple(sorted(kept | beside))


def chain_from(reasons: Sequence[Reason], result: str) -> tuple[int, ...]:
    """The reasons that a result carries, with all that these rest on."""
    kept: set[int] = set()
    for number, one in enumerate(reasons):
        if result in one.results:
            kept |= _below(reasons, number)
    return tuple(sorted(kept))


def _below(reasons: Sequence[Reason], number: int) -> set[int]:
    found = {number}
    for place in reasons[number].after:
        found |= _below(reasons, place)
    return found
