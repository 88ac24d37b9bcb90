"""What pictures show, as graphs of boxes: the oil's path of what fails, the causes, the plan.

How they are drawn is said in `drawing` (our own, for pages) and `dot` (for Graphviz).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Final, Literal

from oilpath.flow import Diagnosis, PlanStep, ReadingResult, TreeNode
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.way import measured, position
from oilpath.records import dataclass
from oilpath.reports import words as say
from oilpath.reports.names import safe, sentence, small
from oilpath.reports.notes import sayer_of
from oilpath.reports.page import remaining
from oilpath.reports.words import Words
from oilpath.rules.facts.readings import part_at

Kind = Literal["plain", "way", "suspect", "cause", "check", "end"]

MOST_WAYS: Final = 6
"""ways of the oil that are drawn at most"""
_PLACES: Final = ("at", "part", "pump")
SUSPECTED: Final = 0.02
"""share from which a part is marked as suspected"""


@dataclass(frozen=True, slots=True)
class Box:
    """A box: its lines; `share` is how much is suspected in it."""

    id: str
    lines: tuple[str, ...]
    kind: Kind = "plain"
    share: float = 0.0


@dataclass(frozen=True, slots=True)
class Edge:
    """An arrow; beside: for what lies beside the oil's path, or is a thought and no line of oil."""

    tail: str
    head: str
    label: str = ""
    beside: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """Boxes in reading order, and arrows between them."""

    title: str
    boxes: tuple[Box, ...]
    edges: tuple[Edge, ...]


# --- the circuit ----------------------------------------------------------------------


def circuit_picture(diagnosis: Diagnosis, words: Words, circuit: CircuitGraph) -> Picture:
    """The oil's path of what is out (near the limit where nothing is), suspected parts marked with their shares."""
    functions = list(failing(diagnosis, circuit))
    shares: dict[str, float] = {}
    for cause in diagnosis.causes:
        shares[cause.part] = shares.get(cause.part, 0.0) + cause.probability
    edges = dict.fromkeys(edge for function in functions for edge in _way(function, circuit))
    on_way = {name for edge in edges for name in (edge.tail, edge.head)}
    ways = {name: sum(name in circuit.path(one) for one in functions) for name in on_way}
    for part, share in shares.items():
        if share >= SUSPECTED and part not in on_way and part in circuit.parts:
            near = _near(part, functions, circuit)
            if near is not None and near in on_way:
                edges[Edge(part, near, beside=True)] = None
    names = dict.fromkeys(name for edge in edges for name in (edge.tail, edge.head))
    boxes = tuple(
        Box(
            name,
            (
                sentence(words.part(name)),
                *([f"suspected, {say.percent(shares[name])}"] if shares.get(name, 0.0) >= SUSPECTED else []),
            ),
            "suspect" if shares.get(name, 0.0) >= SUSPECTED else "way" if ways.get(name) == len(functions) else "plain",
            shares.get(name, 0.0),
        )
        for name in names
    )
    said = ", ".join(words.function(name) for name in functions)
    return Picture(f"The oil's path for {said}" if functions else "", boxes, tuple(edges))


def failing(diagnosis: Diagnosis, circuit: CircuitGraph) -> Iterator[str]:
    """Functions whose readings are out; near the limit where none is. One of each way, six at most."""
    seen: set[tuple[str, ...]] = set()
    for verdict in ("fail", "near"):
        for result in diagnosis.results:
            if not isinstance(result, ReadingResult) or result.verdict != verdict or not result.standard:
                continue
            for name in _functions(result, circuit):
                if circuit.path(name) not in seen and len(seen) < MOST_WAYS:
                    seen.add(circuit.path(name))
                    yield name
        if seen:
            return


def _functions(result: ReadingResult, circuit: CircuitGraph) -> tuple[str, ...]:
    held = result.keys.get("cylinder")
    if held is not None:
        return tuple(name for name, one in circuit.functions.items() if one.actuator == held)[:1]
    sideways = result.deviation in ("left", "right")  # the slow track is the one that it pulls to
    found = measured(result.keys, circuit)
    if not found:  # a reading at a pump, a part or a point: one way that passes it
        part = part_at(next((result.keys[key] for key in _PLACES if key in result.keys), None), circuit)
        return circuit.functions_of(part)[:1] if part is not None else ()
    return tuple(name for name in found if not sideways or circuit.functions[name].side in (None, result.deviation))


def _way(function: str, circuit: CircuitGraph) -> Iterator[Edge]:
    """The oil's path, with the pump that joins through a merge valve beside the first."""
    path, pumps = list(circuit.path(function)), circuit.pumps(function)
    valve = circuit.functions[function].merge_valve
    joins = [pump for pump in pumps[1:] if pump in path]
    main = [name for name in path if name not in joins and name != valve]
    yield from (Edge(*pair) for pair in pairwise(main))
    if not joins:
        return
    first = path.index(pumps[0])
    after = [name for name in path[path.index(joins[-1]) + 1 :] if name != valve]
    for pump in joins:
        if first:
            yield Edge(path[first - 1], pump)
        way = [pump, *([valve] if valve in path else []), *after[:1]]
        yield from (Edge(*pair) for pair in pairwise(name for name in way if name))


def _near(part: str, functions: Iterable[str], circuit: CircuitGraph) -> str | None:
    """The part on a failing way where another one acts."""
    for function in functions:
        place = position(part, function, circuit)
        if place is not None:
            return circuit.path(function)[place]
    return circuit.parts[part].of


# --- causes and plan ------------------------------------------------------------------


def causes_picture(diagnosis: Diagnosis, words: Words) -> Picture:
    """The troubleshooting tree: symptom, what is shared, part, cause, check."""
    sayer = sayer_of(diagnosis, words)
    boxes: list[Box] = []
    edges: list[Edge] = []

    def add(node: TreeNode, above: str | None) -> None:
        name = f"n{len(boxes)}"
        kind: Kind = "suspect" if node.kind == "cause" else "check" if node.kind == "check" else "plain"
        share = [say.percent(node.probability)] if node.probability is not None and node.kind != "symptom" else []
        boxes.append(Box(name, (sentence(sayer.node(node.says)), *share), kind, node.probability or 0.0))
        if above is not None:
            edges.append(Edge(above, name))
        for child in node.children:
            add(child, name)

    add(diagnosis.tree, None)
    return Picture("From the complaint to the causes", tuple(boxes), tuple(edges))


def plan_picture(diagnosis: Diagnosis, words: Words, deep: int = 3) -> Picture:
    """The plan: checks with their outcomes, down to what is left."""
    boxes: list[Box] = []
    edges: list[Edge] = []

    def add(step: PlanStep, depth: int) -> str:
        name = f"n{len(boxes)}"
        title = sentence(words.check(step.check, step.part))
        boxes.append(Box(name, (title, say.minutes(step.minutes)), "check"))
        for branch in step.branches:
            label = f"{sentence(safe(branch.says))} ({say.percent(branch.probability)})"
            if branch.next is not None and depth > 1:
                edges.append(Edge(name, add(branch.next, depth - 1), label))
                continue
            end = f"n{len(boxes)}"
            left = remaining(diagnosis, words, branch.isolated)
            then = "" if branch.next is None else words.check(branch.next.check, branch.next.part)
            boxes.append(Box(end, (f"then {small(then)}" if then else left or "nothing more to tell apart",), "end"))
            edges.append(Edge(name, end, label))
        return name

    if diagnosis.plan.first is not None:
        add(diagnosis.plan.first, deep)
    return Picture("The plan", tuple(boxes), tuple(edges))
