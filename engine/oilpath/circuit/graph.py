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

from oilpath.formats.circuit import Feeds, Function, Part
from oilpath.formats.machine import Machine

if TYPE_CHECKING:
    import networkx as nx

OIL = frozenset({"suction", "delivery", "work", "relief", "return", "drain"})


@dataclass(frozen=True, slots=True)
class CircuitGraph:
    """The circuit of one machine: its present parts, functions and the pumps that feed them."""

    graph: nx.DiGraph[str]
    parts: Mapping[str, Part]
    functions: Mapping[str, Function]
    allocation: Feeds
    control: str
    _paths: dict[str, tuple[str, ...]] = field(default_factory=dict)

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
        import networkx as nx

        function = self.functions[name]
        kinds = self.graph.edges
        oil = nx.subgraph_view(self.graph, filter_edge=lambda a, b: kinds[a, b]["kind"] in OIL - {"relief", "drain"})
        way: list[str] = []
        for pump in self.pumps(name):
            second = pump != self.pumps(name)[0]
            gates = (function.merge_valve,) if second and function.merge_valve else function.gates
            stops = [
                next(iter(self.of_class("tank")), pump), pump, *(g for g in gates if g in self.parts), function.spool
            ]  # fmt: skip
            way += self._through(oil, [stop for stop in stops if stop in oil])
        supply = [part for part in function.supply if part in self.parts]
        exhaust = [part for part in function.exhaust if part in self.parts]
        way += self._through(oil, [function.spool, *supply, function.actuator, *exhaust, function.spool])
        tanks = self.of_class("tank")
        if tanks:
            way += self._through(oil, [function.spool, tanks[0]])
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
        shunts = self.graph.graph["shunts"].get(part, ())
        return tuple(
            name
            for name, f in self.functions.items()
            if part in self.path(name) or part in (f.pilot, *f.drag) or name in shunts
        )

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


_CACHE: dict[int, tuple[Machine, CircuitGraph]] = {}


def circuit_graph(machine: Machine) -> CircuitGraph:
    """The graph of a machine's circuit, without its absent parts; built once for each machine object."""
    kept = _CACHE.get(id(machine))
    if kept is not None and kept[0] is machine:
        return kept[1]
    import networkx as nx

    circuit = machine.circuit
    parts = {name: part for name, part in circuit.parts.items() if name not in machine.absent}
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
    built = CircuitGraph(graph, parts, functions, machine.allocation, machine.control or circuit.control)
    if len(_CACHE) > 64:
        _CACHE.clear()
    _CACHE[id(machine)] = (machine, built)
    return built
