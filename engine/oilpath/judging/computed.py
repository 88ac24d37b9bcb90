"""What a reading means in flow, speed, force or power, where the dimensions are known; shown beside it, never judged.

Every figure has a standard uncertainty: the reading's own and what the dimensions leave open. They are computed from
the value as measured, at the engine speed of the reading.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from oilpath.flow import Computed
from oilpath.flow.notes import Amount, Between, Note, note
from oilpath.judging.conditions import GRAVITY_LED
from oilpath.judging.estimates import area_at, end_area, least_shares, pump_flow, regeneration_gain, supply_flow
from oilpath.judging.measured import Case
from oilpath.knowledge.testkind import Estimate
from oilpath.physics.formulas.cylinder import flow_for_time, force
from oilpath.physics.formulas.pump import hydraulic_power
from oilpath.physics.formulas.travel import ground_speed, swing_speed, track_speed
from oilpath.uncertainty import combine

if TYPE_CHECKING:
    from oilpath.bench import Bench

Shown = tuple[dict[str, Computed], tuple[Note, ...]]

# Standard uncertainties as shares, from memory.
_STROKE = 0.02  # the way that is timed: without the cushion it is a little shorter than the stroke
_DISPLACEMENT = 0.03  # a pump's full displacement as stated against as set
_AREA = 0.005  # areas from nominal diameters
_GAUGE = 0.01  # a pressure stated with a reading; its gauge is not named
_TORQUE = 0.15  # where a typical torque limit stands
_EFFICIENCY, _LOSSES = 0.92, 0.05  # volumetric, where the test kind states none


def computed(case: Case, bench: Bench, engine_speed: float | None = None) -> Shown:
    """Figures beside a result, with notes. engine_speed in rev/s, of this reading; the test speed if not stated."""
    make = _BY_OBSERVE.get(case.kind.observe)
    if make is None or case.raw <= 0:
        return {}, ()
    shown, notes = make(case, bench, engine_speed)
    return shown, notes if case.usable else ()  # what is not valid has enough to say


def _function(case: Case, bench: Bench, engine_speed: float | None) -> Shown:
    function = case.function
    if function is None:
        turns = case.reading.figures.get("turns")
        return ({"speed": _figure(swing_speed(turns, case.raw), "rotation", case)}, ()) if turns else ({}, ())
    area, data = end_area(function, bench), bench.machine.parts.get(function.actuator)
    if area is None or data is None or data.stroke is None:
        return {}, ()
    flow = flow_for_time(area, data.stroke, case.raw)
    shown = {"flow": _figure(flow, "flow", case, _STROKE)}
    if function.gravity >= GRAVITY_LED:
        return shown, (note("weight-moves-it"),)
    rules, name = case.kind.estimate, case.reading.keys["function"]
    efficiency, losses = _EFFICIENCY, _LOSSES
    if isinstance(rules, Estimate):
        efficiency, losses = rules.efficiency, rules.uncertainty
    due = supply_flow(name, bench, efficiency, engine_speed)
    if due is None:
        return shown, ()
    gain = regeneration_gain(name, bench.circuit)
    shown["flow-due"] = Computed(due, "flow", due * combine(_DISPLACEMENT, losses))
    shown["share-of-flow-due"] = _figure(flow * (1 - gain) / due, "ratio", case, _STROKE, _DISPLACEMENT, losses)
    notes = []
    if gain:
        notes.append(note("flow-led-back", share=Amount(gain, "ratio")))
    if less := list(least_shares(function, bench.machine)):
        share = math.prod(one for one, _ in less)
        notes.append(note("sound-takes-less", share=Between(share, 1.0, "ratio"), why=tuple(why for _, why in less)))
    return shown, tuple(notes)


def _travel(case: Case, bench: Bench, engine_speed: float | None) -> Shown:
    distance = case.reading.figures.get("distance")
    return ({"speed": _figure(ground_speed(distance, case.raw), "speed", case)}, ()) if distance else ({}, ())


def _track(case: Case, bench: Bench, engine_speed: float | None) -> Shown:
    turns, length = case.reading.figures.get("turns"), bench.machine.dimensions.track_length
    if not turns or not length:
        return {}, ()
    return {"speed": _figure(track_speed(turns, length, case.raw), "speed", case)}, ()


def _flow(case: Case, bench: Bench, engine_speed: float | None) -> Shown:
    """Flow of a pump, or what leaks from one, against its full displacement; power with the pressure it was read at."""
    place = case.reading.keys.get("at") or case.reading.keys.get("part", "")
    pressure = case.reading.figures.get("pressure")
    shown: dict[str, Computed] = {}
    full = pump_flow(place.removesuffix("-outlet"), bench.machine, 1.0, engine_speed)
    if full:
        shown["share-of-full-flow"] = _figure(case.raw / full, "ratio", case, _DISPLACEMENT)
    if pressure:
        shown["power"] = _figure(hydraulic_power(pressure, case.raw), "power", case, _GAUGE)
    return shown, ()


def _stall(case: Case, bench: Bench, engine_speed: float | None) -> Shown:
    """Force of the cylinder at its stop, and the power that the pump turns to heat meanwhile."""
    shown: dict[str, Computed] = {}
    area = end_area(case.function, bench) if case.function is not None else None
    if area is not None:
        shown["force"] = _figure(force(case.raw, area), "force", case, _AREA)
    # Under its torque limit a pump gives at the relief's pressure what it gives at full stroke up to the corner.
    corner = bench.machine.circuit.values.get("torque-corner")
    full = pump_flow(case.reading.keys.get("pump", ""), bench.machine, _EFFICIENCY, engine_speed)
    if not corner or full is None:
        return shown, ()
    power = hydraulic_power(case.raw, full * corner)
    shown["power"] = _figure(power, "power", case, _DISPLACEMENT, _LOSSES, _TORQUE)
    return shown, (note("power-under-usual-torque-limit"),)


def _pressure(case: Case, bench: Bench, engine_speed: float | None) -> Shown:
    """Force of a pressure at a cylinder's port."""
    part, _, end = case.reading.keys.get("at", "").rpartition("-")
    area = area_at(part, end, bench) if end in ("cap", "rod") else None
    return ({"force": _figure(force(case.raw, area), "force", case, _AREA)}, ()) if area is not None else ({}, ())


def _figure(value: float, quantity: str, case: Case, *shares: float) -> Computed:
    """A figure that goes with the value or with its inverse keeps its relative uncertainty; shares are added to it."""
    return Computed(value, quantity, value * combine(case.u / case.value, *shares))


_BY_OBSERVE: Mapping[str, Callable[[Case, Bench, float | None], Shown]] = {
    "function-time": _function, "travel-time": _travel, "track-time": _track, "flow": _flow, "case-drain": _flow,
    "stall-pressure": _stall, "pressure": _pressure,
}  # fmt: skip
