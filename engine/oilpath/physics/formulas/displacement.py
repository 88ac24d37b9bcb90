"""Displacement of a pump or motor from its geometry, as measured on the part.

``gear_displacement``, ``vane_displacement``, ``axial_piston_displacement``, ``swash_angle``

Textbook idealisations: teeth, vanes and ports take nothing away. Data sheets lie some per cent beside them.
"""

from __future__ import annotations

import math

from oilpath.physics.formulas._numbers import Number, not_negative, positive, require


def gear_displacement(outside: Number, inside: Number, width: Number) -> Number:
    """Displacement of an external gear pump, V = π/4·(D_o² − D_i²)·b.

    Parameters
    ----------
    outside : number, diameter D_o over the teeth, above the inside one [m]
    inside : number, diameter D_i at the roots of the teeth, above zero [m]
    width : number, width b of the teeth, above zero [m]

    Returns
    -------
    number, displacement [m³/rev]

    Raises
    ------
    ValueError : an argument not above zero, an inside diameter that is not below the outside one

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.1 and 5.2.
    """
    positive(outside=outside, inside=inside, width=width)
    require(inside < outside, "inside", inside, f"below the outside diameter ({outside})")
    return math.pi / 4 * (outside - inside) * (outside + inside) * width


def vane_displacement(rotor: Number, ring: Number, width: Number, eccentricity: Number) -> Number:
    """Displacement of an unbalanced vane pump, V = π/2·(D_ring + D_rotor)·e·b.

    Parameters
    ----------
    rotor : number, diameter of the rotor, above zero [m]
    ring : number, inside diameter of the cam ring, above that of the rotor [m]
    width : number, width b of the rotor, above zero [m]
    eccentricity : number, eccentricity e, zero to half the difference of the diameters [m]

    Returns
    -------
    number, displacement [m³/rev]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.4.
    """
    positive(rotor=rotor, ring=ring, width=width)
    not_negative(eccentricity=eccentricity)
    require(rotor < ring, "rotor", rotor, f"smaller than the ring ({ring})")
    require(eccentricity <= (ring - rotor) / 2, "eccentricity", eccentricity, "at most half the gap")
    return math.pi / 2 * (ring + rotor) * eccentricity * width


def axial_piston_displacement(pistons: int, bore: Number, pitch_circle: Number, angle: Number) -> Number:
    """Displacement of an axial piston pump or motor, V = z·π/4·d²·D·tan(θ).

    Parameters
    ----------
    pistons : int, count z of the pistons, 3 or more [-]
    bore : number, diameter d of a piston, above zero [m]
    pitch_circle : number, diameter D of the circle on which the pistons stand, above zero [m]
    angle : number, angle θ of the swash plate, 0 to 0.7 [rad]

    Returns
    -------
    number, displacement [m³/rev]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.6 and 5.7.
    """
    _pistons(pistons, bore, pitch_circle)
    require((angle >= 0) & (angle <= 0.7), "angle", angle, "between 0 and 0.7 rad")
    slope: Number
    if isinstance(angle, (int, float)):
        slope = math.tan(angle)
    else:
        import numpy as np

        slope = np.tan(angle)
    return pistons * math.pi / 4 * bore * bore * pitch_circle * slope


def swash_angle(displacement: float, pistons: int, bore: float, pitch_circle: float) -> float:
    """Angle of the swash plate that gives a displacement, θ = atan(4·V/(z·π·d²·D)).

    Parameters
    ----------
    displacement : float, displacement V, zero or more [m³/rev]
    pistons : int, count z of the pistons, 3 or more [-]
    bore : float, diameter d of a piston, above zero [m]
    pitch_circle : float, diameter D of the circle on which the pistons stand, above zero [m]

    Returns
    -------
    float, angle; above 0.35 rad (20 degrees) the figures hardly belong to one machine [rad]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.6.
    """
    _pistons(pistons, bore, pitch_circle)
    not_negative(displacement=displacement)
    return math.atan(4 * displacement / (pistons * math.pi * bore * bore * pitch_circle))


def _pistons(pistons: int, bore: Number, pitch_circle: Number) -> None:
    require(pistons >= 3, "pistons", pistons, "3 or more")
    positive(bore=bore, pitch_circle=pitch_circle)
