"""Judged results in the words of the facts: what each one measured, where, and in which direction it is out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from oilpath.flow import ConditionWord, Measured, Result
from oilpath.flow.ids import placed_by
from oilpath.knowledge.testkind import TestKind
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.way import measured
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge

STATE = {"pass": "in", "near": "near", "fail": "out", "invalid": "invalid", "unjudged": "unmeasured"}

#: A reading taken at this share of the main relief's setting or more is one under load: below it leakage and a torque
#: limit hardly show (common practice: a raised track or a lowering boom runs at a tenth to a sixth).
LOADED = 0.2


@dataclass(frozen=True, slots=True)
class ReadingState:
    """One measured result, with the words that place it in the circuit; None if a word does not apply."""

    result: Measured | ConditionWord
    kind: TestKind
    keys: Mapping[str, str]
    function: str | None
    """the one function that it measures"""
    group: str | None
    """the movement that this function belongs to"""
    side: str | None
    """left, right, or both (the machine travels)"""
    pump: str | None
    """the pump that feeds the function first-hand, or whose group the part belongs to"""
    part: str | None
    loaded: bool
    state: str

    @property
    def place(self) -> tuple[str, ...]:
        """The test and the words that place it: the same for every variant and whatever was worked beside it."""
        return (self.result.test, *placed_by(self.kind.id, self.keys))

    @property
    def usual(self) -> bool:
        """Whether it was made as the test asks: no variant, no other function at the same time, and judged."""
        return self.standard and self.state in ("in", "near", "out")

    @property
    def standard(self) -> bool:
        return self.result.standard

    @property
    def deviation(self) -> str | None:
        """The direction in which it is off; if the result does not say, the usual direction of faults in this test."""
        own = self.result.deviation if isinstance(self.result, Measured) else None
        return own or (self.kind.more_is if self.state in ("near", "out") else None)

    def is_out(self, deviation: str) -> bool:
        return self.state == "out" and self.deviation == deviation

    def is_near(self, deviation: str) -> bool:
        return self.state == "near" and self.deviation == deviation


def read_results(results: Iterable[Result], circuit: CircuitGraph, knowledge: Knowledge) -> tuple[ReadingState, ...]:
    """The measured results (and conditions); signs, codes and checks are observations and not among them."""
    kinds = knowledge.tests
    return tuple(
        _read(result, kinds[result.test], circuit)
        for result in results
        if isinstance(result, Measured | ConditionWord) and result.test in kinds
    )


def _read(result: Measured | ConditionWord, kind: TestKind, circuit: CircuitGraph) -> ReadingState:
    keys = result.keys
    served = measured(keys, circuit)
    function = served[0] if len(served) == 1 else None
    part = part_at(keys.get("part") or keys.get("at") or keys.get("cylinder"), circuit)
    pump = keys.get("pump")
    if pump is None and function is not None:
        pump = next(iter(circuit.pumps(function)), None)
    elif pump is None and part is not None:
        pump = circuit.pump_of(part)
    side = keys.get("side") or (circuit.side(part) if part else None)
    if side is None and len(served) > 1:
        side = "both"
    return ReadingState(
        result=result,
        kind=kind,
        keys=keys,
        function=function,
        group=_group(function, part, circuit),
        side=side,
        pump=pump,
        part=part,
        loaded=any(_share(circuit, name, kind, keys) >= LOADED for name in served),
        state=STATE[result.verdict],
    )


def _group(function: str | None, part: str | None, circuit: CircuitGraph) -> str | None:
    """The movement of the function, or that the part moves."""
    if function is not None:
        return circuit.functions[function].group
    return next((f.group for f in circuit.functions.values() if part is not None and f.actuator == part), None)


def _share(circuit: CircuitGraph, function: str, kind: TestKind, keys: Mapping[str, str]) -> float:
    """Pressure at the actuator while it moves in this test, as a share of the main relief's setting."""
    try:
        load = kind.load.format_map(keys)
    except (KeyError, ValueError):
        return 0.0
    return circuit.functions[function].pressure.get(load, 0.0)


def part_at(at: str | None, circuit: CircuitGraph) -> str | None:
    """The part that a place names: itself, or the longest part id that a point (`pump-1-outlet`) starts with."""
    if at is None or at in circuit.parts:
        return at
    return max((part for part in circuit.parts if at.startswith(f"{part}-")), key=len, default=None)
