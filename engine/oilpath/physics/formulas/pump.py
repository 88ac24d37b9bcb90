"""Pumps: flow, displacement under a torque limit, power.

Flow    ``ideal_flow``, ``delivered_flow``
Torque  ``displacement_at_torque``
Power   ``hydraulic_power``
"""

from __future__ import annotations

from oilpath.physics.formulas._numbers import Number, finite, fraction, not_negative, positive


def ideal_flow(displacement: Number, speed: Number) -> Number:
    """Flow without leakage, Q = V·n.

    Parameters
    ----------
    displacement : number, displacement V, zero or more [m³/rev]
    speed : number, shaft speed n, negative for turning backward [rev/s]

    Returns
    -------
    number, flow [m³/s]

    Raises
    ------
    ValueError : displacement below zero

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.1.

    >>> round(ideal_flow(112e-6, 1900 / 60) * 60000, 1)
    212.8
    """
    not_negative(displacement=displacement)
    return displacement * speed


def delivered_flow(displacement: Number, speed: Number, volumetric_efficiency: Number) -> Number:
    """Flow that a pump delivers, Q = η_v·V·n.

    Parameters
    ----------
    displacement : number, displacement V, zero or more [m³/rev]
    speed : number, shaft speed n [rev/s]
    volumetric_efficiency : number, η_v, 0 < η_v ≤ 1 [-]

    Returns
    -------
    number, flow [m³/s]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.2.
    """
    fraction(volumetric_efficiency=volumetric_efficiency)
    return ideal_flow(displacement, speed) * volumetric_efficiency


def hydraulic_power(pressure: Number, flow: Number) -> Number:
    """Power of a flow under a pressure difference, P = Δp·Q; across a restriction it all turns to heat.

    Parameters
    ----------
    pressure : number, pressure difference Δp [Pa]
    flow : number, flow Q [m³/s]

    Returns
    -------
    number, power [W]

    Raises
    ------
    ValueError : an argument not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 3.15.
    """
    finite(pressure=pressure, flow=flow)
    return pressure * flow


def displacement_at_torque(torque: Number, pressure: Number) -> Number:
    """Displacement that a torque limit leaves at a pressure, V = 2π·T/Δp (no friction).

    Parameters
    ----------
    torque : number, torque over a whole turn 2π·T, which is displacement times pressure [N·m]
    pressure : number, pressure difference Δp, above zero [Pa]

    Returns
    -------
    number, displacement [m³/rev]

    Raises
    ------
    ValueError : a pressure that is not above zero

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.8, solved for the displacement.
    """
    positive(pressure=pressure)
    return torque / pressure
