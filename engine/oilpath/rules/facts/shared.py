"""Facts about the oil's paths: which parts serve everything that is slow and nothing that is in order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from oilpath.flow import Fact
from oilpath.knowledge.rule import slots_for
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.way import on_all_ways
from oilpath.rules.facts.readings import ReadingState


def shared_parts(readings: Sequence[ReadingState], circuit: CircuitGraph) -> Iterator[Fact]:
    """One fact for each part in the path of every function that is slow and of none that is in order."""
    timed = [one for one in readings if one.usual and one.function and one.kind.more_is == "slow"]
    slow = {one.function: None for one in timed if one.function and one.is_out("slow")}
    sound = {one.function: None for one in timed if one.function and one.state == "in" and one.function not in slow}
    results = tuple(one.result.id for one in timed if one.function in slow or one.function in sound)
    for name in on_all_ways(slow, sound, circuit):
        part = circuit.parts[name]
        words = slots_for(
            "shared", part=name, class_=part.class_, of=part.of, side=part.side, pump=circuit.pump_of(name),
            among="several" if len(slow) > 1 else "one",
        )  # fmt: skip
        yield Fact("shared", words, results)
