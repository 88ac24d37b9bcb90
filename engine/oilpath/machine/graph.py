"""The circuit of one machine: its present parts, what each serves, and the oil's way for every function.

What the lines say is in `oilpath.knowledge.wiring`; here the parts that the machine lacks are left out (their
neighbours join) and the pumps are set before the functions that they feed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from oilpath.documents.machine import Machine
from oilpath.knowledge.circuit import Feeds
from oilpath.knowledge.wiring import DriftHold, PlacedPart, ServedFunction, Table, Wiring
from oilpath.records import dataclass

if TYPE_CHECKING:
    import networkx as nx

PASSING = frozenset({"suction", "delivery", "merge", "work", "return"})
"""kinds of line on the oil's way through a function; reliefs and drains branch off it"""


@dataclass(frozen=True, slots=True)
class CircuitGraph:
    """The circuit of one machine: its present parts, functions and the pumps that feed them; see `Wiring`."""

    parts: Mapping[str, PlacedPart]
    functions: Mapping[str, ServedFunction]
    allocation: Feeds
    control: str
    reservoir: str
    holds: Mapping[str, DriftHold]
    served_first: Mapping[str, str]
    """groups of functions that get their oil before all others → the part that sees to it"""
    shunts: Table
    reliefs: Table
    gauges: Table
    controls: Table
    filling: Table
    driving: Table
    drains: Table
    returning: Table
    """part behind the spools, on the way back to the reservoir → the functions whose oil passes it"""
    moved: Table
    pilot_pumps: tuple[str, ...]
    piloted: Table
    _pumps: Table
    _paths: Table
    _served: Table

    def pumps(self, function: str) -> tuple[str, ...]:
        """Pumps of a function: the one that feeds it directly, then the one added by a merge valve."""
        return self._pumps[function]

    def fed(self, pump: str) -> tuple[str, ...]:
        """Functions that a pump feeds directly."""
        groups = self.allocation.pumps.get(pump, ())
        return tuple(name for name, function in self.functions.items() if function.group in groups)

    def merged(self, pump: str) -> tuple[str, ...]:
        """Functions that a pump joins through a merge valve."""
        return tuple(name for name in self.functions if pump in self.pumps(name)[1:])

    def main_pumps(self) -> tuple[str, ...]:
        """The pumps that feed functions."""
        return tuple(pump for pump in self.allocation.pumps if pump in self.parts)

    def path(self, function: str) -> tuple[str, ...]:
        """The oil's path for a function: tank, suction, pump(s), valves, actuator and back to the tank."""
        return self._paths[function]

    def shared(self, functions: Iterable[str]) -> tuple[str, ...]:
        """Parts that the paths of all these functions have in common, in the order of the first one."""
        names = list(functions)
        if not names:
            return ()
        common = set.intersection(*(set(self.path(name)) for name in names))
        return tuple(part for part in self.path(names[0]) if part in common)

    def of_class(self, *classes: str) -> tuple[str, ...]:
        """Ids of the parts of these classes, in the circuit's order."""
        return tuple(name for name, part in self.parts.items() if part.class_ in classes)

    def title(self, part: str) -> str:
        """A part's title for people."""
        return self.parts[part].title if part in self.parts else part

    def side(self, part: str) -> str | None:
        """left, right or None."""
        return self.parts[part].side if part in self.parts else None

    def functions_of(self, part: str) -> tuple[str, ...]:
        """Functions whose oil passes this part or that it serves (a pilot valve, a relief, a brake)."""
        return self._served.get(part, ())

    def pump_of(self, part: str) -> str | None:
        """The main pump whose group a part belongs to: itself, what it acts on, or what feeds its functions."""
        pumps = self.main_pumps()
        seen: set[str] = set()
        at: str | None = part
        while at and at not in seen:
            if at in pumps:
                return at
            seen.add(at)
            at = self.parts[at].of if at in self.parts else None
        feeding = {self.pumps(name)[0] for name in self.functions_of(part) if self.pumps(name)}
        return feeding.pop() if len(feeding) == 1 else None


def _present(wiring: Wiring, lacking: Iterable[str]) -> dict[str, PlacedPart]:
    """The machine's parts: with an actuator all that belongs to it is absent; what acts on another stands alone."""
    absent = set(lacking)
    actuators = absent & {function.actuator for function in wiring.functions.values()}
    absent |= {name for name, part in wiring.parts.items() if part.of in actuators}
    there = {name: part for name, part in wiring.parts.items() if name not in absent}
    return {name: replace(part, of=None) if part.of in absent else part for name, part in there.items()}


def _without_absent(function: ServedFunction, parts: Mapping[str, PlacedPart]) -> ServedFunction:
    def there(names: Iterable[str]) -> tuple[str, ...]:
        return tuple(name for name in names if name in parts)

    def one(name: str | None) -> str | None:
        return name if name in parts else None

    return replace(
        function, pilot=one(function.pilot), merge_valve=one(function.merge_valve),
        regen_valve=one(function.regen_valve), gates=there(function.gates), supply=there(function.supply),
        exhaust=there(function.exhaust), drag=there(function.drag),
    )  # fmt: skip


def _pumps_of(name: str, function: ServedFunction, feeds: Feeds, parts: Mapping[str, PlacedPart]) -> tuple[str, ...]:
    first = tuple(pump for pump, groups in feeds.pumps.items() if function.group in groups and pump in parts)
    second = feeds.merge.get(name)
    joins = second is not None and second in parts and function.merge_valve is not None and second not in first
    return (*first, second) if joins and second is not None else first


def _way(function: ServedFunction, pumps: tuple[str, ...], wiring: Wiring) -> Iterator[str]:
    """Parts that the oil passes, those that the machine lacks and those it passes twice included."""
    for number, pump in enumerate(pumps):
        yield from wiring.inlets.get(pump, (pump,))
        if number and function.merge_valve is not None:
            yield function.merge_valve
        else:
            yield from function.gates
        yield function.spool
    yield from (*function.supply, function.actuator, *function.exhaust)
    yield from wiring.outlets.get(function.spool, ())


def _served(
    parts: Mapping[str, PlacedPart], functions: Mapping[str, ServedFunction], paths: Table, shunts: Table
) -> dict[str, tuple[str, ...]]:
    """Part → functions that it serves: on the oil's way, beside it, by moving it, or as a piece of the actuator."""
    serving: dict[str, dict[str, None]] = {name: {} for name in parts}
    owned: dict[str, list[str]] = {}
    for name, part in parts.items():
        if part.of is not None and part.end is None:
            owned.setdefault(part.of, []).append(name)
    for name, f in functions.items():
        own = (part for part in owned.get(f.actuator, ()) if parts[part].function in (None, name))
        beside = (part for part, fed in shunts.items() if name in fed)
        for part in (*paths[name], *([f.pilot] if f.pilot else ()), *f.drag, *beside, *own):
            if part in serving:
                serving[part][name] = None
    for part in parts.values():
        for member in part.members:
            if member in serving:
                serving[member] = serving[next(name for name, other in parts.items() if other is part)]
    return {name: tuple(found) for name, found in serving.items() if found}


def _filtered(table: Table, parts: Mapping[str, PlacedPart], values: Iterable[str]) -> dict[str, tuple[str, ...]]:
    known = set(values)
    return {name: tuple(value for value in found if value in known) for name, found in table.items() if name in parts}


def _returning(
    functions: Mapping[str, ServedFunction], wiring: Wiring, parts: Mapping[str, PlacedPart]
) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for name, f in functions.items():
        for part in wiring.outlets.get(f.spool, ())[1:]:
            if part in parts:
                found.setdefault(part, []).append(name)
    return {part: tuple(names) for part, names in found.items()}


def circuit_graph(machine: Machine) -> CircuitGraph:
    """The circuit of a machine, without its absent parts."""
    circuit, feeds = machine.circuit, machine.allocation
    wiring = circuit.wiring
    parts = _present(wiring, machine.absent)
    functions = {
        name: _without_absent(f, parts)
        for name, f in wiring.functions.items()
        if f.actuator in parts and f.spool in parts
    }
    pumps = {name: _pumps_of(name, f, feeds, parts) for name, f in functions.items()}
    paths = {
        name: tuple(dict.fromkeys(part for part in _way(f, pumps[name], wiring) if part in parts))
        for name, f in functions.items()
    }
    shunts = _filtered(wiring.shunts, parts, functions)
    holds = {
        name: hold if hold.valve in parts else replace(hold, valve=None)
        for name, hold in wiring.holds.items()
        if name in parts
    }
    return CircuitGraph(
        parts=parts, functions=functions, allocation=feeds, control=machine.control or circuit.control,
        reservoir=circuit.reservoir, holds=holds,
        served_first={group: part for group, part in circuit.served_first.items() if part in parts},
        shunts=shunts, reliefs=_filtered(wiring.reliefs, parts, parts),
        gauges=_filtered(wiring.gauges, parts, parts), controls=_filtered(wiring.controls, parts, parts),
        filling=_filtered(wiring.filling, parts, parts),
        driving=_filtered(wiring.driving, parts, parts), drains=_filtered(wiring.drains, parts, parts),
        returning=_returning(functions, wiring, parts),
        moved=_filtered(wiring.moved, parts, parts),
        pilot_pumps=tuple(pump for pump in wiring.pilot_pumps if pump in parts),
        piloted=_filtered(wiring.piloted, parts, functions), _pumps=pumps, _paths=paths,
        _served=_served(parts, functions, paths, shunts),
    )  # fmt: skip


def draw(machine: Machine) -> nx.DiGraph[str]:
    """The lines of a machine as one graph of its present parts: `kind` on every edge, the pumps set before the spools.

    For drawing, and for asking what no table of `CircuitGraph` says.
    """
    import networkx as nx

    circuit = circuit_graph(machine)
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(circuit.parts)
    for line in machine.circuit.lines:
        through = [name for name in line.parts if name in circuit.parts]
        for a, b in pairwise(through):
            graph.add_edge(a, b, kind=line.kind)
            if line.both_ways:
                graph.add_edge(b, a, kind=line.kind)
    for name, f in circuit.functions.items():
        for number, pump in enumerate(circuit.pumps(name)):
            between = f.gates if number == 0 else (f.merge_valve or f.spool,)
            graph.add_edge(pump, (*between, f.spool)[0], kind="delivery")
    return graph
