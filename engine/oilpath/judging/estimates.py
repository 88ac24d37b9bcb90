"""Expected values from the machine's dimensions, where it has no limit: no substitute for the service information."""

from __future__ import annotations

from oilpath.circuit.graph import circuit_graph
from oilpath.fluid.cylinder import annulus_area, cap_area, stroke_time
from oilpath.fluid.pump import delivered_flow
from oilpath.formats.circuit import Function
from oilpath.formats.machine import Machine
from oilpath.formats.testkind import Estimate
from oilpath.judging.conditions import GRAVITY_LED
from oilpath.judging.limits import Standard
from oilpath.judging.measured import Case

_NOTE = "estimated from the machine's dimensions, no substitute for the service information"


def from_dimensions(case: Case, machine: Machine) -> Standard | None:
    """An estimate of the value and of the worst that would pass; None where dimensions are missing."""
    rules = case.kind.estimate
    if rules is None:
        return None
    if case.function is not None:
        new = _stroke(case.reading.keys["function"], case.function, machine, rules)
    else:
        new = _pump_flow(case.reading.keys.get("at", "").removesuffix("-outlet"), machine, rules.efficiency)
    if new is None:
        return None
    u = new * rules.uncertainty
    if case.kind.limits.sides == "lower":
        return Standard("estimate", new, new * (1 - rules.allowance), None, 0.0, u, new, u, notes=(_NOTE,))
    return Standard("estimate", new, None, new * (1 + rules.allowance), 0.0, u, new, u, notes=(_NOTE,))


def end_area(function: Function, machine: Machine) -> float | None:
    """Area [m²] of the end that takes the oil, of all cylinders of the actuator together."""
    data = machine.parts.get(function.actuator)
    if data is None or data.bore is None or function.end is None:
        return None
    count = cylinders(function.actuator, machine)
    if function.end == "cap":
        return float(count * cap_area(data.bore))
    return float(count * annulus_area(data.bore, data.rod)) if data.rod and data.rod < data.bore else None


def cylinders(actuator: str, machine: Machine) -> int:
    """How many cylinders an actuator has."""
    data, part = machine.parts.get(actuator), machine.circuit.parts.get(actuator)
    if data is not None and data.count:
        return data.count
    return len(part.members) if part is not None and part.members else 1


def _stroke(name: str, function: Function, machine: Machine, rules: Estimate) -> float | None:
    """Time [s] of one full stroke with the flow of all pumps that serve the function."""
    area, data = end_area(function, machine), machine.parts.get(function.actuator)
    graph = circuit_graph(machine)
    if area is None or data is None or data.stroke is None or name not in graph.functions:
        return None
    if function.gravity >= GRAVITY_LED:
        return None
    flows = [_pump_flow(pump, machine, rules.efficiency) for pump in graph.pumps(name)]
    known = [flow for flow in flows if flow is not None]
    if not known or len(known) < len(flows):
        return None
    gain = function.regeneration.gain if function.regeneration and function.regeneration.valve in graph.parts else 0.0
    return float(stroke_time(area, data.stroke, sum(known) * (1 + gain)))


def _pump_flow(pump: str, machine: Machine, efficiency: float) -> float | None:
    """Flow [m³/s] of a pump at its full stroke and the engine's test speed."""
    data = machine.parts.get(pump)
    if data is None or data.displacement is None or machine.engine_speed is None:
        return None
    speed = machine.engine_speed.test * (data.speed_ratio or 1.0)
    return float(delivered_flow(data.displacement, speed, efficiency))
