"""What can be done with what is at hand: tools, people, room, a stand, minutes."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

from oilpath.documents.have import HaveDraft
from oilpath.flow import Diagnosis, NextCheck, Ranking, TreeNode
from oilpath.flow.notes import Amount, Named, Note, Quote, note
from oilpath.knowledge.check import Check
from oilpath.planning import advise
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.documents.machine import Machine
    from oilpath.knowledge.testkind import TestKind

_STAND: Final = "stand"
_OR: Final = re.compile(r",? or ")
_ONLY: Final = re.compile(r" (?:for|of|on|with|before|that) .*$")
"""what a tool is for says no more about which tool it is, if the list names the tool alone"""
_COUNTS: Final = frozenset({"one", "two", "a", "an", "the"})


@dataclass(frozen=True, slots=True)
class Lack:
    """Why something cannot be done here. what: the tool, the number of people, or m of room wanted."""

    kind: Literal["tool", "people", "room", "minutes"]
    what: str | float


@dataclass(frozen=True, slots=True)
class AtHand:
    """What is there, for as long as there is time. minutes: None if there is time enough."""

    have: HaveDraft = HaveDraft()
    minutes: float | None = None
    everyday: tuple[str, ...] = ()

    def lacking(self, tools: Iterable[str], people: int, minutes: float, room: float | None = None) -> tuple[Lack, ...]:
        """What is missing for a step that needs these; nothing where the list does not state it."""
        found: list[Lack] = [Lack("tool", tool) for tool in tools if not self.has(tool)]
        if self.have.people is not None and people > self.have.people:
            found.append(Lack("people", float(people)))
        if room is not None and self.have.room is not None and room > self.have.room:
            found.append(Lack("room", room))
        if self.minutes is not None and minutes > self.minutes:
            found.append(Lack("minutes", minutes))
        return tuple(found)

    def has(self, wanted: str) -> bool:
        """Whether a tool is there; where several would do, whether one of them is."""
        if self.have.stand is not None and wanted.split()[-1] == _STAND:
            return self.have.stand
        if self.have.tools is None or wanted in self.everyday:
            return True
        there = [*self.have.tools, *self.everyday]
        return any(_serves(own, one) for one in _OR.split(wanted) for own in there)


def _serves(own: str, wanted: str) -> bool:
    """A tool serves for what names it, and for what names it more closely: a flow meter for one with a load valve."""
    mine, whole, core = _words(own), _words(wanted), _words(_ONLY.sub("", wanted))
    return (mine <= whole and core <= mine | _COUNTS) or core <= mine


def _words(text: str) -> frozenset[str]:
    return frozenset(word.rstrip("s") for word in re.findall(r"[\w.'-]+", text.lower())) - _COUNTS


def impossible(hand: AtHand, bench: Bench) -> dict[str, tuple[Lack, ...]]:
    """The checks that cannot be made here, by id, with what is missing."""
    return {check.check: lacks for check in bench.knowledge.checks if (lacks := lacking_for(check, hand))}


def with_what_is_there(
    answer: Diagnosis, bench: Bench, hand: AtHand
) -> tuple[Diagnosis, tuple[tuple[NextCheck, tuple[Lack, ...]], ...]]:
    """The answer with next checks and a plan that hold nothing but what can be made here; and what is missing for the
    next checks that are then not in it."""
    missing = impossible(hand, bench)
    if not missing:
        return answer, ()
    kinds = {check.check: check for check in bench.knowledge.checks}
    made = [(name, part) for name in missing for part in bench.places.of(kinds[name])]
    ranking, checks, plan = advise(Ranking(answer.causes, answer.groups, answer.sets), answer.results, bench, made=made)
    gone = tuple((one, missing[one.check]) for one in answer.checks if one.check in missing)
    return replace(answer, groups=ranking.groups, checks=checks, plan=plan), gone


def only_possible(answer: Diagnosis, bench: Bench, hand: AtHand) -> Diagnosis:
    """The answer with nothing but checks that can be made here, also in its tree; a warning for each that is not."""
    missing = impossible(hand, bench)
    found, gone = with_what_is_there(answer, bench, hand)
    warned = tuple(
        note("check-not-possible", check=Named("check", one.check, one.part), needs=tuple(map(_needed, lacks)))
        for one, lacks in gone
    )
    return replace(found, tree=_without(found.tree, missing), warnings=(*found.warnings, *warned))


def _needed(lack: Lack) -> Note | Quote:
    if lack.kind == "people":
        return note("so-many-people", people=int(lack.what))
    if lack.kind == "room":
        return note("so-much-room", room=Amount(float(lack.what), "distance"))
    return Quote(str(lack.what))


def _without(node: TreeNode, missing: Collection[str]) -> TreeNode:
    """A tree without the checks that cannot be made."""

    def made(one: TreeNode) -> bool:
        return not (one.kind == "check" and isinstance(one.says, Named) and one.says.id in missing)

    return replace(node, children=tuple(_without(one, missing) for one in node.children if made(one)))


def lacking_for(check: Check, hand: AtHand) -> tuple[Lack, ...]:
    """What is missing for a check."""
    return hand.lacking(check.tools, check.people, check.minutes)


def lacking_for_test(kind: TestKind, minutes: float, hand: AtHand, machine: Machine) -> tuple[Lack, ...]:
    """What is missing for a test that takes so many minutes."""
    room = None if kind.space is None else kind.space.ahead + (machine.dimensions.length or 0.0)
    return hand.lacking(kind.tools, kind.people, minutes, room)


def at_hand(have: HaveDraft | None, minutes: float | None, bench: Bench) -> AtHand:
    """What is there, with the everyday things of the knowledge base."""
    return AtHand(have or HaveDraft(), minutes, bench.knowledge.day.everyday)
