"""Steady-state flows and pressures of a circuit in a given `State`, vectorised over its rows.

Flows are shares of one main pump's flow, pressures shares of the main relief's setting, both at test speed. The laws
are those of fluid power textbooks and stand in `oilpath.physics.formulas`: laminar leakage, orifices, a torque limit,
a relief that passes more flow the further its pressure lies above the cracking pressure, a held cylinder that leaks.
"""

from __future__ import annotations

from collections.abc import Hashable
from copy import copy
from typing import Any

import numpy as np

from oilpath.arrays import Array, Indexes, Mask
from oilpath.knowledge.testkind import TestVariant
from oilpath.physics.control import CONTROLS
from oilpath.physics.formulas.holding import creep_flow
from oilpath.physics.formulas.orifice import held_pressure, laminar_leakage, orifice_flow
from oilpath.physics.formulas.pump import displacement_at_torque, ideal_flow
from oilpath.physics.formulas.valve import relief_pressure, relief_share
from oilpath.physics.state import State
from oilpath.records import dataclass

IDLING = 0.1
"""share of its full flow that a pump without work draws; from memory"""
SHUT = 0.05
"""opening below which a spool holds no pressure behind it"""
_OTHER = {"left": "right", "right": "left"}
FLOOR = 0.02
"""least flow that is still called movement (a share of one pump), so that a lost function stays finite"""


@dataclass(frozen=True, slots=True)
class _Pump:
    """What limits the flow of one pump, for P pairs of row and function, each (P,); torque with the engine's."""

    speed: Array
    stroke: Array
    limiter: Array
    """its torque limiter alone"""
    torque: Array
    fill: Array
    leakage: Array
    bypass: Array
    relief: Array


@dataclass(frozen=True, slots=True)
class _Moves:
    """All that moves the functions, for P pairs of row and function, each (P,)."""

    row: Indexes
    column: Indexes
    first: _Pump
    second: _Pump
    has_second: Mask
    viscosity: Array
    load: Array
    back: Array
    drag: Array
    limit: Array
    opening: Array
    passed: Array
    """share of what the pumps give that passes the spool; with an open centre the rest goes past it"""
    merge: Array
    regeneration: Array
    section: Array
    """flow that the section of a load-sensing block takes, whatever the pump could give"""
    partner_drag: Array
    """of the other track's motor"""
    partner_back: Array
    intake: Array
    seep: Array
    """lost beside the actuator through openings"""
    leak: Array
    """of the motor, what crosses it and what a shunt lets by"""


class Flows:
    """Flows of one state; load cases are computed once each.

    `running` and `reversed` are how a drift is tested: with the engine on, or with the other end carrying the load.
    `sound` are those of the sound machine (one row): what a row and function have in common with it is not computed
    again, and most have all.
    """

    def __init__(
        self, state: State, *, running: bool = False, reversed_: bool = False, sound: Flows | None = None
    ) -> None:
        self.state = state
        self.sound = sound
        self._moved: _Moves | None = None
        self.running, self.reversed = running, reversed_
        values = state.values
        self.pump_leakage = values.get("pump-leakage", 0.05)
        self.motor_leakage = values.get("motor-leakage", 0.04)
        self.corner = values.get("torque-corner", 0.6)
        self.shared = values.get("power-sum", 0.5)
        self.stalled = self._alone(self.corner)  # one pump held at stall may take what the others leave
        self.override = values.get("override", 0.05)
        self.full_stroke = values.get("pilot-full-stroke", 0.65)
        self.shifts = values.get("pilot-shift", 0.0)
        self.low_range = values.get("low-range-speed", 0.6)
        self.standby = values.get("standby-pressure", 0.08)
        self.control = CONTROLS[state.circuit.control]
        self._net: dict[str, Array] = {}
        self._ranged: dict[tuple[str, str], Array] = {}
        self.seen: dict[Hashable, Array | None] = {}
        """readings computed before, kept where the flows serve many sheets (those of the sound machine)"""
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
        self.section = np.array([f.section for f in functions.values()])
        sides: list[tuple[str | None, str | None]] = [(f.side, f.direction) for f in functions.values()]
        mirror = [(_OTHER.get(side or ""), direction) for side, direction in sides]
        self.partner: Indexes = np.array(
            [sides.index(m) if m[0] and m in sides else n for n, m in enumerate(mirror)], dtype=np.intp
        )
        """the track that works beside each one; a function that works alone is its own"""

    def under(self, name: str, variant: TestVariant) -> Flows:
        """The flows when a test is made otherwise on purpose: with hot oil, at low idle …"""
        if name not in self._varied:
            state = copy(self.state)
            for field, factor in variant.changes.items():
                setattr(state, field, getattr(state, field) * factor)
            sound = self.sound.under(name, variant) if self.sound is not None else None
            self._varied[name] = Flows(state, running=variant.running, reversed_=variant.reversed_, sound=sound)
        return self._varied[name]

    def cooled(self) -> Flows:
        """The flows with the oil brought back to its usual temperature, as for readings that were computed for it."""
        if "" not in self._varied:
            state = copy(self.state)
            state.viscosity = state.viscosity / state.heat
            sound = self.sound.cooled() if self.sound is not None else None
            self._varied[""] = Flows(state, running=self.running, reversed_=self.reversed, sound=sound)
        return self._varied[""]

    def working_pressure(self, load: str, function: int) -> Array:
        """Pressure of a function while it moves in a load case, shape (rows,)."""
        s = self.state
        base: float = self._base(load)[function]
        hanging = self._hanging(s.load, function) if self.cylinder[function] else 1.0
        pressure: Array = base * hanging + self._gear(load) * s.drag[:, function] + s.back[:, function]
        return pressure

    def _gear(self, load: str) -> float:
        """Pressure that a drag takes, over that in high range: a motor at its large displacement needs less."""
        return self.low_range if load.endswith("-low") else 1.0

    def _alone(self, torque: float) -> float:
        """Torque that one pump may take while the others rest, from what each may take with all at work.

        By the sum of the pressures (`power-sum` 1) it gets theirs as well, by its own (0) nothing more.
        """
        return torque * (1 + self.shared * (len(self.state.pumps) - 1))

    def _hanging(self, load: Array, function: Any) -> Array:
        """How the weight of what hangs on a cylinder changes its pressure: where it helps, more of it needs less."""
        helps = self.gravity[function] > 0
        pressure: Array = np.where(helps, np.maximum(2 - load, 0.05), load)
        return pressure

    def _base(self, load: str) -> Array:
        """The same on the sound machine, shape (functions,)."""
        functions = self.state.circuit.functions.values()
        return np.array([f.pressure.get(load, next(iter(f.pressure.values()), 0.3)) for f in functions])

    def pump_flow(
        self, pressure: Array, pump: Array, limit: Array | None = None, torque: Array | float | None = None
    ) -> Array:
        """Delivered flow at a pressure: displacement under the torque limit, less leakage and what a relief lets by.

        `limit` are settings of reliefs behind the pump's own, of the functions that the columns stand for; `torque` is
        what each pump may take (displacement times pressure), an even share of the engine's where left out.
        """
        s = self.state
        asked = self.control.demand(self.pilot_share(), centre=False)[:, None]  # all goes through the meter
        pumps = self._pump((slice(None), pump), s.engine_torque[:, None], s.speed[:, None], asked)
        drawn = self._drawn(s.intake[:, None], 1.0)
        return self._delivered(pumps, pressure, s.viscosity[:, None], limit, torque, drawn=drawn)

    def _drawn(self, intake: Array, working: Array | float) -> Array:
        """Most that each of `working` pumps draws where the intake of all is short; the others idle along."""
        pumps = len(self.state.pumps)
        most: Array = np.where(intake < 1, intake * pumps / (working + IDLING * (pumps - working)), np.inf)
        return most

    def _pump(self, at: Any, engine_torque: Array, engine_speed: Array, demand: Array) -> _Pump:
        s = self.state
        speed = engine_speed * s.drive[at]
        return _Pump(
            speed, s.stroke[at] * demand, s.torque[at], s.torque[at] * engine_torque, s.fill[at], s.leakage[at],
            s.bypass[at], s.relief[at],
        )  # fmt: skip

    def _delivered(
        self, pump: _Pump, pressure: Array, viscosity: Array, limit: Array | None, torque: Array | float | None,
        *, summed: Array | None = None, drawn: Array | float = np.inf,
    ) -> Array:  # fmt: skip
        """`summed` is the pressure that sets the pump back, its own where left out."""
        p = np.maximum(pressure, 1e-3)
        allowed = (self.corner if torque is None else torque) * pump.torque
        felt = p if summed is None else np.maximum(summed, 1e-3)
        displacement = np.minimum(pump.stroke, displacement_at_torque(allowed, felt))
        theoretical = np.minimum(ideal_flow(displacement, pump.speed * pump.fill), drawn)
        leak = laminar_leakage(self.pump_leakage + pump.leakage, p, viscosity)
        relief = pump.relief if limit is None else np.minimum(pump.relief, limit)
        near = relief_share(p, relief, self.override)
        return np.maximum((theoretical - leak - orifice_flow(pump.bypass, p)) * near, 0.0)

    def pilot_supply(self) -> Array:
        """Pilot pressure as a share of its setting: the relief's, or what the pilot pump still reaches."""
        s = self.state
        reach = 2.0 * (s.speed * s.pilot_drive * s.pilot_fill - s.pilot_leakage / np.sqrt(s.viscosity))
        return np.clip(np.minimum(s.pilot_setting, reach), 0.02, None)

    def pilot_share(self) -> Array:
        """How far the pilot supply moves the spools that it moves: fully down to `pilot-full-stroke`."""
        return np.minimum(1.0, self.pilot_supply() / self.full_stroke)

    def net(self, load: str) -> Array:
        """Flow that moves each function in a load case, shape (rows, functions)."""
        if load not in self._net:
            self._net[load] = self._net_flow(load)
        return self._net[load]

    def _net_flow(self, load: str) -> Array:
        m = self._moves()
        base = self._base(load)
        hanging = np.where(self.cylinder[m.column], self._hanging(m.load, m.column), 1.0)
        gear = self._gear(load)
        drag = gear * m.drag
        p = base[m.column] * hanging + drag + m.back
        own, other = self._torque(load, p, m)
        busy = load in self.state.together
        beside = base[m.column] + gear * m.partner_drag + m.partner_back
        summed = p + self.shared * (beside - p) / 2 if busy and len(self.state.pumps) > 1 else None
        working = np.where(m.has_second, 2.0, float(len(self.state.pumps)) if busy else 1.0)
        drawn = self._drawn(m.intake, np.minimum(working, len(self.state.pumps)))
        first = self._delivered(m.first, p, m.viscosity, m.limit, own, summed=summed, drawn=drawn)
        joined = self._delivered(m.second, p, m.viscosity, m.limit, other, summed=summed, drawn=drawn) * m.merge
        thick = np.maximum(m.viscosity, 1.0) ** -0.04
        size = np.where(m.has_second, 2.0, 1.0)
        given = first + np.where(m.has_second, joined, 0.0)
        if self.control.open_centre:
            given = given * m.passed
        else:  # a section takes what it is set to, as long as the pump gives that much
            sharing = np.where(busy & (self.partner[m.column] != m.column), 2.0 / len(self.state.pumps), 1.0)
            given = np.minimum(given / np.maximum(sharing, 1.0), size * m.passed * m.section)
        driven = given * thick - laminar_leakage(m.leak, p, m.viscosity) - orifice_flow(m.seep, np.maximum(p, 0.0))
        driven = driven * (1 - self.gain[m.column] * (1 - m.regeneration))
        weight = np.clip(m.load - 2 * drag - m.back, 0.0, None)  # drag eats what the weight gives
        falling = orifice_flow(size * m.opening * thick, weight)
        gravity = self.gravity[m.column]
        moved = ((1 - gravity) * driven + gravity * falling) / self._surge(m)
        moved = np.maximum(moved, FLOOR * size)
        rows = self.state.rows
        whole = np.empty((rows, len(base))) if self.sound is None else np.repeat(self.sound.net(load), rows, axis=0)
        whole[m.row, m.column] = moved
        return whole

    def _moves(self) -> _Moves:
        """Of every pair of row and function that differs from the sound machine; of all if none is given."""
        if self._moved is None:
            s = self.state
            row, column = np.nonzero(self._differs())
            first, second = self.first[column], self.second[column]
            cylinder = self.cylinder[column]
            motor = np.where(cylinder, 0.0, self.motor_leakage)
            at = (row, column)
            share = np.where(self.piloted[column], self.pilot_share()[row], 1.0)
            engine = (s.engine_torque[row], s.speed[row], self.control.demand(share))
            self._moved = _Moves(
                row, column,
                first=self._pump((row, first), *engine),
                second=self._pump((row, np.maximum(second, 0)), *engine),
                has_second=second >= 0,
                viscosity=s.viscosity[row],
                load=np.where(cylinder, s.load[row], 1.0),  # the attachment hangs on the cylinders
                back=s.back[at],
                drag=s.drag[at],
                limit=s.limit[at],
                opening=s.opening[at] * share,
                passed=s.opening[at] * self.control.passed(share),
                merge=s.merge[at],
                regeneration=s.regeneration[at],
                section=self.section[column],
                partner_drag=s.drag[row, self.partner[column]],
                partner_back=s.back[row, self.partner[column]],
                intake=s.intake[row],
                seep=s.seep[at],
                leak=motor + s.cross[at] + s.shunt[at],
            )  # fmt: skip
        return self._moved

    def _differs(self) -> Mask:
        """Pairs of row and function in which anything differs that `net` reads, shape (rows, functions)."""
        s = self.state
        shape = (s.rows, len(self.first))
        if self.sound is None:
            return np.ones(shape, dtype=np.bool_)
        o = self.sound.state

        def other(*names: str) -> Mask:
            different: Mask = np.logical_or.reduce([getattr(s, name) != getattr(o, name) for name in names])
            return different

        whole = other("speed", "viscosity", "load", "engine_torque", "pilot_drive", "pilot_fill", "pilot_setting",
                      "pilot_leakage", "intake")  # fmt: skip
        pump = other("drive", "stroke", "torque", "fill", "leakage", "bypass", "relief")
        own = other("drag", "back", "limit", "opening", "merge", "regeneration", "cross", "shunt", "seep")
        own |= own[:, self.partner]
        second = pump[:, np.maximum(self.second, 0)] & (self.second >= 0)
        found: Mask = whole[:, None] | pump[:, self.first] | second | own
        return found

    def _torque(self, load: str, p: Array, m: _Moves) -> tuple[Array, Array]:
        """Torque that the first and the second pump of each function may take, each (P,).

        Together the pumps may take `torque-corner` each. As far as one control acts on the sum of their pressures
        (`power-sum`), a pump that works alone, or beside one that takes less, gets the rest. In the load cases of
        `together` all pumps work.
        """
        s = self.state
        even = self.corner
        if load in s.together:
            return np.full_like(p, even), np.full_like(p, even)
        taken, mine = (
            # a limiter that is set low leaves its share to the other pump
            np.minimum(np.minimum(pump.stroke, 1.0) * p, even * np.minimum(pump.limiter, 1.0))
            for pump in (m.second, m.first)
        )
        first, second = (even + self.shared * (even - of_other) for of_other in (taken, mine))
        return np.where(m.has_second, first, self._alone(even)), np.where(m.has_second, second, 0.0)

    def _surge(self, m: _Moves) -> Array:
        """How much longer a movement takes that starts from rest, where the pressure to speed it up is short."""
        force = np.clip(np.minimum(m.first.relief, m.limit) - m.drag, 0.1, None)
        usual = np.minimum(1.0, self.state.port_relief[m.column])  # the lower of main relief and the motor's own
        longer: Array = 1 + self.surge[m.column] * (usual / force - 1)
        return longer

    def ranged(self, case: str, wanted: str, other: str, ratio: float) -> Array:
        """Track flow when the motor should be in range `wanted` but is shifted to `other` by the share `shift`.

        `ratio` is the speed of `other` over that of `wanted` at the same flow.
        """
        if (case, wanted) not in self._ranged:
            right, wrong = self.net(f"{case}-{wanted}"), self.net(f"{case}-{other}") * ratio
            shift = self.state.shift if wanted == "high" else -self.state.shift
            if wanted == "high":
                shift = np.maximum(shift, self._let_back()[:, None])
            share = np.clip(shift, 0.0, 1.0)
            self._ranged[case, wanted] = right * (1 - share) + wrong * share
        return self._ranged[case, wanted]

    def _let_back(self) -> Array:
        """How far the pilot supply lets motors back out of high range, shape (rows,): fully at nine tenths of
        `pilot-shift`, where their springs begin to win; from memory."""
        if not self.shifts:
            return np.zeros(self.state.rows)
        missing: Array = np.clip((self.shifts - self.pilot_supply()) / (0.4 * self.shifts), 0.0, 1.0)
        return missing

    def stall(self, pump: int, function: int) -> Array:
        """Pressure of a pump with a function held at the end of its stroke, as read at its gauge; shape (rows,)."""
        s = self.state
        relief = s.relief[:, pump]
        share = self.pilot_share() if self.piloted[function] else np.ones(s.rows)
        stroke = np.minimum(s.stroke[:, pump] * self.control.demand(share), 1.0)
        displacement = np.minimum(stroke, self.stalled * s.torque[:, pump])
        flow = ideal_flow(displacement, s.speed * s.drive[:, pump] * s.fill[:, pump])
        opening = s.opening[:, function] * share
        motor = 0.0 if self.cylinder[function] else self.motor_leakage
        through = (motor + s.cross[:, function] + s.shunt[:, function]) * np.minimum(1.0, opening / 0.05)
        leak = laminar_leakage(self.pump_leakage + s.leakage[:, pump] + through, 1.0, s.viscosity)
        open_ = s.bypass[:, pump] + s.seep[:, function] * np.minimum(1.0, opening / 0.05)
        left = np.clip(flow - leak * relief - orifice_flow(open_, relief), 0.0, None)
        sound = max(min(1.0, self.stalled) - self.pump_leakage - motor, 1e-3)
        passing = relief_pressure(np.minimum(left / sound, 1.2), relief, self.override)
        # what leaks lets no more pressure build than the flow there is can hold
        held = held_pressure(flow, leak, open_)
        reached: Array = np.minimum(np.minimum(passing, held), s.limit[:, function] * (1 - 0.5 * self.override))
        # a spool that stays shut lets all pass the centre: the pump stands by
        reached = np.where(opening < SHUT, np.minimum(reached, self.standby), reached)
        read: Array = reached * s.offset[:, pump]
        return read

    def drift(self, cylinder: int) -> Array:
        """Speed at which a held cylinder creeps, in units of the sound spool's leakage; shape (rows,).

        Held end: port valves beside (spool in series with its holding valve).
        """
        s = self.state
        name = s.cylinders[cylinder]
        cap_loaded = (s.holds[name].loaded == "cap") != self.reversed
        sound_spool, sound_valve = s.values.get("spool-leak", 1.0), s.values.get("holding-leak", 0.05)
        # gaps leak the more the thinner the oil is, openings do not
        spool = (sound_spool + s.spool_leak[:, cylinder]) / s.viscosity
        valve = (sound_valve + s.valve_leak[:, cylinder]) / s.viscosity + s.valve_gap[:, cylinder]
        holding = s.holds[name].valve is not None
        through = spool * valve / (spool + valve) if holding else spool
        sound = sound_spool * sound_valve / (sound_spool + sound_valve) if holding else sound_spool
        held = through + s.port_leak[:, cylinder] / s.viscosity + s.port_gap[:, cylinder]
        other = (sound_spool + s.other_leak[:, cylinder]) / s.viscosity + s.other_gap[:, cylinder]
        if self.reversed:
            held, other = other, held
        area = s.area_ratio[cylinder] if cap_loaded else 1 / s.area_ratio[cylinder]
        speed = creep_flow(s.seal[:, cylinder] / s.viscosity, held, other, area) * s.load
        if self.running:
            speed = speed + s.running[:, cylinder] / s.viscosity
        crept: Array = speed + s.cooling * sound
        return crept
