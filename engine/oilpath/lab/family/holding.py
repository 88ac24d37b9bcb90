"""What stands still or is read beside the movements: drift, creep on a slope, drains, temperatures, pressures."""

from __future__ import annotations

import math
from typing import Final

from oilpath.lab.family.machine import IDLE_PRESSURE
from oilpath.lab.family.moves import Moves
from oilpath.lab.family.oil import EXPANSION, Leak, lost, viscosity
from oilpath.lab.family.plant import Plant, root

STEEL: Final = 0.000012
"""expansion of the cylinder's steel per kelvin, which the column of oil is measured against"""
_BACKLASH: Final = 1.5
"""mm that a sound machine settles on a slope"""


class Holding:
    """Held cylinders and the readings of single parts of one plant."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.moves = Moves(plant)
        self.machine = plant.machine
        self.state = plant.state

    # --- drift ----------------------------------------------------------------------

    def drift(
        self, name: str, minutes: float, *, start: float, end: float, extension: float, reversed_: bool = False,
        running: bool = False,
    ) -> float:  # fmt: skip
        """Millimetres that a held cylinder moves with its load.

        Its oil is at `start` °C and cools to `end`; the rod stands out by `extension` mm. Leakage, plus what the held
        column shrinks by; `running` adds what a spool off its centre or a pilot that keeps pressure lets by.
        """
        machine = self.machine
        hold, ram = machine.holds[name], machine.rams[name]
        loaded = hold.end if not reversed_ else ("rod" if hold.end == "cap" else "cap")
        nu = viscosity(machine.grade, machine.index, round((start + end) / 2, 1)) * self.state.viscosity
        pressure = hold.pressure * self.state.load * (0.8 if reversed_ else 1.0)
        rate = self.sinking(name, loaded, pressure, nu, running=running)
        column = extension if loaded == "cap" else max(0.0, ram.stroke - extension)
        shrunk = column * max(0.0, start - end) * (EXPANSION - STEEL)
        return min(rate * minutes + shrunk, column)  # no further than the stroke goes

    def sinking(self, name: str, loaded: str, pressure: float, nu: float, *, running: bool) -> float:
        """mm/min of a cylinder whose `loaded` end holds a pressure in MPa.

        Oil leaves the loaded end through its valves, or past the piston. What passes the piston of a cylinder loaded
        at its cap end must leave the rod end as well, for it is more than the rod end takes; its pressure rises until
        as much goes out. The force on the rod stays the same meanwhile.
        """
        ram = self.machine.rams[name]
        count = ram.count
        away = "rod" if loaded == "cap" else "cap"
        big, small = count * ram.area(loaded), count * ram.area(away)
        seal = self._seal(name)

        def out(end: str, p: float) -> float:
            return self._end_leak(name, end, p, nu, running=running)

        def across(p: float) -> float:
            return seal[0].at(max(0.0, p), nu) if len(seal) == 1 else lost(seal, max(0.0, p), nu)

        def speed(other: float) -> float:
            """cm/min with a pressure at the unloaded end."""
            held = pressure + other * small / big
            return (out(loaded, held) + across(held - other)) / big

        def surplus(other: float) -> float:
            """What the unloaded end takes in beyond the room that the piston makes, at a pressure there."""
            held = pressure + other * small / big
            return across(held - other) - out(away, other) - speed(other) * small

        if surplus(0.0) <= 0:  # the room grows faster than oil comes: it voids, or draws through its make-up check
            return 10 * speed(0.0)
        other = root(surplus, 0.0, pressure / (1 - small / big))
        # what both ends lose is what the rod, going in, drives out; near equal pressures the seal's flow is less exact
        return 10 * (out(loaded, pressure + other * small / big) + out(away, other)) / (big - small)

    def _seal(self, name: str) -> tuple[Leak, ...]:
        """mL/min past the pistons of an actuator."""
        machine, state = self.machine, self.state
        members = machine.layout.cylinder(name).members
        leaks = [leak for one in members for leak in state.leak[one]]
        return (
            Leak(machine.seal_leak * len(members), 0.5),
            *(Leak(leak.flow * 1000, leak.orifice) for leak in leaks),
        )

    def _end_leak(self, name: str, end: str, pressure: float, nu: float, *, running: bool) -> float:
        """mL/min that leave one end of an actuator towards the tank."""
        machine, state = self.machine, self.state
        cylinder = machine.layout.cylinder(name)
        group = cylinder.group
        ports = [Leak(machine.valve_leak, 0.3), *state.held[f"{group}-{end}-port-relief"]]
        ports += [*state.held[f"{group}-{end}-make-up-check"]]
        spool = [Leak(machine.spool_leak[name], 0.0), *state.held[f"{group}-spool"]]
        through = lost(tuple(spool), pressure, nu) + (state.creep[f"{group}-spool"] if running else 0.0)
        valve = cylinder.valve
        if valve is not None and valve not in machine.absent and end == cylinder.loaded:
            poppet = (Leak(machine.valve_leak, 0.6), *state.held[valve])
            held = lost(poppet, pressure, nu) + (state.creep[valve] if running else 0.0)
            # in series: two orifices of these flows let so much through together, the tighter one rules
            through = 1 / math.hypot(1 / max(through, 1e-6), 1 / max(held, 1e-6))
        return through + lost(tuple(ports), pressure, nu)

    # --- creep, drains, temperatures ------------------------------------------------

    def creep(self, of: str, minutes: float) -> float:
        """Millimetres that a parked machine creeps on a moderate slope."""
        parts = ["swing-brake"] if of == "swing" else ["travel-left-brake", "travel-right-brake"]
        return _BACKLASH + sum(self.state.creep[part] for part in parts) * minutes

    def case_drain(self, part: str, pressure: float) -> float:
        """Oil in L/min from the case of a pump or motor at a working pressure."""
        machine, state, nu = self.machine, self.state, self.plant.nu
        if part in machine.layout.pumps:
            number = machine.layout.pumps.index(part)
            sound = Leak(machine.leak[number], machine.leak_orifice)
        else:
            sound = Leak(machine.motor_leak, machine.motor_orifice)
        extra = lost(state.leak[part], pressure, nu) * min(1.0, machine.drain_share * state.drained[part])
        return sound.at(pressure, nu) * machine.drain_share + extra

    def flow(self, pump: str, pressure: float) -> float:
        """Flow in L/min of one pump through a loaded meter at a pressure, the other at rest."""
        pumps = self.machine.layout.pumps
        number = pumps.index(pump)
        pressures = [pressure if n == number else IDLE_PRESSURE for n in range(len(pumps))]
        return self.plant.supply(pressures, [float(n == number) for n in range(len(pumps))])[number]

    def hub(self, side: str) -> float:
        """Kelvin by which a hub is warmer than the oil's surroundings after a run: its friction heats it."""
        drag = self.state.drag
        machine = self.machine
        assert machine.travel is not None
        heat = drag[f"travel-{side}-brake"] + drag[f"travel-{side}-final-drive"]
        heat += self.plant.brake_drag(0.5 * machine.relief)
        motor = sum(leak.flow for leak in self.state.leak[f"travel-{side}-motor"]) / machine.full_flow
        return 18 + 140 * heat / machine.relief + 40 * motor

    def engine_speed(self, state: str) -> float:
        """Engine speed in rpm: `high-idle`, `stall-one-pump`, `stall-both-pumps`."""
        machine, plant = self.machine, self.plant
        if state == "high-idle":
            return plant.speed(0.0)
        names = [m for m in machine.layout.movements if m.group != "steering"]
        torque = 0.0
        count = 1 if state == "stall-one-pump" else len(machine.layout.pumps)
        for number, pump in enumerate(machine.layout.pumps[:count]):
            m = next((m for m in names if machine.feeds[m.group] == pump), names[0])
            pressure = self.moves.stall(pump, m.name, m.group)
            beside = pressure if count == 2 else IDLE_PRESSURE
            torque += machine.displacement[number] * plant.stroke(number, pressure, beside) * pressure / 6.2832 / 0.9
        return plant.speed(torque)

    def running_pressure(self, side: str) -> float:
        """MPa that turn a raised track in high range."""
        machine = self.machine
        assert machine.travel is not None
        return machine.travel.raised["high"] + self.moves.track_drag(side)
