"""The limits that a machine file usually states: one for each test and target; equal targets share one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKind
from oilpath.session.day import prepare
from oilpath.session.slots import Slot, slots_of


@dataclass(frozen=True, slots=True)
class LimitRoom:
    """A place for one limit: what it is for, and which values it usually has. routine: the test is part of every day.

    per: the key of the hold, distance or turns that it is for, with the usual one (None: none is usual).
    """

    test: str
    where: Mapping[str, str]
    per: tuple[str, str | float | None] | None
    ends: tuple[str, ...]
    routine: bool

    @property
    def stated(self) -> dict[str, str | float]:
        """The limit as it would be written, without its values."""
        own = {} if self.per is None or self.per[1] is None else {self.per[0]: self.per[1]}
        return {"test": self.test, **self.where, **own}


def limit_room(machine: Machine, knowledge: Knowledge) -> Iterator[LimitRoom]:
    """Places for the limits of every test that the machine allows, in the order of the day."""
    plan = prepare(machine, knowledge)
    left_out = {test.test for test in plan.left_out}
    for test in (*(one for one in plan.tests if one.variant is None), *plan.left_out):
        kind = knowledge.tests[test.test]
        if kind.value is None:
            continue
        rule = kind.limits
        ends = {"upper": ("new", "max"), "lower": ("new", "min"), "both": ("new", "min", "max")}[rule.sides]
        for slot in _apart(slots_of(test, machine, knowledge), kind):
            where = {key: slot.keys[key] for key in _kept(kind) if key in slot.keys}
            per = None if rule.per is None else (rule.per, slot.figures.get(rule.per))
            yield LimitRoom(test.test, where, per, ends, test.test not in left_out)


def _kept(kind: TestKind) -> tuple[str, ...]:
    """The keys a limit usually names; what is alike, such as both directions, shares one limit."""
    alike = {*kind.twin.by, *kind.twin.across} if kind.twin is not None else set()
    return tuple(name for name in kind.limits.where if name not in alike or kind.keys[name].is_ == "part")


def _apart(room: tuple[Slot, ...], kind: TestKind) -> Iterator[Slot]:
    """One slot for each limit."""
    seen: set[tuple[str | None, ...]] = set()
    for slot in room:
        place = tuple(slot.keys.get(name) for name in _kept(kind))
        if place not in seen:
            seen.add(place)
            yield slot
