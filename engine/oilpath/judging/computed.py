"""What a reading means in flow or speed, where the dimensions are known; shown beside the result, never judged."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from oilpath.flow import Computed
from oilpath.fluid.cylinder import flow_for_time
from oilpath.fluid.pump import pump_volumetric_efficiency
from oilpath.fluid.travel import ground_speed, swing_speed, track_speed
from oilpath.formats.machine import Machine
from oilpath.judging.estimates import end_area
from oilpath.judging.measured import Case

Shown = tuple[dict[str, Computed], tuple[str, ...]]


def computed(case: Case, machine: Machine, engine_speed: float | None = None) -> Shown:
    """Figures beside a result, with notes; from the value as measured. engine_speed in rev/s, of this reading."""
    make = _BY_OBSERVE.get(case.kind.observe)
    if make is None or case.raw <= 0:
        return {}, ()
    return make(case, machine, engine_speed)


def _function(case: Case, machine: Machine, engine_speed: float | None) -> Shown:
    function = case.function
    if function is None:
        turns = case.reading.figures.get("turns")
        return (_speed("speed", swing_speed(turns, case.raw), "rotation", case), ()) if turns else ({}, ())
    area, data = end_area(function, machine), machine.parts.get(function.actuator)
    if area is None or data is None or data.stroke is None:
        return {}, ()
    flow = flow_for_time(area, data.stroke, case.raw)
    note = ("the flow leaves out what regeneration adds",) if function.regeneration else ()
    return _speed("flow", flow, "flow", case), note


def _travel(case: Case, machine: Machine, engine_speed: float | None) -> Shown:
    distance = case.reading.figures.get("distance")
    return (_speed("speed", ground_speed(distance, case.raw), "speed", case), ()) if distance else ({}, ())


def _track(case: Case, machine: Machine, engine_speed: float | None) -> Shown:
    turns, length = case.reading.figures.get("turns"), machine.dimensions.track_length
    return (_speed("speed", track_speed(turns, length, case.raw), "speed", case), ()) if turns and length else ({}, ())


def _flow(case: Case, machine: Machine, engine_speed: float | None) -> Shown:
    data = machine.parts.get(case.reading.keys.get("at", "").removesuffix("-outlet"))
    if data is None or data.displacement is None or not engine_speed:
        return {}, ()
    share = pump_volumetric_efficiency(case.raw, data.displacement, engine_speed * (data.speed_ratio or 1.0))
    return _speed("share-of-full-flow", share, "ratio", case), ()


def _speed(name: str, value: float, quantity: str, case: Case) -> dict[str, Computed]:
    """A figure that goes with the value or with its inverse keeps its relative uncertainty."""
    return {name: Computed(value, quantity, value * case.u / case.value)}


_BY_OBSERVE: Mapping[str, Callable[[Case, Machine, float | None], Shown]] = {
    "function-time": _function, "travel-time": _travel, "track-time": _track, "flow": _flow,
}  # fmt: skip
