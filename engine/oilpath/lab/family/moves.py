"""How fast the actuators move: cylinders, swing, tracks; and the pressure when they are held at their stop."""

from __future__ import annotations

import math
from typing import Final

from oilpath.lab.family.layout import Movement
from oilpath.lab.family.machine import IDLE_PRESSURE
from oilpath.lab.family.oil import Leak, lost
from oilpath.lab.family.plant import Plant, root

_NEVER: Final = math.inf
_PARTS: Final = 16
"""steps of speed in which a stop is computed"""
_BODY: Final = 0.005
"""leakage of a sound valve block at the main relief, as a share of a pump's flow"""
_CREEPS: Final = 0.02
"""flow below this share of the pump's moves nothing that one could time"""


class Moves:
    """The movements of one plant."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.machine = plant.machine
        self.state = plant.state

    # --- what the pumps give a movement ---------------------------------------------

    def given(self, name: str, group: str, pumps: tuple[tuple[str, float], ...], pressure: float) -> float:
        """Flow in L/min into a spool at a pump pressure, the main relief and the open centre taken off."""
        machine, plant = self.machine, self.plant
        opening = plant.spool(name, group)
        want = plant.lever(name, group) if machine.control == "positive" else 1.0
        numbers = [machine.layout.pumps.index(pump) for pump, _ in pumps]
        count = len(machine.layout.pumps)
        pressures = [pressure if n in numbers else IDLE_PRESSURE for n in range(count)]
        flows = plant.supply(pressures, [max(want, machine.standby) if n in numbers else 0.0 for n in range(count)])
        if machine.layout.load_sensing:
            return self._section(name, group, flows[0], opening, pressure)
        past = 0.7 * (1 - opening) ** 1.5 if machine.control == "negative" else 0.25 * (1 - opening) ** 2
        total = 0.0
        for position, (n, (_, share)) in enumerate(zip(numbers, pumps, strict=True)):
            joins = share * self._joins(name, group) if position else 1.0
            # one relief for all pumps that work: each keeps what its share of it does not take
            kept = flows[n] - plant.over_relief(pressure, "main-relief", machine.relief) / len(numbers)
            total += kept * joins
        return total * (1 - past) - self._body(pressure)

    def _joins(self, name: str, group: str) -> float:
        """Share of the second pump's flow that its merge valve lets join."""
        valve = self.state.opening[f"{group}-merge-valve"] * self.state.opening[f"{group}-merge-valve/{name}"]
        return valve * (1 - self.state.straight)

    def _section(self, name: str, group: str, flow: float, opening: float, pressure: float) -> float:
        """Flow of a load-sensing section: its own setting, or what the pump can give; the smaller one.

        A pump that senses only a part of the load delivers less pressure by the rest, which the margin then lacks.
        """
        machine, state = self.machine, self.state
        kind = "travel" if group.startswith("travel") else group
        load = max(0.0, pressure - machine.margin)
        sensed = min(state.signal, state.setting[f"{group}-shuttle"])
        margin = machine.margin * state.margin - (1 - sensed) * load
        own = machine.section[name if name in machine.section else kind] * opening
        own *= state.opening[f"{group}-compensator"] * math.sqrt(max(0.0, margin) / machine.margin)
        flow -= self.plant.over_relief(pressure, "main-relief", machine.relief)
        way = state.opening["priority-valve" if group == "steering" else "priority-excess"]
        if not machine.layout.swings:  # a loader: the priority valve stands before every section
            flow *= way
            own *= way**0.5 if group == "steering" else 1.0
        return min(own, flow) - self._body(pressure)

    def _body(self, pressure: float) -> float:
        """Oil in L/min that every valve block lets by between its spools and their bores."""
        return _BODY * self.machine.full_flow * pressure / self.machine.relief

    # --- cylinders ------------------------------------------------------------------

    def cylinder_time(self, m: Movement) -> float:
        """Seconds for the full stroke of a cylinder; infinite where it does not move."""
        machine, state = self.machine, self.state
        load = machine.load[m.name] * (state.load if not m.gravity[1] else 1 / state.load) + state.drag[m.actuator]
        flow = self.inlet(m, load)
        volume = self.volume(m)
        regeneration = machine.regeneration if state.regeneration is None else state.regeneration
        if m.name == "arm-in":
            flow *= 1 + regeneration
        weight = machine.gravity[m.name]
        if weight:
            flow = (1 - weight) * flow + weight * self._falling(m)
        if flow < _CREEPS * machine.full_flow:
            return _NEVER
        return 60 * volume / flow * machine.habit.get(m.name, 1.0)

    def volume(self, m: Movement) -> float:
        """Litres that a movement takes in."""
        ram = self.machine.rams[m.actuator]
        if m.group == "steering":  # the blind end of one, the rod end of the other
            return (ram.volume("cap") + ram.volume("rod")) / ram.count
        return ram.volume(m.end)

    def inlet(self, m: Movement, load: float) -> float:
        """Flow in L/min that works in the cylinder, at a load in MPa."""
        machine = self.machine
        pumps = machine.pumps_of(m.name, m.group)
        full = machine.section.get(m.name, machine.full_flow * len(pumps))
        way_in, way_out, ratio = self._ways(m)
        loss = machine.loss * self.plant.thick
        cost = loss / way_in**2 + 0.5 * loss * ratio / way_out**2
        margin = machine.margin if machine.layout.load_sensing else 0.0

        def short(q: float) -> float:
            pressure = load + margin + (cost + ratio * self.state.back) * (q / full) ** 2
            return self.given(m.name, m.group, pumps, pressure) - q

        flow = root(short, 0.0, 1.3 * full)
        inside = load + (0.5 * loss * ratio / way_out**2 + ratio * self.state.back) * (flow / full) ** 2
        return max(0.0, flow - self.past(m, inside))

    def _ways(self, m: Movement) -> tuple[float, float, float]:
        """Openings of the ways in and out of a cylinder beside the spool's, and outlet area by inlet area."""
        state, ram = self.state, self.machine.rams[m.actuator]
        if m.group == "steering":
            side = m.name.rsplit("-", 1)[1]
            other = "right" if side == "left" else "left"
            return self._hose(f"steering-{side}-hose", m.name), self._hose(f"steering-{other}-hose", m.name), 1.0
        away = "rod" if m.end == "cap" else "cap"
        into = self._hose(f"{m.group}-{m.end}-hose", m.name) * self.plant.spool(m.name, m.group) ** 0.5
        out = self._hose(f"{m.group}-{away}-hose", m.name) * self.plant.spool(m.name, m.group) ** 0.5
        holding = f"{m.group}-holding-valve"
        held = next((c.loaded for c in self.machine.layout.cylinders if c.valve == holding), None)
        if held == away:
            out *= state.opening[holding]
        return max(into, 0.03), max(out, 0.03), ram.area(away) / ram.area(m.end)

    def _hose(self, name: str, movement: str) -> float:
        return self.state.opening[name] * self.state.opening[f"{name}/{movement}"]

    def past(self, m: Movement, pressure: float) -> float:
        """Oil in L/min that passes beside the cylinder's piston, at the inlet's pressure."""
        machine, state, nu = self.machine, self.state, self.plant.nu
        if m.group == "steering":
            side = m.name.rsplit("-", 1)[1]
            name = f"steering-{side}-relief"
            unit = lost(state.leak["steering-unit"], pressure, nu)
            ports = unit + self.plant.over_relief(pressure, name, machine.port_relief * machine.relief)
        else:
            port, check = f"{m.group}-{m.end}-port-relief", f"{m.group}-{m.end}-make-up-check"
            ports = self.plant.over_relief(pressure, port, machine.port_relief * machine.relief)
            ports += lost(state.leak[check], pressure, nu)
        members = machine.layout.cylinder(m.actuator).members
        return ports + sum(lost(state.leak[one], pressure, nu) for one in members)

    def _falling(self, m: Movement) -> float:
        """Flow in L/min of the inlet's volume at the speed at which the weight pushes the oil out by itself."""
        machine, state = self.machine, self.state
        pumps = machine.pumps_of(m.name, m.group)
        sound = machine.fall[m.name] * machine.section.get(m.name, machine.full_flow * len(pumps) * 0.95)
        usual = machine.holds[m.actuator].pressure
        push = usual * state.load - state.back - state.drag[m.actuator]
        _, out, _ = self._ways(m)
        loss = max(0.0, push) / usual
        opening = self.plant.spool(m.name, m.group)
        return sound * min(opening, out) * math.sqrt(loss)

    # --- held at the stop -----------------------------------------------------------

    def stall(self, pump: str, name: str, group: str) -> float:
        """Pressure in MPa of one pump with a movement held at its stop."""
        machine, plant = self.machine, self.plant

        def left(p: float) -> float:
            flow = self.given(name, group, ((pump, 1.0),), p)
            return flow - self.held_back(name, group, p)

        if plant.spool(name, group) <= 2e-3:
            return IDLE_PRESSURE
        most = 1.6 * machine.relief
        if machine.layout.load_sensing:
            sensed = min(self.state.signal, self.state.setting[f"{group}-shuttle"])
            most = min(most, machine.margin * self.state.margin / max(1e-6, 1 - sensed))
            if group == "steering" and machine.steering is not None:
                most = min(most, machine.steering.relief + machine.margin)
        return root(left, 0.0, most)

    def held_back(self, name: str, group: str, pressure: float) -> float:
        """Oil in L/min that gets away behind the spool while a movement is held."""
        machine = self.machine
        if group == "swing":
            return self.swing_past(name.rsplit("-", 1)[1], pressure)
        if group.startswith("travel"):
            _, side, way = name.split("-")
            return self.track_past(side, way, pressure)
        m = machine.layout.movement(name)
        # what passes the piston of a cylinder at its stop reaches the tank through the open other end
        return self.past(m, pressure)

    # --- swing ----------------------------------------------------------------------

    def swing_past(self, direction: str, pressure: float) -> float:
        """Oil in L/min that passes beside the swing motor, driven towards a direction."""
        machine, state, nu = self.machine, self.state, self.plant.nu
        assert machine.swing is not None
        relief = self.plant.over_relief(pressure, f"swing-{direction}-relief", machine.swing.relief)
        check = lost(state.leak[f"swing-{direction}-make-up"], pressure, nu)
        motor = lost((Leak(machine.motor_leak, machine.motor_orifice), *state.leak["swing-motor"]), pressure, nu)
        return relief + check + motor

    def swing_rate(self, direction: str) -> float:
        """Turns per second of the upper structure once it has its speed."""
        machine = self.machine
        assert machine.swing is not None
        pressure = machine.swing.steady + self.swing_drag()
        name, pumps = f"swing-{direction}", ((machine.feeds["swing"], 1.0),)
        full = machine.section.get("swing", machine.full_flow)
        margin = machine.margin if machine.layout.load_sensing else 0.0

        def short(q: float) -> float:
            at = pressure + margin + machine.loss * self.plant.thick / self.plant.spool(name, "swing") * (q / full) ** 2
            return self.given(name, "swing", pumps, at) - q

        flow = root(short, 0.0, 1.3 * full) - self.swing_past(direction, pressure)
        return max(0.0, flow) * 1000 / 60 / machine.swing.turn

    def swing_drag(self) -> float:
        assert self.machine.swing is not None
        drag = self.state.drag
        return drag["swing-brake"] + drag["swing-gear"] + self.plant.brake_drag(self.machine.swing.brake)

    def swing_time(self, direction: str, turns: float, *, rest: bool = True) -> float:
        """Seconds for some turns; from rest the lower of main and swing relief brings the upper structure to speed."""
        machine = self.machine
        assert machine.swing is not None
        rate = self.swing_rate(direction)
        if rate < 0.03 * machine.full_flow * 1000 / 60 / machine.swing.turn:
            return _NEVER
        habit = machine.habit.get(f"swing-{direction}", 1.0)
        if not rest:
            return turns / rate * habit
        driving = self.stall(machine.feeds["swing"], f"swing-{direction}", "swing")
        push = driving - machine.swing.friction - self.swing_drag()
        if push <= 0.01 * machine.relief:
            return _NEVER
        gain = push / (machine.swing.inertia * math.sqrt(self.state.load))  # turns/s²
        start = rate / gain
        if 0.5 * rate * start >= turns:
            return math.sqrt(2 * turns / gain) * habit
        return (turns / rate + start / 2) * habit

    def swing_stop(self, direction: str) -> float:
        """Degrees that the upper structure runs on: the other side's line and its relief slow it down.

        A leak there lets the motor turn on against it, slower and slower; a low setting brakes less.
        """
        machine, state = self.machine, self.state
        assert machine.swing is not None
        other = "right" if direction == "left" else "left"
        friction = 0.3 * machine.swing.friction + self.swing_drag()
        rate, turned = self.swing_rate(direction), 0.0
        if rate < 0.03 * machine.full_flow * 1000 / 60 / machine.swing.turn:
            return _NEVER
        step = rate / _PARTS
        inertia = machine.swing.inertia * math.sqrt(state.load)
        top = machine.swing.relief * state.setting[f"swing-{other}-relief"]
        for number in range(_PARTS):
            now = rate - (number + 0.5) * step
            pumped = now * machine.swing.turn * 60 / 1000
            held = root(lambda p, q=pumped: q - self.swing_past(other, p), 0.0, top)  # type: ignore[misc]
            turned += now * step * inertia / (held + friction)
        return turned * 360

    # --- tracks ---------------------------------------------------------------------

    def track_past(self, side: str, way: str, pressure: float) -> float:
        """Oil in L/min that passes beside a travel motor, driven one way."""
        machine, state, nu = self.machine, self.state, self.plant.nu
        assert machine.travel is not None
        name = f"travel-{side}-{way}-crossover"
        relief = self.plant.over_relief(pressure, name, machine.travel.relief)
        own = Leak(machine.motor_leak, machine.motor_orifice)
        motor = lost((own, *state.leak[f"travel-{side}-motor"]), pressure, nu)
        return relief + motor + lost(state.leak[f"swivel-joint/{side}"], pressure, nu)

    def track_drag(self, side: str) -> float:
        """MPa that brake, final drive and track take beyond the sound."""
        drag = self.state.drag
        parts = f"travel-{side}-brake", f"travel-{side}-final-drive", f"track-{side}"
        return sum(drag[part] for part in parts) + self.plant.brake_drag(0.5 * self.machine.relief)

    def range_of(self, side: str, asked: str) -> str:
        """Range in which a motor is; without its pilot pressure it stays in low range."""
        stuck = self.state.stuck.get(side)
        if stuck is not None:
            return stuck
        return "high" if asked == "high" and self.plant.pilot["lockout"] >= self.machine.pilot.shift else "low"

    def track_speed(self, side: str, way: str, asked: str, *, ground: bool) -> float:
        """Metres per second of one track, on the ground beside the other one or raised by itself."""
        machine, state = self.machine, self.state
        assert machine.travel is not None
        inside = self.range_of(side, asked)
        figures = machine.travel.ground if ground else machine.travel.raised
        # the same torque needs less pressure in low range; a motor in the wrong range has its own
        pressure = figures[inside] + self.track_drag(side) * (1.0 if inside == "high" else machine.travel.low)
        pressure *= state.load**0.3 if ground else 1.0
        name, group = f"travel-{side}-{way}", f"travel-{side}"
        valve = max(0.05, state.opening[f"travel-{side}-counterbalance/{name}"])
        full = machine.section.get("travel", machine.full_flow)
        margin = machine.margin if machine.layout.load_sensing else 0.0
        cost = (
            machine.loss * self.plant.thick * (0.5 / self.plant.spool(name, group) ** 2 + 0.5 / valve**2) + state.back
        )

        def short(q: float) -> float:
            at = pressure + margin + cost * (q / full) ** 2
            return self._travel_flow(name, group, at, ground=ground) - q

        flow = root(short, 0.0, 1.3 * full) - self.track_past(side, way, pressure)
        metre = machine.travel.metre / (1.0 if inside == "high" else machine.travel.low)
        return max(0.0, flow) * 1000 / 60 / metre

    def _travel_flow(self, name: str, group: str, pressure: float, *, ground: bool) -> float:
        """Flow in L/min into one travel spool; on the ground both pumps, or both halves of one, work."""
        machine, plant = self.machine, self.plant
        pump = machine.feeds[group]
        if machine.layout.load_sensing:
            opening = plant.spool(name, group)
            (flow,) = plant.supply((pressure,), (1.0,))
            return self._section(name, group, flow / 2 if ground else flow, opening, pressure)
        if not ground:
            return self.given(name, group, ((pump, 1.0),), pressure) * (1 - 0.5 * self.state.straight)
        opening = plant.spool(name, group)
        want = plant.lever(name, group) if machine.control == "positive" else 1.0
        number = machine.layout.pumps.index(pump)
        # the other track works as well, at the pressure of a sound one
        pressures = [machine.travel.ground["high"]] * len(machine.layout.pumps) if machine.travel else []
        pressures[number] = pressure
        flow = plant.supply(pressures, [max(want, machine.standby)] * len(pressures))[number]
        past = 0.7 * (1 - opening) ** 1.5 if machine.control == "negative" else 0.25 * (1 - opening) ** 2
        kept = flow - plant.over_relief(pressure, "main-relief", machine.relief) / 2
        return kept * (1 - past) * (1 - 0.5 * self.state.straight)

    def travel(self, way: str, asked: str, distance: float) -> tuple[float, float]:
        """Seconds over a distance in m with both tracks, and the veer in m, positive to the right.

        Both tracks run at their own speed; the machine goes round a circle towards the slower one.
        """
        assert self.machine.travel is not None
        habit = self.machine.habit
        left, right = (
            self.track_speed(side, way, asked, ground=True) / habit.get(f"side-{side}", 1.0)
            for side in ("left", "right")
        )
        mean = (left + right) / 2
        if mean < 0.1:
            return _NEVER, 0.0
        time = distance / mean * habit.get("ground", 1.0)
        bend = (left - right) / mean / self.machine.travel.gauge  # 1/m, positive to the right
        turn = min(abs(bend) * distance, math.pi / 2)
        veer = 0.0 if bend == 0 else math.copysign((1 - math.cos(turn)) / abs(bend), bend)
        return time, veer

    def raised_time(self, side: str, way: str, asked: str, turns: float) -> float:
        """Seconds for some turns of a raised track."""
        assert self.machine.travel is not None
        speed = self.track_speed(side, way, asked, ground=False)
        if speed < 0.1:
            return _NEVER
        return turns * self.machine.travel.shoe / speed * self.machine.habit.get(f"raised-{side}", 1.0)
