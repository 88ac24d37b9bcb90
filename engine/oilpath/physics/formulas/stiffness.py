"""How oil answers to pressure: compression, locked oil that warms, and what air does to its stiffness.

Plain oil  ``compression``, ``locked_pressure_rise``
With air   ``modulus_air_at_atmosphere``, ``modulus_air_at_pressure``, ``air_under_pressure``
Together   ``effective_modulus``, ``wall_modulus``

A share of air means nothing without the pressure it is given at, so every function says which one it takes: 0.5 % of
air *at atmospheric pressure* costs oil at 50 bar some 3 % of its stiffness, 0.5 % *at 50 bar* more than half. Air here
is free air in bubbles; dissolved air does not make oil soft.
"""

from __future__ import annotations

import math

from oilpath.physics.formulas._numbers import Number, finite, not_negative, positive, require

BULK_MODULUS = 1.6e9  # [Pa] mineral oil without air, rounded; from memory, agrees with 11 bar per kelvin
ATMOSPHERE = 101325.0  # [Pa] standard atmosphere


def compression(volume: Number, pressure_rise: Number, bulk_modulus: Number) -> Number:
    """Change of an oil volume under pressure, ΔV = −V·Δp/K (small pressures against K).

    Parameters
    ----------
    volume : number, volume V, zero or more [m³]
    pressure_rise : number, rise Δp, at most a tenth of K [Pa]
    bulk_modulus : number, bulk modulus K, above zero [Pa]

    Returns
    -------
    number, change, negative when it shrinks [m³]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 2.11.
    """
    not_negative(volume=volume)
    positive(bulk_modulus=bulk_modulus)
    finite(pressure_rise=pressure_rise)
    small = abs(pressure_rise) <= bulk_modulus / 10
    require(small, "pressure_rise", pressure_rise, "at most a tenth of the bulk modulus")
    return -volume * pressure_rise / bulk_modulus


def locked_pressure_rise(warming: Number, expansion: Number, bulk_modulus: Number) -> Number:
    """Pressure rise of oil locked in a rigid space that warms, Δp = K·β·ΔT; about 11 bar per kelvin.

    A locked cylinder in the sun becomes dangerous this way.

    Parameters
    ----------
    warming : number, rise ΔT of temperature, negative for cooling [K]
    expansion : number, expansion β by volume, above zero [1/K]
    bulk_modulus : number, bulk modulus K, above zero [Pa]

    Returns
    -------
    number, pressure rise; a fall ends at zero pressure [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] Product of cubic expansion and bulk modulus; derived. Common practice reckons 11 bar per kelvin.
    """
    finite(warming=warming)
    positive(expansion=expansion, bulk_modulus=bulk_modulus)
    return warming * expansion * bulk_modulus


def modulus_air_at_atmosphere(
    pressure: Number,
    air: float,
    bulk_modulus: float = BULK_MODULUS,
    polytropic: float = 1.0,
    atmosphere: float = ATMOSPHERE,
) -> Number:
    """Bulk modulus of oil whose share of air is given **at atmospheric pressure**.

    E = K·(1 + a·r)/(1 + a·r·K/(n·P)), r = (p_a/P)^(1/n), P = p_a + p. The share is volume of air over volume of oil,
    both at atmospheric pressure; the oil's own compression is not followed.

    Parameters
    ----------
    pressure : number, gauge pressure p, zero or more [Pa]
    air : float, volume of free air over volume of oil a, both at atmospheric pressure, 0 to 0.2 [-]
    bulk_modulus : float, bulk modulus K of the oil without air, above zero [Pa]
    polytropic : float, exponent n, 1 for slow changes to 1.4 for quick ones [-]
    atmosphere : float, absolute pressure p_a at which the share is given, above zero [Pa]

    Returns
    -------
    number, bulk modulus [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] Isothermal-liquid documentation of a general simulation library (relative gas content at atmospheric pressure).
    [2] Checked with a published correction chart: 2 % air, 2000 psi, 0.98.

    >>> round(modulus_air_at_atmosphere(50e5, 0.01) / 1e9, 2)
    1.51
    """
    positive(bulk_modulus=bulk_modulus, atmosphere=atmosphere)
    gas, absolute = _gas(pressure, air, polytropic, atmosphere)
    return bulk_modulus * (1 + gas) / (1 + gas * bulk_modulus / (polytropic * absolute))


def modulus_air_at_pressure(
    pressure: Number,
    air: Number,
    bulk_modulus: float = BULK_MODULUS,
    polytropic: float = 1.0,
    atmosphere: float = ATMOSPHERE,
) -> Number:
    """Bulk modulus of oil whose share of air is given **at the working pressure**, 1/E = α/(n·P) + (1 − α)/K.

    Parameters
    ----------
    pressure : number, gauge pressure p, zero or more; P = p + p_a [Pa]
    air : number, volume of free air over the whole volume α, both at that pressure, 0 to below 1 [-]
    bulk_modulus : float, bulk modulus K of the oil without air, above zero [Pa]
    polytropic : float, exponent n, 1 for slow changes to 1.4 for quick ones [-]
    atmosphere : float, absolute pressure p_a of the air around, above zero [Pa]

    Returns
    -------
    number, bulk modulus [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] M. G. Rabie, Fluid Power Engineering, eq 2.50 to 2.57 (whose caption calls the share atmospheric; its derivation
        holds for the share at the pressure).

    >>> round(modulus_air_at_pressure(50e5, 0.005) / 1e9, 2)
    0.62
    """
    not_negative(pressure=pressure)
    positive(bulk_modulus=bulk_modulus, atmosphere=atmosphere)
    require((air >= 0) & (air < 1), "air", air, "zero or more and below 1")
    _polytropic(polytropic)
    return 1 / (air / (polytropic * (pressure + atmosphere)) + (1 - air) / bulk_modulus)


def air_under_pressure(pressure: Number, air: float, polytropic: float = 1.0, atmosphere: float = ATMOSPHERE) -> Number:
    """Share of air at the working pressure from that at atmospheric pressure, α = a·r/(1 + a·r), r = (p_a/P)^(1/n).

    It joins the two formulas above: they then give the same stiffness.

    Parameters
    ----------
    pressure : number, gauge pressure p, zero or more; P = p + p_a [Pa]
    air : float, volume of free air over volume of oil a, both at atmospheric pressure, 0 to 0.2 [-]
    polytropic : float, exponent n, 1 for slow changes to 1.4 for quick ones [-]
    atmosphere : float, absolute pressure p_a at which the share is given, above zero [Pa]

    Returns
    -------
    number, volume of air over the whole volume at the pressure [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] Law of Boyle, polytropic; derived.
    """
    positive(atmosphere=atmosphere)
    gas, _ = _gas(pressure, air, polytropic, atmosphere)
    return gas / (1 + gas)


def effective_modulus(
    bulk_modulus: Number, gas_share: Number, gas_modulus: Number, wall_modulus: Number | float = math.inf
) -> Number:
    """Bulk modulus of oil, some gas and the walls together, 1/E = 1/K_wall + 1/K + x/K_gas (a little gas only).

    Parameters
    ----------
    bulk_modulus : number, bulk modulus K of the oil, above zero [Pa]
    gas_share : number, volume of free gas over the whole x **at the working pressure**, 0 to 0.1 [-]
    gas_modulus : number, bulk modulus of the gas n·P, P the absolute pressure, above zero [Pa]
    wall_modulus : number, stiffness of the pipe or barrel (``wall_modulus``), infinite for rigid walls [Pa]

    Returns
    -------
    number, bulk modulus [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] H. E. Merritt, Hydraulic Control Systems, eq 4-49 (the oil's own share is taken as whole).
    """
    positive(bulk_modulus=bulk_modulus, gas_modulus=gas_modulus)
    require((gas_share >= 0) & (gas_share <= 0.1), "gas_share", gas_share, "between 0 and 0.1")
    require(wall_modulus > 0, "wall_modulus", wall_modulus, "above zero")
    result: Number = 1 / (1 / wall_modulus + 1 / bulk_modulus + gas_share / gas_modulus)
    return result


def wall_modulus(diameter: Number, thickness: Number, elasticity: float = 2.07e11) -> Number:
    """Stiffness of a thin pipe as if it were oil, K_wall = E·t/D.

    Parameters
    ----------
    diameter : number, inside diameter D, above zero [m]
    thickness : number, wall t, above zero and at most a fifth of D [m]
    elasticity : float, modulus of elasticity E of the wall, 2.07e11 for steel, above zero [Pa]

    Returns
    -------
    number, bulk modulus that stands for the wall [Pa]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] H. E. Merritt, Hydraulic Control Systems, section 4-4 (thin wall).
    """
    positive(diameter=diameter, thickness=thickness, elasticity=elasticity)
    require(thickness <= diameter / 5, "thickness", thickness, "at most a fifth of the diameter")
    return elasticity * thickness / diameter


def _gas(pressure: Number, air: float, polytropic: float, atmosphere: float) -> tuple[Number, Number]:
    """Volume of the air under pressure over that of the oil, and the absolute pressure [Pa]."""
    not_negative(pressure=pressure)
    require((air >= 0) & (air <= 0.2), "air", air, "between 0 and 0.2")
    _polytropic(polytropic)
    absolute = pressure + atmosphere
    gas: Number = air * (atmosphere / absolute) ** (1 / polytropic)
    return gas, absolute


def _polytropic(exponent: float) -> None:
    require((exponent >= 1) & (exponent <= 1.4), "polytropic", exponent, "between 1 and 1.4")
