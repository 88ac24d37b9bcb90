"""Valves: flow coefficient, metering a cylinder, direct relief valves.

Coefficient  ``valve_coefficient``, ``valve_flow``, ``valve_drop``; ``US_COEFFICIENT``, ``METRIC_COEFFICIENT``
Metering     ``meter_in_speed``, ``meter_out_pressure``
Relief       ``spring_pressure``, ``pressure_override``
"""

from __future__ import annotations

import math

from oilpath.physics.formulas._numbers import Number, finite, not_negative, positive, require, signed_root

# A coefficient is a flow at a unit of pressure difference with water; both in m³/s/Pa^½.
US_COEFFICIENT = 231 * 0.0254**3 / 60 / math.sqrt(6894.757293168)
"""C_v of 1: one US gallon a minute at one psi [m³/s/Pa^½]"""
METRIC_COEFFICIENT = 1 / 3600 / math.sqrt(1e5)
"""K_v of 1: one cubic metre an hour at one bar [m³/s/Pa^½]"""


def valve_coefficient(flow: Number, pressure_drop: Number, relative_density: Number) -> Number:
    """Flow coefficient of a valve, C_v = Q/√(Δp/S).

    Divide by ``US_COEFFICIENT`` for the figure of US data sheets, by ``METRIC_COEFFICIENT`` for that of metric ones.

    Parameters
    ----------
    flow : number, flow Q, zero or more [m³/s]
    pressure_drop : number, pressure difference Δp, above zero [Pa]
    relative_density : number, density over that of water S, above zero [-]

    Returns
    -------
    number, coefficient [m³/s/Pa^½]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 8.5.
    """
    not_negative(flow=flow)
    positive(pressure_drop=pressure_drop, relative_density=relative_density)
    return flow / signed_root(pressure_drop / relative_density)


def valve_flow(coefficient: Number, pressure_drop: Number, relative_density: Number) -> Number:
    """Flow through a valve, Q = C_v·√(Δp/S), odd in Δp.

    Range: turbulent flow, no cavitation.

    Parameters
    ----------
    coefficient : number, coefficient C_v, zero or more [m³/s/Pa^½]
    pressure_drop : number, pressure difference Δp [Pa]
    relative_density : number, density over that of water S, above zero [-]

    Returns
    -------
    number, flow, with the sign of the pressure difference [m³/s]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 8.5.
    """
    not_negative(coefficient=coefficient)
    finite(pressure_drop=pressure_drop)
    positive(relative_density=relative_density)
    return coefficient * signed_root(pressure_drop / relative_density)


def valve_drop(coefficient: Number, flow: Number, relative_density: Number) -> Number:
    """Pressure difference across a valve, Δp = S·(Q/C_v)², with the sign of the flow.

    Parameters
    ----------
    coefficient : number, coefficient C_v, above zero [m³/s/Pa^½]
    flow : number, flow Q [m³/s]
    relative_density : number, density over that of water S, above zero [-]

    Returns
    -------
    number, pressure difference [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] ``valve_flow`` solved for the pressure difference.
    """
    positive(coefficient=coefficient, relative_density=relative_density)
    finite(flow=flow)
    return relative_density * (flow / coefficient) * abs(flow / coefficient)


def meter_in_speed(
    coefficient: Number, pressure: Number, load: Number, area: Number, relative_density: Number
) -> Number:
    """Speed of a cylinder whose inlet is throttled, v = C_v/A·√((p − F/A)/S); the far side empties freely.

    Parameters
    ----------
    coefficient : number, coefficient C_v of the throttle, zero or more [m³/s/Pa^½]
    pressure : number, gauge pressure p before the throttle (the relief's setting) [Pa]
    load : number, force F against the movement, less than p·A [N]
    area : number, area A of the side that is filled, above zero [m²]
    relative_density : number, density over that of water S, above zero [-]

    Returns
    -------
    number, speed [m/s]

    Raises
    ------
    ValueError : an argument outside its range, a load that the pressure does not move

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 9.4.
    """
    positive(area=area)
    finite(pressure=pressure, load=load)
    left = pressure - load / area
    require(left > 0, "load", load, "less than pressure times area")
    return valve_flow(coefficient, left, relative_density) / area


def meter_out_pressure(pressure: Number, load: Number, area_in: Number, area_out: Number) -> Number:
    """Pressure before a throttle in the outlet, p₂ = (p·A_in − F)/A_out; a load that pulls has F below zero.

    Parameters
    ----------
    pressure : number, gauge pressure p on the side that is filled [Pa]
    load : number, force F against the movement, negative where it pulls along [N]
    area_in : number, area that is filled, above zero [m²]
    area_out : number, area that is emptied, above zero [m²]

    Returns
    -------
    number, gauge pressure before the throttle, which must bear it [Pa]

    Raises
    ------
    ValueError : an area not above zero, a figure not finite

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 8.6 (balance of forces).
    """
    positive(area_in=area_in, area_out=area_out)
    finite(pressure=pressure, load=load)
    return (pressure * area_in - load) / area_out


def spring_pressure(spring_rate: Number, deflection: Number, area: Number) -> Number:
    """Pressure that a poppet's spring holds, p = k·x/A: at the preload it cracks, with the lift added it is fully open.

    Parameters
    ----------
    spring_rate : number, rate k of the spring, above zero [N/m]
    deflection : number, deflection x of the spring, zero or more [m]
    area : number, area A under pressure, above zero [m²]

    Returns
    -------
    number, gauge pressure [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 8.1.
    """
    positive(spring_rate=spring_rate, area=area)
    not_negative(deflection=deflection)
    return spring_rate * deflection / area


def pressure_override(cracking: Number, full_flow: Number) -> Number:
    """Rise of a relief valve's pressure from cracking to full flow as a share of cracking, (p_full − p_crack)/p_crack.

    Parameters
    ----------
    cracking : number, cracking pressure, above zero [Pa]
    full_flow : number, pressure at full flow, at least the cracking pressure [Pa]

    Returns
    -------
    number, override [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 8.1.
    """
    positive(cracking=cracking, full_flow=full_flow)
    require(full_flow >= cracking, "full_flow", full_flow, f"at least the cracking pressure ({cracking})")
    return (full_flow - cracking) / cracking
