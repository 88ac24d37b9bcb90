"""The circuit file, `oilpath: circuit/1`: parts, how the oil joins them, functions, pumps and their control."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from oilpath.knowledge.cause import Parameter
from oilpath.knowledge.fields import Entry, Id, Number, Text

Control = Literal["negative", "positive", "load-sensing", "fixed"]
End = Literal["cap", "rod"]
Side = Literal["left", "right"]


class Part(Entry):
    """One part of the circuit. `class_` is the word by which causes find it; the other keys place it."""

    class_: Id
    title: Text
    side: Side | None = None
    of: Id | None = None
    """the part that this one belongs to or acts on (a regulator's pump, a port relief's cylinder)"""
    end: End | None = None
    function: Id | None = None
    """the one function that a pilot valve or a motor's relief serves"""
    members: tuple[Id, ...] = ()
    """the cylinders of a pair, each of them a part as well"""


class Line(Entry):
    """A chain of parts in the order in which the oil (or a signal) passes them."""

    kind: Literal["suction", "delivery", "work", "relief", "return", "drain", "pilot", "signal", "drive"]
    through: tuple[Id, ...] = Field(min_length=2)
    both_ways: bool = False


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


class Regeneration(Entry):
    """A valve that leads the oil of the other end back to the inlet; `gain` is the share of the speed it gives."""

    valve: Id
    gain: Number


class Function(Entry):
    """One movement in one direction, and the oil's way through it."""

    title: Text
    group: Id
    opposite: Id | None = None
    actuator: Id
    end: End | None = None
    """the end of the cylinder that takes the oil"""
    side: Side | None = None
    direction: Literal["left", "right", "forward", "reverse"] | None = None
    spool: Id
    pilot: Id | None = None
    merge_valve: Id | None = None
    gates: tuple[Id, ...] = ()
    """valves between the pumps and the spool that can halve or stop the flow (a straight-travel valve)"""
    supply: tuple[Id, ...] = ()
    """parts between spool and actuator on the inlet side, in order"""
    exhaust: tuple[Id, ...] = ()
    """parts between actuator and spool on the outlet side, in order"""
    drag: tuple[Id, ...] = ()
    """mechanical parts that the actuator moves or that hold it"""
    pressure: dict[Id, Number] = {}
    """pressure at the actuator while it moves, by load case, as a share of the main relief's setting"""
    gravity: Number = 0
    """share of the movement that its own weight does (meter-out sets the speed)"""
    regeneration: Regeneration | None = None
    acceleration: Number = 0
    """share of the movement's time that goes into speeding it up, at the pressure of its relief"""


class Hold(Entry):
    """The drift test of one cylinder: which end carries the load and what lies behind each end."""

    loaded: End
    load: Number
    """pressure at the loaded end as a share of the main relief's setting"""
    valve: Id | None = None
    """the holding valve in series between that end and its spool"""


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


class Circuit(Entry):
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
    shunts: dict[Id, tuple[Id, ...]] = {}
    """parts that can let a function's inlet oil past its actuator → the functions that lose it"""
    functions: dict[Id, Function]
    feeds: FeedsField
    reliefs: dict[Id, tuple[Id, ...]] = {}
    """main reliefs → the pumps whose pressure they limit"""
    together: tuple[Id, ...] = ()
    """load cases in which all pumps work at once (travel on the ground)"""
    holds: dict[Id, Hold] = {}
    """cylinders → how the drift test loads them"""
    gauges: dict[Id, tuple[Id, ...]] = {}
    """pressure sensors or gauge points → the pumps (or the pilot supply) that they read"""
    responses: tuple[Response, ...] = ()
    """what readings go with that no law of the model tells"""
    values: dict[Id, Number] = {}
    """typical figures of a sound machine of this kind, as ratios (leakage of a pump, torque limit …)"""
