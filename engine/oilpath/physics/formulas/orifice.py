"""What flows through sharp-edged orifices and narrow clearances.

Each     ``orifice_flow``, ``laminar_leakage``
Together ``held_pressure``

An orifice cares for density and the square root of pressure, a clearance for viscosity and pressure: that is why
leakage shows hot and under load, and why a leakage result carries its oil temperature.
"""

from __future__ import annotations

from oilpath.physics.formulas._numbers import Number, not_negative, positive, root


def orifice_flow(coefficient: Number, pressure_drop: Number) -> Number:
    """Turbulent flow through an orifice or a valve, Q = C·√Δp.

    A sharp-edged opening A with discharge coefficient C_d has C = C_d·A·√(2/ρ), a valve of flow coefficient C_v has
    C = C_v/√S, S the density over that of water.

    Range: turbulent flow, no cavitation; below a Reynolds number of some hundreds C falls.

    Parameters
    ----------
    coefficient : number, flow coefficient C, the density in it [m³/s/Pa^½]
    pressure_drop : number, pressure difference Δp, zero or more [Pa]

    Returns
    -------
    number, flow [m³/s]

    Raises
    ------
    ValueError : a pressure difference below zero

    Source
    ------
    [1] M. G. Rabie, Fluid Power Engineering, eq 2.36 to 2.39.
    [2] A. Esposito, Fluid Power with Applications, Ex 8.4 and 8.5.
    """
    not_negative(pressure_drop=pressure_drop)
    return coefficient * root(pressure_drop)


def laminar_leakage(conductance: Number, pressure_drop: Number | float, viscosity: Number) -> Number:
    """Laminar flow through a gap or a pipe, Q = k·Δp/μ.

    k is π·D·c³/(12·L)·(1 + 1.5·ε²) for the ring gap c round a piston D of length L at eccentricity ε, and π·D⁴/(128·L)
    for a round pipe. With viscosity and pressure as shares of usual ones, k is the flow at the usual ones.

    Parameters
    ----------
    conductance : number, k of the gap [m³]
    pressure_drop : number, pressure difference Δp [Pa]
    viscosity : number, dynamic viscosity μ, above zero [Pa·s]

    Returns
    -------
    number, flow, with the sign of the pressure difference [m³/s]

    Raises
    ------
    ValueError : a viscosity that is not above zero

    Source
    ------
    [1] M. G. Rabie, Fluid Power Engineering, eq 2.19; law of Hagen and Poiseuille for pipes.
    """
    positive(viscosity=viscosity)
    return conductance * pressure_drop / viscosity


def held_pressure(flow: Number, leakage: Number, coefficient: Number) -> Number:
    """Pressure that a flow can hold against a laminar leak and an orifice at once: p of k·p + C·√p = Q.

    Parameters
    ----------
    flow : number, flow Q, zero or more [m³/s]
    leakage : number, laminar leakage by pressure k, above zero [m³/s/Pa]
    coefficient : number, flow coefficient C of the orifice, zero or more; its density is in it [m³/s/Pa^½]

    Returns
    -------
    number, pressure [Pa]

    Raises
    ------
    ValueError : a leakage that is not above zero

    Source
    ------
    [1] ``laminar_leakage`` and ``orifice_flow`` together, a quadratic equation in √p; derived.
    """
    positive(leakage=leakage)
    found: Number = (-coefficient + root(coefficient * coefficient + 4 * leakage * flow)) / (2 * leakage)
    return found * found
