"""The lines of a circuit as graphs, and what is asked of them: paths, what lies before and behind, dominators.

Nodes of the graphs are parts, or ports of parts (`boom-cylinder.cap`): the oil does not go from one port of a part to
another but through the part's own work.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

import networkx as nx

from oilpath.knowledge.circuit import Circuit, End, Function, Line, part_of
from oilpath.knowledge.wiring import DriftHold, Names, PlacedPart, ServedFunction, Table, Wiring, own_values

ENDS = ("cap", "rod")
"""ports of a cylinder; those of a motor are its directions"""


def derive(circuit: Circuit) -> Wiring:
    """What the lines of a circuit say. Never raises: what is missing is named in `faults`."""
    return _Lines(circuit).wiring()


def unused(circuit: Circuit) -> tuple[tuple[int, ...], Names]:
    """Numbers of the lines without which the same would follow, and parts that stand on no line."""
    whole = circuit.wiring
    lines = tuple(
        number
        for number in range(len(circuit.lines))
        if derive(circuit.model_copy(update={"lines": circuit.lines[:number] + circuit.lines[number + 1 :]})) == whole
    )
    drawn = {part for line in circuit.lines for part in line.parts}
    return lines, tuple(name for name in circuit.parts if name not in drawn)


class _Lines:
    """The lines of a circuit as graphs, one for each kind."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.graphs: dict[str, nx.DiGraph[str]] = {}
        self.lines: dict[str, list[Line]] = {}
        self.faults: list[tuple[str, str]] = []
        for line in circuit.lines:
            self.lines.setdefault(line.kind, []).append(line)
        self.work = self._graph("work", ports=True)
        self.pumps = self._pumps()
        pilots = self._graph("pilot")
        self.pilot_pumps = tuple(pump for pump in self.pumps if pump in pilots and pump not in circuit.feeds.pumps)
        self.functions: dict[str, ServedFunction] = {}
        self.ways: dict[str, tuple[Names, Names]] = {}
        """function → nodes from spool to actuator and from actuator to spool, ports and ends included"""
        self.moved = self._moved()
        for name, function in circuit.functions.items():
            self.ways[name], self.functions[name] = self._served(name, function)

    def _graph(self, kind: str, *, ports: bool = False) -> nx.DiGraph[str]:
        key = f"{kind}." if ports else kind
        if key not in self.graphs:
            graph = self.graphs[key] = nx.DiGraph()
            for line in self.lines.get(kind, ()):
                edges = list(pairwise(line.through if ports else line.parts))
                graph.add_edges_from(edges)
                if line.both_ways:
                    graph.add_edges_from((b, a) for a, b in edges)
        return self.graphs[key]

    def _pumps(self) -> Names:
        """Parts that draw oil: at the end of suction lines, and those that `feeds` names."""
        suction = self._graph("suction")
        drawing = [node for node in suction if not suction.succ[node]]
        return tuple(dict.fromkeys([*self.circuit.feeds.pumps, *drawing]))

    def _moved(self) -> dict[str, Names]:
        moved: dict[str, dict[str, None]] = {}
        for kind in ("pilot", "signal"):
            for line in self.lines.get(kind, ()):
                for mover, part in pairwise(line.parts):
                    moved.setdefault(part, {})[mover] = None
        return {part: tuple(movers) for part, movers in moved.items()}

    # --- a movement ---------------------------------------------------------------------

    def _served(self, name: str, function: Function) -> tuple[tuple[Names, Names], ServedFunction]:
        spool = self._spool(function.inlet)
        if not spool:
            lacking = f"no work line joins {function.inlet} with a valve that has a return line"
            self.faults.append((f"functions.{name}", lacking))
        inward, outward = self._inward(function, spool), self._outward(name, function, spool)
        pilot = self._pilot(function, spool)
        made = ServedFunction(
            **own_values(function), spool=spool, pilot=pilot, merge_valve=self._merge_valve(spool, pilot),
            regen_valve=self._regen_valve(name, function, inward, outward), gates=self._gates(spool),
            supply=_parts(inward[1:-1]), exhaust=_parts(outward[1:-1]), drag=self._drag(function.actuator),
        )  # fmt: skip
        return (inward, outward), made

    def _spool(self, inlet: str) -> str:
        """The nearest part before a port from which oil returns to the tank; empty if there is none."""
        returning = self._graph("return")
        if inlet not in self.work:
            return ""
        before = (a for _, a in nx.bfs_edges(self.work, inlet, reverse=True))
        return next((part for part in before if part in returning and returning.succ[part]), "")

    def _inward(self, function: Function, spool: str) -> Names:
        return tuple(nx.shortest_path(self.work, spool, function.inlet)) if spool else ()

    def _outward(self, name: str, function: Function, spool: str) -> Names:
        """The way from the actuator's other port (the same one, where it is drawn without ports) to the spool."""
        if not spool:
            return ()
        own, inlet = f"{function.actuator}.", function.inlet
        others = [node for node in self.work if node.startswith(own) and node != inlet] if "." in inlet else [inlet]
        for other in others:
            if nx.has_path(self.work, other, spool):
                return tuple(nx.shortest_path(self.work, other, spool))
        self.faults.append((f"functions.{name}", f"no work line leads from {function.actuator} back to {spool}"))
        return ()

    def _gates(self, spool: str) -> Names:
        """What is on delivery lines before a spool, in order."""
        delivery = self._graph("delivery")
        before = [a for _, a in nx.bfs_edges(delivery, spool, reverse=True)] if spool in delivery else []
        return tuple(part for part in reversed(before) if part not in self.pumps)

    def _pilot(self, function: Function, spool: str) -> str | None:
        """The part whose pilot line ends at the side of the spool that leads oil to the function's port."""
        pilots = self._graph("pilot", ports=True)
        port = function.inlet.partition(".")[2]
        side = f"{spool}.{port}" if port else spool
        return next((part_of(node) for node in pilots.pred[side]), None) if side in pilots else None

    def _merge_valve(self, spool: str, pilot: str | None) -> str | None:
        """The valve through which a second pump joins: any before the spool, but if moved, by this function's pilot."""
        merge = self._graph("merge")
        if spool not in merge:
            return None
        return next((v for v in merge.pred[spool] if v not in self.moved or pilot in self.moved[v]), None)

    def _regen_valve(self, name: str, function: Function, inward: Names, outward: Names) -> str | None:
        """What leads oil of the outlet side to the inlet side, one way."""
        for line in self.lines.get("work", ()):
            bridges = not line.both_ways and line.through[0] in outward and line.through[-1] in inward
            if function.regeneration and bridges and len(line.through) > 2:
                return part_of(line.through[1])
        if function.regeneration:
            lacking = f"no valve leads oil from behind {function.actuator} to the inlet side"
            self.faults.append((f"functions.{name}.regeneration", lacking))
        return None

    def _drag(self, actuator: str) -> Names:
        """Mechanical parts that the actuator turns or that hold it."""
        drive = self._graph("drive")
        if actuator not in drive:
            return ()
        return (*sorted(nx.ancestors(drive, actuator), key=list(drive).index), *_behind(drive, actuator))

    # --- what follows -------------------------------------------------------------------

    def wiring(self) -> Wiring:
        circuit = self.circuit
        shunts, reliefs = self._shunts(), self._reliefs()
        piloted = self._piloted()
        inlets = self._inlets()
        outlets = {f.spool: self._outlet(f.spool) for f in self.functions.values() if f.spool}
        self._check_merging()
        return Wiring(
            parts=self._placed(piloted), functions=self.functions,
            holds={name: self._hold(name) for name in circuit.holds}, shunts=shunts, reliefs=reliefs,
            controls=self._controls(), gauges=self._gauges(), inlets=inlets, outlets=outlets,
            filling=self._reaching("suction", self.pumps),
            driving=self._reaching("drive", self.pumps),
            drains={line.parts[0]: line.parts[1:] for line in self.lines.get("drain", ())}, moved=self.moved,
            pilot_pumps=self.pilot_pumps, piloted=piloted, faults=tuple(self.faults),
        )  # fmt: skip

    def _reaching(self, kind: str, targets: Iterable[str]) -> dict[str, Names]:
        """Part → which of `targets` can be reached from it along lines of a kind."""
        graph, found = self._graph(kind), dict[str, dict[str, None]]()
        for target in targets:
            for part in nx.ancestors(graph, target) if target in graph else ():
                found.setdefault(part, {})[target] = None
        return {part: tuple(found[part]) for part in graph if part in found}

    def _inlets(self) -> dict[str, Names]:
        suction, tank = self._graph("suction"), self.circuit.reservoir
        reached = nx.single_source_shortest_path(suction, tank) if tank in suction else {}
        for pump in self.pumps:
            if pump not in reached:
                self.faults.append((f"parts.{pump}", f"no suction line leads from {tank} to it"))
        return {pump: tuple(reached.get(pump, (pump,))) for pump in self.pumps}

    def _outlet(self, spool: str) -> Names:
        back, tank = self._graph("return"), self.circuit.reservoir
        if tank in back and nx.has_path(back, spool, tank):
            return tuple(nx.shortest_path(back, spool, tank))
        self.faults.append((f"parts.{spool}", f"no return line leads from it to {tank}"))
        return (spool,)

    def _check_merging(self) -> None:
        for name in self.circuit.feeds.merge:
            if name in self.functions and self.functions[name].merge_valve is None:
                lacking = "no merge valve before its spool, or none that its pilot valve moves"
                self.faults.append((f"feeds.merge.{name}", lacking))

    def _hold(self, cylinder: str) -> DriftHold:
        """A valve in series between the loaded end and the spool that a pilot line opens holds that end."""
        hold = self.circuit.holds[cylinder]
        port = f"{cylinder}.{hold.loaded}"
        spool = self._spool(port)
        if not spool:
            self.faults.append((f"holds.{cylinder}", f"no work line joins {port} with a valve that has a return line"))
            return DriftHold(hold.loaded, hold.load)
        before = nx.immediate_dominators(self.work, port)
        step, valve = before[spool], None
        while step != port and valve is None:
            valve = part_of(step) if part_of(step) in self.moved else None
            step = before[step]
        return DriftHold(hold.loaded, hold.load, valve)

    def _beside(self) -> Iterator[tuple[Names, Names]]:
        """Relief lines that branch off between spool and actuator: their devices, and the functions that lose oil."""
        for line in self.lines.get("relief", ()):
            node, devices = line.through[0], line.parts[1:-1] if len(line.through) > 2 else line.parts[1:]
            fed = tuple(name for name, (inward, _) in self.ways.items() if self._is_on(node, inward[1:]))
            if fed:
                yield devices, fed

    @staticmethod
    def _is_on(node: str, way: Names) -> bool:
        return node in way or ("." not in node and any(part_of(step) == node for step in way))

    def _shunts(self) -> dict[str, Names]:
        found: dict[str, Names] = {}
        for devices, fed in self._beside():
            for part in devices:
                found[part] = tuple(dict.fromkeys((*found.get(part, ()), *fed)))
        for part, spool in self._own_signals().items():
            found[part] = tuple(name for name, f in self.functions.items() if f.spool == spool)
        return found

    def _signals(self) -> dict[str, Names]:
        """Part that passes load signals on to a pump → the spools whose signals it passes."""
        spools = dict.fromkeys(f.spool for f in self.functions.values())
        toward = self._toward_pumps()
        passing: dict[str, dict[str, None]] = {}
        for spool in spools:
            for part in _behind(self._graph("signal"), spool):
                if part in toward:
                    passing.setdefault(part, {})[spool] = None
        return {part: tuple(found) for part, found in passing.items()}

    def _toward_pumps(self) -> dict[str, Names]:
        """Part → main pumps that its signal reaches, the pumps and what is not a control of theirs left out."""
        return self._reaching("signal", self.circuit.feeds.pumps)

    def _own_signals(self) -> dict[str, str]:
        """Part → the one spool whose load signal it passes on."""
        return {part: spools[0] for part, spools in self._signals().items() if len(spools) == 1}

    def _reliefs(self) -> dict[str, Names]:
        """What limits the pressure of main pumps: reliefs at their outlet, and the line that carries all load signals.

        Under load sensing a pump's pressure follows that line.
        """
        found: dict[str, Names] = {}
        for line in self.lines.get("relief", ()):
            if line.parts[0] in self.circuit.feeds.pumps and len(line.parts) > 2:
                for part in line.parts[1:-1]:
                    found[part] = (*found.get(part, ()), line.parts[0])
        signals, signal, toward = self._signals(), self._graph("signal"), self._toward_pumps()
        for part, spools in signals.items():
            if len(spools) > 1 and any(len(signals.get(before, (before,))) == 1 for before in signal.pred[part]):
                found[part] = toward[part]
        return found

    def _controls(self) -> dict[str, Names]:
        """Part → main pumps that it controls; not the spools, nor what passes on the load signal of one of them."""
        one = {f.spool for f in self.functions.values()} | self._own_signals().keys() | set(self.pumps)
        return {part: pumps for part, pumps in self._toward_pumps().items() if part not in one}

    def _gauges(self) -> dict[str, Names]:
        found: dict[str, Names] = {}
        for pump in self.circuit.feeds.pumps:
            signal = self._graph("signal")
            for part in signal.succ[pump] if pump in signal else ():
                found[part] = (*found.get(part, ()), pump)
        return found

    def _piloted(self) -> dict[str, Names]:
        """Part of the pilot supply → functions whose pilot valves it supplies; pilot reliefs go with their pump."""
        valves = dict.fromkeys(f.pilot for f in self.functions.values() if f.pilot)
        reached = self._reaching("pilot", valves)
        found = {
            part: tuple(name for name, f in self.functions.items() if f.pilot in named)
            for part, named in reached.items()
        }
        for line in self.lines.get("relief", ()):
            if line.parts[0] in self.pilot_pumps:
                found.update(dict.fromkeys(line.parts[1:-1], found.get(line.parts[0], ())))
        return found

    # --- where parts stand --------------------------------------------------------------

    def _placed(self, piloted: Table) -> dict[str, PlacedPart]:
        of, ports, members = self._owners(piloted), self._ports(), self._members()
        of.update({member: pair for pair, found in members.items() for member in found})
        pilots = {f.pilot: name for name, f in self.functions.items() if f.pilot}
        inlets = {function.inlet: name for name, function in self.circuit.functions.items()}
        placed = {}
        for name, part in self.circuit.parts.items():
            at = ports.get(name, "")
            end: End | None = next((end for end in ENDS if at == f"{of.get(name)}.{end}"), None)  # type: ignore[misc]
            function = pilots.get(name) or (inlets.get(at) if end is None else None)
            placed[name] = PlacedPart(
                part.class_, part.title, part.side, of.get(name), end, function, members.get(name, ())
            )
        return placed

    def _members(self) -> dict[str, Names]:
        """Cylinders of a pair: work lines join them with the pair itself, not with one of its ports."""
        actuators = {f.actuator for f in self.functions.values()}
        found: dict[str, Names] = {}
        for line in self.lines.get("work", ()):
            if line.through[0] in actuators:
                found[line.through[0]] = (*found.get(line.through[0], ()), *line.parts[1:])
        return found

    def _ports(self) -> dict[str, str]:
        """Part in series or beside → the one port of an actuator at which it stands."""
        found: dict[str, dict[str, None]] = {}
        beside: dict[str, str] = {}
        for inward, outward in self.ways.values():
            for way, port in ((inward[1:-1], inward[-1:]), (outward[1:-1], outward[:1])):
                for node in way:
                    found.setdefault(part_of(node), {}).update(dict.fromkeys(port))
        for devices, fed in self._beside():
            at_port = self.circuit.functions[fed[0]].inlet if len(fed) == 1 else ""
            beside.update(dict.fromkeys(devices, at_port))
        return {part: next(iter(at)) for part, at in found.items() if len(at) == 1} | beside

    def _owners(self, piloted: Table) -> dict[str, str]:
        """Part → the actuator or pump that it belongs to or acts on, where that is one."""
        found: dict[str, dict[str, None]] = {}

        def note(owner: str, parts: Iterable[str]) -> None:
            for part in parts:
                if part != owner:
                    found.setdefault(part, {})[owner] = None

        for f in self.functions.values():
            note(f.actuator, (*f.supply, *f.exhaust, *f.drag, *([f.regen_valve] if f.regen_valve else ())))
            note(f.actuator, self.moved.get(f.actuator, ()))
        for devices, fed in self._beside():
            for name in fed:
                note(self.functions[name].actuator, devices)
        for pump in self.pumps:
            note(pump, self._at_pump(pump))
        for pump in self.pilot_pumps:
            note(pump, piloted)
        return {part: next(iter(owners)) for part, owners in found.items() if len(owners) == 1}

    def _at_pump(self, pump: str) -> Iterator[str]:
        """What controls a main pump, reads it or branches off at it."""
        yield from (part for part, pumps in self._controls().items() if pump in pumps)
        yield from (part for part, pumps in self._gauges().items() if pump in pumps)
        for line in self.lines.get("relief", ()):
            if line.parts[0] == pump:
                yield from line.parts[1:-1] if len(line.parts) > 2 else line.parts[1:]


def _parts(nodes: Iterable[str]) -> Names:
    return tuple(dict.fromkeys(map(part_of, nodes)))


def _behind(graph: nx.DiGraph[str], start: str) -> Names:
    """All that lies behind a part along the lines of a graph, nearest first."""
    return tuple(b for _, b in nx.bfs_edges(graph, start)) if start in graph else ()
