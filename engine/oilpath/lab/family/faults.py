"""The faults of the family: what can be wrong, how often, where, and what it does.

Frequencies are weights per machine and kind, shared over the places where it can be: 3 common, 1 occasional, 0.3 rare,
from the memory of the trade.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from oilpath.lab.family import harms, places
from oilpath.lab.family.harms import Act
from oilpath.lab.family.places import Places

Key = tuple[str, str]
"""cause id and part id"""


@dataclass(frozen=True, slots=True)
class Fault:
    """One kind of fault: its cause id, where it can be, how often, and what it does."""

    cause: str
    weight: float
    places: Places
    act: Act
    from_hours: float = 0.0
    """hours about which it becomes as frequent as its weight says; 0: at any age"""

    def frequency(self, hours: float) -> float:
        """Weight at the machine's hours."""
        if self.from_hours <= 0:
            return self.weight
        return self.weight / (1 + math.exp(-(hours - self.from_hours) / 1500))


FAULTS: Final[tuple[Fault, ...]] = (
    Fault("engine.low-speed", 2, places.at("engine"), harms.engine_slow),
    Fault("engine.low-power", 2, places.at("engine"), harms.engine_weak),
    Fault("setup.wrong-setting", 1.5, places.at("machine"), harms.setting),
    Fault("load.not-reference", 1, places.at("machine"), harms.heavy),
    Fault("timing.unrepeatable", 0.7, places.at("machine"), harms.timing),
    Fault("pump-drive.slipping", 0.3, places.at("pump-drive"), harms.drive),
    Fault("pressure-sensor.offset", 1.5, places.gauges, harms.gauge),
    Fault("oil.too-thick", 0.7, places.at("oil"), harms.thick),
    Fault("oil.too-thin", 1, places.at("oil"), harms.thin),
    Fault("oil.cooling-shrink", 0.5, places.at("oil"), harms.cooling),
    Fault("cooler.ineffective", 1, places.at("cooler"), harms.cooler),
    Fault("tank.low-level", 1.5, places.at("tank"), harms.level),
    Fault("suction.restricted", 1, places.at("suction"), harms.strainer),
    Fault("suction.air-leak", 1, places.at("suction"), harms.air),
    Fault("breather.blocked", 0.3, places.at("breather"), harms.breather),
    Fault("return.restricted", 0.7, places.at("return-filter"), harms.return_line),
    Fault("pump.worn", 3, places.pumps(), harms.pump_worn, from_hours=4000),
    Fault("pumps.worn-alike", 3, places.all_pumps, harms.pumps_worn, from_hours=6000),
    Fault("pump.damaged", 0.3, places.pumps(), harms.pump_broken),
    Fault("regulator.stuck-low", 0.7, places.pumps("-regulator"), harms.stuck_low),
    Fault("regulator.stuck-high", 0.3, places.pumps("-regulator"), harms.stuck_high),
    Fault("regulator.torque-low", 0.7, places.pumps("-regulator"), harms.torque_low),
    Fault("flow-signal.no-demand", 0.6, places.two_pump("pump-1-flow-signal", "pump-2-flow-signal"), harms.no_demand),
    Fault("flow-signal.weak-demand", 0.6, places.two_pump("pump-1-flow-signal", "pump-2-flow-signal"),
          harms.weak_demand),
    Fault("pilot-pump.worn", 1, places.at("pilot-pump"), harms.pilot_pump),
    Fault("pilot-relief.low", 1, places.at("pilot-relief"), harms.pilot_setting),
    Fault("pilot-filter.blocked", 1, places.at("pilot-filter"), harms.pilot_filter),
    Fault("pilot-lockout.faulty", 0.8, places.at("pilot-lockout"), harms.lockout),
    Fault("pilot-valve.low-output", 3, places.pilots, harms.pilot_valve),
    Fault("main-relief.low", 3, places.at("main-relief"), harms.relief_low),
    Fault("main-relief.leaking", 2, places.at("main-relief"), harms.relief_leaking),
    Fault("main-relief.high", 0.3, places.at("main-relief"), harms.relief_high),
    Fault("straight-travel.stuck-on", 0.3, places.two_pump("straight-travel-valve"), harms.straight),
    Fault("merge-valve.stuck-closed", 1, places.two_pump("boom-merge-valve", "arm-merge-valve"), harms.merge),
    Fault("regen-valve.stuck-closed", 1, places.two_pump("arm-regen-valve"), harms.regen_shut),
    Fault("regen-valve.stuck-open", 0.3, places.two_pump("arm-regen-valve"), harms.regen_open),
    Fault("spool.short-stroke", 1, places.spools, harms.short_spool),
    Fault("spool.off-centre", 0.5, places.bored_spools, harms.off_centre),
    Fault("spool.worn", 1, places.bored_spools, harms.spool_bore, from_hours=4000),
    Fault("port-relief.leaking", 3, places.ends("port-relief"), harms.port_relief),
    Fault("make-up-check.leaking", 1, places.make_up_checks, harms.make_up),
    Fault("holding-valve.leaking", 3, places.held_by, harms.holding_leak),
    Fault("holding-valve.held-open", 1, places.held_by, harms.held_open),
    Fault("holding-valve.not-opening", 1, places.held_by, harms.not_opening),
    Fault("hose.restricted", 0.5, places.hoses, harms.hose),
    Fault("cylinder.seal-leak", 3, places.members, harms.seal, from_hours=2500),
    Fault("cylinder.scored-barrel", 1, places.members, harms.scored),
    Fault("cylinder.binding", 1, places.members, harms.binding),
    Fault("swing-motor.worn", 1, places.on_swing("swing-motor"), harms.swing_motor, from_hours=4000),
    Fault("swing-relief.leaking", 3, places.on_swing("swing-left-relief", "swing-right-relief"), harms.line_relief),
    Fault("swing-make-up.leaking", 1, places.swing_checks, harms.swing_check),
    Fault("swing-brake.dragging", 1, places.on_swing("swing-brake"), harms.drags),
    Fault("swing-brake.slipping", 0.5, places.on_swing("swing-brake"), harms.brake_slips),
    Fault("swing-gear.dragging", 1, places.on_swing("swing-gear"), harms.drags),
    Fault("travel-motor.worn", 3, places.on_tracks("travel-{side}-motor"), harms.travel_motor, from_hours=4000),
    Fault("travel-shift.stuck-low", 1, places.on_tracks("travel-{side}-shift"), harms.shift("low")),
    Fault("travel-shift.stuck-high", 0.3, places.on_tracks("travel-{side}-shift"), harms.shift("high")),
    Fault("travel-brake.dragging", 1, places.on_tracks("travel-{side}-brake"), harms.drags),
    Fault("travel-brake.slipping", 0.2, places.on_tracks("travel-{side}-brake"), harms.brake_slips),
    Fault("travel-crossover.leaking", 3, places.crossovers, harms.line_relief),
    Fault("counterbalance.sticking", 1, places.on_tracks("travel-{side}-counterbalance"), harms.counterbalance),
    Fault("final-drive.damaged", 1, places.on_tracks("travel-{side}-final-drive"), harms.track_drags),
    Fault("track.too-tight", 3, places.on_tracks("track-{side}"), harms.track_drags),
    Fault("swivel.cross-leak", 2, places.swivel, harms.swivel, from_hours=5000),
    Fault("load-signal.lost", 1, places.sensing("load-signal"), harms.signal_lost),
    Fault("load-margin.low", 1, places.sensing("pump-1-margin"), harms.margin),
    Fault("pressure-cutoff.low", 1, places.sensing("pump-1-cutoff"), harms.cutoff),
    Fault("section-compensator.stuck", 1, places.of_groups("compensator"), harms.opening),
    Fault("load-shuttle.stuck", 1, places.of_groups("shuttle"), harms.shuttle),
    Fault("priority-valve.starving-steering", 1, places.steered("priority-valve"), harms.opening),
    Fault("priority-valve.holding-back", 1, places.steered("priority-excess"), harms.opening),
    Fault("steering-unit.worn", 1, places.steered("steering-unit"), harms.steering_unit),
    Fault("steering-relief.leaking", 1, places.steered("steering-left-relief", "steering-right-relief"),
          harms.line_relief),
)  # fmt: skip
