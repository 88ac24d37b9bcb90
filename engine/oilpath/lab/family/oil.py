"""The oil of the family: viscosity, and what leaks through a gap or an orifice."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

AT_PRESSURE: Final = 30.0
"""pressure in MPa for which a leak's flow is stated"""
AT_VISCOSITY: Final = 25.0
"""viscosity in mm²/s for which a leak's flow is stated"""
EXPANSION: Final = 0.0007
"""thermal expansion of mineral oil per kelvin"""
_KELVIN: Final = 273.15
#: Viscosity at 100 °C in mm²/s of an oil of viscosity index 100, by its grade at 40 °C (ASTM D2270, rounded).
_HOT: Final = {32: 5.36, 46: 6.76, 68: 8.73, 100: 11.4}
_PER_INDEX: Final = 0.0033
"""gain of viscosity at 100 °C for each point of the index above 100; a fit from 80 to 180, from memory"""


def _walther(viscosity: float) -> float:
    return math.log10(math.log10(viscosity + 0.7))


@lru_cache(maxsize=4096)
def viscosity(grade: int, index: float, celsius: float) -> float:
    """Kinematic viscosity in mm²/s of an oil of an ISO viscosity grade at a temperature in °C.

    Walther's line as in ASTM D341: log10 log10(ν + 0.7) = A − B·log10 T, through 40 °C and 100 °C.
    """
    hot = _HOT[grade] * (1 + _PER_INDEX * (index - 100))
    t40, t100 = math.log10(40 + _KELVIN), math.log10(100 + _KELVIN)
    b = (_walther(grade) - _walther(hot)) / (t100 - t40)
    a = _walther(grade) + b * t40
    return float(10.0 ** (10.0 ** (a - b * math.log10(celsius + _KELVIN))) - 0.7)


@dataclass(frozen=True, slots=True)
class Leak:
    """A leak by its flow at 30 MPa and 25 mm²/s; `orifice` is the share of it that passes as through an orifice.

    A worn clearance is laminar: q ∝ p/ν. A chip under a seat or a broken seal is an orifice: q ∝ √p, whatever the oil.
    """

    flow: float
    orifice: float = 0.0

    def at(self, pressure: float, viscosity: float) -> float:
        """Flow in the leak's own unit at a pressure in MPa and a viscosity in mm²/s."""
        if pressure <= 0:
            return 0.0
        share = pressure / AT_PRESSURE
        laminar = share * AT_VISCOSITY / viscosity
        return self.flow * ((1 - self.orifice) * laminar + self.orifice * math.sqrt(share))


def lost(leaks: tuple[Leak, ...], pressure: float, viscosity: float) -> float:
    """Flow of several leaks side by side."""
    total = 0.0
    for leak in leaks:
        total += leak.at(pressure, viscosity)
    return total
