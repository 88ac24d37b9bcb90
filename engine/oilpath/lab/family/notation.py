"""Figures as people write them on a sheet or in service information: metric or US units, with steps of a usual size."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as it is written: what one of ours is in it, and the usual step."""

    name: str
    per: float
    step: float
    zero: float = 0.0


#: From s, mm, m, MPa, L/min, rpm, degrees, °C to what is written. Conversion factors of NIST SP 811, rounded.
METRIC: Final = {
    "time": Unit("s", 1, 0.1), "length": Unit("mm", 1, 1), "distance": Unit("m", 1, 0.1),
    "pressure": Unit("MPa", 1, 0.1), "flow": Unit("L/min", 1, 0.5), "speed": Unit("rpm", 1, 10),
    "angle": Unit("deg", 1, 1), "temperature": Unit("°C", 1, 1), "displacement": Unit("cm3/rev", 1, 1),
    "hold": Unit("min", 1, 0.5), "share": Unit("%", 100, 1),
}  # fmt: skip
US: Final = METRIC | {
    "length": Unit("in", 1 / 25.4, 0.05), "distance": Unit("ft", 1 / 0.3048, 0.5),
    "pressure": Unit("psi", 145.038, 10), "flow": Unit("gpm", 0.264172, 0.1),
    "temperature": Unit("°F", 1.8, 1, 32), "displacement": Unit("in3/rev", 0.0610237, 0.1),
}  # fmt: skip
BAR: Final = METRIC | {"pressure": Unit("bar", 10, 1)}
UNITS: Final = {"metric": METRIC, "bar": BAR, "us": US}


@dataclass(frozen=True, slots=True)
class Notation:
    """How one person writes: the units, and finer steps where the instrument has them."""

    units: str
    fine_time: bool = False

    def write(self, kind: str, value: float, *, up: bool = False, down: bool = False, step: float | None = None) -> str:
        """A quantity as text, rounded to the usual step (up or down where a limit is meant)."""
        unit = UNITS[self.units][kind]
        step = step if step is not None else 0.01 if kind == "time" and self.fine_time else unit.step
        scaled = (value * unit.per + unit.zero) / step
        steps = math.ceil(scaled - 1e-9) if up else math.floor(scaled + 1e-9) if down else round(scaled)
        places = max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0
        number = f"{steps * step:.{places}f}"
        return f"{number} {unit.name}"

    def pressure(self, value: float, *, low: bool = False) -> str:
        """A pressure on a gauge: one of a tenth of the span where it is low."""
        unit = UNITS[self.units]["pressure"]
        return self.write(
            "pressure", value, step=unit.step / (20 if self.units == "metric" else 10) if low else unit.step
        )
