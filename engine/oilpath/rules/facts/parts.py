"""Facts about the parts of one machine: what each is, where it is, which functions it serves in which role."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from oilpath.flow import Fact
from oilpath.knowledge.rule import slots_for
from oilpath.knowledge.wiring import DriftHold, PlacedPart, ServedFunction
from oilpath.machine.graph import CircuitGraph

Holds = Mapping[str, DriftHold]


def part_facts(circuit: CircuitGraph) -> tuple[Fact, ...]:
    """One fact for each part, or for each function that it serves."""
    return tuple(fact for name, part in circuit.parts.items() for fact in _facts(name, part, circuit))


def _facts(name: str, part: PlacedPart, circuit: CircuitGraph) -> Iterator[Fact]:
    pump, holds = circuit.pump_of(name), circuit.holds
    served = [(function, role) for function in circuit.functions if (role := _role(name, part, function, circuit))]
    if not served:
        actuator = part.of if part.of in {f.actuator for f in circuit.functions.values()} else None
        yield _fact(name, part, pump, actuator, carries=_carries(part.end, actuator, holds))
    for function, role in served:
        group, actuator = circuit.functions[function].group, circuit.functions[function].actuator
        carries = _carries(part.end, actuator, holds)
        yield _fact(name, part, pump, actuator, carries=carries, group=group, function=function, role=role)


def _fact(name: str, part: PlacedPart, pump: str | None, actuator: str | None, **more: str | None) -> Fact:
    words = slots_for(
        "part", part=name, class_=part.class_, pump=pump, side=part.side, of=part.of, end=part.end,
        actuator=actuator, title=part.title, **more,
    )  # fmt: skip
    return Fact("part", words)


def _role(name: str, part: PlacedPart, function: str, circuit: CircuitGraph) -> str | None:
    """What a part does for a function; None if it serves it in no way of its own (a tank, a pump)."""
    f = circuit.functions[function]
    if name == f.actuator or (part.of == f.actuator and name in circuit.parts[f.actuator].members):
        return "actuator"
    for role, names in _places(f):
        if name in names:
            return role
    if function in circuit.shunts.get(name, ()):
        return "shunt"
    if part.of == f.actuator and part.end is None and part.function in (None, function):
        return "own"
    return None


def _places(f: ServedFunction) -> tuple[tuple[str, tuple[str | None, ...]], ...]:
    return (
        ("spool", (f.spool,)),
        ("pilot", (f.pilot,)),
        ("merge", (f.merge_valve,)),
        ("gate", f.gates),
        ("supply", f.supply),
        ("exhaust", f.exhaust),
        ("drag", f.drag),
        ("regeneration", (f.regen_valve,)),
    )


def _carries(end: str | None, actuator: str | None, holds: Holds) -> str | None:
    """Whether the end of a cylinder at which a part stands carries the load in the drift test."""
    hold = holds.get(actuator or "")
    if hold is None or end is None:
        return None
    return "load" if hold.loaded == end else "no-load"
