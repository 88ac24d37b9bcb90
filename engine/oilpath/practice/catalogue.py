"""What can be done on a machine, and what can be named: found by words, as a person types them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final

from oilpath.bench import Bench
from oilpath.knowledge.applicability import cautions_on
from oilpath.practice.records import SOUND, Option, Suspect
from oilpath.session.day import DayTest, prepare
from oilpath.session.slots import Slot, slots_of
from oilpath.session.way import check_id

_WORD: Final = re.compile(r"[a-z0-9]+")
_SETTING_UP: Final = 1 / 3
"""share of a test's minutes that its first reading costs at least, as where the next step is weighed"""
_AGAIN: Final = 0.1


def options(bench: Bench) -> tuple[Option, ...]:
    """Every reading in the order of the day, then every check at each part where it can be made."""
    machine, knowledge = bench.machine, bench.knowledge
    day = prepare(machine, knowledge)
    found = [
        _reading(slot, test, len(room), bench)
        for test in (*day.tests, *day.left_out)
        if test.variant is None and (room := slots_of(test, machine, knowledge))
        for slot in room
    ]
    for check in knowledge.checks:
        cautions = cautions_on(check.cautions, knowledge, machine)
        words = tuple(one.outcome for one in check.outcomes)
        for part in bench.places.of(check):
            title = check.title.replace("{part}", bench.circuit.parts[part].title)
            found.append(
                Option(
                    check_id(check.check, part), title, check.minutes, check.minutes, check=check.check, part=part,
                    outcomes=words, cautions=cautions, how=check.how, tools=check.tools,
                )
            )  # fmt: skip
    return tuple(found)


def _reading(slot: Slot, test: DayTest, room: int, bench: Bench) -> Option:
    kind = bench.knowledge.tests[slot.test]
    parts, functions = bench.circuit.parts, bench.machine.circuit.functions
    places = [
        parts[word].title if word in parts else functions[word].title if word in functions else word.replace("-", " ")
        for word in slot.keys.values()
    ]
    name = f"{kind.title}: {', '.join(places)}" if places else kind.title
    first = max(1.0, test.minutes * max(1 / room, _SETTING_UP))
    again = max(1.0, test.minutes * max(1 / room, _AGAIN))
    return Option(
        slot.id, name, first, again, test=slot.test, keys=dict(slot.keys), cautions=test.cautions, how=test.how,
        tools=test.tools,
    )  # fmt: skip


def suspects(bench: Bench) -> tuple[Suspect, ...]:
    """Every cause at every part where it can be, and "nothing is wrong"."""
    found: dict[tuple[str, str], Suspect] = {}
    for one in bench.hypotheses:
        key = (one.cause.cause, one.part)
        if key not in found:
            title = one.cause.title.replace("{part}", bench.circuit.parts[one.part].title)
            found[key] = Suspect(key, title)
    return (*found.values(), Suspect(SOUND, "nothing wrong"))


def fitting(typed: str, names: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """The ids whose name or id has every word typed, or words that begin so; shortest first. An exact match is alone.

    names: pairs of id and name.
    """
    wanted = _WORD.findall(typed.lower())
    if not wanted:
        return ()
    found: list[tuple[int, str]] = []
    for id_, name in names:
        if typed.strip().lower() in (id_.lower(), name.lower()):
            return (id_,)
        words = _WORD.findall(f"{name} {id_}".lower())
        if all(any(word.startswith(one) for word in words) for one in wanted):
            found.append((len(_WORD.findall(name.lower())), id_))
    return tuple(id_ for _, id_ in sorted(found, key=lambda one: one[0]))


def of_kind(kind: str, all_: Sequence[Option]) -> tuple[str, ...]:
    """The readings of one test, by id."""
    return tuple(one.id for one in all_ if one.test == kind)
