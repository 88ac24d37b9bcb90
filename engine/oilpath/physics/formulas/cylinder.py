"""Cylinders that move: areas, speed, force, regeneration.

Areas       ``cap_area``, ``rod_area``, ``annulus_area``, ``area_ratio``
Motion      ``speed``, ``stroke_time``, ``flow_for_time``, ``return_flow``
Force       ``force``, ``net_force``, ``pressure_for_force``, ``intensified_pressure``
Regenerate  ``regeneration_speed``, ``regeneration_force``

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


def rod_area(rod: Number) -> Number:
    """Area of the rod's cross-section, A = π d²/4.

    Parameters
    ----------
    rod : number, diameter d of the rod, above zero [m]

    Returns
    -------
    number, area [m²]

    Raises
    ------
    ValueError : rod not above zero

    Source
    ------
    [1] Area of a circle.
    """
    positive(rod=rod)
    return math.pi * rod * rod / 4


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


def speed(flow: Number, area: Number) -> Number:
    """Speed of the piston when a flow fills an area, v = Q/A (no leakage).

    Parameters
    ----------
    flow : number, flow Q into the side, negative for out of it [m³/s]
    area : number, area A of that side, above zero [m²]

    Returns
    -------
    number, speed [m/s]

    Raises
    ------
    ValueError : area not above zero, flow not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 6.1 (conservation of volume).
    """
    positive(area=area)
    finite(flow=flow)
    return flow / area


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


def return_flow(flow: Number, area_in: Number, area_out: Number) -> Number:
    """Flow that leaves the far side while a flow enters the near one, Q_out = Q·A_out/A_in.

    Parameters
    ----------
    flow : number, flow Q into the near side [m³/s]
    area_in : number, area that is filled, above zero [m²]
    area_out : number, area that is emptied, above zero [m²]

    Returns
    -------
    number, flow out of the far side [m³/s]

    Raises
    ------
    ValueError : an area not above zero, flow not finite

    Source
    ------
    [1] Both sides move at the same speed Q/A.
    """
    positive(area_in=area_in, area_out=area_out)
    finite(flow=flow)
    return flow * area_out / area_in


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


def net_force(cap_pressure: Number, rod_pressure: Number, bore: Number, rod: Number) -> Number:
    """Force that pushes the rod out, F = p_cap·A_cap − p_rod·A_annulus (no friction).

    Parameters
    ----------
    cap_pressure : number, gauge pressure on the cap side [Pa]
    rod_pressure : number, gauge pressure on the rod side [Pa]
    bore : number, inside diameter of the barrel [m]
    rod : number, diameter of the rod, thinner than the bore [m]

    Returns
    -------
    number, force, positive when it extends the rod [N]

    Raises
    ------
    ValueError : wrong diameters, a pressure not finite

    Source
    ------
    [1] Balance of forces on the piston.
    """
    finite(cap_pressure=cap_pressure, rod_pressure=rod_pressure)
    return cap_pressure * cap_area(bore) - rod_pressure * annulus_area(bore, rod)


def pressure_for_force(force: Number, area: Number) -> Number:
    """Pressure that carries a force on an area, p = F/A (no friction).

    Parameters
    ----------
    force : number, force F [N]
    area : number, area A, above zero [m²]

    Returns
    -------
    number, gauge pressure [Pa]

    Raises
    ------
    ValueError : area not above zero, force not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 6.1.
    """
    positive(area=area)
    finite(force=force)
    return force / area


def intensified_pressure(pressure: Number, driving_area: Number, driven_area: Number) -> Number:
    """Pressure that builds on a closed side, p₂ = p₁·A₁/A₂ (no load, no friction).

    With the rod side blocked and pressure on the cap side, the rod side rises by the area ratio.

    Parameters
    ----------
    pressure : number, gauge pressure p₁ on the driving side [Pa]
    driving_area : number, area A₁ under p₁, above zero [m²]
    driven_area : number, area A₂ of the closed side, above zero [m²]

    Returns
    -------
    number, gauge pressure on the closed side [Pa]

    Raises
    ------
    ValueError : an area not above zero, pressure not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 11.1 (pressure intensifier).
    """
    positive(driving_area=driving_area, driven_area=driven_area)
    finite(pressure=pressure)
    return pressure * driving_area / driven_area


def regeneration_speed(flow: Number, rod: Number) -> Number:
    """Speed of extending while the rod side's oil is led back to the cap side, v = Q/A_rod.

    The pump has to fill only the volume of the rod that leaves the barrel.

    Parameters
    ----------
    flow : number, flow Q of the pump [m³/s]
    rod : number, diameter of the rod, above zero [m]

    Returns
    -------
    number, speed [m/s]

    Raises
    ------
    ValueError : rod not above zero, flow not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 9.1 (regenerative circuit).
    """
    finite(flow=flow)
    return flow / rod_area(rod)


def regeneration_force(pressure: Number, rod: Number) -> Number:
    """Force of extending in regeneration, F = p·A_rod (equal pressure on both sides).

    Parameters
    ----------
    pressure : number, gauge pressure p, the same on both sides [Pa]
    rod : number, diameter of the rod, above zero [m]

    Returns
    -------
    number, force [N]

    Raises
    ------
    ValueError : rod not above zero, pressure not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 9.1 (regenerative circuit).
    """
    finite(pressure=pressure)
    return pressure * rod_area(rod)
