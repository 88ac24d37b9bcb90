"""Facts about pairs of readings of the same thing: which of the two is worse."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from oilpath.flow import Fact, Measured
from oilpath.flow.ids import STANDARD
from oilpath.knowledge.rule import slots_for
from oilpath.machine.graph import CircuitGraph
from oilpath.rules.facts.readings import ReadingState

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge

#: Least ln ratio that counts as a difference: 10 % hot against cold (from memory: sound machines reach 8 %), 6 %
#: between sides or directions (from memory: 3 to 5 % is good), or twice what sound machines lie apart.
VARIANT_LEAST = 0.10
SIDES_LEAST = 0.06


def contrasts(readings: Sequence[ReadingState], circuit: CircuitGraph, knowledge: Knowledge) -> Iterator[Fact]:
    """All pairs that the sheet allows. Ground/raised and hot/cold pairs that it does not allow are `unknown`."""
    usual = [reading for reading in readings if reading.usual]
    yield from _ground_raised(usual)
    yield from _variants(readings, usual, knowledge)
    yield from _counterparts(usual)
    yield from _combined(readings, usual)


def _contrast(pair: str, of: str, relation: str, readings: Iterable[ReadingState] = ()) -> Fact:
    ids = tuple(dict.fromkeys(reading.result.id for reading in readings))
    return Fact("contrast", slots_for("contrast", pair=pair, of=of, relation=relation), ids)


def _ground_raised(usual: Sequence[ReadingState]) -> Iterator[Fact]:
    """On the ground a side shows by the pull towards it, raised by its own time; both tracks by their times."""
    timed = [reading for reading in usual if reading.kind.timed]
    raised = [reading for reading in timed if reading.side in ("left", "right") and "range" in reading.keys]
    ground = [reading for reading in timed if reading.side == "both"]
    veers = [reading for reading in usual if reading.kind.observe == "veer"]
    for side in ("left", "right"):
        of = [reading for reading in raised if reading.side == side]
        yield _out_or_not("ground-raised", side, veers, side, of, "slow")
    yield _out_or_not("ground-raised", "all", ground, "slow", raised, "slow")


def _out_or_not(
    pair: str, of: str, first: Sequence[ReadingState], wrong: str, second: Sequence[ReadingState], also_wrong: str
) -> Fact:
    if not first or not second:
        return _contrast(pair, of, "unknown")
    one = [reading for reading in first if reading.is_out(wrong)]
    two = [reading for reading in second if reading.is_out(also_wrong)]
    relation = "alike" if bool(one) == bool(two) else "first-worse" if one else "second-worse"
    return _contrast(pair, of, relation, (*(one or first), *(two or second)))


def _log_ratio(a: ReadingState, b: ReadingState) -> float | None:
    """ln of the first value over the second one, positive where the first is worse; None if it is not known."""
    if not isinstance(a.result, Measured) or not isinstance(b.result, Measured):
        return None
    if a.result.value * b.result.value <= 0:
        return None
    ratio = math.log(a.result.value / b.result.value)
    return ratio if a.kind.limits.sides == "upper" else -ratio


def _relation(difference: float, least: float) -> str:
    return "first-worse" if difference > least else "second-worse" if difference < -least else "alike"


def _least(reading: ReadingState, least: float) -> float:
    return max(least, 1.4 * reading.kind.scatter.own) if reading.kind.scatter else least


def _variants(readings: Sequence[ReadingState], usual: Sequence[ReadingState], knowledge: Knowledge) -> Iterator[Fact]:
    """Each variant against the standard reading of the same test; hot against cold of everything beside it."""
    standard = {reading.place: reading for reading in usual}
    heat: list[tuple[float, ReadingState, ReadingState]] = []
    for reading in readings:
        variant = knowledge.variants.get(reading.result.variant)
        counterpart = standard.get(reading.place)
        if variant is None or variant.pair is None or counterpart is None or reading.state == "invalid":
            continue
        difference = _log_ratio(reading, counterpart)
        if difference is None:
            continue
        signed = difference if variant.stands == "first" else -difference
        relation = _relation(signed, _least(reading, VARIANT_LEAST))
        yield _contrast(variant.pair, _of(reading), relation, (reading, counterpart))
        if variant.pair == "hot-cold" and reading.kind.timed:
            heat.append((signed, reading, counterpart))
    mean = math.fsum(difference for difference, *_ in heat) / len(heat) if heat else 0.0
    shown = [reading for _, *pair_of in heat for reading in pair_of]
    yield _contrast("hot-cold", "all", _relation(mean, VARIANT_LEAST) if heat else "unknown", shown)


def _of(reading: ReadingState) -> str:
    """What a pair is about: the function, else the part, else the test."""
    return reading.function or reading.part or reading.result.test


def _counterparts(usual: Sequence[ReadingState]) -> Iterator[Fact]:
    """Left against right of every test that has sides, and forward against reverse of every side."""
    timed = [reading for reading in usual if reading.kind.timed]
    for test in dict.fromkeys(reading.result.test for reading in timed):
        of = [reading for reading in timed if reading.result.test == test]
        key = "side" if any("side" in reading.keys for reading in of) else "direction"
        yield from _mean_contrast("left-right", test, of, key, "left", "right")
    for side in ("left", "right", "both"):
        of = [reading for reading in timed if reading.side == side]
        yield from _mean_contrast("forward-reverse", side, of, "direction", "forward", "reverse")


def _mean_contrast(
    pair: str, name: str, readings: Sequence[ReadingState], key: str, first: str, second: str
) -> Iterator[Fact]:
    """The mean over all that differ in this key alone; nothing if there is no such two."""

    def rest(reading: ReadingState) -> tuple[tuple[str, str], ...]:
        return tuple(sorted((k, v) for k, v in reading.keys.items() if k != key))

    counterparts = {rest(reading): reading for reading in readings if reading.keys.get(key) == second}
    found: list[tuple[float, ReadingState, ReadingState]] = []
    for reading in readings:
        counterpart = counterparts.get(rest(reading))
        if reading.keys.get(key) == first and counterpart is not None:
            difference = _log_ratio(reading, counterpart)
            if difference is not None:
                found.append((difference, reading, counterpart))
    if found:
        mean = math.fsum(difference for difference, *_ in found) / len(found)
        shown = [reading for _, *both in found for reading in both]
        yield _contrast(pair, name, _relation(mean, SIDES_LEAST), shown)


def _combined(readings: Sequence[ReadingState], usual: Sequence[ReadingState]) -> Iterator[Fact]:
    """One function alone against the same with others: slower together is what shared flow does, faster is not."""
    alone = {reading.place: reading for reading in usual}
    for reading in readings:
        counterpart = alone.get(reading.place) if reading.result.variant == STANDARD else None
        if not reading.result.together_with or counterpart is None or reading.state == "invalid":
            continue
        if reading.kind.scale == "offset":
            worse = reading.state == "out" and counterpart.state != "out"
            yield _contrast(
                "single-combined", _of(reading), "second-worse" if worse else "alike", (counterpart, reading)
            )
            continue
        difference = _log_ratio(counterpart, reading)
        if difference is not None:
            relation = _relation(difference, _least(reading, SIDES_LEAST))
            yield _contrast("single-combined", _of(reading), relation, (counterpart, reading))
