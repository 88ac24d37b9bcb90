"""The circuit file, `oilpath: circuit/1`: parts, how the oil joins them, functions, pumps and their control."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from oilpath.knowledge.fields import Entry, Id, Keyed, Number, Text, identifier, problem
from oilpath.knowledge.parameters import Parameter

Control = Literal["negative", "positive", "load-sensing", "fixed"]
End = Literal["cap", "rod"]
Side = Literal["left", "right"]


class Part(Entry):
    """One part of the circuit: what it is. Where it stands and what it serves follows from the lines."""

    class_: Id
    """the word by which causes, rules and checks find it"""
    title: Text
    side: Side | None = None


def _port(value: object) -> object:
    """A part, or PART.PORT: one port or passage of it."""
    pieces = value.split(".") if isinstance(value, str) else [value]
    if len(pieces) > 2:
        raise problem("names more than one port", "a part, or a part and its port, such as boom-cylinder.cap")
    return ".".join(identifier(piece) for piece in pieces)


Port = Annotated[str, BeforeValidator(_port)]
Kind = Literal["suction", "delivery", "merge", "work", "relief", "return", "drain", "pilot", "signal", "drive"]


class Line(Entry):
    """A chain of parts in the order in which the oil (or a signal, or torque) passes them."""

    kind: Kind
    through: tuple[Port, ...] = Field(min_length=2)
    both_ways: bool = False

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that it joins, without their ports."""
        return tuple(part_of(name) for name in self.through)


def part_of(port: str) -> str:
    """The part of a port: boom-cylinder of boom-cylinder.cap."""
    return port.partition(".")[0]


class Feeds(Entry):
    """Which groups of functions each pump feeds, and which functions a second pump joins through a merge valve."""

    pumps: dict[Id, tuple[Id, ...]] = {}
    merge: dict[Id, Id] = {}


def read_feeds(value: object) -> object:
    """`{pump-1: [...], merge: {...}}` as written → `{pumps: {pump-1: [...]}, merge: {...}}`."""
    if isinstance(value, dict) and "pumps" not in value:
        return {"pumps": {k: v for k, v in value.items() if k != "merge"}, "merge": value.get("merge") or {}}
    return value


FeedsField = Annotated[Feeds, BeforeValidator(read_feeds)]


class Function(Entry):
    """One movement in one direction: what its lines cannot say.

    Its port is that of the actuator which takes the oil: `port`, else the `end` of a cylinder, else the `direction` of
    a motor; an actuator that is drawn without ports needs none.
    """

    title: Text
    group: Id
    opposite: Id | None = None
    actuator: Id
    end: End | None = None
    """the end of the cylinder that takes the oil"""
    side: Side | None = None
    direction: Literal["left", "right", "forward", "reverse"] | None = None
    port: Id | None = None
    pressure: dict[Id, Number] = {}
    """pressure at the actuator while it moves, by load case, as a share of the main relief's setting"""
    gravity: Number = 0
    """share of the movement that its own weight does (meter-out sets the speed)"""
    regeneration: Number = 0
    """share of the speed that the oil of the other end gives, led back to the inlet through a valve"""
    acceleration: Number = 0
    """share of the movement's time that goes into speeding it up, at the pressure of its relief"""

    @property
    def inlet(self) -> str:
        """The actuator's port that takes the oil, as the lines name it."""
        port = self.port or self.end or self.direction
        return f"{self.actuator}.{port}" if port else self.actuator


class Hold(Entry):
    """The drift test of one cylinder: which end carries the load, and how much of it."""

    loaded: End
    load: Number
    """pressure at the loaded end as a share of the main relief's setting"""


class Factor(Entry):
    """A parameter of a part that a reading goes with, to a power."""

    part: Id
    parameter: Parameter
    power: Number = 1


class Response(Entry):
    """What a reading of a test with `observe: response` goes with: the product of its factors.

    For what no law of pumps, functions and cylinders tells. A parameter that is a ratio to the sound part's counts as
    it is, one that is added (a leakage) as 1 − value.
    """

    test: Id
    at: Id
    """the part at which the reading is made"""
    factors: tuple[Factor, ...]


class Circuit(Keyed):
    """A kind of machine: what parts it has and how the oil goes."""

    oilpath: Literal["circuit/1"]
    id: Id
    title: Text
    says: Text | None = None
    usual: bool = False
    """the cases of rules that name no circuit are of this one; one of a knowledge base's"""
    source: Text
    control: Control
    reservoir: Id
    """the part from which the oil comes and to which it returns"""
    parts: dict[Id, Part]
    lines: tuple[Line, ...]
    functions: dict[Id, Function]
    feeds: FeedsField
    together: tuple[Id, ...] = ()
    """load cases in which all pumps work at once (travel on the ground)"""
    holds: dict[Id, Hold] = {}
    """cylinders → how the drift test loads them"""
    responses: tuple[Response, ...] = ()
    """what readings go with that no law of the model tells"""
    values: dict[Id, Number] = {}
    """typical figures of a sound machine of this kind, as ratios (leakage of a pump, torque limit …)"""
