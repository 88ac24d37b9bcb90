"""A circuit checked in itself: every id that it uses is one it defines, and the oil finds its way."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import cast

from oilpath.formats.circuit import Circuit, Function, Part
from oilpath.formats.machine import Machine
from oilpath.formats.nodes import Node
from oilpath.formats.problems import nearest, shorten
from oilpath.formats.walk import Spot

Place = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with a circuit: where, what, and what is accepted."""

    place: Place
    message: str
    accepted: str = ""


def check_circuit(circuit: Circuit, top: Spot) -> bool:
    """Whether a circuit read from the file at `top` is sound; its faults are noted as problems of that file."""
    faults = list(circuit_faults(circuit))
    for fault in faults:
        at_place(top, fault.place).wrong(fault.message, fault.accepted)
    return not faults


def at_place(top: Spot, place: Place) -> Spot:
    """The spot of a path below `top`, or of its nearest known ancestor's line."""
    node, line = top.node, top.line
    for step in place:
        if isinstance(node.value, dict) and isinstance(step, str) and step in node.value:
            line, node = node.key_lines[step], cast("Node", node.value[step])
        elif isinstance(node.value, list) and isinstance(step, int) and step < len(node.value):
            node = cast("Node", node.value[step])
            line = node.line
        else:
            break
    return Spot(top.paper, node, (*top.path, *place), line)


def circuit_faults(circuit: Circuit) -> Iterator[Fault]:
    """Every id of a circuit that it does not define, and every group that no pump or two pumps feed."""
    parts, functions = circuit.parts, circuit.functions
    yield from _unknown([circuit.reservoir], parts, ("reservoir",), "a part")
    for name, part in parts.items():
        yield from _part(circuit, name, part)
    for number, line in enumerate(circuit.lines):
        yield from _unknown(line.through, parts, ("lines", number, "through"), "a part")
    for name, function in functions.items():
        yield from _function(circuit, name, function)
    for key, table, known, what in (
        ("shunts", circuit.shunts, functions, "a function"),
        ("reliefs", circuit.reliefs, parts, "a part"),
        ("gauges", circuit.gauges, parts, "a part"),
    ):
        for name, names in table.items():
            yield from _unknown([name], parts, (key, name), "a part")
            yield from _unknown(names, known, (key, name), what)
    for name, hold in circuit.holds.items():
        yield from _unknown([name, hold.valve], parts, ("holds", name), "a part")
        if name not in {function.actuator for function in functions.values()}:
            yield Fault(("holds", name), "is moved by no function", "an actuator of a function")
    for number, response in enumerate(circuit.responses):
        named = (response.at, *(factor.part for factor in response.factors))
        yield from _unknown(named, parts, ("responses", number), "a part")
    yield from _feeds(circuit)


def _unknown(names: Iterable[str | None], known: Collection[str], place: Place, what: str) -> Iterator[Fault]:
    for name in names:
        if name is not None and name not in known:
            near = nearest(name, known)
            hint = f"did you mean {near}?" if near else f"{what} that this circuit defines"
            yield Fault(place, f"`{shorten(name)}` is not {what} of this circuit", hint)


def _part(circuit: Circuit, name: str, part: Part) -> Iterator[Fault]:
    place: Place = ("parts", name)
    yield from _unknown([part.of], circuit.parts, (*place, "of"), "a part")
    yield from _unknown([part.function], circuit.functions, (*place, "function"), "a function")
    yield from _unknown(part.members, circuit.parts, (*place, "members"), "a part")


def _function(circuit: Circuit, name: str, function: Function) -> Iterator[Fault]:
    place: Place = ("functions", name)
    yield from _unknown([function.opposite], circuit.functions, (*place, "opposite"), "a function")
    for key, names in (
        ("actuator", (function.actuator,)),
        ("spool", (function.spool,)),
        ("pilot", (function.pilot,)),
        ("merge-valve", (function.merge_valve,)),
        ("gates", function.gates),
        ("supply", function.supply),
        ("exhaust", function.exhaust),
        ("drag", function.drag),
        ("regeneration", (function.regeneration.valve if function.regeneration else None,)),
    ):
        yield from _unknown(names, circuit.parts, (*place, key), "a part")


def _feeds(circuit: Circuit) -> Iterator[Fault]:
    groups = tuple(dict.fromkeys(function.group for function in circuit.functions.values()))
    for pump, fed in circuit.feeds.pumps.items():
        yield from _unknown([pump], circuit.parts, ("feeds", pump), "a part")
        yield from _unknown(fed, groups, ("feeds", pump), "a group of functions")
    for function, pump in circuit.feeds.merge.items():
        yield from _unknown([function], circuit.functions, ("feeds", "merge", function), "a function")
        yield from _unknown([pump], circuit.feeds.pumps, ("feeds", "merge", function), "a pump")
    for group in groups:
        count = sum(group in fed for fed in circuit.feeds.pumps.values())
        if count != 1:
            how = "no pump" if count == 0 else f"{count} pumps"
            yield Fault(("feeds",), f"{shorten(group)} is fed by {how}", "each group of functions under one pump")


def blocked_functions(machine: Machine) -> tuple[str, ...]:
    """Functions to which the oil finds no way along the circuit's lines, absent parts left out."""
    import networkx as nx

    from oilpath.circuit.graph import circuit_graph

    graph = circuit_graph(machine)
    blocked = []
    for name in graph.functions:
        try:
            graph.path(name)
        except (nx.NetworkXNoPath, nx.NodeNotFound):
            blocked.append(name)
    return tuple(blocked)
