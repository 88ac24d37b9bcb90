"""Pumps and motors: flow, torque, efficiencies, power.

Flow         ``ideal_flow``, ``delivered_flow``, ``internal_leakage``, ``motor_speed``
Torque       ``ideal_torque``, ``pump_torque``, ``motor_torque``, ``displacement_at_torque``
Efficiency   ``pump_volumetric_efficiency``, ``motor_volumetric_efficiency``,
             ``pump_torque_efficiency``, ``motor_torque_efficiency``, ``overall_efficiency``
Power        ``hydraulic_power``, ``shaft_power``, ``torque_for_power``

An efficiency is returned as it comes out: above 1 says that a reading is wrong. The split of a
pump's overall efficiency into volumetric and hydro-mechanical is textbook usage.
"""

from __future__ import annotations

import math

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
    ValueError : displacement below zero, speed not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.1.

    >>> round(ideal_flow(112e-6, 1900 / 60) * 60000, 1)
    212.8
    """
    not_negative(displacement=displacement)
    finite(speed=speed)
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


def internal_leakage(flow: Number, displacement: Number, speed: Number) -> Number:
    """Flow that a pump loses inside, V·n − Q. Not all of it need come out of the case drain.

    Parameters
    ----------
    flow : number, flow Q at the outlet, zero or more [m³/s]
    displacement : number, displacement V in use, zero or more [m³/rev]
    speed : number, shaft speed n [rev/s]

    Returns
    -------
    number, leakage; below zero says that a reading is wrong [m³/s]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] Definition; derived.
    """
    not_negative(flow=flow)
    return ideal_flow(displacement, speed) - flow


def motor_speed(flow: Number, displacement: Number, volumetric_efficiency: Number) -> Number:
    """Speed of a motor, n = η_v·Q/V.

    Parameters
    ----------
    flow : number, flow Q into the motor [m³/s]
    displacement : number, displacement V, above zero [m³/rev]
    volumetric_efficiency : number, η_v, 0 < η_v ≤ 1 [-]

    Returns
    -------
    number, shaft speed [rev/s]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 7.2 and Ex 9.5.
    """
    finite(flow=flow)
    positive(displacement=displacement)
    fraction(volumetric_efficiency=volumetric_efficiency)
    return flow * volumetric_efficiency / displacement


def ideal_torque(displacement: Number, pressure: Number) -> Number:
    """Torque without friction, T = V·Δp/(2π).

    Parameters
    ----------
    displacement : number, displacement V, zero or more [m³/rev]
    pressure : number, pressure difference Δp between the ports [Pa]

    Returns
    -------
    number, torque [N·m]

    Raises
    ------
    ValueError : displacement below zero, pressure not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.8.
    """
    not_negative(displacement=displacement)
    finite(pressure=pressure)
    return displacement * pressure / (2 * math.pi)


def pump_torque(displacement: Number, pressure: Number, torque_efficiency: Number) -> Number:
    """Torque that a pump takes from its shaft, T = V·Δp/(2π·η_hm).

    Parameters
    ----------
    displacement : number, displacement V, zero or more [m³/rev]
    pressure : number, pressure difference Δp between the ports [Pa]
    torque_efficiency : number, hydro-mechanical efficiency η_hm, 0 < η_hm ≤ 1 [-]

    Returns
    -------
    number, torque [N·m]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.9.
    """
    fraction(torque_efficiency=torque_efficiency)
    return ideal_torque(displacement, pressure) / torque_efficiency


def motor_torque(displacement: Number, pressure: Number, torque_efficiency: Number) -> Number:
    """Torque that a motor gives to its shaft, T = η_hm·V·Δp/(2π).

    Parameters
    ----------
    displacement : number, displacement V, zero or more [m³/rev]
    pressure : number, pressure difference Δp between the ports [Pa]
    torque_efficiency : number, hydro-mechanical efficiency η_hm, 0 < η_hm ≤ 1 [-]

    Returns
    -------
    number, torque [N·m]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 7.7.
    """
    fraction(torque_efficiency=torque_efficiency)
    return ideal_torque(displacement, pressure) * torque_efficiency


def displacement_at_torque(torque: Number, pressure: Number) -> Number:
    """Displacement that a torque limit leaves at a pressure, V = 2π·T/Δp (no friction).

    Parameters
    ----------
    torque : number, torque T at the limit, zero or more [N·m]
    pressure : number, pressure difference Δp, above zero [Pa]

    Returns
    -------
    number, displacement [m³/rev]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] ``ideal_torque`` solved for the displacement; derived.
    """
    not_negative(torque=torque)
    positive(pressure=pressure)
    return torque * (2 * math.pi) / pressure


def pump_volumetric_efficiency(flow: Number, displacement: Number, speed: Number) -> Number:
    """Volumetric efficiency of a pump, η_v = Q/(V·n).

    Parameters
    ----------
    flow : number, flow Q at the outlet, zero or more [m³/s]
    displacement : number, displacement V, above zero [m³/rev]
    speed : number, shaft speed n, above zero [rev/s]

    Returns
    -------
    number, efficiency, not clipped [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.1; quantity as in ISO 4391.
    """
    not_negative(flow=flow)
    positive(displacement=displacement, speed=speed)
    return flow / (displacement * speed)


def motor_volumetric_efficiency(flow: Number, displacement: Number, speed: Number) -> Number:
    """Volumetric efficiency of a motor, η_v = V·n/Q.

    Parameters
    ----------
    flow : number, flow Q into the motor, above zero [m³/s]
    displacement : number, displacement V, above zero [m³/rev]
    speed : number, shaft speed n, zero or more [rev/s]

    Returns
    -------
    number, efficiency, not clipped [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 7.3; quantity as in ISO 4391.
    """
    positive(flow=flow, displacement=displacement)
    not_negative(speed=speed)
    return displacement * speed / flow


def pump_torque_efficiency(torque: Number, displacement: Number, pressure: Number) -> Number:
    """Hydro-mechanical efficiency of a pump, η_hm = V·Δp/(2π·T).

    Parameters
    ----------
    torque : number, torque T on the shaft, above zero [N·m]
    displacement : number, displacement V, above zero [m³/rev]
    pressure : number, pressure difference Δp, zero or more [Pa]

    Returns
    -------
    number, efficiency, not clipped [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.8.
    """
    positive(torque=torque, displacement=displacement)
    not_negative(pressure=pressure)
    return ideal_torque(displacement, pressure) / torque


def motor_torque_efficiency(torque: Number, displacement: Number, pressure: Number) -> Number:
    """Hydro-mechanical efficiency of a motor, η_hm = 2π·T/(V·Δp).

    Parameters
    ----------
    torque : number, torque T on the shaft, zero or more [N·m]
    displacement : number, displacement V, above zero [m³/rev]
    pressure : number, pressure difference Δp, above zero [Pa]

    Returns
    -------
    number, efficiency, not clipped [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 7.3; quantity as in ISO 4391.
    """
    not_negative(torque=torque)
    positive(displacement=displacement, pressure=pressure)
    return torque / ideal_torque(displacement, pressure)


def overall_efficiency(volumetric_efficiency: Number, torque_efficiency: Number) -> Number:
    """Overall efficiency of a pump or a motor, η = η_v·η_hm.

    Parameters
    ----------
    volumetric_efficiency : number, η_v, zero or more [-]
    torque_efficiency : number, hydro-mechanical efficiency η_hm, zero or more [-]

    Returns
    -------
    number, efficiency [-]

    Raises
    ------
    ValueError : an efficiency below zero

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 5.8.
    """
    not_negative(volumetric_efficiency=volumetric_efficiency, torque_efficiency=torque_efficiency)
    return volumetric_efficiency * torque_efficiency


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


def shaft_power(torque: Number, speed: Number) -> Number:
    """Power of a turning shaft, P = 2π·n·T.

    Parameters
    ----------
    torque : number, torque T [N·m]
    speed : number, shaft speed n [rev/s]

    Returns
    -------
    number, power [W]

    Raises
    ------
    ValueError : an argument not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 7.3.
    """
    finite(torque=torque, speed=speed)
    return torque * speed * (2 * math.pi)


def torque_for_power(power: Number, speed: Number) -> Number:
    """Torque of a shaft that carries a power, T = P/(2π·n).

    Parameters
    ----------
    power : number, power P [W]
    speed : number, shaft speed n, above zero [rev/s]

    Returns
    -------
    number, torque [N·m]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 3.16.
    """
    finite(power=power)
    positive(speed=speed)
    return power / (speed * (2 * math.pi))
