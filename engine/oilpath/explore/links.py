"""How the entries of the knowledge base hang together: signs, symptoms, parts and readings with their causes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, get_args

import numpy as np

from oilpath.bench import Bench
from oilpath.explore.effects import MIDDLE, NOTICED, Effect, Survey
from oilpath.explore.topics import signs_in
from oilpath.flow import Evidence
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Cause, Frequency
from oilpath.knowledge.check import Check
from oilpath.knowledge.rule import Rule, asked_of, asserted_by
from oilpath.outcomes.table import SOUND, likelihoods
from oilpath.records import dataclass

_FREQUENT: Final = get_args(Frequency)
_SPEAKS: Final = 2.0
"""ratio of probabilities from which an outcome speaks for a cause"""


@dataclass(frozen=True, slots=True)
class Caused:
    """A cause (a hypothesis by its number) that moves one of some readings, with what it does to it."""

    hypothesis: int
    effect: Effect


@dataclass(frozen=True, slots=True)
class Spoken:
    """A cause for which an outcome of a check speaks: P(outcome | cause), and that of a machine without it."""

    cause: str
    part: str
    chance: float
    sound: float


def rules_of_sign(sign: str, knowledge: Knowledge) -> tuple[Rule, ...]:
    """The rules that fire when a sign is seen."""
    return tuple(rule for rule in knowledge.rules if rule.suspect and sign in signs_in(rule))


def resting_on(rule: Rule, knowledge: Knowledge) -> tuple[Rule, ...]:
    """The rules that ask for what a rule asserts."""
    said = set(asserted_by(rule))
    return tuple(one for one in knowledge.rules if any(said.intersection(asked_of(when)) for when in one.when))


def rests_on(rule: Rule, knowledge: Knowledge) -> tuple[Rule, ...]:
    """The rules that assert what a rule asks for."""
    asked = {word for one in rule.when for word in asked_of(one)}
    return tuple(one for one in knowledge.rules if asked.intersection(asserted_by(one)))


def signs_of(cause: str, knowledge: Knowledge) -> tuple[tuple[str, float], ...]:
    """The signs that speak for a kind of cause, each with the likelihood ratio of its rule, the strongest first."""
    found: dict[str, float] = {}
    for rule in knowledge.rules:
        for suspect in rule.suspect:
            if suspect.cause == cause and suspect.likelihood is not None:
                for sign in signs_in(rule):
                    found[sign] = max(found.get(sign, 0.0), suspect.likelihood)
    return tuple(sorted(((sign, ratio) for sign, ratio in found.items() if ratio > 1), key=lambda two: -two[1]))


def symptoms_of(cause: str, knowledge: Knowledge) -> tuple[Rule, ...]:
    """The patterns of readings that suspect a kind of cause."""
    return tuple(
        rule for rule in knowledge.rules if rule.kind == "pattern" and any(one.cause == cause for one in rule.suspect)
    )


def frequency_order(cause: Cause) -> int:
    """0 for what is most frequent."""
    return _FREQUENT.index(cause.frequency)


def causing(bench: Bench, view: Survey, wanted: Callable[[Evidence], bool]) -> tuple[Caused, ...]:
    """The causes that move some readings so that it is noticed: at each part the variant that moves one furthest.

    By frequency, then by effect.
    """
    columns = [n for n, reading in enumerate(view.readings) if wanted(reading)]
    if not columns:
        return ()
    size = np.abs(view.size[:, MIDDLE][:, columns])
    strongest = size.argmax(axis=1)
    found: dict[tuple[str, str], Caused] = {}
    for number, h in enumerate(bench.hypotheses):
        column = columns[int(strongest[number])]
        moved = float(view.effect[number, MIDDLE, column])
        effect = Effect(view.readings[column], moved, moved / float(view.noticeable[column]))
        key = h.cause.cause, h.part
        if abs(effect.size) >= NOTICED and (key not in found or abs(effect.size) > abs(found[key].effect.size)):
            found[key] = Caused(number, effect)
    return tuple(
        sorted(
            found.values(),
            key=lambda one: (
                frequency_order(bench.hypotheses[one.hypothesis].cause), -abs(one.effect.size), one.hypothesis
            ),
        )
    )  # fmt: skip


def kinds_at(bench: Bench, part: str) -> tuple[Cause, ...]:
    """The kinds of cause that can stand at a part, the most frequent first."""
    found = {h.cause.cause: h.cause for h in bench.hypotheses if h.part == part}
    return tuple(sorted(found.values(), key=frequency_order))


def checks_at(bench: Bench, part: str) -> tuple[Check, ...]:
    """The checks that are made at a part, the least intrusive first."""
    found = [check for check in bench.knowledge.checks if part in bench.places.of(check)]
    return tuple(sorted(found, key=lambda check: (check.intrusiveness, check.minutes, check.check)))


def spoken_for(bench: Bench, check: Check, part: str) -> tuple[tuple[Spoken, ...], ...]:
    """For each outcome of a check at a part the causes that make it twice as probable as a machine without them.

    The clearest first. Raises LookupError where the circuit model does not know the readings of the check there.
    """
    keys = list(dict.fromkeys((h.cause.cause, h.part) for h in bench.hypotheses))
    chance = likelihoods(check, part, bench, [*keys, SOUND])
    found = []
    for row in chance:
        sound = float(row[-1])
        spoken = [Spoken(*key, float(p), sound) for key, p in zip(keys, row[:-1], strict=True) if p >= _SPEAKS * sound]
        found.append(tuple(sorted(spoken, key=lambda one: (-round(one.chance, 2), one.cause, one.part))))
    return tuple(found)
