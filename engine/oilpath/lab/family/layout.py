"""What machines of the three kinds are made of, by the ids of the file formats: movements, cylinders, valves."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Movement:
    """One movement of a cylinder: the end that takes the oil, and the load on it as a share of the main relief."""

    name: str
    group: str
    end: str
    load: Span
    gravity: Span = (0.0, 0.0)
    section: Span = (0.4, 1.0)
    """flow of its section as a share of the pump's, where the pump senses the load"""

    @property
    def actuator(self) -> str:
        return f"{self.group}-cylinder"


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A cylinder or a pair: sizes in mm at the middle size of its kind, and how the drift test loads it."""

    group: str
    count: int
    bore: float
    rod: float
    stroke: float
    loaded: str
    hold: Span
    valve: str | None = None
    either: bool = False
    """whether machines of this kind differ in which end carries the load"""

    @property
    def name(self) -> str:
        return f"{self.group}-cylinder"

    @property
    def members(self) -> tuple[str, ...]:
        return (self.name,) if self.count == 1 else (f"{self.name}-left", f"{self.name}-right")


@dataclass(frozen=True, slots=True)
class Layout:
    """A kind of machine: its id, its movements and what else it has."""

    kind: str
    pumps: tuple[str, ...]
    movements: tuple[Movement, ...]
    cylinders: tuple[Cylinder, ...]
    swings: bool
    tracks: bool
    checks: bool
    """make-up checks of their own at the ports of the cylinders"""
    mass: Span
    middle: float
    displacement: float
    """cm³/rev of one pump at the middle mass"""
    unpiloted: frozenset[str] = field(default_factory=frozenset)
    """groups moved by their own lever, without a pilot valve"""

    @property
    def load_sensing(self) -> bool:
        return len(self.pumps) == 1

    @property
    def groups(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(m.group for m in self.movements))

    def movement(self, name: str) -> Movement:
        return next(m for m in self.movements if m.name == name)

    def other(self, name: str) -> str:
        """The opposite movement of the same group."""
        group = self.movement(name).group
        return next(m.name for m in self.movements if m.group == group and m.name != name)

    def cylinder(self, name: str) -> Cylinder:
        return next(c for c in self.cylinders if c.name == name)


TWO_PUMP: Final = Layout(
    kind="two-pump-excavator",
    pumps=("pump-1", "pump-2"),
    movements=(
        Movement("boom-raise", "boom", "cap", (0.3, 0.55)),
        Movement("boom-lower", "boom", "rod", (0.03, 0.15), gravity=(0.1, 1.0)),
        Movement("arm-in", "arm", "cap", (0.1, 0.3)),
        Movement("arm-out", "arm", "rod", (0.2, 0.4)),
        Movement("bucket-curl", "bucket", "cap", (0.15, 0.35)),
        Movement("bucket-dump", "bucket", "rod", (0.15, 0.35)),
    ),
    cylinders=(
        Cylinder("boom", 2, 120, 85, 1260, "cap", (0.22, 0.36), "boom-holding-valve"),
        Cylinder("arm", 1, 135, 95, 1490, "rod", (0.12, 0.28), "arm-holding-valve"),
        Cylinder("bucket", 1, 115, 80, 1120, "cap", (0.08, 0.18), either=True),
    ),
    swings=True, tracks=True, checks=True, mass=(11, 48), middle=22, displacement=112,
)  # fmt: skip

COMPACT: Final = Layout(
    kind="compact-excavator",
    pumps=("pump-1",),
    movements=(
        Movement("boom-raise", "boom", "cap", (0.3, 0.55), section=(0.55, 1.1)),
        Movement("boom-lower", "boom", "rod", (0.03, 0.15), gravity=(0.1, 1.0), section=(0.4, 0.8)),
        Movement("arm-in", "arm", "cap", (0.1, 0.3), section=(0.5, 1.0)),
        Movement("arm-out", "arm", "rod", (0.2, 0.4), section=(0.45, 0.9)),
        Movement("bucket-curl", "bucket", "cap", (0.15, 0.35), section=(0.4, 0.9)),
        Movement("bucket-dump", "bucket", "rod", (0.15, 0.35), section=(0.4, 0.8)),
        Movement("blade-lower", "blade", "cap", (0.08, 0.3), section=(0.33, 0.6)),
        Movement("blade-raise", "blade", "rod", (0.2, 0.4), section=(0.33, 0.6)),
    ),
    cylinders=(
        Cylinder("boom", 1, 80, 45, 620, "cap", (0.22, 0.36)),
        Cylinder("arm", 1, 75, 45, 590, "rod", (0.12, 0.28)),
        Cylinder("bucket", 1, 65, 40, 510, "cap", (0.08, 0.18), either=True),
        Cylinder("blade", 1, 85, 50, 160, "rod", (0.15, 0.3)),
    ),
    swings=True, tracks=True, checks=False, mass=(1.6, 8.5), middle=3, displacement=37,
    unpiloted=frozenset({"blade"}),
)  # fmt: skip

LOADER: Final = Layout(
    kind="wheel-loader",
    pumps=("pump-1",),
    movements=(
        Movement("lift-raise", "lift", "cap", (0.3, 0.55), section=(0.75, 1.15)),
        Movement("lift-lower", "lift", "rod", (0.03, 0.12), gravity=(0.85, 1.0), section=(0.5, 0.9)),
        Movement("tilt-back", "tilt", "cap", (0.2, 0.4), section=(0.6, 1.0)),
        Movement("tilt-dump", "tilt", "rod", (0.1, 0.3), section=(0.5, 0.9)),
        Movement("steer-left", "steering", "cap", (0.2, 0.4), section=(0.35, 0.7)),
        Movement("steer-right", "steering", "cap", (0.2, 0.4), section=(0.35, 0.7)),
    ),
    cylinders=(
        Cylinder("lift", 2, 110, 65, 760, "cap", (0.22, 0.36)),
        Cylinder("tilt", 1, 140, 80, 480, "cap", (0.08, 0.2), either=True),
        Cylinder("steering", 2, 70, 40, 390, "", (0.0, 0.0)),
    ),
    swings=False, tracks=False, checks=False, mass=(5, 22), middle=11, displacement=71,
    unpiloted=frozenset({"steering"}),
)  # fmt: skip

LAYOUTS: Final = {layout.kind: layout for layout in (TWO_PUMP, COMPACT, LOADER)}
SIDES: Final = ("left", "right")
WAYS: Final = ("forward", "reverse")
RANGES: Final = ("high", "low")
