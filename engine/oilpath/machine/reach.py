"""What a disturbed parameter acts on: the pumps, functions or cylinders it affects from its part.

It follows from the lines of the circuit. A parameter at a part where it can do nothing reaches nothing: that is a
mistake of the knowledge base, which `kb check` names and the model refuses.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from oilpath.knowledge.parameters import Parameter
from oilpath.knowledge.wiring import Table
from oilpath.machine.graph import CircuitGraph
from oilpath.records import dataclass

Names = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reach:
    """What a parameter acts on; all empty if it has no effect at this part."""

    pumps: Names = ()
    functions: Names = ()
    cylinders: Names = ()
    pilot: bool = False
    """the pilot supply"""
    whole: bool = False
    """the machine as a whole"""

    def __bool__(self) -> bool:
        return bool(self.pumps or self.functions or self.cylinders or self.pilot or self.whole)


NOTHING: Final = Reach()
_WHOLE: Final = Reach(whole=True)


def reach(parameter: Parameter, part: str, functions: Iterable[str], circuit: CircuitGraph) -> Reach:
    """What a parameter disturbed at a part acts on, of the functions that a cause is about.

    Parameters
    ----------
    parameter : a word of `PARAMETERS`
    part : a part of the machine
    functions : of those that the part serves the ones that a variant of the cause is about; all, if it has none
    circuit : the circuit of the machine

    Returns
    -------
    reach : false where the parameter has no place at the part
    """
    return _REACH[parameter](part, tuple(functions), circuit)


def _on_the_way(part: str, functions: Names, circuit: CircuitGraph, *, pilot: bool = False) -> Names:
    """Functions whose oil passes a part between pump and actuator (or whose spool it moves, where `pilot`)."""

    def passes(name: str) -> bool:
        f = circuit.functions[name]
        moving = (f.pilot,) if pilot else ()
        return part in (f.spool, f.merge_valve, f.regen_valve, *f.gates, *f.supply, *f.exhaust, *moving)

    return tuple(name for name in functions if passes(name))


def _of_actuator(part: str, functions: Names, circuit: CircuitGraph) -> Names:
    """Functions whose actuator a part is, or a cylinder of it."""

    def moved(name: str) -> bool:
        actuator = circuit.functions[name].actuator
        return part == actuator or part in circuit.parts[actuator].members

    return tuple(name for name in functions if moved(name))


def _all_oil(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """What all oil passes, on its way to the pumps or back."""
    return _WHOLE if part in circuit.filling or part in circuit.returning else NOTHING


def _driving(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    drives = any(pump in circuit.main_pumps() for pump in circuit.driving.get(part, ()))
    return _WHOLE if drives else NOTHING


def _driven(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return _of_pumps(circuit.driving.get(part, ()), circuit)


def _of_pumps(pumps: Iterable[str], circuit: CircuitGraph) -> Reach:
    main = circuit.main_pumps()
    found = tuple(pumps)
    return Reach(
        pumps=tuple(pump for pump in main if pump in found), pilot=any(pump in circuit.pilot_pumps for pump in found)
    )


def _filling(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return _of_pumps((part, *circuit.filling.get(part, ())), circuit)


def _main_pumps(part: str, circuit: CircuitGraph, *tables: Table) -> Names:
    """The main pumps that a part is, or that one of the tables names for it."""
    named = {part, *(pump for table in tables for pump in table.get(part, ()))}
    return tuple(pump for pump in circuit.main_pumps() if pump in named)


def _controlled(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return Reach(pumps=_main_pumps(part, circuit, circuit.controls))


def _limited(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return Reach(pumps=_main_pumps(part, circuit, circuit.reliefs))


def _bypass(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """At what limits a main pump's pressure, or beside an actuator."""
    if pumps := _main_pumps(part, circuit, circuit.reliefs):
        return Reach(pumps=pumps)
    return Reach(functions=tuple(name for name in functions if name in circuit.shunts.get(part, ())))


def _intake(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """At what all main pumps draw through."""
    drawn = circuit.filling.get(part, ())
    return _WHOLE if circuit.main_pumps() and all(pump in drawn for pump in circuit.main_pumps()) else NOTHING


def _fitted(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """At what is fitted at a pump and neither controls, limits nor reads it."""
    used = part in circuit.controls or part in circuit.reliefs or part in circuit.gauges
    return Reach(pumps=() if used else tuple(p for p in circuit.main_pumps() if p == circuit.parts[part].of))


def _torque(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return _controlled(part, functions, circuit) or _driving(part, functions, circuit)


def _leakage(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    if part in circuit.main_pumps():
        return Reach(pumps=(part,))
    if part in circuit.piloted:
        return Reach(pilot=True)
    losing = {
        *_on_the_way(part, functions, circuit), *_of_actuator(part, functions, circuit), *circuit.shunts.get(part, ())
    }  # fmt: skip
    return Reach(functions=tuple(name for name in functions if name in losing))


def _opening(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    if passing := _on_the_way(part, functions, circuit, pilot=True) or _of_actuator(part, functions, circuit):
        return Reach(functions=passing)
    if part in circuit.piloted:
        return Reach(functions=circuit.piloted[part])
    pumps = set(circuit.controls.get(part, ()))
    return Reach(functions=tuple(name for name in circuit.functions if pumps & set(circuit.pumps(name))))


def _setting(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    if part in circuit.reliefs:
        return _limited(part, functions, circuit)
    if part in circuit.shunts:
        return Reach(functions=functions)
    return Reach(pilot=part in circuit.piloted and part not in circuit.pilot_pumps)


def _regeneration(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return Reach(functions=tuple(name for name, f in circuit.functions.items() if f.regen_valve == part))


def _merging(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    before = any(part in (*f.gates, f.merge_valve) for f in circuit.functions.values())
    return Reach(functions=tuple(circuit.functions) if before else ())


def _drag(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """At the actuator, a cylinder of a pair, or what it turns."""
    own = _of_actuator(part, functions, circuit)
    return Reach(functions=tuple(name for name in functions if name in own or part in circuit.functions[name].drag))


def _back(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """On the way back of all functions, or where the oil of some leaves the actuator."""
    if part in circuit.returning:
        return Reach(functions=circuit.returning[part])
    leaving = (name for name in functions if part in (circuit.functions[name].spool, *circuit.functions[name].exhaust))
    return Reach(functions=tuple(leaving))


def _shift(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """At what a pilot line leads to a motor through."""
    shifted = (name for name in functions if part in circuit.moved.get(circuit.functions[name].actuator, ()))
    return Reach(functions=tuple(shifted))


def _held(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """Between a cylinder and its spool, or beside it; a motor's spool can wear as well, though no drift shows it."""
    served = circuit.functions_of(part)
    gated = (name for name in served if part in (*circuit.functions[name].gates, circuit.functions[name].merge_valve))
    at = {*_on_the_way(part, served, circuit), *circuit.shunts.get(part, ())} - set(gated)
    owners = {circuit.functions[name].actuator for name in at}
    return Reach(
        cylinders=tuple(name for name in circuit.holds if name in owners),
        functions=tuple(name for name in served if name in at),
    )


def _seal(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """At a cylinder, or at one of a pair."""
    owner = circuit.parts[part].of
    cylinder = owner if owner is not None and part in circuit.parts[owner].members else part
    moved = (name for name, f in circuit.functions.items() if f.actuator == cylinder and f.end is not None)
    return Reach(
        cylinders=tuple(name for name in circuit.holds if name == cylinder),
        functions=tuple(name for name in moved if name in functions),
    )


def _gauge(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return _of_pumps(circuit.gauges.get(part, ()), circuit)


def _returning(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return Reach(whole=part in circuit.returning)


def _switching(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return Reach(functions=_on_the_way(part, functions, circuit))


def _serving(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    """At the part that serves some functions first."""
    groups = [group for group, serving in circuit.served_first.items() if serving == part]
    return Reach(functions=tuple(name for name, f in circuit.functions.items() if f.group in groups))


def _anywhere(part: str, functions: Names, circuit: CircuitGraph) -> Reach:
    return _WHOLE


_REACH: Final[Mapping[Parameter, Callable[[str, Names, CircuitGraph], Reach]]] = {
    "speed": _driving, "drive-speed": _driven, "viscosity": _all_oil, "heat": _all_oil, "load": _driving,
    "fill": _filling, "stroke": _controlled, "torque": _torque, "leakage": _leakage, "bypass": _bypass,
    "intake": _intake,
    "opening": _opening, "setting": _setting, "regeneration": _regeneration, "merging": _merging, "drag": _drag,
    "back-pressure": _back, "shift": _shift, "held-leak": _held, "held-gap": _held, "seal-leak": _seal, "creep": _held,
    "cooling": _all_oil, "offset": _gauge, "scatter": _driving,
    "effectiveness": _returning, "switching": _switching, "charge": _fitted, "priority": _serving,
    "none": _anywhere,
}  # fmt: skip
