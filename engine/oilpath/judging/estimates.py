"""Expected values from the machine's dimensions, if it has no limit: no substitute for the service information.

What is expected lies between two bounds of physics where the dimensions leave room, and is as uncertain as the room is
wide: an end of a cylinder cannot fill faster than its pumps deliver, and the larger end behind it gives back more oil
than that, which has to pass the same spool. What depends on figures that a machine file does not hold, or on a setting,
gets no estimate, and the test kind says why.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from oilpath.documents.machine import Machine
from oilpath.flow.notes import Amount, Named, Note, Quote, note
from oilpath.judging.conditions import GRAVITY_LED
from oilpath.judging.limits import Standard
from oilpath.judging.measured import Case
from oilpath.knowledge.circuit import Function
from oilpath.knowledge.figures import Figure
from oilpath.knowledge.testkind import Creep
from oilpath.machine.graph import CircuitGraph
from oilpath.physics.formulas.cylinder import annulus_area, area_ratio, cap_area, stroke_time
from oilpath.physics.formulas.holding import cooling_shrinkage, drift_from_leakage
from oilpath.physics.formulas.pump import delivered_flow, displacement_at_torque
from oilpath.uncertainty import combine

if TYPE_CHECKING:
    from oilpath.bench import Bench

FALL_USUAL = 4.0
"""fall of the oil's temperature in the five minutes of a drift test, of which sound machines' values hold as much [K];
from memory"""
_MERGED = 0.1  # standard uncertainty (share) of what the second pump adds; how far it opens is the maker's, from memory


def from_dimensions(case: Case, bench: Bench) -> tuple[Standard | None, tuple[Note, ...]]:
    """An estimate of the value and of the worst that would pass, or None with the reason if there is none."""
    rules = case.kind.estimate
    if rules is None:
        return None, ((note("no-estimate", why=Quote(case.kind.no_estimate)),) if case.kind.no_estimate else ())
    if isinstance(rules, Creep):
        return _drift(case, bench, rules)
    shares: dict[str, str] = {}
    found: float | None = None
    spread = 0.0
    lacking: Note | None = note("no-estimate", why=note("pump-or-speed-not-known"))
    if case.function is not None:
        found, spread, lacking = _stroke(case.reading.keys["function"], case.function, bench, rules.efficiency)
        shares = {"estimated": case.kind.observe}
    else:
        found, spread = _flow_at_pressure(case, bench, rules.efficiency)
    if found is None:
        return None, ((lacking,) if lacking is not None else ())
    share = combine(rules.uncertainty, spread)
    # What all functions share (how far the pumps give what is stated) is scatter of its own; half is each one's.
    own_u = found * combine(spread, rules.uncertainty / 2) if shares else found * share
    notes = (note("estimate-sure-to", share=Amount(share, "ratio")),)
    lower = case.kind.limits.sides == "lower"
    least, most = (found * (1 - rules.allowance), None) if lower else (None, found * (1 + rules.allowance))
    return Standard(
        "estimate", found, least, most, reference=found, reference_u=own_u, shares=shares, notes=notes,
        factor=math.exp(share),
    ), ()  # fmt: skip


def _drift(case: Case, bench: Bench, rules: Creep) -> tuple[Standard | None, tuple[Note, ...]]:
    """Drift from the oil that leaves the loaded end, x = Q·t/A, and the usual cooling of half a stroke of oil.

    A spool's leakage goes with its diameter, that with the root of the flow it passes, and that with the cylinder's
    area. Pressure, clearance and oil leave it open but for a factor, half of which (as a variance of its logarithm) all
    cylinders of the machine share.
    """
    machine, graph = bench.machine, bench.circuit
    name = case.reading.keys.get("cylinder", "")
    held, data = graph.holds.get(name), machine.parts.get(name)
    hold = case.reading.figures.get(case.kind.limits.per or "")
    area = area_at(name, held.loaded, bench) if held is not None else None
    if held is None or area is None or data is None or not hold:
        return None, (note("no-estimate", why=note("bore-not-known")),)
    valve = held.valve
    size = math.sqrt(area / rules.area)
    leaving, worst = (rules.spool if valve is None else rules.holding_valve) * size, rules.worst * size
    cooling = cooling_shrinkage((data.stroke or 0.0) / 2, FALL_USUAL)
    new, most = (drift_from_leakage(area, leakage, hold) + cooling for leakage in (leaving, worst))
    own = combine((new - cooling) * math.log(rules.factor) / math.sqrt(2), cooling / 2)
    past = note("past-the-spool") if valve is None else note("past-the-valve", valve=Named("part", valve))
    usual, most_flow = Amount(leaving, "flow"), Amount(worst, "flow")
    notes = (
        note(
            "estimate-sure-to-factor", factor=Amount(rules.factor), usual=usual, most=most_flow, end=held.loaded,
            past=past,
        ),
    )  # fmt: skip
    return Standard(
        "estimate", new, None, most, reference=new, reference_u=own, shares={"estimated": case.kind.observe},
        notes=notes, factor=rules.factor,
    ), ()  # fmt: skip


def end_area(function: Function, bench: Bench) -> float | None:
    """Area [m²] of the end that takes the oil, of all cylinders of the actuator together."""
    return area_at(function.actuator, function.end, bench)


def area_at(actuator: str, end: str | None, bench: Bench) -> float | None:
    """Area [m²] of one end of all cylinders of an actuator together; None where dimensions or the end are missing."""
    data = bench.machine.parts.get(actuator)
    if data is None or data.bore is None or end is None:
        return None
    count = cylinders(actuator, bench)
    if end == "cap":
        return float(count * cap_area(data.bore))
    return float(count * annulus_area(data.bore, data.rod)) if data.rod and data.rod < data.bore else None


def cylinders(actuator: str, bench: Bench) -> int:
    """How many cylinders an actuator has."""
    data, part = bench.machine.parts.get(actuator), bench.circuit.parts.get(actuator)
    if data is not None and data.count:
        return data.count
    return len(part.members) if part is not None and part.members else 1


def regeneration_gain(name: str, graph: CircuitGraph) -> float:
    """Share of the speed that oil led back from the other end gives; 0 if the machine has no such valve."""
    function = graph.functions.get(name)
    return function.regeneration if function is not None and function.regen_valve is not None else 0.0


def pump_flow(pump: str, machine: Machine, efficiency: float, engine_speed: float | None = None) -> float | None:
    """Flow [m³/s] of a pump at full stroke; engine_speed in rev/s, the test speed where it is not given."""
    data = machine.parts.get(pump)
    speed = engine_speed or (machine.engine_speed.test if machine.engine_speed is not None else None)
    if data is None or data.displacement is None or speed is None:
        return None
    return float(delivered_flow(data.displacement, speed * (data.speed_ratio or 1.0), efficiency))


def _flow_at_pressure(case: Case, bench: Bench, efficiency: float) -> tuple[float | None, float]:
    """Flow [m³/s] of a pump at the pressure of the reading, and its own uncertainty as a share.

    Above the corner of its torque limit displacement falls as 1/p. Where that corner lies, and whether the pump gets
    what the other ones leave (`power-sum`), is known but for the ranges of the circuit's figures; the middle of the
    bounds (on a log scale) is taken, with every place between them as likely.
    """
    machine = bench.machine
    found = pump_flow(case.reading.keys.get("at", "").removesuffix("-outlet"), machine, efficiency)
    pressure, relief = case.reading.figures.get("pressure"), relief_setting(machine)
    corner = machine.circuit.values.get("torque-corner")
    if found is None or not pressure or relief is None or not corner:
        return found, 0.0
    summed, others = machine.circuit.values.get("power-sum", 0.0), len(bench.circuit.main_pumps()) - 1
    (least, most), (own, shared) = _ends(corner), _ends(summed)
    bounds = (least * (1 + own * others), most * (1 + shared * others))
    low, high = (float(displacement_at_torque(min(bound * relief, pressure), pressure)) for bound in bounds)
    return found * math.sqrt(low * high), abs(math.log(high / low)) / math.sqrt(12)


def _ends(figure: float) -> tuple[float, float]:
    """The range in which a figure of the circuit lies."""
    return (figure.low, figure.high) if isinstance(figure, Figure) else (figure, figure)


def relief_setting(machine: Machine) -> float | None:
    """Setting of the main relief [Pa] by the highest stall pressure that the machine's file states; None if none."""
    stated = (one for one in machine.limits if one.test == "stall-pressure")
    known = (one.new or one.min or one.max for one in stated)
    return max((value for value in known if value is not None), default=None)


def supply_flow(name: str, bench: Bench, efficiency: float, engine_speed: float | None = None) -> float | None:
    """Flow [m³/s] of all pumps that serve a function, at full stroke; None where one of them is not known."""
    graph = bench.circuit
    if name not in graph.functions:
        return None
    flows = [pump_flow(pump, bench.machine, efficiency, engine_speed) for pump in graph.pumps(name)]
    known = [flow for flow in flows if flow is not None]
    return sum(known) if known and len(known) == len(flows) else None


def _stroke(name: str, function: Function, bench: Bench, efficiency: float) -> tuple[float | None, float, Note | None]:
    """Time [s] of one full stroke, its own uncertainty as a share, and what is lacking if there is none.

    Filled at the cap end it takes A·s/Q, with regeneration down to (1 − gain) of that, and longer where it may take
    less than all that its pumps give (`least_shares`). The middle of the bounds (on a log scale) is taken, with every
    place between them as likely.
    """
    machine, graph = bench.machine, bench.circuit
    area, data = end_area(function, bench), machine.parts.get(function.actuator)
    if name not in graph.functions or function.end is None:
        return None, 0.0, None
    if function.gravity >= GRAVITY_LED:
        return None, 0.0, note("no-estimate", why=note("weight-sets-the-time"))
    flow = supply_flow(name, bench, efficiency)
    if area is None or data is None or data.stroke is None or data.bore is None:
        return None, 0.0, note("no-estimate", why=note("cylinder-not-known"))
    if flow is None:
        return None, 0.0, note("no-estimate", why=note("pumps-or-speed-not-known"))
    rooms = [-math.log(share) for share, _ in least_shares(function, machine)]
    rooms.append(math.log(1 - regeneration_gain(name, graph)))
    merged = _MERGED if len(graph.pumps(name)) > 1 else 0.0
    time = float(stroke_time(area, data.stroke, flow)) * math.exp(math.fsum(rooms) / 2)
    return time, combine(merged, *(abs(room) / math.sqrt(12) for room in rooms)), None


def least_stroke_time(name: str, function: Function, bench: Bench) -> float | None:
    """Time [s] of one full stroke with all that the pumps displace and regeneration gives back: A·s/Q·(1 − gain).

    None where it cannot be told, or the weight of the attachment sets the time.
    """
    graph, data = bench.circuit, bench.machine.parts.get(function.actuator)
    area, flow = end_area(function, bench), supply_flow(name, bench, 1.0)
    if area is None or flow is None or data is None or data.stroke is None or function.gravity >= GRAVITY_LED:
        return None
    return float(stroke_time(area, data.stroke, flow)) * (1 - regeneration_gain(name, graph))


def least_shares(function: Function, machine: Machine) -> Iterator[tuple[float, Note]]:
    """What may let a sound function take less than its pumps give: the least share each leaves, and why.

    Filled at the rod end, the cap end gives back the area ratio φ times what goes in; at 1/φ no more than the pumps
    give passes the spool. A section may be built for less than the pump gives (`section-share` of the circuit).
    """
    data = machine.parts.get(function.actuator)
    if function.end == "rod" and data is not None and data.bore and data.rod and data.rod < data.bore:
        yield 1 / float(area_ratio(data.bore, data.rod)), note("other-end-gives-back-more")
    least = machine.circuit.values.get("section-share", 1.0)
    if 0 < least < 1:
        yield least, note("section-built-for-less")
