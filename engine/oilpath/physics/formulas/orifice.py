"""Flow through orifices, narrow clearances and pipes.

Orifice    ``orifice_flow``, ``orifice_drop``, ``orifice_area``; valves: ``valve``
Clearance  ``clearance_flow``, ``leakage_ratio``
Pipe       ``pipe_drop``, ``pipe_flow``, ``wall_shear``, ``reynolds_number``

An orifice cares for density and the square root of pressure, a clearance for viscosity, pressure and
the cube of the gap: that is why leakage shows hot and under load, and why a leakage result carries
its oil temperature.
"""

from __future__ import annotations

import math

from oilpath.physics.formulas._numbers import Number, finite, not_negative, positive, require, signed_root

SHARP_EDGED = math.pi / (math.pi + 2)  # [-] ideal discharge coefficient of a sharp edge, 0.611
LAMINAR_LIMIT = 2300.0  # [-] Reynolds number up to which pipe flow is taken as laminar


def orifice_flow(area: Number, pressure_drop: Number, density: Number, coefficient: float = SHARP_EDGED) -> Number:
    """Turbulent flow through a sharp-edged orifice, Q = C_d·A·√(2·Δp/ρ), odd in Δp.

    Range: turbulent flow, no cavitation; below a Reynolds number of some hundreds C_d falls.

    Parameters
    ----------
    area : number, area A of the opening, zero or more [m²]
    pressure_drop : number, pressure difference Δp [Pa]
    density : number, density ρ, above zero [kg/m³]
    coefficient : float, discharge coefficient C_d, 0 < C_d ≤ 1, 0.60 to 0.65 for round sharp edges [-]

    Returns
    -------
    number, flow, with the sign of the pressure difference [m³/s]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] M. G. Rabie, Fluid Power Engineering, eq 2.36 to 2.39.
    [2] A. Esposito, Fluid Power with Applications, Ex 8.4.
    """
    not_negative(area=area)
    finite(pressure_drop=pressure_drop)
    positive(density=density)
    _coefficient(coefficient)
    return coefficient * area * signed_root(2 * pressure_drop / density)


def orifice_drop(area: Number, flow: Number, density: Number, coefficient: float = SHARP_EDGED) -> Number:
    """Pressure difference across an orifice, Δp = ρ/2·(Q/(C_d·A))², with the sign of the flow.

    Parameters
    ----------
    area : number, area A of the opening, above zero [m²]
    flow : number, flow Q [m³/s]
    density : number, density ρ, above zero [kg/m³]
    coefficient : float, discharge coefficient C_d, 0 < C_d ≤ 1 [-]

    Returns
    -------
    number, pressure difference [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] ``orifice_flow`` solved for the pressure difference.
    """
    positive(area=area, density=density)
    finite(flow=flow)
    _coefficient(coefficient)
    jet = flow / (coefficient * area)
    return density / 2 * jet * abs(jet)


def orifice_area(flow: Number, pressure_drop: Number, density: Number, coefficient: float = SHARP_EDGED) -> Number:
    """Opening that passes a flow, A = Q/(C_d·√(2·Δp/ρ)).

    Parameters
    ----------
    flow : number, flow Q, zero or more [m³/s]
    pressure_drop : number, pressure difference Δp, above zero [Pa]
    density : number, density ρ, above zero [kg/m³]
    coefficient : float, discharge coefficient C_d, 0 < C_d ≤ 1 [-]

    Returns
    -------
    number, area [m²]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] ``orifice_flow`` solved for the area.
    """
    not_negative(flow=flow)
    positive(pressure_drop=pressure_drop, density=density)
    _coefficient(coefficient)
    return flow / (coefficient * signed_root(2 * pressure_drop / density))


def clearance_flow(
    diameter: Number,
    gap: Number,
    length: Number,
    pressure_drop: Number,
    viscosity: Number,
    eccentricity: float = 0.0,
) -> Number:
    """Laminar leakage through the ring gap round a piston or spool, Q = π·D·c³·Δp/(12·μ·L)·(1 + 1.5·ε²).

    Range: gap at most a tenth of the diameter; laminar.

    Parameters
    ----------
    diameter : number, diameter D, above zero [m]
    gap : number, radial gap c when centred, zero or more, at most D/10 [m]
    length : number, length L of the gap along the flow, above zero [m]
    pressure_drop : number, pressure difference Δp [Pa]
    viscosity : number, dynamic viscosity μ, above zero [Pa·s]
    eccentricity : float, offset of the centres over the gap ε, 0 centred to 1 touching [-]

    Returns
    -------
    number, flow, with the sign of the pressure difference [m³/s]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] M. G. Rabie, Fluid Power Engineering, eq 2.19.
    [2] Factor for eccentricity, 2.5 when touching: standard result for a ring gap.
    """
    positive(diameter=diameter, length=length, viscosity=viscosity)
    not_negative(gap=gap)
    require(gap <= diameter / 10, "gap", gap, f"at most a tenth of the diameter ({diameter})")
    finite(pressure_drop=pressure_drop)
    require((eccentricity >= 0) & (eccentricity <= 1), "eccentricity", eccentricity, "between 0 and 1")
    centred = math.pi * diameter * gap * gap * gap * pressure_drop / (12 * viscosity * length)
    return centred * (1 + 1.5 * eccentricity * eccentricity)


def leakage_ratio(gap_ratio: Number, pressure_ratio: Number, viscosity_ratio: Number) -> Number:
    """How a laminar leakage changes, Q₂/Q₁ = (c₂/c₁)³·(Δp₂/Δp₁)/(μ₂/μ₁).

    Parameters
    ----------
    gap_ratio : number, new gap over old, zero or more [-]
    pressure_ratio : number, new pressure difference over old, zero or more [-]
    viscosity_ratio : number, new dynamic viscosity over old, above zero [-]

    Returns
    -------
    number, new leakage over old [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] M. G. Rabie, Fluid Power Engineering, eq 2.19, as a ratio.
    """
    not_negative(gap_ratio=gap_ratio, pressure_ratio=pressure_ratio)
    positive(viscosity_ratio=viscosity_ratio)
    return gap_ratio * gap_ratio * gap_ratio * pressure_ratio / viscosity_ratio


def reynolds_number(speed: Number, diameter: Number, kinematic_viscosity: Number) -> Number:
    """Reynolds number of a round pipe, Re = v·D/ν (for a gap take the gap or twice the gap as D).

    Parameters
    ----------
    speed : number, mean speed v, zero or more [m/s]
    diameter : number, diameter D, above zero [m]
    kinematic_viscosity : number, kinematic viscosity ν, above zero [m²/s]

    Returns
    -------
    number, Reynolds number [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 4.1.
    """
    not_negative(speed=speed)
    positive(diameter=diameter, kinematic_viscosity=kinematic_viscosity)
    return speed * diameter / kinematic_viscosity


def pipe_drop(flow: Number, diameter: Number, length: Number, viscosity: Number, density: Number) -> Number:
    """Pressure loss of laminar flow in a straight pipe, Δp = 128·μ·L·Q/(π·D⁴).

    Range: Reynolds number up to 2300; a higher one raises.

    Parameters
    ----------
    flow : number, flow Q [m³/s]
    diameter : number, inside diameter D, above zero [m]
    length : number, length L, zero or more [m]
    viscosity : number, dynamic viscosity μ, above zero [Pa·s]
    density : number, density ρ, above zero; only for the Reynolds number [kg/m³]

    Returns
    -------
    number, pressure loss, with the sign of the flow [Pa]

    Raises
    ------
    ValueError : an argument outside its range, or flow that is not laminar

    Source
    ------
    [1] Law of Hagen and Poiseuille; A. Esposito, Fluid Power with Applications, Ex 4.3.
    """
    finite(flow=flow)
    positive(diameter=diameter, viscosity=viscosity, density=density)
    not_negative(length=length)
    reynolds = 4 * abs(flow) * density / (math.pi * diameter * viscosity)
    _laminar(reynolds)
    return 128 * viscosity * length * flow / (math.pi * diameter**4)


def pipe_flow(pressure_drop: Number, diameter: Number, length: Number, viscosity: Number, density: Number) -> Number:
    """Laminar flow that a pressure difference drives through a straight pipe, Q = π·D⁴·Δp/(128·μ·L).

    Range: Reynolds number up to 2300; a higher one raises.

    Parameters
    ----------
    pressure_drop : number, pressure difference Δp [Pa]
    diameter : number, inside diameter D, above zero [m]
    length : number, length L, above zero [m]
    viscosity : number, dynamic viscosity μ, above zero [Pa·s]
    density : number, density ρ, above zero; only for the Reynolds number [kg/m³]

    Returns
    -------
    number, flow [m³/s]

    Raises
    ------
    ValueError : an argument outside its range, or flow that is not laminar

    Source
    ------
    [1] Law of Hagen and Poiseuille, solved for the flow.
    """
    finite(pressure_drop=pressure_drop)
    positive(diameter=diameter, length=length, viscosity=viscosity, density=density)
    flow = math.pi * diameter**4 * pressure_drop / (128 * viscosity * length)
    _laminar(4 * abs(flow) * density / (math.pi * diameter * viscosity))
    return flow


def wall_shear(pressure_drop: Number, diameter: Number, length: Number) -> Number:
    """Shear stress of the oil on a pipe's wall, τ = Δp·D/(4·L).

    Parameters
    ----------
    pressure_drop : number, pressure loss Δp over the length [Pa]
    diameter : number, inside diameter D, above zero [m]
    length : number, length L, above zero [m]

    Returns
    -------
    number, shear stress [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] Balance of forces on the oil in the pipe; derived.
    """
    finite(pressure_drop=pressure_drop)
    positive(diameter=diameter, length=length)
    return pressure_drop * diameter / (4 * length)


def _coefficient(coefficient: float) -> None:
    require((coefficient > 0) & (coefficient <= 1), "coefficient", coefficient, "above 0 and at most 1")


def _laminar(reynolds: Number) -> None:
    require(reynolds <= LAMINAR_LIMIT, "Reynolds number", reynolds, f"at most {LAMINAR_LIMIT:g} for laminar flow")
