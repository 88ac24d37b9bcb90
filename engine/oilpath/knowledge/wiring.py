"""What the lines of a circuit say: which parts serve a movement and how.

A circuit file draws each line once. From the lines follow the valve that directs a movement, what stands before and
behind its actuator, what branches off, which pilot valve moves what, what a gauge reads and what a relief protects.
`oilpath.knowledge.lines` asks the graph of the lines for that; a compiled knowledge base keeps what it found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, field, fields, replace
from typing import Any, Final

from oilpath.knowledge.circuit import Circuit, End, Function, Side
from oilpath.latest import Latest
from oilpath.records import dataclass

Names = tuple[str, ...]
Table = Mapping[str, Names]
_OWN: Final = (
    "title", "group", "actuator", "opposite", "end", "side", "direction", "pressure", "gravity", "regeneration",
    "acceleration",
    "section",
    "relief",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlacedPart:
    """One part, and where its lines put it."""

    class_: str
    title: str
    side: Side | None = None
    of: str | None = None
    """the part that this one belongs to or acts on (a regulator's pump, a port relief's cylinder)"""
    end: End | None = None
    """the end of the cylinder at which it stands"""
    function: str | None = None
    """the one function that a pilot valve moves, or into whose port of the motor a part opens"""
    members: Names = ()
    """the cylinders of a pair, each of them a part as well"""


@dataclass(frozen=True, slots=True)
class ServedFunction:
    """One movement in one direction, and the parts that serve it."""

    title: str
    group: str
    actuator: str
    opposite: str | None = None
    end: End | None = None
    side: Side | None = None
    direction: str | None = None
    pressure: Mapping[str, float] = field(default_factory=dict)
    gravity: float = 0.0
    regeneration: float = 0.0
    acceleration: float = 0.0
    section: float = 1.0
    relief: float | None = None
    spool: str = ""
    """the valve that directs it: the part at which work lines begin and a return line leaves; empty if none is drawn"""
    pilot: str | None = None
    merge_valve: str | None = None
    regen_valve: str | None = None
    gates: Names = ()
    """parts between the pumps and the spool, in order"""
    supply: Names = ()
    """parts between spool and actuator on the inlet side, in order"""
    exhaust: Names = ()
    """parts between actuator and spool on the outlet side, in order"""
    drag: Names = ()
    """mechanical parts that the actuator moves or that hold it"""


@dataclass(frozen=True, slots=True)
class DriftHold:
    """How the drift test loads a cylinder, and the valve in series that holds its loaded end."""

    loaded: End
    load: float
    valve: str | None = None


@dataclass(frozen=True, slots=True)
class Wiring:
    """All that follows from the lines of a circuit, the parts that one machine lacks included."""

    parts: Mapping[str, PlacedPart]
    functions: Mapping[str, ServedFunction]
    holds: Mapping[str, DriftHold]
    shunts: Table
    """parts that can let a function's inlet oil past its actuator, or keep its pressure down → those functions"""
    reliefs: Table
    """parts that limit the pressure of main pumps → those pumps"""
    controls: Table
    """parts that set a main pump through signal lines → those pumps"""
    gauges: Table
    """sensors and gauges → the pumps that they read"""
    inlets: Table
    """pump → the oil's way to it from the reservoir, itself included"""
    outlets: Table
    """spool → the oil's way back from it to the reservoir"""
    filling: Table
    """part on the inlet side → the pumps that draw through it"""
    driving: Table
    """part → the pumps that it drives"""
    drains: Table
    """part → the way of its case drain"""
    moved: Table
    """part → what moves it through a pilot or signal line"""
    pilot_pumps: Names
    piloted: Table
    """part of the pilot supply → functions whose pilot valves it supplies"""
    faults: tuple[tuple[str, str], ...]
    """functions (or pumps, or cylinders) that the lines leave without a way for their oil, and what is missing"""


_WIRED: Latest[str, Wiring] = Latest(64)


def wire(circuit: Circuit) -> Wiring:
    """What the lines of a circuit say, kept by its content. `Circuit.wiring` finds it without a look at the content."""

    def derived() -> Wiring:
        from oilpath.knowledge.lines import derive  # with networkx, which a compiled knowledge base does without

        return derive(circuit)

    return _WIRED.get(circuit.content, derived)


def own_values(function: Function) -> dict[str, Any]:
    """What a function says of itself and the lines do not, as arguments of `ServedFunction`."""
    return {name: getattr(function, name) for name in _OWN}


def refitted(wiring: Wiring, circuit: Circuit) -> Wiring:
    """The same for a circuit with other figures; its lines, and which functions regenerate, must be the same."""
    functions, holds = circuit.functions, circuit.holds
    return replace(
        wiring,
        functions={name: replace(one, **own_values(functions[name])) for name, one in wiring.functions.items()},
        holds={name: replace(one, load=holds[name].load) for name, one in wiring.holds.items()},
    )


# --- kept as JSON -----------------------------------------------------------------------


def wiring_data(wiring: Wiring) -> dict[str, Any]:
    """What follows from the lines alone, as plain data for a JSON text."""
    functions = {
        name: {key: value for key, value in asdict(one).items() if key not in _OWN}
        for name, one in wiring.functions.items()
    }
    return {
        **{one.name: getattr(wiring, one.name) for one in fields(Wiring)},
        "parts": {name: asdict(one) for name, one in wiring.parts.items()},
        "functions": functions,
        "holds": {name: one.valve for name, one in wiring.holds.items()},
    }


def wiring_from(data: Mapping[str, Any], circuit: Circuit) -> Wiring:
    """From what `wiring_data` gave, also after JSON has made lists of tuples.

    Raises TypeError or KeyError for other data, or those of a circuit with other names.
    """
    plain = {name: _tuples(value) for name, value in data.items()}
    holds = circuit.holds
    plain["parts"] = {name: PlacedPart(**one) for name, one in plain["parts"].items()}
    plain["functions"] = {
        name: ServedFunction(**own_values(circuit.functions[name]), **one) for name, one in plain["functions"].items()
    }
    plain["holds"] = {
        name: DriftHold(holds[name].loaded, holds[name].load, valve) for name, valve in plain["holds"].items()
    }
    return Wiring(**plain)


def _tuples(value: Any) -> Any:
    """The same with tuples in place of lists."""
    if isinstance(value, dict):
        return {name: _tuples(one) for name, one in value.items()}
    return tuple(map(_tuples, value)) if isinstance(value, list | tuple) else value
