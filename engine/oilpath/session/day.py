"""The plan for a day of testing one machine: which tests, in which order, with what, where and under which conditions.

A test is made that the machine has a limit for, or that belongs to every day of testing; whatever else the machine
could be tested for is named apart. The order is that of the knowledge base: stretches of the day, and within each the
tests in their order, but for tests that want the same attachment, which are made together. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from oilpath.documents.have import HaveDraft
from oilpath.documents.machine import Limit, Machine
from oilpath.judging.conditions import Demands, Window, demands, speed_window
from oilpath.knowledge.applicability import can_be_put_to, cautions_on
from oilpath.knowledge.base import Knowledge, Replaced
from oilpath.knowledge.testkind import TestKind
from oilpath.knowledge.touched import replaced_in_day
from oilpath.records import dataclass
from oilpath.session.fits import AtHand, Lack, lacking_for_test

JudgedBy = Literal["limit", "baseline", "estimate", "twin", "nothing"]

_CHANGED = "attachment"  # what takes time to change, so tests that want it alike are made together


@dataclass(frozen=True, slots=True)
class DayTest:
    """One test of the day. Demands and limits are SI, cautions ids; judged_by says what its readings are compared with.

    own_conditions: the machine file demands other conditions than common practice does. variant: made otherwise on
    purpose, and only where the complaint asks for it.
    """

    test: str
    minutes: float
    tools: tuple[str, ...]
    how: tuple[str, ...]
    cautions: tuple[str, ...]
    demands: Demands
    limits: tuple[Limit, ...]
    judged_by: JudgedBy
    own_conditions: bool
    variant: str | None = None


@dataclass(frozen=True, slots=True)
class DayPhase:
    """One part of the day: preparation, which takes `minutes`, then its tests."""

    phase: str
    title: str
    minutes: float
    how: tuple[str, ...]
    cautions: tuple[str, ...]
    tests: tuple[DayTest, ...]


@dataclass(frozen=True, slots=True)
class ClearSpace:
    """Clear ground needed ahead of the machine and behind it [m]. It includes the machine's `length` if known."""

    test: str
    ahead: float
    better: float | None
    length: float | None
    instead: str | None


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The whole day. Windows in SI; words are the conditions that most tests demand; minutes leave out the optional."""

    machine: str
    tools: tuple[str, ...]
    ground: tuple[str, ...]
    space: ClearSpace | None
    oil_temperature: Window | None
    engine_speed: float | None
    speed_window: tuple[float, float] | None
    words: Mapping[str, str]
    phases: tuple[DayPhase, ...]
    left_out: tuple[DayTest, ...]
    minutes: float
    always: tuple[str, ...]
    impossible: tuple[tuple[str, tuple[Lack, ...]], ...] = ()
    """tests that cannot be made with what is there, with what is missing for them"""
    replaced: tuple[Replaced, ...] = ()
    """entries of a workshop's own layers on which the plan rests, where they replace what ships"""

    @property
    def tests(self) -> tuple[DayTest, ...]:
        """The tests of the day in their order, what is optional included."""
        return tuple(test for phase in self.phases for test in phase.tests)


def prepare(machine: Machine, knowledge: Knowledge, have: HaveDraft | None = None) -> DayPlan:
    """Plan the day of testing for a machine.

    Parameters
    ----------
    machine : Machine, with its limits and what its tests demand otherwise
    knowledge : Knowledge, test kinds and the day
    have : HaveDraft, optional, what is there: tests that need more are named apart

    Returns
    -------
    DayPlan : tests in the order in which to make them
    """
    wanted, left_out = _chosen(machine, knowledge)
    missing = _missing(wanted, machine, knowledge, have)
    wanted = [test for test in wanted if test.test not in missing]
    phases = _phases(wanted, machine, knowledge)
    made = [test for phase in phases for test in phase.tests if test.variant is None]
    speed, window = speed_window(machine)
    needed = any(test.demands.engine_speed for test in made)
    ground = [text for test in made for text in knowledge.tests[test.test].ground]
    return DayPlan(
        machine=machine.name,
        tools=tuple(dict.fromkeys(tool for test in made for tool in test.tools)),
        ground=tuple(dict.fromkeys(ground)),
        space=_space(made, machine, knowledge),
        oil_temperature=_meeting(test.demands.oil_temperature for test in made),
        engine_speed=speed if needed else None,
        speed_window=window if needed else None,
        words=_common(made),
        phases=phases,
        left_out=left_out,
        minutes=sum(phase.minutes for phase in phases) + sum(test.minutes for test in made),
        always=cautions_on(knowledge.always, knowledge, machine),
        impossible=tuple(missing.items()),
        replaced=replaced_in_day(knowledge, machine, (test.test for test in made)),
    )


# --- which tests ------------------------------------------------------------------------


def _chosen(machine: Machine, knowledge: Knowledge) -> tuple[list[DayTest], tuple[DayTest, ...]]:
    """The tests of the day, and other tests that the machine allows; both in the order of the day."""
    place = {phase.phase: number for number, phase in enumerate(knowledge.day.phases)}
    kinds = sorted(
        knowledge.tests.items(), key=lambda item: (place.get(item[1].phase, len(place)), item[1].order, item[0])
    )
    limited = {limit.test for limit in machine.limits}
    chosen: list[DayTest] = []
    other: list[DayTest] = []
    for name, kind in kinds:
        if kind.derived or kind.minutes == 0 or not (name in limited or can_be_put_to(name, kind, machine)):
            continue
        (chosen if name in limited or kind.routine else other).append(_test(name, kind, machine, knowledge))
    return chosen, tuple(other)


def _test(name: str, kind: TestKind, machine: Machine, knowledge: Knowledge) -> DayTest:
    limits = tuple(limit for limit in machine.limits if limit.test == name)
    return DayTest(
        name, kind.minutes, kind.tools, kind.how, cautions_on(kind.cautions, knowledge, machine),
        demands(name, kind, machine, needs=knowledge.asked_of), limits,
        _judged_by(kind, limits, machine), any(demand.test == name for demand in machine.conditions),
    )  # fmt: skip


def _judged_by(kind: TestKind, limits: tuple[Limit, ...], machine: Machine) -> JudgedBy:
    if limits:
        return "limit"
    if kind.value is None:
        return "nothing"
    if machine.baseline:
        return "baseline"
    if kind.estimate is not None and machine.parts:
        return "estimate"
    return "twin" if kind.twin is not None else "nothing"


def _missing(
    wanted: list[DayTest], machine: Machine, knowledge: Knowledge, have: HaveDraft | None
) -> dict[str, tuple[Lack, ...]]:
    """What is missing for tests that cannot be made with what is there, by test."""
    if have is None:
        return {}
    hand = AtHand(have, None, knowledge.day.everyday)
    lacks = {test.test: lacking_for_test(knowledge.tests[test.test], test.minutes, hand, machine) for test in wanted}
    return {name: found for name, found in lacks.items() if found}


# --- in which order ---------------------------------------------------------------------


def _phases(wanted: list[DayTest], machine: Machine, knowledge: Knowledge) -> tuple[DayPhase, ...]:
    phases: list[DayPhase] = []
    names = {test.test for test in wanted}
    for phase in knowledge.day.phases:
        tests = _together([test for test in wanted if knowledge.tests[test.test].phase == phase.phase])
        if phase.variant is not None:
            tests = [
                *tests,
                *(_variant(name, phase.variant, machine, knowledge) for name in phase.tests if name in names),
            ]
        if tests or phase.always:
            said = cautions_on(phase.cautions, knowledge, machine)
            phases.append(DayPhase(phase.phase, phase.title, phase.minutes, phase.how, said, tuple(tests)))
    known = {phase.phase for phase in knowledge.day.phases}
    rest = tuple(test for test in wanted if knowledge.tests[test.test].phase not in known)
    return (*phases, DayPhase("tests", "Tests", 0.0, (), (), rest)) if rest else tuple(phases)


def _variant(name: str, variant: str, machine: Machine, knowledge: Knowledge) -> DayTest:
    kind, known = knowledge.tests[name], knowledge.variants.get(variant)
    wanted = demands(name, kind, machine, known.waives if known is not None else (), knowledge.asked_of)
    said = cautions_on(kind.cautions, knowledge, machine)
    return DayTest(name, kind.minutes, kind.tools, kind.how, said, wanted, (), "nothing", False, variant)


def _together(tests: list[DayTest]) -> list[DayTest]:
    """Tests that want the same attachment follow each other; those that want none keep their place."""
    asking = [test for test in tests if test.demands.words.get(_CHANGED)]
    groups: dict[tuple[str, ...], list[DayTest]] = {}
    for test in asking:
        groups.setdefault(test.demands.words[_CHANGED], []).append(test)
    grouped = iter([test for group in groups.values() for test in group])
    return [next(grouped) if test.demands.words.get(_CHANGED) else test for test in tests]


# --- where and under which conditions ---------------------------------------------------


def _space(tests: list[DayTest], machine: Machine, knowledge: Knowledge) -> ClearSpace | None:
    """The longest lane that any of the tests needs."""
    length = machine.dimensions.length
    found: ClearSpace | None = None
    for test in tests:
        space = knowledge.tests[test.test].space
        if space is None or (found is not None and space.ahead + (length or 0.0) <= found.ahead):
            continue
        ahead, better = space.ahead, space.better
        if length is not None:
            ahead, better = ahead + length, None if better is None else better + length
        found = ClearSpace(test.test, ahead, better, length, space.instead)
    return found


def _meeting(windows: Iterable[Window | None]) -> Window | None:
    """The oil temperature that suits all tests; None if none demands one or they do not meet."""
    stated = [window for window in windows if window is not None]
    lows = [low for low, _ in stated if low is not None]
    highs = [high for _, high in stated if high is not None]
    low, high = max(lows, default=None), min(highs, default=None)
    if (low is None and high is None) or (low is not None and high is not None and low > high):
        return None
    return low, high


def _common(tests: list[DayTest]) -> dict[str, str]:
    """For each condition in words the one that most tests demand (the first of equals)."""
    counts: dict[str, dict[str, int]] = {}
    for test in tests:
        for name, words in test.demands.words.items():
            word = " or ".join(words)
            counts.setdefault(name, {}).setdefault(word, 0)
            counts[name][word] += 1
    return {name: max(words, key=lambda word: words[word]) for name, words in counts.items()}
