"""Mineral hydraulic oil: viscosity by temperature and viscosity index.

Viscosity  ``kinematic_viscosity``, ``viscosity_ratio``, ``walther_constants``, ``walther_viscosity``
Index      ``viscosity_at_100``
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from oilpath.physics.formulas._numbers import Number, log10, positive, require

CELSIUS_ZERO = 273.15  # [K]
T_40 = CELSIUS_ZERO + 40.0  # [K] reference temperatures of ISO 3448 and ASTM D2270
T_100 = CELSIUS_ZERO + 100.0  # [K]
_MM2 = 1e-6  # [m²/s] one mm²/s: the standards' equations are written for it

# Quadratic fits to the table of ASTM D2270: from Y [mm²/s at 100 °C] on, L = a·Y² + b·Y + c and
# H = d·Y² + e·Y + f, L and H in mm²/s at 40 °C. From memory; tests compare with the standard's examples
# and, where it is installed, with another library's reading of the table.
_LH_FITS = (
    (2.0, 1.14673, 1.7576, -0.109, 0.84155, 1.5521, -0.077),
    (3.8, 3.38095, -15.4952, 33.196, 0.78571, 1.7929, -0.183),
    (4.4, 2.5000, -7.2143, 13.812, 0.82143, 1.5679, 0.119),
    (5.0, 0.10100, 16.6350, -45.469, 0.04985, 9.1613, -18.557),
    (6.4, 3.35714, -23.5643, 78.466, 0.22619, 7.7369, -16.656),
    (7.0, 0.01191, 21.4750, -72.870, 0.79762, -0.7321, 14.610),
    (7.7, 0.41858, 16.1558, -56.040, 0.05794, 10.5156, -28.240),
    (9.0, 0.88779, 7.5527, -16.600, 0.26665, 6.7015, -10.810),
    (12.0, 0.76720, 10.7972, -38.180, 0.20073, 8.4658, -22.490),
    (15.0, 0.97305, 5.3135, -2.200, 0.28889, 5.9741, -4.930),
    (18.0, 0.97256, 5.2500, -0.980, 0.24504, 7.4160, -16.730),
    (22.0, 0.91413, 7.4759, -21.820, 0.20323, 9.1267, -34.230),
    (28.0, 0.87031, 9.7157, -50.770, 0.18411, 10.1015, -46.750),
    (40.0, 0.84703, 12.6752, -133.310, 0.17029, 11.4866, -80.620),
    (55.0, 0.85921, 11.1009, -83.19, 0.17130, 11.3680, -76.940),
    (70.0, 0.83531, 14.6731, -216.246, 0.16841, 11.8493, -96.947),
)
_Y_MAX = 500.0  # [mm²/s] far above any hydraulic oil at 100 °C
_INDEX_RANGE = (0.0, 400.0)
_TEMPERATURE_RANGE = (CELSIUS_ZERO - 40.0, CELSIUS_ZERO + 150.0)


class Walther(NamedTuple):
    """Constants of log10(log10(ν + 0.7)) = a − b·log10(T), ν in mm²/s, T in K."""

    a: float
    b: float


def walther_constants(viscosity_1: float, temperature_1: float, viscosity_2: float, temperature_2: float) -> Walther:
    """Constants of the viscosity line through two points.

    Parameters
    ----------
    viscosity_1 : float, kinematic viscosity at the first temperature, 2e-6 or more [m²/s]
    temperature_1 : float, first temperature, above zero [K]
    viscosity_2 : float, kinematic viscosity at the second temperature, 2e-6 or more [m²/s]
    temperature_2 : float, second temperature, another than the first [K]

    Returns
    -------
    Walther, the constants a and b [-]

    Raises
    ------
    ValueError : a viscosity below 2 mm²/s, equal temperatures, or a viscosity that rises with temperature

    Source
    ------
    [1] ASTM D341 (equation of Walther).
    """
    positive(temperature_1=temperature_1, temperature_2=temperature_2)
    _thick_enough(viscosity_1=viscosity_1, viscosity_2=viscosity_2)
    require(temperature_1 != temperature_2, "temperature_2", temperature_2, "another than the first")
    z_1 = math.log10(math.log10(viscosity_1 / _MM2 + 0.7))
    z_2 = math.log10(math.log10(viscosity_2 / _MM2 + 0.7))
    b = (z_1 - z_2) / (math.log10(temperature_2) - math.log10(temperature_1))
    require(b > 0, "viscosity", viscosity_2, "lower at the higher temperature")
    return Walther(z_1 + b * math.log10(temperature_1), b)


def walther_viscosity(temperature: Number, constants: Walther) -> Number:
    """Kinematic viscosity on a line of Walther, ν = 10^(10^(a − b·log10 T)) − 0.7 in mm²/s.

    Parameters
    ----------
    temperature : number, temperature T, −40 to 150 °C [K]
    constants : Walther, the constants a and b of the oil [-]

    Returns
    -------
    number, kinematic viscosity [m²/s]

    Raises
    ------
    ValueError : temperature out of range (own choice), or a result below 2 mm²/s where the form ends

    Source
    ------
    [1] ASTM D341 (equation of Walther).
    """
    low, high = _TEMPERATURE_RANGE
    require((temperature >= low) & (temperature <= high), "temperature", temperature, f"{low:g} to {high:g} K")
    viscosity: Number = (10.0 ** (10.0 ** (constants.a - constants.b * log10(temperature))) - 0.7) * _MM2
    _thick_enough(viscosity=viscosity)
    return viscosity


def kinematic_viscosity(temperature: Number, viscosity_40: float, index: float = 100.0) -> Number:
    """Kinematic viscosity of an oil at a temperature, from its viscosity at 40 °C and its viscosity index.

    A real oil of a grade lies within some 10 % of it: the grade itself allows that.

    Parameters
    ----------
    temperature : number, temperature, −40 to 150 °C [K]
    viscosity_40 : float, kinematic viscosity at 40 °C (ISO VG 46: 46e-6) [m²/s]
    index : float, viscosity index, 0 to 400 [-]

    Returns
    -------
    number, kinematic viscosity [m²/s]

    Raises
    ------
    ValueError : an argument outside its range, or a result below 2 mm²/s

    Source
    ------
    [1] ASTM D2270 for the viscosity at 100 °C, ASTM D341 between and beyond.

    >>> round(kinematic_viscosity(273.15 + 60, 46e-6) * 1e6, 1)
    20.6
    """
    return walther_viscosity(temperature, _line(viscosity_40, index))


def viscosity_ratio(temperature: Number, reference: Number, viscosity_40: float, index: float = 100.0) -> Number:
    """Viscosity at a temperature over that at a reference temperature.

    Parameters
    ----------
    temperature : number, temperature, −40 to 150 °C [K]
    reference : number, temperature to compare with, −40 to 150 °C [K]
    viscosity_40 : float, kinematic viscosity at 40 °C [m²/s]
    index : float, viscosity index, 0 to 400 [-]

    Returns
    -------
    number, ratio; above 1 when colder than the reference [-]

    Raises
    ------
    ValueError : as ``kinematic_viscosity``

    Source
    ------
    [1] As ``kinematic_viscosity``.
    """
    there = kinematic_viscosity(temperature, viscosity_40, index)
    return there / kinematic_viscosity(reference, viscosity_40, index)


def viscosity_at_100(viscosity_40: float, index: float) -> float:
    """Kinematic viscosity at 100 °C of an oil with a given viscosity index; VI = 100·(L − U)/(L − H) solved for it.

    Parameters
    ----------
    viscosity_40 : float, kinematic viscosity at 40 °C, above 2e-6 [m²/s]
    index : float, viscosity index, 0 to 400 [-]

    Returns
    -------
    float, kinematic viscosity at 100 °C [m²/s]

    Raises
    ------
    ValueError : an argument outside its range, or an oil below 2 mm²/s at 100 °C, where the index is not defined

    Source
    ------
    [1] ASTM D2270, procedures A and B, solved by bisection; the table of L and H by quadratic fits (within 0.2 %).
        Above 100 VI = (10^N − 1)/0.00715 + 100 with N = log(H/U)/log Y.
    """
    positive(viscosity_40=viscosity_40)
    require((index >= _INDEX_RANGE[0]) & (index <= _INDEX_RANGE[1]), "viscosity index", index, "between 0 and 400")
    u = viscosity_40 / _MM2

    def at_40(y: float) -> float:
        low, high = _low_and_high(y)
        if index <= 100:
            return low - index / 100 * (low - high)
        return high / math.pow(y, math.log10(0.00715 * (index - 100) + 1))

    bottom, top = 2.0, _Y_MAX
    covered = at_40(bottom) <= u <= at_40(top)
    require(covered, "viscosity_40", viscosity_40, "that of an oil of 2 to 500 mm²/s at 100 °C")
    for _ in range(60):
        middle = (bottom + top) / 2
        if at_40(middle) < u:
            bottom = middle
        else:
            top = middle
    return (bottom + top) / 2 * _MM2


@lru_cache(maxsize=64)
def _line(viscosity_40: float, index: float) -> Walther:
    """Line of Walther of an oil; kept, because a model asks for the same oil again and again."""
    return walther_constants(viscosity_40, T_40, viscosity_at_100(viscosity_40, index), T_100)


def _low_and_high(y: float) -> tuple[float, float]:
    """L and H of ASTM D2270 in mm²/s for Y in mm²/s."""
    _, a, b, c, d, e, f = next(fit for fit in reversed(_LH_FITS) if y >= fit[0])
    return (a * y + b) * y + c, (d * y + e) * y + f


def _thick_enough(**viscosities: Number) -> None:
    for name, value in viscosities.items():
        require((value >= 2 * _MM2) & (value < math.inf), name, value, "2e-6 m²/s (2 mm²/s) or more")
