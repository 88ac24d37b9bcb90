"""What each fault does to a machine, in physical terms. Severity 0 is just beyond what is accepted, 1 is lost."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from oilpath.lab.family.layout import SIDES, WAYS
from oilpath.lab.family.machine import Machine, Rng
from oilpath.lab.family.oil import Leak
from oilpath.lab.family.places import pilots
from oilpath.lab.family.state import State


@dataclass(frozen=True, slots=True)
class Blow:
    """One fault about to be done to a machine: where, how bad, and the chance that shapes it."""

    machine: Machine
    state: State
    part: str
    severity: float
    rng: Rng

    def between(self, slight: float, lost: float) -> float:
        """A figure from slight to lost, in even steps of its logarithm."""
        return float(slight * (lost / slight) ** self.severity)

    def leak(self, slight: float, lost: float, *, chip: bool) -> Leak:
        """A leak as shares of a pump's flow at the main relief: through a worn clearance, or past a chip."""
        orifice = float(self.rng.uniform(0.85, 1.0) if chip else self.rng.uniform(0.0, 0.35))
        share = self.between(slight, lost) * self.machine.full_flow
        ratio = 30 / self.machine.relief
        return Leak(share * ((1 - orifice) * ratio + orifice * math.sqrt(ratio)), orifice)

    def held(self, slight: float, lost: float, *, chip: bool) -> Leak:
        """A leak of a held cylinder in mL/min at 30 MPa, as multiples of a sound spool's; small machines have less."""
        orifice = float(self.rng.uniform(0.8, 1.0) if chip else self.rng.uniform(0.0, 0.35))
        spools = self.machine.spool_leak.values()
        return Leak(self.between(slight, lost) * sum(spools) / len(spools), orifice)


Act = Callable[[Blow], None]


def engine_slow(b: Blow) -> None:
    b.state.speed *= b.between(0.94, 0.6)


def engine_weak(b: Blow) -> None:
    b.state.power *= b.between(0.85, 0.35)


def setting(b: Blow) -> None:
    b.state.speed *= b.between(0.93, 0.7)


def heavy(b: Blow) -> None:
    b.state.load *= b.between(1.25, 2.2)


def timing(b: Blow) -> None:
    b.state.scatter *= b.between(6, 20)


def drive(b: Blow) -> None:
    b.state.drive *= b.between(0.93, 0.3)


def gauge(b: Blow) -> None:
    ratio = b.between(0.93, 0.6) if b.rng.random() < 0.7 else b.between(1.06, 1.4)
    which = b.machine.layout.pumps if b.part == "both" else [f"pump-{b.part[-1]}"]
    for pump in which:
        b.state.gauge[pump] *= ratio


def thick(b: Blow) -> None:
    b.state.viscosity *= b.between(2.0, 9.0)


def thin(b: Blow) -> None:
    b.state.viscosity *= b.between(0.6, 0.15)


def cooling(b: Blow) -> None:
    b.state.cooling += b.between(6, 18)


def cooler(b: Blow) -> None:
    b.state.hotter += b.between(15, 45)


def level(b: Blow) -> None:
    b.state.air += b.between(0.06, 0.5)
    b.state.scatter *= 1.8


def air(b: Blow) -> None:
    b.state.air += b.between(0.06, 0.45)
    b.state.scatter *= 1.4


def strainer(b: Blow) -> None:
    b.state.strainer *= b.between(2.5, 10)


def breather(b: Blow) -> None:
    b.state.head *= b.between(0.4, 0.12)


def return_line(b: Blow) -> None:
    b.state.back += b.between(0.006, 0.06) * b.machine.relief


def pump_worn(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.07, 0.8, chip=False))
    b.state.drained[b.part] *= float(b.rng.uniform(0.3, 1.3))


def pump_broken(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.1, 0.9, chip=b.rng.random() < 0.5))
    b.state.scatter *= 1.3


def pumps_worn(b: Blow) -> None:
    level = b.leak(0.07, 0.45, chip=False)
    for pump in b.machine.layout.pumps:
        b.state.add(pump, Leak(level.flow * float(b.rng.uniform(0.85, 1.18)), level.orifice))
        b.state.drained[pump] *= float(b.rng.uniform(0.5, 1.3))


def stuck_low(b: Blow) -> None:
    b.state.stroke[b.part] *= b.between(0.88, 0.2)


def stuck_high(b: Blow) -> None:
    b.state.torque[b.part] *= b.between(1.3, 2.2)


def torque_low(b: Blow) -> None:
    b.state.torque[b.part] *= b.between(0.75, 0.25)


def no_demand(b: Blow) -> None:
    b.state.demand[b.part] *= b.between(0.6, 0.15)


def weak_demand(b: Blow) -> None:
    b.state.demand[b.part] *= b.between(0.9, 0.45)


def pilot_pump(b: Blow) -> None:
    pilot = b.machine.pilot
    # just enough for the relief to stay open, up to next to nothing
    spare = (pilot.flow - pilot.need) * 30 / pilot.pressure
    b.state.add("pilot-pump", Leak(spare * b.between(0.8, 6), float(b.rng.uniform(0.0, 0.3))))


def pilot_setting(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.88, 0.25)


def pilot_filter(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.85, 0.25)


def lockout(b: Blow) -> None:
    dead = b.rng.random() < 0.6
    b.state.opening[b.part] *= 0.03 if dead else b.between(0.8, 0.25)


def pilot_valve(b: Blow) -> None:
    b.state.opening[b.part] *= b.between(0.75, 0.27) * b.machine.pilot.full


def relief_low(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.95, 0.4)


def relief_high(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(1.04, 1.3)


def relief_leaking(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.08, 1.1, chip=True))
    b.state.setting[b.part] *= float(b.rng.uniform(0.93, 1.0))  # what it loses it loses by the leak
    b.state.scatter *= 1.2


def straight(b: Blow) -> None:
    b.state.straight = max(b.state.straight, b.between(0.35, 1.0))


def merge(b: Blow) -> None:
    names = [name for name in b.machine.merge if name.startswith(b.part.split("-", 1)[0])]
    if len(names) > 1 and b.rng.random() < 0.25:
        b.state.opening[f"{b.part}/{b.rng.choice(names)}"] *= 1 - b.between(0.25, 1.0)
    else:
        b.state.opening[b.part] *= 1 - b.between(0.25, 1.0)


def regen_shut(b: Blow) -> None:
    b.state.regeneration = b.machine.regeneration * (1 - b.between(0.5, 1.0))


def regen_open(b: Blow) -> None:
    b.state.regeneration = b.machine.regeneration + b.between(0.25, 0.8)


def either_way(b: Blow, slight: float, lost: float) -> None:
    """Both ways of a movement, or one of them."""
    group = b.part.rsplit("-", 1)[0]
    ways = [name.removesuffix("-pilot") for name in pilots(b.machine) if name.startswith(group)]
    ways = ways or [m.name for m in b.machine.layout.movements if m.group == group]
    key = b.part if b.rng.random() < 0.4 or not ways else f"{b.part}/{b.rng.choice(ways)}"
    b.state.opening[key] *= b.between(slight, lost)


def short_spool(b: Blow) -> None:
    either_way(b, 0.75, 0.12)


def off_centre(b: Blow) -> None:
    b.state.creep[b.part] += b.held(2, 60, chip=False).flow


def spool_bore(b: Blow) -> None:
    b.state.add_held(b.part, b.held(2, 25, chip=False))


def port_relief(b: Blow) -> None:
    way = float(b.rng.random())
    if way < 0.4:  # set low
        b.state.setting[b.part] *= b.between(0.85, 0.3) / b.machine.port_relief
    elif way < 0.8:  # dirt under the seat
        b.state.add_held(b.part, b.held(0.7, 25, chip=True))
        b.state.add(b.part, b.leak(0.002, 0.3, chip=True))
    else:  # stuck open
        b.state.setting[b.part] *= b.between(0.85, 0.3) / b.machine.port_relief
        b.state.add_held(b.part, b.held(3, 40, chip=True))
        b.state.add(b.part, b.leak(0.02, 0.5, chip=True))


def make_up(b: Blow) -> None:
    b.state.add_held(b.part, b.held(1.5, 40, chip=True))
    b.state.add(b.part, b.leak(0.01, 0.7, chip=True))


def holding_leak(b: Blow) -> None:
    # what passes the poppet still meets the spool: the drift becomes that of a spool alone, and no more
    b.state.add_held(b.part, b.held(0.4, 12, chip=True))


def held_open(b: Blow) -> None:
    b.state.add_held(b.part, b.held(1.5, 40, chip=True))
    b.state.creep[b.part] += b.held(3, 40, chip=False).flow
    b.state.creep[f"{b.part.split('-', 1)[0]}-spool"] += b.held(3, 40, chip=False).flow


def not_opening(b: Blow) -> None:
    b.state.opening[b.part] *= b.between(0.7, 0.1)


def hose(b: Blow) -> None:
    group = b.part.split("-", 1)[0]
    ways = [m.name for m in b.machine.layout.movements if m.group == group]
    # a loose liner is a flap that shuts one way; a dent shuts both
    key = f"{b.part}/{b.rng.choice(ways)}" if b.rng.random() < 0.7 else b.part
    b.state.opening[key] *= b.between(0.45, 0.1)


def seal(b: Blow) -> None:
    # from millilitres, which a drift test finds, to litres, which a stopwatch finds
    flow = b.between(0.1, 40) * (b.machine.full_flow / 200)
    b.state.add(b.part, Leak(flow, float(b.rng.uniform(0.2, 0.9))))


def scored(b: Blow) -> None:
    flow = b.between(1.5, 50) * (b.machine.full_flow / 200)
    b.state.add(b.part, Leak(flow, float(b.rng.uniform(0.6, 1.0))))
    b.state.scatter *= 1.2


def binding(b: Blow) -> None:
    actuator = b.part.removesuffix("-left").removesuffix("-right")
    b.state.drag[actuator] += b.between(0.12, 0.6) * b.machine.relief


def swing_motor(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.08, 1.0, chip=False))
    b.state.drained[b.part] *= float(b.rng.uniform(0.6, 1.4))


def line_relief(b: Blow) -> None:
    """A relief beside a motor: set low, or with a chip under its seat."""
    machine = b.machine
    usual = machine.swing.relief if b.part.startswith("swing") and machine.swing else machine.relief
    usual = machine.travel.relief if b.part.startswith("travel") and machine.travel else usual
    usual = machine.port_relief * machine.relief if b.part.startswith("steering") else usual
    floor = (
        machine.steering.relief if b.part.startswith("steering") and machine.steering else min(usual, machine.relief)
    )
    if b.rng.random() < 0.5:
        b.state.setting[b.part] *= b.between(0.9, 0.35) * floor / usual
    else:
        b.state.add(b.part, b.leak(0.06, 0.9, chip=True))


def swing_check(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.06, 0.9, chip=True))


def drags(b: Blow) -> None:
    b.state.drag[b.part] += b.between(0.1, 0.7) * b.machine.relief


def track_drags(b: Blow) -> None:
    b.state.drag[b.part] += b.between(0.08, 0.45) * b.machine.relief


def brake_slips(b: Blow) -> None:
    b.state.creep[b.part] += b.between(8, 300)


def travel_motor(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.07, 0.9, chip=False))
    b.state.drained[b.part] *= float(b.rng.uniform(0.5, 1.4))


def shift(inside: str) -> Act:
    def act(b: Blow) -> None:
        b.state.stuck[b.part.split("-")[1]] = inside

    return act


def counterbalance(b: Blow) -> None:
    side = b.part.split("-")[1]
    way = "" if b.rng.random() < 0.3 else str(b.rng.choice(WAYS))
    for one in WAYS if not way else (way,):
        b.state.opening[f"{b.part}/travel-{side}-{one}"] *= b.between(0.35, 0.13)


def swivel(b: Blow) -> None:
    side = str(b.rng.choice(["left", "right", "both"], p=[0.42, 0.42, 0.16]))
    for one in SIDES if side == "both" else (side,):
        b.state.add(f"swivel-joint/{one}", b.leak(0.07, 0.8, chip=b.rng.random() < 0.6))


def signal_lost(b: Blow) -> None:
    b.state.signal *= b.between(0.94, 0.6)


def margin(b: Blow) -> None:
    b.state.margin *= b.between(0.75, 0.2)


def cutoff(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.94, 0.4)


def opening(b: Blow) -> None:
    b.state.opening[b.part] *= b.between(0.8, 0.15)


def shuttle(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.91, 0.5)


def steering_unit(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.06, 0.6, chip=False))
