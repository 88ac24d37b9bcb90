"""The readings that a check makes, as the circuit model knows them: what each cause does to them, and their scatter."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import product

import numpy as np

from oilpath.arrays import Array, Indexes
from oilpath.documents.machine import Limit, Machine
from oilpath.flow import Evidence
from oilpath.knowledge.applicability import can_be_put_to
from oilpath.knowledge.base import Knowledge, SharedScatter
from oilpath.knowledge.check import TWIN, Check, Measure
from oilpath.knowledge.testkind import TestKind
from oilpath.outcomes.places import Places
from oilpath.physics.predictions import Predictions
from oilpath.records import dataclass

USUAL_SCATTER = 0.05
"""own scatter of a test that states none (ln ratio; from memory)"""


@dataclass(frozen=True, slots=True)
class Effects:
    """What every cause does to one reading, shape (hypotheses + 1, severities); the last row is the sound machine.

    effect: against the sound machine, as ln ratio or SI; sd: its standard uncertainty with the scatter between sound
    machines; noticeable: the deviation from which it lies above or below.
    """

    effect: Array
    sd: Array
    noticeable: Array


@dataclass(frozen=True, slots=True)
class _Reading:
    """One reading: its evidence to the model and its test."""

    evidence: Evidence
    kind: TestKind


@dataclass(frozen=True, slots=True)
class Read:
    """What every cause does to one reading, before the machine's limits say how exact its instrument is on it.

    effect: as in `Effects`; chosen: which of `readings` counts, same shape; noticeable: of each of them.
    """

    measure: Measure
    readings: tuple[_Reading, ...]
    effect: Array
    chosen: Indexes
    noticeable: Array

    def scatter(self, limits: Sequence[Limit], knowledge: Knowledge) -> tuple[float, ...]:
        """Standard uncertainty of each of the readings; of limits all that counts are those of their tests."""
        return tuple(_scatter(one, self.measure, limits, knowledge.scatter) for one in self.readings)

    def effects(self, scatter: Sequence[float], knowledge: Knowledge) -> Effects:
        """The same with its scatter."""
        error = (self.measure.model_error or knowledge.priors.model_error) * self.effect
        return Effects(self.effect, np.hypot(np.array(scatter)[self.chosen], error), self.noticeable[self.chosen])


def effects(
    check: Check,
    part: str,
    model: Predictions,
    knowledge: Knowledge,
    places: Places,
    limits: Sequence[Limit] = (),
) -> dict[str, Effects]:
    """Effects on each reading that decides the outcome of a check at a part; a reading that the model does not know, or
    that the machine cannot be put to, is left out."""
    found = read(check, part, model, knowledge, places)
    return {name: one.effects(one.scatter(limits, knowledge), knowledge) for name, one in found.items()}


def read(check: Check, part: str, model: Predictions, knowledge: Knowledge, places: Places) -> dict[str, Read]:
    """The readings that decide the outcome of a check at a part, of those that the model knows."""
    found = ((name, _read(check, name, part, model, knowledge, places)) for name in check.read)
    return {name: one for name, one in found if one is not None}


def _read(check: Check, name: str, part: str, model: Predictions, knowledge: Knowledge, places: Places) -> Read | None:
    measure = check.measures[name]
    readings = _known(measure, part, model, knowledge, places)
    if not readings:
        return None
    effect = np.stack([of for _, of in readings])
    if measure.against == TWIN:
        effect = effect - _twins(measure, part, model, knowledge, places)
    elif measure.against is not None:
        other = _known(check.measures[measure.against], part, model, knowledge, places)
        if len(other) not in (1, len(readings)):
            return None
        effect = effect - np.stack([of for _, of in other])
    effect = np.concatenate([effect, np.zeros_like(effect[:, :1])], axis=1)
    limits = np.array([measure.noticeable or _noticeable(one.kind) for one, _ in readings])
    if len(readings) == 1:
        effect, chosen = effect[0], np.broadcast_to(np.intp(0), effect.shape[1:])
    else:
        chosen = _chosen(effect / limits[:, None, None], measure.take)
        effect = np.take_along_axis(effect, chosen[None], axis=0)[0]
    return Read(measure, tuple(one for one, _ in readings), effect, chosen, limits)


def _chosen(sizes: Array, take: str) -> Indexes:
    """Which of several readings counts, shape as each of them; the first of those that are alike."""
    sizes = {"least": -sizes, "most": sizes}.get(take, np.abs(sizes))
    chosen: Indexes = sizes.argmax(axis=0)
    return chosen


def _noticeable(kind: TestKind) -> float:
    return (kind.scatter.noticeable if kind.scatter else None) or 1.0


def _known(
    measure: Measure, part: str, model: Predictions, knowledge: Knowledge, places: Places
) -> list[tuple[_Reading, Array]]:
    """The readings that a measure stands for at a part, of those that the model knows, with their effects."""
    readings = list(_readings(measure, part, model.machine, knowledge, places))
    table, known = model.predict([one.evidence for one in readings])
    if measure.variant != "standard":
        # the model tells how a variant differs from the standard reading
        table = table + model.predict([_plain(one.evidence) for one in readings])[0]
    return [(one, table[:, :, n]) for n, one in enumerate(readings) if known[n]]


def _plain(e: Evidence) -> Evidence:
    return Evidence("", e.test, e.observe, e.load, e.keys, e.scale, 0.0, 0.0, figures=e.figures)


def _twins(measure: Measure, part: str, model: Predictions, knowledge: Knowledge, places: Places) -> Array:
    """Mean effect on the same reading at the other parts of the class, shape (hypotheses, severities) or 0."""
    own = places.graph.parts[part]
    others = [name for name in places.graph.of_class(own.class_) if name != part]
    found = [of for other in others for _, of in _known(measure, other, model, knowledge, places)]
    return np.mean(found, axis=0) if found else np.zeros(())


def _readings(
    measure: Measure, part: str, machine: Machine, knowledge: Knowledge, places: Places
) -> Iterator[_Reading]:
    for test in measure.test:
        kind = knowledge.tests.get(test)
        if kind is None or not can_be_put_to(test, kind, machine):
            continue
        cases = {case for function in places.graph.functions.values() for case in function.pressure}
        for keys in _targets(measure, kind, part, places):
            load = kind.load.format_map(keys)
            function = places.graph.functions.get(keys.get("function", ""))
            if function is not None and load in cases and load not in function.pressure:
                continue
            yield _Reading(
                Evidence(
                    "", test, kind.observe, load, keys, kind.scale, 0.0, 0.0,
                    variant=measure.variant, figures=dict(measure.figures),
                ),
                kind,
            )  # fmt: skip


def _targets(measure: Measure, kind: TestKind, part: str, places: Places) -> Iterator[dict[str, str]]:
    """The keys of every reading that a measure stands for at a part."""
    graph = places.graph
    served = places.functions(part)
    functions = [name for name in graph.functions if name in served] or list(graph.functions)
    actuators = dict.fromkeys(graph.functions[name].actuator for name in functions if graph.functions[name].end)
    words: Mapping[str, tuple[str, ...]] = {
        "function": tuple(functions), "cylinder": (part,) if part in actuators else tuple(actuators), "part": (part,),
    }  # fmt: skip
    choices: dict[str, tuple[str, ...]] = {}
    for name in kind.id:
        key = kind.keys[name]
        if name in measure.keys:
            choices[name] = (places.named(measure.keys[name], part),)
        elif key.is_ != "pump":
            choices[name] = key.words or words.get(key.is_, ())
    for chosen in product(*choices.values()):
        keys = dict(zip(choices, chosen, strict=True))
        if "pump" in kind.id and "pump" not in keys:
            feeding = graph.pumps(keys["function"]) if keys.get("function") in graph.functions else ()
            pump = feeding[0] if feeding else graph.pump_of(part)
            if pump is None:
                continue
            keys["pump"] = pump
        yield keys


def _scatter(one: _Reading, measure: Measure, limits: Sequence[Limit], shared: tuple[SharedScatter, ...]) -> float:
    """Standard uncertainty of a reading, with how far sound machines lie apart.

    Of two readings of one machine that are compared with each other, what they share cancels: its own scatter then
    stands for how far sound machines differ in the comparison.
    """
    kind = one.kind
    own = measure.scatter or (kind.scatter.own if kind.scatter else USUAL_SCATTER)
    once, again = _instrument(one, limits)
    if measure.against == TWIN:
        return math.hypot(own, once, again) * math.sqrt(2)
    if measure.against is not None:
        return math.hypot(own, again * math.sqrt(2))
    words = {*one.evidence.keys, "function", "group", "pump"}
    common = [s.sd for s in shared if s.of == "reading" and kind.observe in s.observes and words >= set(s.by)]
    return math.hypot(own, once, again, *common)


def _instrument(one: _Reading, limits: Sequence[Limit]) -> tuple[float, float]:
    """Standard uncertainty of the test's usual instrument: alike each time, and from one reading to the next."""
    tool, kind = one.kind.instrument, one.kind
    if tool is None:
        return 0.0, 0.0
    if kind.scale == "offset":
        return tool.systematic, tool.scatter
    usual = next(
        (
            limit.new or limit.max or limit.min
            for limit in limits
            if limit.test == one.evidence.test and limit.where.items() <= one.evidence.keys.items()
        ),
        None,
    )
    per = 1 / usual if usual else 0.0  # without any value the shares of the reading are all that can be said
    return (
        math.hypot(tool.systematic_ratio, tool.systematic * per),
        math.hypot(tool.scatter_ratio, tool.scatter * per),
    )
