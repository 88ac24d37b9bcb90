"""Which parts are close to which: the scopes (`here`) of checks as matrices over the parts of a machine."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field
from typing import Any

import numpy as np

from oilpath.arrays import Indexes, Mask
from oilpath.knowledge.check import Check
from oilpath.machine.graph import CircuitGraph
from oilpath.records import dataclass


@dataclass(frozen=True, slots=True)
class Places:
    """The parts of one machine in the circuit's order, and for each scope a matrix [where the check is, other part]."""

    graph: CircuitGraph
    names: tuple[str, ...]
    index: dict[str, int]
    _near: dict[str, Mask] = field(default_factory=dict)
    _offered: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def near(self, scope: str) -> Mask:
        """Matrix of a scope, shape (parts, parts), made when first asked for."""
        if scope not in self._near:
            self._near[scope] = _SCOPES[scope](self)
        return self._near[scope]

    def of(self, check: Check) -> tuple[str, ...]:
        """Parts at which a check can be offered, by name or by class, in order of id. A pair stands for its members."""
        if any(len(self.graph.of_class(name)) < count for name, count in check.needs.items()):
            return ()
        named = {part for part in check.at.parts if part in self.index}
        return tuple(sorted(named.union(*(self._of_class(name) for name in check.at.class_))))

    def _of_class(self, name: str) -> tuple[str, ...]:
        if name not in self._offered:
            parts = self.graph.parts
            pairs = {member for part in parts.values() for member in part.members}
            self._offered[name] = tuple(part for part in self.graph.of_class(name) if part not in pairs)
        return self._offered[name]

    def functions(self, part: str) -> frozenset[str]:
        """Functions that a part serves, or else those of what it belongs to (a regulator: its pump's)."""
        at: str | None = part
        for _ in self.names:
            if at is None or at not in self.index:
                break
            if found := self.graph.functions_of(at):
                return frozenset(found)
            at = self.graph.parts[at].of
        return frozenset()

    def named(self, template: str, part: str) -> str:
        """A word of a check with `{part}` and `{side}` filled in by the part where it is made and its side."""
        return template.replace("{part}", part).replace("{side}", self.graph.side(part) or "")

    def owner(self, part: str) -> str:
        """The part to which a part finally belongs: the last one in its chain of `of`."""
        for _ in self.names:
            above = self.graph.parts[part].of
            if above is None or above not in self.index:
                break
            part = above
        return part


def _members(side: str | None) -> Callable[[Places], Mask]:
    def matrix(places: Places) -> Mask:
        size = len(places.names)
        near: Mask = np.zeros((size, size), dtype=np.bool_) if side else np.eye(size, dtype=np.bool_)
        for row, name in enumerate(places.names):
            for member in places.graph.parts[name].members:
                if member in places.index and side in (None, places.graph.parts[member].side):
                    near[row, places.index[member]] = True
        return near

    return matrix


def _same(label: Callable[[Places, str], Any]) -> Callable[[Places], Mask]:
    """Parts with the same label; None matches nothing."""

    def matrix(places: Places) -> Mask:
        numbers: dict[Any, int] = {None: -1}
        found = np.array([numbers.setdefault(label(places, name), len(numbers)) for name in places.names])
        return np.asarray((found[:, None] == found) & (found[:, None] >= 0))

    return matrix


def _sharing(labels: Callable[[Places, str], frozenset[str]]) -> Callable[[Places], Mask]:
    """Parts that have a label in common."""

    def matrix(places: Places) -> Mask:
        all_labels = [labels(places, name) for name in places.names]
        columns = sorted(set().union(*all_labels))
        has = np.array([[column in own for column in columns] for own in all_labels], dtype=np.float64)
        return np.asarray(has @ has.T > 0)

    return matrix


def _actuators(places: Places, part: str) -> frozenset[str]:
    functions = places.graph.functions
    return frozenset(functions[name].actuator for name in places.functions(part))


_SCOPES: dict[str, Callable[[Places], Mask]] = {
    "part": lambda places: np.eye(len(places.names), dtype=np.bool_),
    "members": _members(None),
    "members-left": _members("left"),
    "members-right": _members("right"),
    "assembly": _same(lambda places, part: places.owner(part)),
    "side": _same(lambda places, part: places.graph.side(part)),
    "pump": _same(lambda places, part: places.graph.pump_of(part)),
    "function": _sharing(lambda places, part: places.functions(part)),
    "actuator": _sharing(_actuators),
    "anywhere": lambda places: np.ones((len(places.names),) * 2, dtype=np.bool_),
}


def places_of(graph: CircuitGraph) -> Places:
    """The places of a machine."""
    names = tuple(graph.parts)
    return Places(graph, names, {name: number for number, name in enumerate(names)})


def columns(places: Places, parts: Sequence[str]) -> tuple[Indexes, Mask]:
    """Indexes of these parts, and which of them the machine has (the index of another one means nothing)."""
    found = np.array([places.index.get(part, -1) for part in parts], dtype=np.intp)
    return found, np.asarray(found >= 0)
