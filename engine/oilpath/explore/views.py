"""What is known of one topic on one machine, ready to be shown: plain data, without words."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from oilpath.bench import Bench
from oilpath.explore.apart import Difference, Telling, alike, differences, most_alike, telling
from oilpath.explore.effects import MIDDLE, Effect, level, numbered, survey
from oilpath.explore.links import (
    Spoken,
    causing,
    checks_at,
    kinds_at,
    resting_on,
    rests_on,
    rules_of_sign,
    signs_of,
    spoken_for,
    symptoms_of,
)
from oilpath.explore.topics import Topic
from oilpath.flow import Evidence
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.check import Check
from oilpath.knowledge.rule import Rule
from oilpath.machine.hypotheses import Hypothesis
from oilpath.records import dataclass

_ALIKE = 3
"""causes named that look like the one asked about, at most"""


@dataclass(frozen=True, slots=True)
class Level:
    """A hypothesis at a severity; `value` of the parameter that it disturbs, None where it disturbs nothing."""

    hypothesis: Hypothesis
    value: float | None


@dataclass(frozen=True, slots=True)
class Like:
    """A cause that the tests can take for another one, and the check that tells them apart best, if there is one."""

    hypothesis: Hypothesis
    check: Telling | None


@dataclass(frozen=True, slots=True)
class CauseView:
    """A cause at a part: what each of its variants does, what speaks for it, what it is mistaken for, its checks."""

    cause: Cause
    part: str
    parts: tuple[str, ...]
    """all parts of the machine where it can stand"""
    ways: tuple[tuple[Level, tuple[Effect, ...]], ...]
    signs: tuple[tuple[str, float], ...]
    symptoms: tuple[Rule, ...]
    alike: tuple[Like, ...]
    checks: tuple[Telling, ...]


@dataclass(frozen=True, slots=True)
class ApartView:
    """Two causes: the first at a middle severity, the second at that at which it looks most like the first."""

    one: Level
    other: Level
    tests: tuple[Difference, ...]
    checks: tuple[Telling, ...]


@dataclass(frozen=True, slots=True)
class SuspectView:
    """A sign or a symptom with the rules that suspect causes when it is there."""

    topic: Topic
    rules: tuple[Rule, ...]
    rests_on: tuple[Rule, ...] = ()
    """of a symptom: the rules that assert what it asks for"""
    leads_to: tuple[Rule, ...] = ()
    """of a symptom: the rules that go on from what it asserts"""


@dataclass(frozen=True, slots=True)
class ReadingsView:
    """A test, one reading of it, or a function: the causes that move it; `path`: the oil's way of a function."""

    topic: Topic
    readings: tuple[Evidence, ...]
    causes: tuple[tuple[Hypothesis, Effect], ...]
    path: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartView:
    """A part: what it serves, the causes that can stand there, and the checks that are made at it."""

    part: str
    functions: tuple[str, ...]
    causes: tuple[Cause, ...]
    checks: tuple[Check, ...]


@dataclass(frozen=True, slots=True)
class CheckView:
    """A check at a part: for each outcome the causes that it speaks for; none where the model does not know them."""

    check: Check
    part: str
    parts: tuple[str, ...]
    outcomes: tuple[tuple[Spoken, ...], ...]


View = CauseView | ApartView | SuspectView | ReadingsView | PartView | CheckView


def fits(topic: Topic, bench: Bench) -> bool:
    """Whether a machine has what a topic is about."""
    match topic.kind:
        case "cause":
            return bool(numbered(bench, topic.id, topic.part))
        case "check":
            return bool(_places(topic, bench))
        case "part":
            return topic.id in bench.circuit.parts
        case "function":
            return topic.id in bench.circuit.functions
        case "test":
            return any(_wanted(topic)(reading) for reading in survey(bench).readings)
        case _:
            return True


def view(topic: Topic, bench: Bench) -> View:
    """What is known of a topic that `fits` the machine."""
    match topic.kind:
        case "cause":
            return _of_cause(topic, bench)
        case "check":
            return _of_check(topic, bench)
        case "part":
            graph = bench.circuit
            return PartView(
                topic.id, graph.functions_of(topic.id), kinds_at(bench, topic.id), checks_at(bench, topic.id)
            )
        case "sign":
            return SuspectView(topic, rules_of_sign(topic.id, bench.knowledge))
        case "symptom":
            return _of_symptom(topic, bench.knowledge)
        case _:
            return _of_readings(topic, bench)


def _of_symptom(topic: Topic, knowledge: Knowledge) -> SuspectView:
    rule = next(one for one in knowledge.rules if one.id == topic.id)
    return SuspectView(topic, (rule,), rests_on(rule, knowledge), resting_on(rule, knowledge))


def apart(one: Topic, other: Topic, bench: Bench) -> ApartView:
    """What tells two causes apart that both fit the machine."""
    seen = survey(bench)
    first = numbered(bench, one.id, one.part)[0][0]
    others = [number for number, _ in numbered(bench, other.id, other.part)]
    second, at = most_alike(seen, first, others)
    keys = [(h.cause.cause, h.part) for h in (bench.hypotheses[first], bench.hypotheses[second])]
    return ApartView(
        Level(bench.hypotheses[first], level(bench, first)),
        Level(bench.hypotheses[second], level(bench, second, at)),
        differences(seen, (first, MIDDLE), (second, at)),
        telling(bench, keys[0], keys[1]),
    )


def _of_cause(topic: Topic, bench: Bench) -> CauseView:
    seen = survey(bench)
    found = numbered(bench, topic.id, topic.part)
    first, hypothesis = found[0]
    own = hypothesis.cause.cause, hypothesis.part
    likes = []
    for number, _ in alike(bench, seen, first, _ALIKE):
        other = bench.hypotheses[number]
        best = telling(bench, own, (other.cause.cause, other.part))
        likes.append(Like(other, best[0] if best else None))
    return CauseView(
        hypothesis.cause,
        hypothesis.part,
        tuple(dict.fromkeys(h.part for h in bench.hypotheses if h.cause.cause == topic.id)),
        tuple((Level(h, level(bench, number)), seen.of(number)) for number, h in found),
        signs_of(topic.id, bench.knowledge),
        symptoms_of(topic.id, bench.knowledge),
        tuple(likes),
        telling(bench, own),
    )


def _places(topic: Topic, bench: Bench) -> tuple[str, ...]:
    check = next((one for one in bench.knowledge.checks if one.check == topic.id), None)
    parts = bench.places.of(check) if check is not None else ()
    return tuple(part for part in parts if topic.part in (None, part))


def _of_check(topic: Topic, bench: Bench) -> CheckView:
    check = next(one for one in bench.knowledge.checks if one.check == topic.id)
    parts = _places(topic, bench)
    for part in parts:
        try:
            return CheckView(check, part, parts, spoken_for(bench, check, part))
        except LookupError:  # the circuit model does not know its readings at this part
            continue
    return CheckView(check, parts[0], parts, ())


def _wanted(topic: Topic) -> Callable[[Evidence], bool]:
    if topic.kind == "function":
        return lambda reading: reading.keys.get("function") == topic.id
    if topic.reading is not None:
        return lambda reading: reading.result == topic.reading
    return lambda reading: reading.test == topic.id


def _of_readings(topic: Topic, bench: Bench) -> ReadingsView:
    seen, wanted = survey(bench), _wanted(topic)
    caused: Iterator[tuple[Hypothesis, Effect]] = (
        (bench.hypotheses[one.hypothesis], one.effect) for one in causing(bench, seen, wanted)
    )
    path = bench.circuit.path(topic.id) if topic.kind == "function" else ()
    return ReadingsView(topic, tuple(one for one in seen.readings if wanted(one)), tuple(caused), path)
