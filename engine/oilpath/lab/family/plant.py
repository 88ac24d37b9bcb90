"""Engine, pumps, reliefs and pilot supply of one machine in one state: how much oil there is at which pressure."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Final

from oilpath.lab.family.machine import IDLE_PRESSURE, Machine
from oilpath.lab.family.oil import Leak, lost, viscosity
from oilpath.lab.family.state import State

WARM: Final = 55.0
"""oil temperature in °C that tests ask for"""
_STEPS: Final = 60
_NEAR: Final = 1e-5
_MECHANICAL: Final = 0.9
"""hydromechanical efficiency of a pump"""
_PILOT_DEAD: Final = 0.25
"""share of full pilot pressure at which a spool begins to move"""


def root(falls: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function is zero; an end of the range where it is not in it.

    False position with the Illinois halving (Dowell and Jarratt 1971), to a hundred-thousandth of the range.
    """
    above, below = falls(low), 0.0
    if above <= 0:
        return low
    below = falls(high)
    if below >= 0:
        return high
    near, side = (high - low) * _NEAR, 0
    for _ in range(_STEPS):
        middle = (low * below - high * above) / (below - above)
        value = falls(middle)
        if value > 0:
            moved, low, above = middle - low, middle, value
            below *= 0.5 if side == 1 else 1.0
            side = 1
        else:
            moved, high, below = high - middle, middle, value
            above *= 0.5 if side == -1 else 1.0
            side = -1
        if abs(value) < _NEAR or high - low < near or moved < 0.01 * near:
            return middle
    return 0.5 * (low + high)


class Plant:
    """One machine in one state, at an oil temperature in °C and a share of its test speed."""

    def __init__(self, machine: Machine, state: State, *, celsius: float = WARM, throttle: float = 1.0) -> None:
        self.machine = machine
        self.state = state
        self.celsius = celsius
        self.throttle = throttle
        self.nu = viscosity(machine.grade, machine.index, round(celsius, 1)) * state.viscosity
        self._pump_leaks = tuple(
            (Leak(flow, machine.leak_orifice), *state.leak[name])
            for flow, name in zip(machine.leak, machine.layout.pumps, strict=True)
        )
        self._spools: dict[str, float] = {}

    @property
    def thick(self) -> float:
        """Factor on the losses of lines and valves: three quarters go with the flow alone, the rest with viscosity."""
        return 0.75 + 0.25 * self.nu / 25

    # --- engine ---------------------------------------------------------------------

    def speed(self, torque: float = 0.0) -> float:
        """Engine speed in rpm under a torque in N·m of the pumps.

        The governor gives way by its droop up to full torque. Beyond it the engine lugs down along its torque curve,
        to 70 % of its speed; still more and the operator or a sensor takes the pumps back.
        """
        engine = self.machine.engine
        top = engine.speed * self.throttle * self.state.speed
        share = torque / (engine.torque * self.state.power)
        if share <= 1:
            return top * (1 - engine.droop * share)
        lug = (
            1 - 0.3 * (share - 1) / engine.reserve if share < 1 + engine.reserve else 0.7 * (1 + engine.reserve) / share
        )
        return top * (1 - engine.droop) * lug

    # --- pumps ----------------------------------------------------------------------

    def stroke(self, pump: int, pressure: float, beside: float) -> float:
        """Share of the full stroke that power control and cut-off leave a pump; `beside` is the other pump's MPa."""
        machine, name = self.machine, self.machine.layout.pumps[pump]
        law = machine.power
        share = 1.0
        if law.law != "none" and pressure > 0:
            corner = law.corner * self.state.torque[f"{name}-regulator"]
            met = pressure if law.law == "own" or len(machine.displacement) == 1 else (pressure + beside) / 2
            share = min(1.0, (corner / met) ** law.exponent) if met > 0 else 1.0
        share = min(share, self.state.stroke[f"{name}-regulator"])
        if machine.cutoff is not None:
            ends = machine.cutoff * self.state.setting[f"{name}-cutoff"]
            share *= min(1.0, max(0.0, (ends - pressure) / (0.04 * ends)))
        return share

    def supply(self, pressures: Sequence[float], wanted: Sequence[float]) -> tuple[float, ...]:
        """Flow in L/min that each pump sends out at its pressure, when a share of its full stroke is asked for.

        A wanted stroke of zero stands for a pump at rest: it turns over its standby flow at a low pressure. Less than
        nothing is a pump that cannot hold the pressure.
        """
        machine, state = self.machine, self.state
        strokes, loads = [], []
        for number, (pressure, want) in enumerate(zip(pressures, wanted, strict=True)):
            name = machine.layout.pumps[number]
            asked = want * state.demand[f"{name}-flow-signal"]
            met = pressure if want > 0 else IDLE_PRESSURE
            other = sum(pressures) - pressure if want > 0 else max(pressures)
            strokes.append(min(self.stroke(number, met, other), max(asked, machine.standby)))
            loads.append(met)
        turns = [v * s for v, s in zip(machine.displacement, strokes, strict=True)]
        torque = sum(v * p for v, p in zip(turns, loads, strict=True)) / (2 * math.pi) / _MECHANICAL
        speed = self.speed(torque) * state.drive
        taken = sum(turns) * speed / 1000
        fill = self.fill(taken)
        flows = []
        for number, (turn, met) in enumerate(zip(turns, loads, strict=True)):
            leak = self.pump_leak(number, met)
            flows.append(turn * speed / 1000 * fill - leak)
        return tuple(flows)

    def pump_leak(self, pump: int, pressure: float) -> float:
        """Leakage of a pump in L/min at a pressure."""
        return lost(self._pump_leaks[pump], pressure, self.nu)

    def fill(self, taken: float) -> float:
        """Share of the pumps' chambers that fills with oil when they would take in a flow in L/min.

        The intake allows a loss of 1; strainer and bends cost a share with the square of the flow, the line's length a
        share with flow and viscosity. What cannot come through is missing. Air takes its place in proportion.
        """
        machine, state = self.machine, self.state
        full = sum(machine.displacement) * machine.engine.speed / 1000
        a, b = machine.suction
        a, b = a * state.strainer, b * self.nu / 25
        most = full * (math.sqrt(b * b + 4 * a * state.head) - b) / (2 * a)
        share = min(1.0, most / taken) if taken > 0 else 1.0
        return share * (1 - state.air * (0.5 + 0.5 * min(1.0, taken / full)))

    def over_relief(self, pressure: float, name: str, setting: float) -> float:
        """Flow over a relief valve in L/min at a pressure: nothing until it cracks, the full flow at its setting."""
        setting *= self.state.setting[name]
        wide = self.machine.override * setting
        cracks = setting - wide
        flow = self.machine.full_flow * max(0.0, pressure - cracks) / wide if wide > 0 else 0.0
        return flow + lost(self.state.leak[name], pressure, self.nu)

    # --- pilot ----------------------------------------------------------------------

    def pilot_supply(self, throttle: float = 1.0) -> float:
        """Pressure in MPa that the pilot pump holds at its relief."""
        pilot, state = self.machine.pilot, self.state
        gives = pilot.flow * self.throttle * throttle * state.speed * state.drive * (1 - 0.5 * state.air)
        setting = pilot.pressure * state.setting["pilot-relief"]

        def left(p: float) -> float:
            return gives - lost(state.leak["pilot-pump"], p, self.nu) - pilot.need * math.sqrt(p / pilot.pressure)

        return root(left, 0.01, setting)

    @cached_property
    def pilot(self) -> dict[str, float]:
        """Pilot pressure in MPa at the pump, behind the filter, behind the lock-out."""
        pump = self.pilot_supply()
        filtered = pump * self.state.setting["pilot-filter"]
        return {"pump": pump, "filter": filtered, "lockout": filtered * self.state.opening["pilot-lockout"]}

    def lever(self, movement: str, group: str) -> float:
        """Pilot pressure at the spool as a share of what gives it its full stroke, at full lever."""
        if group in self.machine.layout.unpiloted:
            return 1.0
        pilot = self.machine.pilot
        out = self.pilot["lockout"] * self.state.opening[f"{movement}-pilot"]
        return min(1.0, out / (pilot.full * pilot.pressure))

    def spool(self, movement: str, group: str) -> float:
        """Opening of a spool as a share of its full one."""
        if movement not in self._spools:
            self._spools[movement] = self._spool(movement, group)
        return self._spools[movement]

    def _spool(self, movement: str, group: str) -> float:
        name = "steering-unit" if group == "steering" else f"{group}-spool"
        lever = max(0.0, (self.lever(movement, group) - _PILOT_DEAD) / (1 - _PILOT_DEAD))
        stroke = self.state.opening[name] * self.state.opening[f"{name}/{movement}"]
        return float(max(1e-3, lever**1.2 * stroke))

    def brake_drag(self, most: float) -> float:
        """Pressure in MPa that parking brakes take which the pilot pressure does not hold open."""
        short = 1 - self.pilot["lockout"] / self.machine.pilot.release
        return most * min(1.0, max(0.0, short))
