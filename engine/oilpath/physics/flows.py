"""Steady-state flows and pressures of a circuit in a given `State`, vectorised over its rows.

Flows are shares of one main pump's flow, pressures shares of the main relief's setting, both at test speed. The laws
are those of fluid power textbooks: laminar leakage q = k·p/ν, orifice leakage q = k·√p, torque limit V·p = constant,
a relief passing more flow the further its pressure lies above the cracking pressure.
"""

from __future__ import annotations

from collections.abc import Hashable
from copy import copy

import numpy as np

from oilpath.arrays import Array
from oilpath.knowledge.testkind import TestVariant
from oilpath.physics.state import State

FLOOR = 0.02
"""least flow that is still called movement (a share of one pump), so that a lost function stays finite"""


class Flows:
    """Flows of one state; load cases are computed once each.

    `running` and `reversed` are how a drift is tested: with the engine on, or with the other end carrying the load.
    """

    def __init__(self, state: State, *, running: bool = False, reversed_: bool = False) -> None:
        self.state = state
        self.running, self.reversed = running, reversed_
        values = state.values
        self.pump_leakage = values.get("pump-leakage", 0.05)
        self.motor_leakage = values.get("motor-leakage", 0.04)
        self.corner = values.get("torque-corner", 0.6)
        self.stalled = self.corner * len(state.pumps)  # one pump held at stall may take the torque of all
        self.override = values.get("override", 0.05)
        self.full_stroke = values.get("pilot-full-stroke", 0.65)
        self._net: dict[str, Array] = {}
        self._ranged: dict[tuple[str, str], Array] = {}
        self.seen: dict[Hashable, Array | None] = {}
        """readings worked out before, kept where the flows serve many sheets (those of the sound machine)"""
        self._varied: dict[str, Flows] = {}
        functions = state.circuit.functions
        self.first = np.array([state.pumps.index(state.circuit.pumps(f)[0]) for f in functions], dtype=int)
        self.second = np.array(
            [state.pumps.index(p[1]) if len(p := state.circuit.pumps(f)) > 1 else -1 for f in functions], dtype=int
        )
        self.gravity = np.array([f.gravity for f in functions.values()])
        self.gain = np.array([f.regeneration for f in functions.values()])
        self.cylinder = np.array([f.end is not None for f in functions.values()])
        self.piloted = np.array([f.pilot is not None for f in functions.values()])
        self.surge = np.array([f.acceleration for f in functions.values()])

    def under(self, name: str, variant: TestVariant) -> Flows:
        """The flows when a test is made otherwise on purpose: with hot oil, at low idle …"""
        if name not in self._varied:
            state = copy(self.state)
            for field, factor in variant.changes.items():
                setattr(state, field, getattr(state, field) * factor)
            self._varied[name] = Flows(state, running=variant.running, reversed_=variant.reversed_)
        return self._varied[name]

    def cooled(self) -> Flows:
        """The flows with the oil brought back to its usual temperature, as for readings that were worked out for it."""
        if "" not in self._varied:
            state = copy(self.state)
            state.viscosity = state.viscosity / state.heat
            self._varied[""] = Flows(state, running=self.running, reversed_=self.reversed)
        return self._varied[""]

    def working_pressure(self, load: str) -> Array:
        """Pressure of every function while it moves in a load case, shape (rows, functions)."""
        s = self.state
        base = np.array(
            [f.pressure.get(load, next(iter(f.pressure.values()), 0.3)) for f in s.circuit.functions.values()]
        )
        load_ = np.where(self.cylinder, s.load[:, None], 1.0)  # the attachment hangs on the cylinders
        return base * load_ + s.drag + s.back

    def pump_flow(
        self, pressure: Array, pump: Array, limit: Array | None = None, torque: Array | float | None = None
    ) -> Array:
        """Delivered flow at a pressure: displacement under the torque limit, less leakage and what a relief lets by.

        `limit` are settings of reliefs behind the pump's own, of the functions that the columns stand for; `torque` is
        what each pump may take (displacement times pressure), an even share of the engine's where left out.
        """
        s = self.state
        p = np.maximum(pressure, 1e-3)
        allowed = (self.corner if torque is None else torque) * s.torque[:, pump] * s.engine_torque[:, None]
        displacement = np.minimum(s.stroke[:, pump], allowed / p)
        theoretical = s.speed[:, None] * s.drive[:, pump] * s.fill[:, pump] * displacement
        leak = (self.pump_leakage + s.leakage[:, pump]) * p / s.viscosity[:, None]
        relief = s.relief[:, pump] if limit is None else np.minimum(s.relief[:, pump], limit)
        near = np.clip((relief - p) / (self.override * relief), 0.0, 1.0)
        return np.maximum((theoretical - leak - s.bypass[:, pump] * np.sqrt(p)) * near, 0.0)

    def pilot_supply(self) -> Array:
        """Pilot pressure as a share of its setting: the relief's, or what the pilot pump still reaches."""
        s = self.state
        reach = 2.0 * (s.speed * s.pilot_drive * s.pilot_fill - s.pilot_leakage / np.sqrt(s.viscosity))
        return np.clip(np.minimum(s.pilot_setting, reach), 0.02, None)

    def pilot_opening(self) -> Array:
        """How far the pilot supply opens each spool, shape (rows, functions): fully down to `pilot-full-stroke`.

        A spool that a lever moves by itself is opened fully.
        """
        share = np.minimum(1.0, self.pilot_supply() / self.full_stroke)
        return np.where(self.piloted, share[:, None], 1.0)

    def net(self, load: str) -> Array:
        """Flow that moves each function in a load case, shape (rows, functions)."""
        if load not in self._net:
            self._net[load] = self._net_flow(load)
        return self._net[load]

    def _net_flow(self, load: str) -> Array:
        s = self.state
        p = self.working_pressure(load)
        own, other = self._torque(load, p)
        first = self.pump_flow(p, self.first, s.limit, own)
        second = np.where(
            self.second >= 0, self.pump_flow(p, np.maximum(self.second, 0), s.limit, other) * s.merge, 0.0
        )
        opening = s.opening * self.pilot_opening()
        leak = (np.where(self.cylinder, 0.0, self.motor_leakage) + s.cross + s.shunt) * p / s.viscosity[:, None]
        thick = np.maximum(s.viscosity, 1.0)[:, None] ** -0.04
        driven = (first + second) * opening * thick - leak
        driven = driven * (1 - self.gain * (1 - s.regeneration))
        size = np.where(self.second >= 0, 2.0, 1.0)
        weight = np.clip(s.load[:, None] - 2 * s.drag - s.back, 0.0, None)  # drag eats what the weight gives
        falling = size * opening * thick * np.sqrt(weight)
        moved = ((1 - self.gravity) * driven + self.gravity * falling) / self._surge()
        return np.maximum(moved, FLOOR * size)

    def _torque(self, load: str, p: Array) -> tuple[Array, Array]:
        """Torque that the first and the second pump of each function may take (rows, functions).

        Together the pumps may take `torque-corner` each; one that works alone, or beside one that takes less, gets the
        rest. In the load cases of `together` all pumps work.
        """
        s = self.state
        total = self.corner * len(s.pumps)
        busy = load in s.together
        two = self.second >= 0
        other = np.maximum(self.second, 0)
        even = total / (len(s.pumps) if busy else 2)
        may = even * np.minimum(s.torque, 1.0)  # a limiter that is set low leaves its share to the other pump
        taken = np.minimum(np.minimum(s.stroke[:, other], 1.0) * p, may[:, other])
        mine = np.minimum(np.minimum(s.stroke[:, self.first], 1.0) * p, may[:, self.first])
        first = np.where(two, total - taken, even if busy else total)
        second = np.where(two, total - mine, 0.0)
        return np.where(busy, even, first), np.where(busy, even, second)

    def _surge(self) -> Array:
        """How much longer a movement takes that starts from rest, where the pressure to speed it up is short."""
        s = self.state
        force = np.clip(np.minimum(s.relief[:, self.first], s.limit) - s.drag, 0.1, None)
        usual = min(1.0, s.values.get("port-relief-setting", 1.12))
        return 1 + self.surge * (usual / force - 1)

    def ranged(self, case: str, wanted: str, other: str, ratio: float) -> Array:
        """Track flow when the motor should be in range `wanted` but is shifted to `other` by the share `shift`.

        `ratio` is the speed of `other` over that of `wanted` at the same flow.
        """
        if (case, wanted) not in self._ranged:
            right, wrong = self.net(f"{case}-{wanted}"), self.net(f"{case}-{other}") * ratio
            shift = self.state.shift if wanted == "high" else -self.state.shift
            share = np.clip(shift, 0.0, 1.0)
            self._ranged[case, wanted] = right * (1 - share) + wrong * share
        return self._ranged[case, wanted]

    def stall(self, pump: int, function: int) -> Array:
        """Pressure of a pump with a function held at the end of its stroke, as read at its gauge; shape (rows,)."""
        s = self.state
        relief = s.relief[:, pump]
        displacement = np.minimum(np.minimum(s.stroke[:, pump], 1.0), self.stalled * s.torque[:, pump])
        flow = s.speed * s.drive[:, pump] * s.fill[:, pump] * displacement
        opening = s.opening[:, function] * self.pilot_opening()[:, function]
        motor = 0.0 if self.cylinder[function] else self.motor_leakage
        through = (motor + s.cross[:, function] + s.shunt[:, function]) * np.minimum(1.0, opening / 0.05)
        leak = (self.pump_leakage + s.leakage[:, pump] + through) / s.viscosity
        left = np.clip(flow - leak * relief - s.bypass[:, pump] * np.sqrt(relief), 0.0, None)
        sound = max(min(1.0, self.stalled) - self.pump_leakage - motor, 1e-3)
        passing = relief * (1 - self.override * (1 - np.minimum(left / sound, 1.2)))
        # what leaks lets no more pressure build than the flow there is can hold: k·p + b·√p = flow
        b = s.bypass[:, pump]
        root = (-b + np.sqrt(b * b + 4 * leak * flow)) / (2 * leak)
        reached: Array = np.minimum(np.minimum(passing, root**2), s.limit[:, function] * (1 - 0.5 * self.override))
        read: Array = reached * s.offset[:, pump]
        return read

    def drift(self, cylinder: int) -> Array:
        """Speed at which a held cylinder creeps, in units of the sound spool's leakage; shape (rows,).

        Held end: port valves beside (spool in series with its holding valve). A piston seal alone only moves the rod as
        fast as the other end lets oil out (cap end loaded), or freely (rod end loaded): flow balance on both ends with
        p_held = F/A_held + p_other·A_other/A_held.
        """
        s = self.state
        name = s.cylinders[cylinder]
        cap_loaded = (s.holds[name].loaded == "cap") != self.reversed
        sound_spool, sound_valve = s.values.get("spool-leak", 1.0), s.values.get("holding-leak", 0.05)
        spool, valve = sound_spool + s.spool_leak[:, cylinder], sound_valve + s.valve_leak[:, cylinder]
        holding = s.holds[name].valve is not None
        through = spool * valve / (spool + valve) if holding else spool
        sound = sound_spool * sound_valve / (sound_spool + sound_valve) if holding else sound_spool
        held = through + s.port_leak[:, cylinder]
        other = sound_spool + s.other_leak[:, cylinder]
        if self.reversed:
            held, other = other, held
        k = s.seal[:, cylinder]
        area = s.area_ratio[cylinder] if cap_loaded else 1 / s.area_ratio[cylinder]
        a = k * area - k - held
        b = (k + other) * area - k
        divisor = b - a / area
        p_other = np.where(divisor > 1e-12, np.maximum(a, 0.0) / np.where(divisor > 1e-12, divisor, 1.0), 0.0)
        p_held = 1 + p_other / area
        speed = ((k + held) * p_held - k * p_other) * s.load  # laminar: in proportion to the load
        if self.running:
            speed = speed + s.running[:, cylinder]
        return speed / s.viscosity + s.cooling * sound
