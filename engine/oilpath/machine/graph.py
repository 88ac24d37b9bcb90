"""The circuit as a directed graph (networkx): one typed part on each node, the oil's path for every function.

An edge's `kind` says what passes along it: oil (suction, delivery, work, relief, return, drain), a pilot or other
signal, or a drive. Series and parallel are as in the circuit file: what stands between spool and cylinder is passed
in turn, reliefs and make-up checks branch off on the cylinder's side.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

from oilpath.documents.machine import Machine
from oilpath.knowledge.circuit import Feeds, Function, Part
from oilpath.once import once

if TYPE_CHECKING:
    import networkx as nx

PASSING = frozenset({"suction", "delivery", "work", "return"})
"""kinds of line on the oil's way through a function; reliefs and drains branch off it"""


@dataclass(frozen=True, slots=True)
class CircuitGraph:
    """The circuit of one machine: its present parts, functions and the pumps that feed them."""

    graph: nx.DiGraph[str]
    parts: Mapping[str, Part]
    functions: Mapping[str, Function]
    allocation: Feeds
    control: str
    reservoir: str
    _paths: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _served: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def pumps(self, function: str) -> tuple[str, ...]:
        """Pumps of a function: the one that feeds it first-hand, then the one that a merge valve adds."""
        group = self.functions[function].group
        first = tuple(pump for pump, groups in self.allocation.pumps.items() if group in groups)
        second = self.allocation.merge.get(function)
        merged = self.functions[function].merge_valve
        return first + ((second,) if second and merged in self.parts and second not in first else ())

    def fed(self, pump: str) -> tuple[str, ...]:
        """Functions that a pump feeds first-hand."""
        groups = self.allocation.pumps.get(pump, ())
        return tuple(name for name, function in self.functions.items() if function.group in groups)

    def merged(self, pump: str) -> tuple[str, ...]:
        """Functions that a pump joins through a merge valve."""
        return tuple(name for name in self.functions if pump in self.pumps(name)[1:])

    def main_pumps(self) -> tuple[str, ...]:
        """The pumps that feed functions."""
        return tuple(pump for pump in self.allocation.pumps if pump in self.parts)

    def path(self, function: str) -> tuple[str, ...]:
        """The oil's way for a function: tank, suction, pump(s), valves, actuator and back to the tank.

        Raises networkx.NetworkXNoPath where the circuit's lines do not connect it.
        """
        if function not in self._paths:
            self._paths[function] = self._find_path(function)
        return self._paths[function]

    def _find_path(self, name: str) -> tuple[str, ...]:
        function = self.functions[name]
        oil = self.graph.graph["oil"]
        way: list[str] = []
        for pump in self.pumps(name):
            second = pump != self.pumps(name)[0]
            gates = (function.merge_valve,) if second and function.merge_valve else function.gates
            stops = [self.reservoir, pump, *(gate for gate in gates if gate in self.parts), function.spool]
            way += self._through(oil, stops)
        supply = [part for part in function.supply if part in self.parts]
        exhaust = [part for part in function.exhaust if part in self.parts]
        way += self._through(oil, [function.spool, *supply, function.actuator, *exhaust, function.spool])
        way += self._through(oil, [function.spool, self.reservoir])
        return tuple(dict.fromkeys(way))

    @staticmethod
    def _through(oil: nx.DiGraph[str], stops: list[str]) -> list[str]:
        import networkx as nx

        way: list[str] = []
        for a, b in pairwise(stops):
            way += nx.shortest_path(oil, a, b)
        return way

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
        if part not in self._served:
            self._served[part] = self._find_functions(part)
        return self._served[part]

    def _find_functions(self, part: str) -> tuple[str, ...]:
        shunts = self.graph.graph["shunts"].get(part, ())
        owner = self.parts[part].of if part in self.parts else None
        if owner and part in self.parts[owner].members:
            return self.functions_of(owner)
        return tuple(
            name
            for name, f in self.functions.items()
            if part in self.path(name)
            or part in (f.pilot, *f.drag)
            or name in shunts
            or (
                self._owns(part, f.actuator)
                and self.parts[part].end is None
                and self.parts[part].function in (None, name)
            )
        )

    def _owns(self, part: str, actuator: str) -> bool:
        """Whether a part belongs to an actuator (a two-speed shift, a brake)."""
        return part in self.parts and self.parts[part].of == actuator

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


def _add_delivery(circuit: CircuitGraph) -> None:
    """Delivery lines follow from the allocation: pump → gates → spool, second pump → merge valve → spool."""
    for name, function in circuit.functions.items():
        for number, pump in enumerate(circuit.pumps(name)):
            between = function.gates if number == 0 else (function.merge_valve or "",)
            way = [pump, *(part for part in between if part in circuit.parts), function.spool]
            for a, b in pairwise(part for part in way if part in circuit.parts):
                circuit.graph.add_edge(a, b, kind="delivery")


def _present(machine: Machine) -> dict[str, Part]:
    """The machine's parts: with an actuator all that belongs to it is absent; what acts on another stands alone."""
    known = machine.circuit.parts
    absent = set(machine.absent)
    actuators = absent & {function.actuator for function in machine.circuit.functions.values()}
    absent |= {name for name, part in known.items() if part.of in actuators}
    there = {name: part for name, part in known.items() if name not in absent}
    return {name: part.model_copy(update={"of": None}) if part.of in absent else part for name, part in there.items()}


@once(64)
def circuit_graph(machine: Machine) -> CircuitGraph:
    """The graph of a machine's circuit, without its absent parts; built once for each machine object."""
    import networkx as nx

    circuit = machine.circuit
    parts = _present(machine)
    graph: nx.DiGraph[str] = nx.DiGraph(shunts=dict(circuit.shunts))
    for name, part in parts.items():
        graph.add_node(name, part=part)
    for line in circuit.lines:
        through = [name for name in line.through if name in parts]
        for a, b in pairwise(through):
            graph.add_edge(a, b, kind=line.kind)
            if line.both_ways:
                graph.add_edge(b, a, kind=line.kind)
    functions = {name: f for name, f in circuit.functions.items() if f.actuator in parts and f.spool in parts}
    control = machine.control or circuit.control
    built = CircuitGraph(graph, parts, functions, machine.allocation, control, circuit.reservoir)
    _add_delivery(built)
    passing = [(a, b) for a, b, kind in graph.edges(data="kind") if kind in PASSING]
    graph.graph["oil"] = nx.DiGraph(passing)
    return built
