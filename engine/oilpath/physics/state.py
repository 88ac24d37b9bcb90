"""The state of a circuit for many hypotheses at once: which parameter is disturbed where, as arrays.

Rows are hypotheses at severities; columns pumps, functions or cylinders. Flows are shares of one main pump's flow at
test speed, pressures shares of the main relief's setting, so that no dimensions are needed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from oilpath.arrays import Array
from oilpath.documents.machine import Machine, PartData
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.hypotheses import SOUND, Disturbance

Rows = Any
"""an index of rows: a slice or an array of row numbers"""


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
            (factor.parameter, factor.part): np.full(rows, SOUND[factor.parameter])
            for response in machine.circuit.responses
            for factor in response.factors
        }
        self.area_ratio = [_area_ratio(machine.parts.get(name)) for name in self.cylinders]

        def one(*columns: int) -> Array:
            return np.ones((rows, *columns))

        def zero(*columns: int) -> Array:
            return np.zeros((rows, *columns))

        pumps, functions, cylinders = len(self.pumps), len(self.functions), len(self.cylinders)
        self.speed, self.drive, self.viscosity, self.load = one(), one(), one(), one()
        self.heat = one()
        self.engine_torque, self.back = one(), zero()
        self.fill, self.pilot_fill = one(pumps), one()
        self.stroke, self.torque, self.relief, self.offset = one(pumps), one(pumps), one(pumps), one(pumps)
        self.leakage, self.bypass = zero(pumps), zero(pumps)
        self.pilot_setting, self.pilot_leakage = one(), zero()
        self.opening, self.merge, self.regeneration = one(functions), one(functions), one(functions)
        self.drag, self.cross, self.shunt, self.shift = (
            zero(functions),
            zero(functions),
            zero(functions),
            zero(functions),
        )
        self.limit = one(functions) * self.values.get("port-relief-setting", 1.12)
        self.spool_leak, self.valve_leak, self.port_leak = zero(cylinders), zero(cylinders), zero(cylinders)
        self.other_leak, self.seal, self.running = zero(cylinders), zero(cylinders), zero(cylinders)
        self.cooling = zero()

    def disturb(self, disturbance: Disturbance, rows: Rows, value: Array) -> None:
        """Put a parameter at a part to `value` (one for each of `rows`); where it acts follows from the circuit."""
        _APPLY[disturbance.parameter](self, disturbance, rows, value)
        named = self.named.get((disturbance.parameter, disturbance.part))
        if named is not None:
            named[rows] = named[rows] * value if disturbance.sound else named[rows] + value

    # where things stand

    def _pumps_behind(self, part: str) -> list[int]:
        """Pumps that a part acts on: itself, its owner, those its relief limits, or all."""
        circuit = self.circuit
        if part in self.reliefs:
            return [self.pumps.index(p) for p in self.reliefs[part] if p in self.pumps]
        owner = circuit.parts[part].of
        for name in (part, owner):
            if name in self.pumps:
                return [self.pumps.index(name)]
        return list(range(len(self.pumps)))

    def _columns(self, functions: Sequence[str]) -> list[int]:
        return [self.functions.index(name) for name in functions]

    def _on_functions(self, array: Array, d: Disturbance, rows: Rows, value: Array, *, times: bool) -> None:
        for column in self._columns(d.functions):
            if times:
                array[rows, column] *= value
            else:
                array[rows, column] += value

    def _held(self, part: str) -> tuple[list[int], str | None]:
        """Cylinders whose drift a part can cause, and the end behind which it stands (None: both)."""
        info = self.circuit.parts[part]
        owners = {part, info.of} | {self.circuit.functions[f].actuator for f in self.circuit.functions_of(part)}
        return [n for n, name in enumerate(self.cylinders) if name in owners], info.end


USUAL_AREA_RATIO = 2.0
"""cap area over annulus area of a usual cylinder, where bore and rod are not known; from memory"""


def _area_ratio(data: PartData | None) -> float:
    """D²/(D² − d²) of a cylinder."""
    if data is None or data.bore is None or data.rod is None or data.rod >= data.bore:
        return USUAL_AREA_RATIO
    return float(data.bore**2 / (data.bore**2 - data.rod**2))


def _speed(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.speed[rows] *= v


def _drive(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.drive[rows] *= v


def _viscosity(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.viscosity[rows] *= v


def _heat(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.viscosity[rows] *= v
    s.heat[rows] *= v


def _load(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.load[rows] *= v


def _fill(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    for pump in s._pumps_behind(d.part):
        s.fill[rows, pump] *= v
    if d.part not in s.pumps:
        s.pilot_fill[rows] *= v


def _stroke(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    for pump in s._pumps_behind(d.part):
        s.stroke[rows, pump] *= v


def _torque(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    behind = s._pumps_behind(d.part)
    if s.circuit.parts[d.part].of in s.pumps or d.part in s.pumps:
        for pump in behind:
            s.torque[rows, pump] *= v
    else:
        s.engine_torque[rows] *= v


def _leakage(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    if d.part in s.pumps:
        s.leakage[rows, s.pumps.index(d.part)] += v
    elif d.functions:
        # only what leaks inside the actuator itself passes its case
        own = any(s.circuit.functions[name].actuator == d.part for name in d.functions)
        s._on_functions(s.cross if own else s.shunt, d, rows, v, times=False)
    else:
        s.pilot_leakage[rows] += v


def _bypass(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    for pump in s._pumps_behind(d.part):
        s.bypass[rows, pump] += v


def _opening(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    merged = [name for name in d.functions if s.circuit.functions[name].merge_valve == d.part]
    if merged:
        for column in s._columns(merged):
            s.merge[rows, column] *= v
    elif d.functions:
        s._on_functions(s.opening, d, rows, v, times=True)
    else:
        s.opening[rows, :] *= np.asarray(v)[..., None]


def _drag(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s._on_functions(s.drag, d, rows, v, times=False)


def _back(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.back[rows] += v


def _setting(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    if d.part in s.reliefs:
        for pump in s._pumps_behind(d.part):
            s.relief[rows, pump] *= v
    elif d.part in s.circuit.shunts:
        for column in s._columns(d.functions):
            s.limit[rows, column] = np.minimum(s.limit[rows, column], v)
    else:
        s.pilot_setting[rows] *= v


def _regeneration(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    for name, function in s.circuit.functions.items():
        if function.regen_valve == d.part:
            s.regeneration[rows, s.functions.index(name)] *= v


def _shift(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s._on_functions(s.shift, d, rows, v, times=False)


def _held_leak(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    """Leakage behind the held end counts as valve (in series with the spool), port or spool leakage by what it is."""
    cylinders, end = s._held(d.part)
    spools = {f.spool for f in s.circuit.functions.values()}
    for n in cylinders:
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
    cylinders, _ = s._held(d.part)
    for n in cylinders:
        s.seal[rows, n] += v
    flow = np.asarray(v) * s.values.get("seal-flow", 0.002)
    s._on_functions(s.cross, d, rows, flow, times=False)


def _creep(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    for n in s._held(d.part)[0]:
        s.running[rows, n] += v


def _offset(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    for name in s.gauges.get(d.part, ()):
        if name in s.pumps:
            s.offset[rows, s.pumps.index(name)] *= v


def _offset_all(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.offset[rows, :] *= np.asarray(v)[..., None]


def _merging(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.merge[rows, :] *= np.asarray(v)[..., None]


def _cooling(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    s.cooling[rows] += v


def _nothing(s: State, d: Disturbance, rows: Rows, v: Array) -> None:
    return None


_APPLY: dict[str, Callable[[State, Disturbance, Rows, Array], None]] = {
    "speed": _speed, "drive-speed": _drive, "viscosity": _viscosity, "load": _load, "fill": _fill, "stroke": _stroke,
    "torque": _torque, "leakage": _leakage, "bypass": _bypass, "opening": _opening, "drag": _drag,
    "back-pressure": _back, "setting": _setting, "regeneration": _regeneration, "shift": _shift,
    "held-leak": _held_leak, "seal-leak": _seal_leak, "creep": _creep, "offset": _offset,
    "offset-all": _offset_all, "merging": _merging, "cooling": _cooling,
    "heat": _heat, "effectiveness": _nothing, "switching": _nothing, "charge": _nothing,
    "scatter": _nothing, "none": _nothing,
}  # fmt: skip
