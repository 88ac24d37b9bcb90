"""The state of a circuit for many hypotheses at once: which parameter is disturbed where, as arrays.

Rows are hypotheses at severities; columns pumps, functions or cylinders. Flows are shares of one main pump's flow at
test speed, pressures shares of the main relief's setting, so that no dimensions are needed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from oilpath.arrays import Array
from oilpath.documents.machine import Machine, PartData
from oilpath.knowledge.parameters import PARAMETERS, Parameter
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.hypotheses import Disturbance
from oilpath.physics.formulas.cylinder import area_ratio

Rows = Any
"""an index of rows: a slice or an array of row numbers"""
Apply = Callable[["State", Disturbance, Rows, Array], None]


class State:
    """Arrays of the circuit's parameters; sound until `disturb` is called."""

    def __init__(self, rows: int, circuit: CircuitGraph, machine: Machine) -> None:
        self.rows = rows
        self.circuit = circuit
        self.values = machine.circuit.values
        self.pumps = circuit.main_pumps()
        self.functions = tuple(circuit.functions)
        self.cylinders = tuple(circuit.holds)
        self.reliefs = circuit.reliefs
        self.gauges = circuit.gauges
        self.holds = circuit.holds
        self.together = machine.circuit.together
        self.named: dict[tuple[str, str], Array] = {
            (factor.parameter, factor.part): np.full(rows, PARAMETERS[factor.parameter].sound)
            for response in machine.circuit.responses
            for factor in response.factors
        }
        self.area_ratio = [_area_ratio(machine.parts.get(name)) for name in self.cylinders]

        def one(*columns: int) -> Array:
            return np.ones((rows, *columns))

        def zero(*columns: int) -> Array:
            return np.zeros((rows, *columns))

        pumps, functions, cylinders = len(self.pumps), len(self.functions), len(self.cylinders)
        self.speed, self.viscosity, self.load = one(), one(), one()
        self.heat = one()
        self.engine_torque = one()
        self.fill, self.pilot_fill, self.drive, self.pilot_drive = one(pumps), one(), one(pumps), one()
        self.stroke, self.torque, self.relief, self.offset = one(pumps), one(pumps), one(pumps), one(pumps)
        self.leakage, self.bypass = zero(pumps), zero(pumps)
        self.pilot_setting, self.pilot_leakage = one(), zero()
        self.opening, self.merge, self.regeneration = one(functions), one(functions), one(functions)
        self.priority = one(functions)
        self.drag, self.back, self.cross, self.shunt, self.shift = (
            zero(functions),
            zero(functions),
            zero(functions),
            zero(functions),
            zero(functions),
        )
        usual = self.values.get("port-relief-setting", 1.12)
        self.port_relief = np.array(
            [usual if f.relief is None else float(f.relief) for f in circuit.functions.values()]
        )
        """what the reliefs at the ports of the actuators are set to, (functions,)"""
        self.limit = one(functions) * self.port_relief
        self.seep = zero(functions)
        """oil lost beside an actuator through an opening, with the root of pressure"""
        self.intake = one()
        """share of what all main pumps draw at full flow that reaches them"""
        self.spool_leak, self.valve_leak, self.port_leak = zero(cylinders), zero(cylinders), zero(cylinders)
        self.other_leak, self.seal, self.running = zero(cylinders), zero(cylinders), zero(cylinders)
        # the same through openings that thin oil hardly widens: a chip under a poppet, a relief held open
        self.valve_gap, self.port_gap, self.other_gap = zero(cylinders), zero(cylinders), zero(cylinders)
        self.cooling = zero()

    def disturb(self, disturbance: Disturbance, rows: Rows, value: Array) -> None:
        """Put a parameter at a part to `value` (one for each of `rows`); where it acts follows from the circuit.

        Raises NoPlaceError if the parameter has no place at the part.
        """
        named = self.named.get((disturbance.parameter, disturbance.part))
        if named is not None:
            named[rows] = named[rows] * value if disturbance.sound else named[rows] + value
        elif not disturbance.reach:
            raise NoPlaceError(disturbance.parameter, disturbance.part)
        _APPLY[disturbance.parameter](self, disturbance, rows, value)

    def pumps_of(self, disturbance: Disturbance) -> list[int]:
        """Columns of the pumps that it acts on."""
        return [self.pumps.index(name) for name in disturbance.reach.pumps]

    def functions_of(self, disturbance: Disturbance) -> list[int]:
        """Columns of the functions that it acts on."""
        return [self.functions.index(name) for name in disturbance.reach.functions]

    def cylinders_of(self, disturbance: Disturbance) -> list[int]:
        """Columns of the held cylinders that it acts on."""
        return [self.cylinders.index(name) for name in disturbance.reach.cylinders]


class NoPlaceError(ValueError):
    """A parameter disturbed at a part where it has no place: a mistake of the knowledge base."""

    def __init__(self, parameter: str, part: str) -> None:
        super().__init__(
            f"`{parameter}` has no place at {part}; oilpath kb check names the cause and where it would do"
        )


USUAL_AREA_RATIO = 2.0
"""cap area over annulus area of a usual cylinder, where bore and rod are not known; from memory"""


def _area_ratio(data: PartData | None) -> float:
    """D²/(D² − d²) of a cylinder."""
    if data is None or data.bore is None or data.rod is None or data.rod >= data.bore:
        return USUAL_AREA_RATIO
    return float(area_ratio(data.bore, data.rod))


def _machine(array: str, *, adds: bool = False) -> Apply:
    """A parameter of the machine as a whole."""

    def apply(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
        values = getattr(s, array)
        values[rows] = values[rows] + v if adds else values[rows] * v

    return apply


def _pumps(array: str, *, adds: bool = False, pilot: str = "", whole: str = "") -> Apply:
    """A parameter of pumps; `pilot` and `whole` name where it is kept for the pilot supply and for the engine."""

    def apply(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
        _on(getattr(s, array), s.pumps_of(d), rows, v, adds=adds)
        for name in ((pilot,) if pilot and d.reach.pilot else ()) + ((whole,) if whole and d.reach.whole else ()):
            values = getattr(s, name)
            values[rows] = values[rows] + v if adds else values[rows] * v

    return apply


def _functions(array: str, *, adds: bool = False) -> Apply:
    """A parameter of single functions."""

    def apply(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
        _on(getattr(s, array), s.functions_of(d), rows, v, adds=adds)

    return apply


def _on(array: Array, columns: list[int], rows: Rows, value: Array, *, adds: bool) -> None:
    for column in columns:
        if adds:
            array[rows, column] += value
        else:
            array[rows, column] *= value


def _heat(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.viscosity[rows] *= v
    s.heat[rows] *= v


def _leakage(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    if d.reach.pumps:
        _on(s.leakage, s.pumps_of(d), rows, v, adds=True)
    elif d.reach.pilot:
        s.pilot_leakage[rows] += v
    else:
        # only what leaks inside the actuator itself passes its case
        own = any(s.circuit.functions[name].actuator == d.part for name in d.reach.functions)
        _on(s.cross if own else s.shunt, s.functions_of(d), rows, v, adds=True)


def _opening(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    merged = any(s.circuit.functions[name].merge_valve == d.part for name in d.reach.functions)
    _on(s.merge if merged else s.opening, s.functions_of(d), rows, v, adds=False)


def _setting(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    for column in s.pumps_of(d):  # of two limits the lower one holds: a cut-off and a relief do not multiply
        before = s.relief[rows, column]
        s.relief[rows, column] = np.where(np.asarray(v) < 1, np.minimum(before, v), before * v)
    for column in s.functions_of(d):
        s.limit[rows, column] = np.minimum(s.limit[rows, column], v * min(1.0, s.port_relief[column]))
    if d.reach.pilot:
        s.pilot_setting[rows] *= v


def _bypass(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    _on(s.bypass, s.pumps_of(d), rows, v, adds=True)
    _on(s.seep, s.functions_of(d), rows, v, adds=True)


def _held_gap(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    """An opening behind the held end, or the other one; as `_held_leak`, but thin oil does not widen it."""
    end = s.circuit.parts[d.part].end
    for n in s.cylinders_of(d):
        if end not in (None, s.holds[s.cylinders[n]].loaded):
            s.other_gap[rows, n] += v
        elif d.part == s.holds[s.cylinders[n]].valve:
            s.valve_gap[rows, n] += v
        else:
            s.port_gap[rows, n] += v


def _held_leak(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    """Leakage behind the held end counts as valve (in series with the spool), port or spool leakage by what it is."""
    end = s.circuit.parts[d.part].end
    spools = {f.spool for f in s.circuit.functions.values()}
    for n in s.cylinders_of(d):
        loaded = s.holds[s.cylinders[n]].loaded
        if end not in (None, loaded):
            s.other_leak[rows, n] += v
        elif d.part == s.holds[s.cylinders[n]].valve:
            s.valve_leak[rows, n] += v
        elif d.part in spools:
            s.spool_leak[rows, n] += v
            s.other_leak[rows, n] += v
        else:
            s.port_leak[rows, n] += v


def _seal_leak(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    _on(s.seal, s.cylinders_of(d), rows, v, adds=True)
    _on(s.cross, s.functions_of(d), rows, np.asarray(v) * s.values.get("seal-flow", 0.002), adds=True)


def _creep(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    _on(s.running, s.cylinders_of(d), rows, v, adds=True)


def _nothing(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    return None


_APPLY: Mapping[Parameter, Apply] = {
    "speed": _machine("speed"), "drive-speed": _pumps("drive", pilot="pilot_drive"), "viscosity": _machine("viscosity"),
    "load": _machine("load"), "fill": _pumps("fill", pilot="pilot_fill"), "stroke": _pumps("stroke"),
    "torque": _pumps("torque", whole="engine_torque"), "leakage": _leakage, "bypass": _bypass,
    "intake": _machine("intake"), "held-gap": _held_gap,
    "opening": _opening, "drag": _functions("drag", adds=True), "back-pressure": _functions("back", adds=True),
    "setting": _setting, "regeneration": _functions("regeneration"), "shift": _functions("shift", adds=True),
    "held-leak": _held_leak, "seal-leak": _seal_leak, "creep": _creep, "offset": _pumps("offset"),
    "merging": _functions("merge"), "cooling": _machine("cooling", adds=True),
    "heat": _heat, "effectiveness": _nothing, "switching": _nothing, "charge": _nothing, "scatter": _nothing,
    "priority": _functions("priority"), "none": _nothing,
}  # fmt: skip
