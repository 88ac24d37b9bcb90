"""Which ids a limit or a reading of a machine may name, and messages for ids it may not name."""

from __future__ import annotations

from dataclasses import field

from oilpath.documents.location import Location
from oilpath.knowledge.circuit import Circuit, Feeds, Function
from oilpath.knowledge.testkind import TestKey
from oilpath.problems import shorten
from oilpath.records import dataclass

#: What a key may name, in words.
WORDS = {"function": "a function", "cylinder": "a cylinder", "part": "a part", "pump": "a pump"}
_ENDS = frozenset({"cap", "rod"})


@dataclass(frozen=True, slots=True)
class MachineScope:
    """Functions, cylinders, pumps and parts of one machine; `absent` are parts of the circuit that it lacks."""

    circuit: Circuit
    allocation: Feeds
    absent: frozenset[str] = frozenset()
    _known: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def known(self, kind: str) -> tuple[str, ...]:
        """Ids of one kind in the circuit (function, cylinder, pump, part), including those the machine lacks."""
        if not self._known:
            self._known.update(
                function=tuple(self.circuit.functions),
                cylinder=tuple(self.circuit.holds),
                pump=tuple(dict.fromkeys([*self.allocation.pumps, *self.allocation.merge.values()])),
                part=tuple(self.circuit.parts),
            )
        return self._known[kind]

    def lacks(self, kind: str, name: str) -> str | None:
        """The absent part that makes this function or part unavailable; None if it is available."""
        needed: tuple[str, ...] = (name,)
        if kind == "function":
            function = self.circuit.wiring.functions[name]
            needed = (function.actuator, function.spool)
        return next((part for part in needed if part in self.absent), None)

    def name(self, location: Location, kind: str, ports: tuple[str, ...] = ()) -> str | None:
        """The id at `location`, which must be one of this machine's."""
        known, what = self.known(kind), WORDS[kind]
        value = location.value
        if isinstance(value, str) and value not in known and ports:
            part, _, port = value.rpartition("-")
            if port in ports and part in known:
                return self._port(location, value, part, port)
        if not isinstance(value, str) or value not in known:
            return location.word(known, f"{what} of {self.circuit.id}")
        lacking = self.lacks(kind, value)
        if lacking is not None:
            location.wrong(f"this machine lacks {lacking}", f"{what} that the machine file does not list as absent")
            return None
        return value

    def _port(self, location: Location, value: str, part: str, port: str) -> str | None:
        if part in self.absent:
            location.wrong(f"this machine lacks {part}", "a part that the machine file does not list as absent")
            return None
        if (port in _ENDS) != (part in self._cylinders()):
            accepted = "PART-cap or PART-rod at a cylinder, another port elsewhere, or the part alone"
            location.wrong(f"`{shorten(value)}`: {part} has no port {port}", accepted)
            return None
        return value

    def _cylinders(self) -> frozenset[str]:
        pairs = {f.actuator for f in self.circuit.functions.values() if f.end is not None} | set(self.circuit.holds)
        members = {
            member for name in pairs if name in self.circuit.parts for member in self.circuit.wiring.parts[name].members
        }
        return frozenset(pairs | members)

    def groups(self) -> tuple[str, ...]:
        """Groups of functions that a pump feeds together."""
        return tuple(dict.fromkeys(function.group for function in self.circuit.functions.values()))

    def of_group(self, group: str) -> dict[str, Function]:
        """The functions of a group that this machine has."""
        return {
            name: function
            for name, function in self.circuit.functions.items()
            if function.group == group and self.lacks("function", name) is None
        }


def named(location: Location, key: TestKey, scope: MachineScope | None) -> str | None:
    """What a target key names: one of its own words, or an id of the machine (any id where the machine is unknown)."""
    if key.is_ == "word":
        return location.word(key.words, "one of the accepted words")
    if scope is not None:
        return scope.name(location, key.is_, key.ports)
    if isinstance(location.value, str):
        return location.value
    location.wrong("is not an id", WORDS[key.is_])
    return None
