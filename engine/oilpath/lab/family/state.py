"""What is wrong with a machine, in physical terms: one record that faults write and the physics reads."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field

from oilpath.lab.family.oil import Leak


def _ones() -> defaultdict[str, float]:
    return defaultdict(lambda: 1.0)


def _zeros() -> defaultdict[str, float]:
    return defaultdict(float)


def _leaks() -> defaultdict[str, tuple[Leak, ...]]:
    return defaultdict(tuple)


@dataclass(slots=True)
class State:
    """Sound if nothing is said. Ratios are to sound; leaks are beside the sound ones.

    `leak`, `setting`, `opening`, `drag`, `stroke` and the like go by part id; an opening may be for one movement alone,
    then its key is `part/movement`.
    """

    speed: float = 1.0
    power: float = 1.0
    drive: float = 1.0
    viscosity: float = 1.0
    hotter: float = 0.0
    """kelvin by which the oil is hotter than the technician would want it"""
    cooling: float = 0.0
    """kelvin by which the held oil cools during the drift test, beyond the usual"""
    strainer: float = 1.0
    """factor on the turbulent loss of the intake"""
    head: float = 1.0
    """share of the loss that the intake allows"""
    air: float = 0.0
    """share of air in what the pumps take in at full flow"""
    back: float = 0.0
    """back pressure in MPa in the return at full flow"""
    load: float = 1.0
    scatter: float = 1.0
    straight: float = 0.0
    regeneration: float | None = None
    signal: float = 1.0
    """share of the load that the pump senses"""
    margin: float = 1.0
    stroke: defaultdict[str, float] = field(default_factory=_ones)
    demand: defaultdict[str, float] = field(default_factory=_ones)
    torque: defaultdict[str, float] = field(default_factory=_ones)
    setting: defaultdict[str, float] = field(default_factory=_ones)
    opening: defaultdict[str, float] = field(default_factory=_ones)
    gauge: defaultdict[str, float] = field(default_factory=_ones)
    drag: defaultdict[str, float] = field(default_factory=_zeros)
    """MPa at the actuator, by part"""
    creep: defaultdict[str, float] = field(default_factory=_zeros)
    """by part: mL/min beside the spool with the engine running; or mm/min of a brake on a slope"""
    leak: defaultdict[str, tuple[Leak, ...]] = field(default_factory=_leaks)
    """L/min by part"""
    held: defaultdict[str, tuple[Leak, ...]] = field(default_factory=_leaks)
    """mL/min by part, for a held cylinder"""
    drained: defaultdict[str, float] = field(default_factory=_ones)
    """share of a unit's extra leakage that passes its case"""
    stuck: dict[str, str] = field(default_factory=dict)
    """range in which a travel motor stays, by its side"""

    def add(self, part: str, leak: Leak) -> None:
        self.leak[part] = (*self.leak[part], leak)

    def add_held(self, part: str, leak: Leak) -> None:
        self.held[part] = (*self.held[part], leak)


Harm = Callable[[State], None]
