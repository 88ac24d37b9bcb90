"""Cylinders that move: areas, time, flow, force.

Areas   ``cap_area``, ``annulus_area``, ``area_ratio``
Motion  ``stroke_time``, ``flow_for_time``
Force   ``force``

All are for one cylinder; for a pair working together multiply the area by two. *Cap* is the blind
end, *rod* the end where the rod comes out, *annulus* the area round the rod (ISO 5598).
"""

from __future__ import annotations

import math

from oilpath.physics.formulas._numbers import Number, finite, positive, rod_in_bore


def cap_area(bore: Number) -> Number:
    """Area of the piston on the cap side, A = π D²/4.

    Parameters
    ----------
    bore : number, inside diameter D of the barrel, above zero [m]

    Returns
    -------
    number, area [m²]

    Raises
    ------
    ValueError : bore not above zero

    Source
    ------
    [1] Area of a circle.

    >>> round(cap_area(0.100) * 1e4, 2)
    78.54
    """
    positive(bore=bore)
    return math.pi * bore * bore / 4


def annulus_area(bore: Number, rod: Number) -> Number:
    """Area of the piston on the rod side, A = π (D² − d²)/4.

    Parameters
    ----------
    bore : number, inside diameter D of the barrel [m]
    rod : number, diameter d of the rod, 0 < d < D [m]

    Returns
    -------
    number, area [m²]

    Raises
    ------
    ValueError : a diameter not above zero, or a rod that is not thinner than the bore

    Source
    ------
    [1] Area of a ring.
    """
    rod_in_bore(bore, rod)
    return math.pi * (bore - rod) * (bore + rod) / 4


def area_ratio(bore: Number, rod: Number) -> Number:
    """Ratio of the cap area to the annulus area, φ = D²/(D² − d²), above 1.

    Parameters
    ----------
    bore : number, inside diameter D of the barrel [m]
    rod : number, diameter d of the rod, 0 < d < D [m]

    Returns
    -------
    number, ratio [-]

    Raises
    ------
    ValueError : a diameter not above zero, or a rod that is not thinner than the bore

    Source
    ------
    [1] Ratio of the two areas above.
    """
    rod_in_bore(bore, rod)
    return bore * bore / ((bore - rod) * (bore + rod))


def stroke_time(area: Number, stroke: Number, flow: Number) -> Number:
    """Time for a stroke at constant flow, t = A·s/Q (no cushioning, no leakage).

    Parameters
    ----------
    area : number, area A of the side that is filled, above zero [m²]
    stroke : number, distance s, above zero [m]
    flow : number, flow Q, above zero [m³/s]

    Returns
    -------
    number, time [s]

    Raises
    ------
    ValueError : an argument not above zero

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 3.8 (conservation of volume).

    >>> round(stroke_time(0.01, 1.2, 0.003), 3)
    4.0
    """
    positive(area=area, stroke=stroke, flow=flow)
    return area * stroke / flow


def flow_for_time(area: Number, stroke: Number, time: Number) -> Number:
    """Mean flow that a cylinder took during a timed stroke, Q = A·s/t.

    Parameters
    ----------
    area : number, area A of the side that is filled, above zero [m²]
    stroke : number, distance s, above zero [m]
    time : number, time t of the stroke, above zero [s]

    Returns
    -------
    number, flow [m³/s]

    Raises
    ------
    ValueError : an argument not above zero

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 3.8 (conservation of volume).
    """
    positive(area=area, stroke=stroke, time=time)
    return area * stroke / time


def force(pressure: Number, area: Number) -> Number:
    """Force of a pressure on an area, F = p·A (no friction).

    Parameters
    ----------
    pressure : number, gauge pressure p [Pa]
    area : number, area A, above zero [m²]

    Returns
    -------
    number, force [N]

    Raises
    ------
    ValueError : area not above zero, pressure not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 3.13 (Pascal's law).
    """
    positive(area=area)
    finite(pressure=pressure)
    return pressure * area
