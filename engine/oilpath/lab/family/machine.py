"""Machines of the family: a type drawn with figures and laws of its own, and one machine of that type.

Units: MPa, L/min, cm³, mm, rpm, N·m, mm²/s unless a name says otherwise. Ranges from the memory of the trade; a tenth
of each range is added at both ends, so that some machines lie beyond what is thought usual.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from oilpath.lab.family.layout import LAYOUTS, Layout, Span

Rng = np.random.Generator
BEYOND: Final = 0.1
"""share of a range that is added to it at either end"""
IDLE_PRESSURE: Final = 2.5
"""pressure in MPa of a pump whose functions rest"""


def about(rng: Rng, span: Span, *, least: float = 0.0, most: float = math.inf) -> float:
    """A figure from a range and a little beyond it."""
    low, high = span
    wide = BEYOND * (high - low)
    return float(min(max(rng.uniform(low - wide, high + wide), least), most))


def spread(rng: Rng, sigma: float) -> float:
    """A factor about 1, log-normal, held within three standard deviations."""
    return math.exp(sigma * float(np.clip(rng.standard_normal(), -3, 3)))


@dataclass(frozen=True, slots=True)
class Ram:
    """The cylinders of one actuator."""

    count: int
    bore: float
    rod: float
    stroke: float

    def area(self, end: str) -> float:
        """Area in cm² of one cylinder at an end: `cap` or `rod`."""
        full = math.pi * self.bore**2 / 400
        return full if end == "cap" else full - self.rod_area

    @property
    def rod_area(self) -> float:
        return math.pi * self.rod**2 / 400

    def volume(self, end: str) -> float:
        """Litres that fill one end of all cylinders over the whole stroke."""
        return self.count * self.area(end) * self.stroke / 10_000


@dataclass(frozen=True, slots=True)
class Power:
    """How the torque of the pumps is limited: by each pump's own pressure, by the sum of both, or not at all."""

    law: str
    """`own`, `summed` or `none`"""
    corner: float
    """pressure in MPa up to which all pumps at work give their full displacement"""
    exponent: float
    """1: constant torque; less: the springs of the limiter follow it loosely"""


@dataclass(frozen=True, slots=True)
class Engine:
    speed: float
    torque: float
    droop: float
    """share of the speed that the governor gives way from no load to full load"""
    reserve: float
    """torque that the engine gains when it lugs down to 70 % of its speed, as a share"""


@dataclass(frozen=True, slots=True)
class Pilot:
    pressure: float
    flow: float
    need: float
    """flow in L/min that the pilot circuit takes at its pressure"""
    full: float
    """share of the pilot pressure at which a spool has its full stroke"""
    port: str
    """where the gauge is: `pump`, `filter` or `lockout` (behind it)"""
    release: float
    """pressure in MPa that holds the parking brakes open"""
    shift: float
    """pressure in MPa that brings the travel motors into high range"""


@dataclass(frozen=True, slots=True)
class Swing:
    turn: float
    """cm³ for one turn of the upper structure"""
    steady: float
    friction: float
    inertia: float
    """MPa·s per turn/s: pressure and time that bring the upper structure to speed"""
    relief: float
    brake: float
    """pressure in MPa that a brake that is not released at all takes"""


@dataclass(frozen=True, slots=True)
class Travel:
    metre: float
    """cm³ for one metre of one track in high range"""
    low: float
    """speed in low range as a share of high range"""
    ground: Mapping[str, float]
    raised: Mapping[str, float]
    relief: float
    shoe: float
    """m of track for one turn"""
    gauge: float


@dataclass(frozen=True, slots=True)
class Steering:
    relief: float


@dataclass(frozen=True, slots=True)
class Hold:
    """How the drift test loads a cylinder: the end, and the pressure there in MPa."""

    end: str
    pressure: float


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine, or the type that it belongs to."""

    layout: Layout
    name: str
    engine: Engine
    displacement: tuple[float, ...]
    leak: tuple[float, ...]
    """leakage of each pump in L/min at 30 MPa and 25 mm²/s"""
    leak_orifice: float
    drain_share: float
    motor_leak: float
    motor_orifice: float
    standby: float
    """stroke of a pump whose functions rest"""
    power: Power
    control: str
    """`positive`, `negative` or `load-sensing`"""
    relief: float
    override: float
    cutoff: float | None
    margin: float
    pilot: Pilot
    swing: Swing | None
    travel: Travel | None
    steering: Steering | None
    rams: Mapping[str, Ram]
    load: Mapping[str, float]
    """pressure in MPa that each movement needs at its actuator"""
    gravity: Mapping[str, float]
    fall: Mapping[str, float]
    """speed at which gravity alone would move it, as a share of what the pumps would"""
    regeneration: float
    merge: Mapping[str, tuple[str, float]]
    """second pump of a movement, and the share of its flow that joins"""
    feeds: Mapping[str, str]
    """the pump of each group"""
    section: Mapping[str, float]
    """flow in L/min that each section passes at its full margin; load-sensing machines alone"""
    loss: float
    """pressure in MPa lost between pump and actuator at the full flow"""
    port_relief: float
    holds: Mapping[str, Hold]
    spool_leak: Mapping[str, float]
    """mL/min through the spool of a held cylinder at 30 MPa and 25 mm²/s"""
    valve_leak: float
    """mL/min through a sound holding valve, or a port valve, at 30 MPa"""
    seal_leak: float
    absent: frozenset[str]
    suction: tuple[float, float]
    """share of the loss allowed at the intake that the full flow takes: by turbulence, by viscosity"""
    grade: int
    index: float
    habit: Mapping[str, float]
    """factor on the time of each movement: posture, lever, stops"""

    @property
    def full_flow(self) -> float:
        """Flow of one pump in L/min without leakage."""
        return self.displacement[0] * self.engine.speed / 1000

    def pumps_of(self, name: str, group: str) -> tuple[tuple[str, float], ...]:
        """Pumps that a movement takes, each with the share of its flow."""
        own = ((self.feeds[group], 1.0),)
        return (*own, self.merge[name]) if name in self.merge else own


def draw_type(kind: str, rng: Rng) -> Machine:
    """A type of machine of a kind, with figures of its own."""
    layout = LAYOUTS[kind]
    lightest, heaviest = layout.mass
    mass = lightest * (heaviest / lightest) ** float(rng.random())
    size = mass / layout.middle
    displacement = round(layout.displacement * size**0.95 * spread(rng, 0.07))
    speed = float(rng.integers(170, 215) * 10) if layout.pumps[1:] else float(rng.integers(205, 245) * 10)
    relief = round(about(rng, (30, 37) if layout.pumps[1:] else (21, 28)), 1)
    flow = displacement * speed / 1000
    power = _power(layout, rng, relief)
    holds, absent = _holds(layout, rng, relief)
    rams = _rams(layout, rng, size)
    shares = {m.name: about(rng, m.section, least=0.25) for m in layout.movements}
    shares["steer-right"] = shares.get("steer-left", 0.0)
    section = {name: share * flow for name, share in shares.items()} if layout.load_sensing else {}
    if layout.load_sensing and layout.swings:
        section |= {"swing": about(rng, (0.33, 0.65)) * flow, "travel": about(rng, (0.45, 0.65)) * flow}
    feeds, merge = _feeds(layout, rng)
    most = 1.15 * power.corner if power.law != "none" else relief
    load = {m.name: min(most, about(rng, m.load, least=0.02) * relief) for m in layout.movements}
    if "steer-left" in load:
        load["steer-right"] = load["steer-left"]
    leak = about(rng, (0.03, 0.10), least=0.015) * flow * 30 / relief
    machine = Machine(
        layout=layout,
        name=f"{mass:.0f} t class, drawn" if mass >= 10 else f"{mass:.1f} t class, drawn",
        engine=Engine(speed, _torque(layout, power, relief, displacement, rng), about(rng, (0.0, 0.06), least=0.0),
                      about(rng, (0.15, 0.25))),
        displacement=(float(displacement),) * len(layout.pumps),
        leak=(leak,) * len(layout.pumps),
        leak_orifice=about(rng, (0.0, 0.5), least=0.0),
        drain_share=about(rng, (0.2, 1.0), least=0.15, most=1.0),
        motor_leak=about(rng, (0.02, 0.08), least=0.01) * section.get("travel", flow) * 30 / relief,
        motor_orifice=about(rng, (0.0, 0.5), least=0.0),
        standby=about(rng, (0.05, 0.25), least=0.03),
        power=power,
        control="load-sensing" if layout.load_sensing else str(rng.choice(["positive", "negative"])),
        relief=relief,
        override=about(rng, (0.03, 0.08), least=0.02),
        cutoff=relief - about(rng, (1.0, 2.0)) if layout.load_sensing else None,
        margin=about(rng, (1.4, 2.4)),
        pilot=_pilot(rng, flow),
        swing=_swing(layout, rng, relief, section.get("swing", flow)),
        travel=_travel(layout, rng, relief, section.get("travel", flow), size, power),
        steering=None if layout.swings else Steering(about(rng, (0.65, 0.85)) * relief),
        rams=rams,
        load=load,
        gravity={m.name: about(rng, m.gravity, least=0.0, most=1.0) if m.gravity[1] else 0.0 for m in layout.movements},
        fall={m.name: about(rng, (0.8, 1.3)) for m in layout.movements},
        regeneration=about(rng, (0.0, 0.5), least=0.0) if not layout.load_sensing else 0.0,
        merge=merge, feeds=feeds, section=section,
        loss=about(rng, (1.0, 3.0)),
        port_relief=about(rng, (1.05, 1.2)),
        holds=holds,
        spool_leak={name: _spool_leak(rng, size * layout.middle, rams[name], hold) for name, hold in holds.items()},
        valve_leak=about(rng, (2, 9), least=1),
        seal_leak=about(rng, (1, 8), least=0.5),
        absent=absent,
        suction=(about(rng, (0.3, 0.5)), about(rng, (0.05, 0.18))),
        grade=int(rng.choice([32, 46, 46, 46, 68])), index=float(rng.integers(95, 160)),
        habit={},
    )  # fmt: skip
    return machine


def one_of(kind: Machine, rng: Rng) -> Machine:
    """One machine of a type: its parts differ by what the making and some thousand hours leave between sound ones."""

    def s(sigma: float) -> float:
        return spread(rng, sigma)

    flow = s(0.015)
    groups = {group: s(0.015) for group in (*kind.layout.groups, "swing", "travel")}
    names = [m.name for m in kind.layout.movements] + ["swing-left", "swing-right"]
    habit = {name: s(0.012) * groups.get(name.rsplit("-", 1)[0], 1.0) for name in (*names, "ground")}
    for side in ("left", "right"):
        habit |= {f"raised-{side}": s(0.022), f"side-{side}": s(0.0015)}
    leak, ground = s(0.2), s(0.025)
    return replace(
        kind,
        engine=replace(kind.engine, torque=kind.engine.torque * s(0.01)),
        displacement=tuple(v * flow * s(0.0015) for v in kind.displacement),
        leak=tuple(one * leak * s(0.04) for one in kind.leak),
        motor_leak=kind.motor_leak * s(0.2),
        drain_share=min(1.0, kind.drain_share * s(0.15)),
        power=replace(kind.power, corner=kind.power.corner * s(0.015)),
        relief=kind.relief * s(0.006),
        cutoff=None if kind.cutoff is None else kind.cutoff * s(0.006),
        pilot=replace(kind.pilot, pressure=kind.pilot.pressure * s(0.015)),
        swing=None if kind.swing is None else replace(
            kind.swing, steady=kind.swing.steady * s(0.04), relief=kind.swing.relief * s(0.006)),
        travel=None if kind.travel is None else replace(
            kind.travel, ground={k: v * ground * s(0.01) for k, v in kind.travel.ground.items()},
            raised={k: v * s(0.06) for k, v in kind.travel.raised.items()}),
        load={name: pressure * s(0.025) for name, pressure in kind.load.items()},
        section={name: share * s(0.012) for name, share in kind.section.items()},
        spool_leak={name: one * s(0.35) for name, one in kind.spool_leak.items()},
        valve_leak=kind.valve_leak * s(0.4), seal_leak=kind.seal_leak * s(0.4),
        habit=habit,
    )  # fmt: skip


# --- pieces ---------------------------------------------------------------------------


def _power(layout: Layout, rng: Rng, relief: float) -> Power:
    laws, odds, span = {
        "two-pump-excavator": (("own", "summed", "none"), (0.45, 0.5, 0.05), (0.35, 0.5)),
        "compact-excavator": (("own", "none"), (0.75, 0.25), (0.4, 0.8)),
        "wheel-loader": (("own", "none"), (0.4, 0.6), (0.7, 1.0)),
    }[layout.kind]
    law = str(rng.choice(laws, p=odds))
    return Power(law, about(rng, span, least=0.3) * relief, about(rng, (0.8, 1.0), most=1.0))


def _torque(layout: Layout, power: Power, relief: float, displacement: float, rng: Rng) -> float:
    """Torque in N·m such that the limiter loads the engine to 70 to 90 %; without one the pumps may load it fully."""
    at = power.corner * (relief / power.corner) ** (1 - power.exponent) if power.law != "none" else 0.8 * relief
    pumps = len(layout.pumps) * displacement * at / (2 * math.pi) / 0.9
    return pumps / about(rng, (0.7, 0.9) if layout.kind != "wheel-loader" else (0.5, 0.8))


def _pilot(rng: Rng, flow: float) -> Pilot:
    pressure = round(about(rng, (3.0, 4.2)), 1)
    return Pilot(
        pressure=pressure, flow=max(8.0, 0.1 * flow), need=max(3.0, 0.03 * flow), full=about(rng, (0.5, 0.85)),
        port=str(rng.choice(["pump", "filter", "lockout"], p=[0.35, 0.35, 0.3])),
        release=about(rng, (1.4, 2.4)), shift=about(rng, (1.5, 2.6)),
    )  # fmt: skip


def _holds(layout: Layout, rng: Rng, relief: float) -> tuple[dict[str, Hold], frozenset[str]]:
    holds, absent = {}, set()
    for cylinder in layout.cylinders:
        if cylinder.loaded:
            end = "rod" if cylinder.either and rng.random() < 0.35 else cylinder.loaded
            holds[cylinder.name] = Hold(end, about(rng, cylinder.hold, least=0.05) * relief)
        if cylinder.valve and rng.random() < (0.15 if cylinder.group == "boom" else 0.35):
            absent.add(cylinder.valve)
    return holds, frozenset(absent)


def _spool_leak(rng: Rng, mass: float, ram: Ram, hold: Hold) -> float:
    """mL/min at 30 MPa, more for larger spools; a sound cylinder drifts by it at most 5 mm a minute (from memory)."""
    most = 5 / 10 * ram.count * ram.area(hold.end) * 30 / hold.pressure
    return min(about(rng, (60, 250)) * math.pow(mass / 22, 0.67), most)


def _rams(layout: Layout, rng: Rng, size: float) -> dict[str, Ram]:
    rams = {}
    for c in layout.cylinders:
        scale = size ** (1 / 3)
        bore = 5 * round(c.bore * scale * spread(rng, 0.04) / 5)
        rod = min(5 * round(c.rod * scale * spread(rng, 0.05) / 5), bore - 15)
        rams[c.name] = Ram(c.count, bore, rod, 10 * round(c.stroke * scale * spread(rng, 0.05) / 10))
    return rams


#: Three ways to share the groups over two pumps, with the movements that the other pump joins.
ALLOCATIONS: Final[tuple[tuple[Mapping[str, tuple[str, ...]], Mapping[str, str]], ...]] = (
    ({"pump-1": ("travel-right", "bucket", "boom"), "pump-2": ("travel-left", "swing", "arm")},
     {"boom-raise": "pump-2", "arm-in": "pump-1", "arm-out": "pump-1"}),
    ({"pump-1": ("travel-left", "swing", "arm"), "pump-2": ("travel-right", "bucket", "boom")},
     {"boom-raise": "pump-1", "arm-in": "pump-2", "arm-out": "pump-2"}),
    ({"pump-1": ("travel-right", "boom", "swing"), "pump-2": ("travel-left", "arm", "bucket")},
     {"boom-raise": "pump-2", "arm-in": "pump-1"}),
)  # fmt: skip


def _feeds(layout: Layout, rng: Rng) -> tuple[dict[str, str], dict[str, tuple[str, float]]]:
    if layout.load_sensing:
        groups = (*layout.groups, *(("swing", "travel-left", "travel-right") if layout.swings else ()))
        return dict.fromkeys(groups, "pump-1"), {}
    pumps, merge = ALLOCATIONS[int(rng.choice(3, p=[0.5, 0.25, 0.25]))]
    shares = {"boom-raise": about(rng, (0.6, 1.0), most=1.0), "arm": about(rng, (0.4, 1.0), most=1.0)}
    feeds = {group: pump for pump, groups in pumps.items() for group in groups}
    joins = {name: (pump, shares["arm" if name.startswith("arm") else name]) for name, pump in merge.items()}
    return feeds, joins


def _swing(layout: Layout, rng: Rng, relief: float, flow: float) -> Swing | None:
    if not layout.swings:
        return None
    turns = about(rng, (9, 13)) / 60
    steady = about(rng, (0.15, 0.5)) * relief
    limit = about(rng, (0.7, 1.05)) * relief
    # three turns from rest: the start takes a share of the whole time, of which half is lost to the steady speed
    share = 0.07 + 0.35 * float(rng.random()) ** 2
    start = 2 * share * (3 / turns) / (1 - share)
    friction = 0.6 * steady
    torque = max(min(relief, limit) - friction, 0.2 * relief)
    # what the lower of both reliefs sets going the swing relief must stop within a third of a turn
    inertia = min(torque * start / turns, 0.65 * limit / turns**2)
    return Swing(flow * 1000 / 60 / turns, steady, friction, inertia, limit, 0.6 * relief)


def _travel(layout: Layout, rng: Rng, relief: float, flow: float, size: float, power: Power) -> Travel | None:
    if not layout.tracks:
        return None
    speed = about(rng, (4.6, 5.8) if not layout.load_sensing else (3.8, 5.0)) / 3.6
    # no maker lets the torque limit take half the flow on level ground
    most = 1.2 * power.corner - (4 if layout.load_sensing else 0) if power.law != "none" else relief
    high, low = (min(most, about(rng, span) * relief) for span in ((0.3, 0.62), (0.2, 0.45)))
    raised = about(rng, (0.06, 0.24)) * relief
    gauge, shoe = 2.4 * (size * layout.middle / 22) ** 0.33, 9.2 * (size * layout.middle / 22) ** 0.33
    return Travel(
        metre=flow * 1000 / 60 / speed, low=about(rng, (0.5, 0.7)), ground={"high": high, "low": min(low, high)},
        raised={"high": raised, "low": raised * about(rng, (0.6, 0.9))}, relief=about(rng, (1.0, 1.1)) * relief,
        shoe=round(shoe * spread(rng, 0.06), 1), gauge=round(gauge * spread(rng, 0.04), 2),
    )  # fmt: skip
