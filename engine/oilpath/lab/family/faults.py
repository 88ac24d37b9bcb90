"""The faults of the family: what can be wrong, how often, and what it does in physical terms.

Frequencies are weights per machine and kind, shared over the places where it can be: 3 common, 1 occasional, 0.3 rare,
from the memory of the trade. Severity 0 is just beyond what is accepted, 1 is lost.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from oilpath.lab.family.layout import SIDES, WAYS
from oilpath.lab.family.machine import Machine, Rng
from oilpath.lab.family.oil import Leak
from oilpath.lab.family.state import State

Key = tuple[str, str]
"""cause id and part id"""


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
        return slight * (lost / slight) ** self.severity

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


Places = Callable[[Machine], Sequence[str]]
Act = Callable[[Blow], None]


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


# --- where ------------------------------------------------------------------------------


def at(*parts: str) -> Places:
    return lambda machine: parts


def pumps(suffix: str = "") -> Places:
    return lambda machine: [f"{pump}{suffix}" for pump in machine.layout.pumps]


def pilots(machine: Machine) -> list[str]:
    layout = machine.layout
    names = [m.name for m in layout.movements if m.group not in layout.unpiloted]
    if layout.swings:
        names += [f"swing-{side}" for side in SIDES]
    if layout.tracks:
        names += [f"travel-{side}-{way}" for side in SIDES for way in WAYS]
    return [f"{name}-pilot" for name in names]


def groups(machine: Machine) -> list[str]:
    """All groups of movements, swing and tracks among them; steering has a unit in place of a spool."""
    layout = machine.layout
    more = (["swing"] if layout.swings else []) + ([f"travel-{side}" for side in SIDES] if layout.tracks else [])
    return [*layout.groups, *more]


def spools(machine: Machine) -> list[str]:
    return [f"{group}-spool" for group in groups(machine) if group != "steering"]


def bored_spools(machine: Machine) -> list[str]:
    """Spools that stand alone between a load and the tank: behind a sound holding valve they cannot let it sink."""
    held = {
        c.group for c in machine.layout.cylinders if c.valve and c.valve not in machine.absent
        and machine.holds[c.name].end == c.loaded
    }  # fmt: skip
    return [f"{c.group}-spool" for c in machine.layout.cylinders if c.loaded and c.group not in held]


def ends(suffix: str) -> Places:
    return lambda machine: [
        f"{c.group}-{end}-{suffix}" for c in machine.layout.cylinders if c.loaded for end in ("cap", "rod")
    ]


def hoses(machine: Machine) -> list[str]:
    steering = [f"steering-{side}-hose" for side in SIDES] if machine.steering else []
    return [*ends("hose")(machine), *steering]


def held_by(machine: Machine) -> list[str]:
    return [c.valve for c in machine.layout.cylinders if c.valve and c.valve not in machine.absent]


def members(machine: Machine) -> list[str]:
    return [one for c in machine.layout.cylinders for one in c.members]


def on_swing(*parts: str) -> Places:
    return lambda machine: parts if machine.layout.swings else ()


def on_tracks(pattern: str) -> Places:
    return lambda machine: [pattern.format(side=side) for side in SIDES] if machine.layout.tracks else []


def crossovers(machine: Machine) -> list[str]:
    names = [f"travel-{side}-{way}-crossover" for side in SIDES for way in WAYS]
    return names if machine.layout.tracks else []


def two_pump(*parts: str) -> Places:
    return lambda machine: () if machine.layout.load_sensing else parts


def sensing(*parts: str) -> Places:
    return lambda machine: parts if machine.layout.load_sensing else ()


def steered(*parts: str) -> Places:
    return lambda machine: parts if machine.steering else ()


def of_groups(suffix: str) -> Places:
    return lambda machine: [f"{g}-{suffix}" for g in groups(machine)] if machine.layout.load_sensing else []


# --- what each does -----------------------------------------------------------------------


def _engine_slow(b: Blow) -> None:
    b.state.speed *= b.between(0.94, 0.6)


def _engine_weak(b: Blow) -> None:
    b.state.power *= b.between(0.85, 0.35)


def _setting(b: Blow) -> None:
    b.state.speed *= b.between(0.93, 0.7)


def _heavy(b: Blow) -> None:
    b.state.load *= b.between(1.25, 2.2)


def _timing(b: Blow) -> None:
    b.state.scatter *= b.between(6, 20)


def _drive(b: Blow) -> None:
    b.state.drive *= b.between(0.93, 0.3)


def _gauge(b: Blow) -> None:
    ratio = b.between(0.93, 0.6) if b.rng.random() < 0.7 else b.between(1.06, 1.4)
    which = b.machine.layout.pumps if b.part == "both" else [f"pump-{b.part[-1]}"]
    for pump in which:
        b.state.gauge[pump] *= ratio


def _thick(b: Blow) -> None:
    b.state.viscosity *= b.between(2.0, 9.0)


def _thin(b: Blow) -> None:
    b.state.viscosity *= b.between(0.6, 0.15)


def _cooling(b: Blow) -> None:
    b.state.cooling += b.between(9, 25)


def _cooler(b: Blow) -> None:
    b.state.hotter += b.between(15, 45)


def _level(b: Blow) -> None:
    b.state.air += b.between(0.06, 0.5)
    b.state.scatter *= 1.8


def _air(b: Blow) -> None:
    b.state.air += b.between(0.06, 0.45)
    b.state.scatter *= 1.4


def _strainer(b: Blow) -> None:
    b.state.strainer *= b.between(2.5, 10)


def _breather(b: Blow) -> None:
    b.state.head *= b.between(0.4, 0.12)


def _return(b: Blow) -> None:
    b.state.back += b.between(0.006, 0.06) * b.machine.relief


def _pump_worn(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.07, 0.8, chip=False))
    b.state.drained[b.part] *= float(b.rng.uniform(0.3, 1.3))


def _pump_broken(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.1, 0.9, chip=b.rng.random() < 0.5))
    b.state.scatter *= 1.3


def _pumps_worn(b: Blow) -> None:
    level = b.leak(0.07, 0.45, chip=False)
    for pump in b.machine.layout.pumps:
        b.state.add(pump, Leak(level.flow * float(b.rng.uniform(0.85, 1.18)), level.orifice))
        b.state.drained[pump] *= float(b.rng.uniform(0.5, 1.3))


def _stuck_low(b: Blow) -> None:
    b.state.stroke[b.part] *= b.between(0.88, 0.2)


def _stuck_high(b: Blow) -> None:
    b.state.torque[b.part] *= b.between(1.3, 2.2)


def _torque_low(b: Blow) -> None:
    b.state.torque[b.part] *= b.between(0.75, 0.25)


def _no_demand(b: Blow) -> None:
    b.state.demand[b.part] *= b.between(0.6, 0.15)


def _weak_demand(b: Blow) -> None:
    b.state.demand[b.part] *= b.between(0.9, 0.45)


def _pilot_pump(b: Blow) -> None:
    pilot = b.machine.pilot
    # just enough for the relief to stay open, up to next to nothing
    spare = (pilot.flow - pilot.need) * 30 / pilot.pressure
    b.state.add("pilot-pump", Leak(spare * b.between(1.15, 6), float(b.rng.uniform(0.0, 0.3))))


def _pilot_setting(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.88, 0.25)


def _pilot_filter(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.85, 0.25)


def _lockout(b: Blow) -> None:
    dead = b.rng.random() < 0.6
    b.state.opening[b.part] *= 0.03 if dead else b.between(0.8, 0.25)


def _pilot_valve(b: Blow) -> None:
    b.state.opening[b.part] *= b.between(0.75, 0.27) * b.machine.pilot.full


def _relief_low(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.95, 0.4)


def _relief_high(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(1.04, 1.3)


def _relief_leaking(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.08, 1.1, chip=True))
    b.state.setting[b.part] *= float(b.rng.uniform(0.8, 1.0))
    b.state.scatter *= 1.2


def _straight(b: Blow) -> None:
    b.state.straight = max(b.state.straight, b.between(0.35, 1.0))


def _merge(b: Blow) -> None:
    names = [name for name in b.machine.merge if name.startswith(b.part.split("-", 1)[0])]
    if len(names) > 1 and b.rng.random() < 0.25:
        b.state.opening[f"{b.part}/{b.rng.choice(names)}"] *= 1 - b.between(0.25, 1.0)
    else:
        b.state.opening[b.part] *= 1 - b.between(0.25, 1.0)


def _regen_shut(b: Blow) -> None:
    b.state.regeneration = b.machine.regeneration * (1 - b.between(0.5, 1.0))


def _regen_open(b: Blow) -> None:
    b.state.regeneration = b.machine.regeneration + b.between(0.25, 0.8)


def _either_way(b: Blow, slight: float, lost: float) -> None:
    """Both ways of a movement, or one of them."""
    group = b.part.rsplit("-", 1)[0]
    ways = [name.removesuffix("-pilot") for name in pilots(b.machine) if name.startswith(group)]
    ways = ways or [m.name for m in b.machine.layout.movements if m.group == group]
    key = b.part if b.rng.random() < 0.4 or not ways else f"{b.part}/{b.rng.choice(ways)}"
    b.state.opening[key] *= b.between(slight, lost)


def _short_spool(b: Blow) -> None:
    _either_way(b, 0.75, 0.12)


def _off_centre(b: Blow) -> None:
    b.state.creep[b.part] += b.held(2, 60, chip=False).flow


def _spool_bore(b: Blow) -> None:
    b.state.add_held(b.part, b.held(2, 40, chip=False))


def _port_relief(b: Blow) -> None:
    way = float(b.rng.random())
    if way < 0.4:  # set low
        b.state.setting[b.part] *= b.between(0.85, 0.3) / b.machine.port_relief
    elif way < 0.8:  # dirt under the seat
        b.state.add_held(b.part, b.held(0.7, 60, chip=True))
        b.state.add(b.part, b.leak(0.002, 0.3, chip=True))
    else:  # stuck open
        b.state.setting[b.part] *= b.between(0.85, 0.3) / b.machine.port_relief
        b.state.add_held(b.part, b.held(4, 80, chip=True))
        b.state.add(b.part, b.leak(0.02, 0.5, chip=True))


def _make_up(b: Blow) -> None:
    b.state.add_held(b.part, b.held(1.5, 120, chip=True))
    b.state.add(b.part, b.leak(0.01, 0.7, chip=True))


def _holding_leak(b: Blow) -> None:
    # what passes the poppet still meets the spool: the drift becomes that of a spool alone, and no more
    b.state.add_held(b.part, b.held(0.4, 12, chip=True))


def _held_open(b: Blow) -> None:
    b.state.add_held(b.part, b.held(1.5, 40, chip=True))
    b.state.creep[b.part] += b.held(3, 40, chip=False).flow
    b.state.creep[f"{b.part.split('-', 1)[0]}-spool"] += b.held(3, 40, chip=False).flow


def _not_opening(b: Blow) -> None:
    b.state.opening[b.part] *= b.between(0.7, 0.1)


def _hose(b: Blow) -> None:
    group = b.part.split("-", 1)[0]
    ways = [m.name for m in b.machine.layout.movements if m.group == group]
    # a loose liner is a flap that shuts one way; a dent shuts both
    key = f"{b.part}/{b.rng.choice(ways)}" if b.rng.random() < 0.7 else b.part
    b.state.opening[key] *= b.between(0.45, 0.1)


def _seal(b: Blow) -> None:
    # from millilitres, which a drift test finds, to litres, which a stopwatch finds
    flow = b.between(0.1, 40) * (b.machine.full_flow / 200)
    b.state.add(b.part, Leak(flow, float(b.rng.uniform(0.2, 0.9))))


def _scored(b: Blow) -> None:
    flow = b.between(1.5, 50) * (b.machine.full_flow / 200)
    b.state.add(b.part, Leak(flow, float(b.rng.uniform(0.6, 1.0))))
    b.state.scatter *= 1.2


def _binding(b: Blow) -> None:
    actuator = b.part.removesuffix("-left").removesuffix("-right")
    b.state.drag[actuator] += b.between(0.12, 0.6) * b.machine.relief


def _swing_motor(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.08, 1.0, chip=False))
    b.state.drained[b.part] *= float(b.rng.uniform(0.6, 1.4))


def _line_relief(b: Blow) -> None:
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


def _swing_check(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.06, 0.9, chip=True))


def _drags(b: Blow) -> None:
    b.state.drag[b.part] += b.between(0.1, 0.7) * b.machine.relief


def _brake_slips(b: Blow) -> None:
    b.state.creep[b.part] += b.between(8, 300)


def _travel_motor(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.07, 0.9, chip=False))
    b.state.drained[b.part] *= float(b.rng.uniform(0.5, 1.4))


def _shift(inside: str) -> Act:
    def act(b: Blow) -> None:
        b.state.stuck[b.part.split("-")[1]] = inside

    return act


def _counterbalance(b: Blow) -> None:
    side = b.part.split("-")[1]
    way = "" if b.rng.random() < 0.3 else str(b.rng.choice(WAYS))
    for one in WAYS if not way else (way,):
        b.state.opening[f"{b.part}/travel-{side}-{one}"] *= b.between(0.35, 0.13)


def _swivel(b: Blow) -> None:
    side = str(b.rng.choice(["left", "right", "both"], p=[0.42, 0.42, 0.16]))
    for one in SIDES if side == "both" else (side,):
        b.state.add(f"swivel-joint/{one}", b.leak(0.07, 0.8, chip=b.rng.random() < 0.6))


def _signal_lost(b: Blow) -> None:
    b.state.signal *= b.between(0.955, 0.75)


def _margin(b: Blow) -> None:
    b.state.margin *= b.between(0.75, 0.2)


def _cutoff(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.94, 0.4)


def _opening(b: Blow) -> None:
    b.state.opening[b.part] *= b.between(0.8, 0.15)


def _shuttle(b: Blow) -> None:
    b.state.setting[b.part] *= b.between(0.955, 0.75)


def _steering_unit(b: Blow) -> None:
    b.state.add(b.part, b.leak(0.06, 0.6, chip=False))


GAUGES: Final[Places] = lambda machine: [  # noqa: E731
    *[f"pressure-sensor-{pump[-1]}" for pump in machine.layout.pumps],
    *(["both"] if len(machine.layout.pumps) > 1 else []),
]

FAULTS: Final[tuple[Fault, ...]] = (
    Fault("engine.low-speed", 2, at("engine"), _engine_slow),
    Fault("engine.low-power", 2, at("engine"), _engine_weak),
    Fault("setup.wrong-setting", 1.5, at("machine"), _setting),
    Fault("load.not-reference", 1, at("machine"), _heavy),
    Fault("timing.unrepeatable", 0.7, at("machine"), _timing),
    Fault("pump-drive.slipping", 0.3, at("pump-drive"), _drive),
    Fault("pressure-sensor.offset", 1.5, GAUGES, _gauge),
    Fault("oil.too-thick", 0.7, at("oil"), _thick),
    Fault("oil.too-thin", 1, at("oil"), _thin),
    Fault("oil.cooling-shrink", 0.7, at("oil"), _cooling),
    Fault("cooler.ineffective", 1, at("cooler"), _cooler),
    Fault("tank.low-level", 1.5, at("tank"), _level),
    Fault("suction.restricted", 1, at("suction"), _strainer),
    Fault("suction.air-leak", 1, at("suction"), _air),
    Fault("breather.blocked", 0.3, at("breather"), _breather),
    Fault("return.restricted", 0.7, at("return-filter"), _return),
    Fault("pump.worn", 3, pumps(), _pump_worn, from_hours=4000),
    Fault("pumps.worn-alike", 3, lambda m: ["machine"] if len(m.layout.pumps) > 1 else [], _pumps_worn, from_hours=6000),
    Fault("pump.damaged", 0.3, pumps(), _pump_broken),
    Fault("regulator.stuck-low", 0.7, pumps("-regulator"), _stuck_low),
    Fault("regulator.stuck-high", 0.3, pumps("-regulator"), _stuck_high),
    Fault("regulator.torque-low", 0.7, pumps("-regulator"), _torque_low),
    Fault("flow-signal.no-demand", 0.6, two_pump("pump-1-flow-signal", "pump-2-flow-signal"), _no_demand),
    Fault("flow-signal.weak-demand", 0.6, two_pump("pump-1-flow-signal", "pump-2-flow-signal"), _weak_demand),
    Fault("pilot-pump.worn", 1, at("pilot-pump"), _pilot_pump),
    Fault("pilot-relief.low", 1, at("pilot-relief"), _pilot_setting),
    Fault("pilot-filter.blocked", 1, at("pilot-filter"), _pilot_filter),
    Fault("pilot-lockout.faulty", 0.8, at("pilot-lockout"), _lockout),
    Fault("pilot-valve.low-output", 3, pilots, _pilot_valve),
    Fault("main-relief.low", 3, at("main-relief"), _relief_low),
    Fault("main-relief.leaking", 2, at("main-relief"), _relief_leaking),
    Fault("main-relief.high", 0.3, at("main-relief"), _relief_high),
    Fault("straight-travel.stuck-on", 0.3, two_pump("straight-travel-valve"), _straight),
    Fault("merge-valve.stuck-closed", 1, two_pump("boom-merge-valve", "arm-merge-valve"), _merge),
    Fault("regen-valve.stuck-closed", 1, two_pump("arm-regen-valve"), _regen_shut),
    Fault("regen-valve.stuck-open", 0.3, two_pump("arm-regen-valve"), _regen_open),
    Fault("spool.short-stroke", 1, spools, _short_spool),
    Fault("spool.off-centre", 0.5, bored_spools, _off_centre),
    Fault("spool.worn", 1, bored_spools, _spool_bore, from_hours=4000),
    Fault("port-relief.leaking", 3, ends("port-relief"), _port_relief),
    Fault("make-up-check.leaking", 1, lambda m: ends("make-up-check")(m) if m.layout.checks else [], _make_up),
    Fault("holding-valve.leaking", 3, held_by, _holding_leak),
    Fault("holding-valve.held-open", 1, held_by, _held_open),
    Fault("holding-valve.not-opening", 1, held_by, _not_opening),
    Fault("hose.restricted", 0.5, hoses, _hose),
    Fault("cylinder.seal-leak", 3, members, _seal, from_hours=2500),
    Fault("cylinder.scored-barrel", 1, members, _scored),
    Fault("cylinder.binding", 1, members, _binding),
    Fault("swing-motor.worn", 1, on_swing("swing-motor"), _swing_motor, from_hours=4000),
    Fault("swing-relief.leaking", 3, on_swing("swing-left-relief", "swing-right-relief"), _line_relief),
    Fault("swing-make-up.leaking", 1, lambda m: [f"swing-{s}-make-up" for s in SIDES] if m.layout.checks else [],
          _swing_check),
    Fault("swing-brake.dragging", 1, on_swing("swing-brake"), _drags),
    Fault("swing-brake.slipping", 0.5, on_swing("swing-brake"), _brake_slips),
    Fault("swing-gear.dragging", 1, on_swing("swing-gear"), _drags),
    Fault("travel-motor.worn", 3, on_tracks("travel-{side}-motor"), _travel_motor, from_hours=4000),
    Fault("travel-shift.stuck-low", 1, on_tracks("travel-{side}-shift"), _shift("low")),
    Fault("travel-shift.stuck-high", 0.3, on_tracks("travel-{side}-shift"), _shift("high")),
    Fault("travel-brake.dragging", 1, on_tracks("travel-{side}-brake"), _drags),
    Fault("travel-brake.slipping", 0.2, on_tracks("travel-{side}-brake"), _brake_slips),
    Fault("travel-crossover.leaking", 3, crossovers, _line_relief),
    Fault("counterbalance.sticking", 1, on_tracks("travel-{side}-counterbalance"), _counterbalance),
    Fault("final-drive.damaged", 1, on_tracks("travel-{side}-final-drive"), _drags),
    Fault("track.too-tight", 3, on_tracks("track-{side}"), _drags),
    Fault("swivel.cross-leak", 2, lambda m: ["swivel-joint"] if m.layout.tracks else [], _swivel, from_hours=5000),
    Fault("load-signal.lost", 1, sensing("load-signal"), _signal_lost),
    Fault("load-margin.low", 1, sensing("pump-1-margin"), _margin),
    Fault("pressure-cutoff.low", 1, sensing("pump-1-cutoff"), _cutoff),
    Fault("section-compensator.stuck", 1, of_groups("compensator"), _opening),
    Fault("load-shuttle.stuck", 1, of_groups("shuttle"), _shuttle),
    Fault("priority-valve.starving-steering", 1, steered("priority-valve"), _opening),
    Fault("priority-valve.holding-back", 1, steered("priority-excess"), _opening),
    Fault("steering-unit.worn", 1, steered("steering-unit"), _steering_unit),
    Fault("steering-relief.leaking", 1, steered("steering-left-relief", "steering-right-relief"), _line_relief),
)  # fmt: skip
