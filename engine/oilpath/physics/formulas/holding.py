"""Cylinders that hold: leaks at both ends and past the seal, drift and leakage, shrinking by cooling.

Leaks  ``end_pressures``, ``creep_flow``
Drift  ``leakage_from_drift``, ``drift_from_leakage``, ``cooling_shrinkage``, ``cooling_shrinkage_uncertainty``
"""

from __future__ import annotations

import math

from oilpath.physics.formulas._numbers import Number, between, finite, not_negative, positive, quotient, require

OIL_EXPANSION = 7.0e-4  # [1/K] mineral hydraulic oil, by volume
OIL_EXPANSION_UNCERTAINTY = 5.0e-5  # [1/K] standard uncertainty; common oils spread 6e-4 to 8e-4, from memory
STEEL_EXPANSION = 1.15e-5  # [1/K] carbon steel, by length


def leakage_from_drift(area: Number, moved: Number, hold: Number) -> Number:
    """Leakage behind a drift, Q = A·dx/t.

    For a cylinder that sinks past its own seal on the machine, the area is the rod's: the oil that
    must leave is the volume of rod that enters. For oil that leaves the loaded side through a valve
    it is that side's area. Correct the movement for cooling first (``cooling_shrinkage``).

    Parameters
    ----------
    area : number, area A, above zero [m²]
    moved : number, distance dx that the rod moved, negative when it moved against the load [m]
    hold : number, time t of the hold, above zero [s]

    Returns
    -------
    number, leakage [m³/s]

    Raises
    ------
    ValueError : area or hold not above zero, moved not finite

    Source
    ------
    [1] Conservation of volume; derived.
    """
    positive(area=area, hold=hold)
    finite(moved=moved)
    return area * moved / hold


def drift_from_leakage(area: Number, leakage: Number, hold: Number) -> Number:
    """Movement that a leakage causes during a hold, dx = Q·t/A.

    Parameters
    ----------
    area : number, area A, see ``leakage_from_drift``, above zero [m²]
    leakage : number, leakage Q [m³/s]
    hold : number, time t of the hold, above zero [s]

    Returns
    -------
    number, distance [m]

    Raises
    ------
    ValueError : area or hold not above zero, leakage not finite

    Source
    ------
    [1] Conservation of volume; derived.
    """
    positive(area=area, hold=hold)
    finite(leakage=leakage)
    return leakage * hold / area


def cooling_shrinkage(
    column: Number, cooling: Number, oil_expansion: float = OIL_EXPANSION, steel_expansion: float = 0.0
) -> Number:
    """Apparent drift of a locked cylinder whose oil cools, dx = x·ΔT·(β − 3α).

    The bore cancels out. With α = 0 the barrel is taken as rigid (the usual estimate, a few per cent
    too large). ΔT is that of the oil in the cylinder, which the tank's thermometer does not show.

    Parameters
    ----------
    column : number, length x of the oil column on the loaded side, zero or more [m]
    cooling : number, fall ΔT of its temperature, negative when it warmed, within ±100 K [K]
    oil_expansion : float, expansion β of the oil by volume, above zero [1/K]
    steel_expansion : float, expansion α of the barrel by length, zero or more [1/K]

    Returns
    -------
    number, distance by which the column shortens [m]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] Volume expansion of mineral oil 0.00070 per kelvin: engineering tables of cubic expansion.
    [2] Steel takes part with three times its linear expansion; derived.

    >>> round(cooling_shrinkage(0.800, 20.0) * 1e3, 1)
    11.2
    """
    not_negative(column=column, steel_expansion=steel_expansion)
    positive(oil_expansion=oil_expansion)
    require((cooling >= -100) & (cooling <= 100), "cooling", cooling, "within -100 K and 100 K")
    return column * cooling * (oil_expansion - 3 * steel_expansion)


def cooling_shrinkage_uncertainty(
    column: float,
    cooling: float,
    cooling_uncertainty: float,
    oil_expansion: float = OIL_EXPANSION,
    expansion_uncertainty: float = OIL_EXPANSION_UNCERTAINTY,
) -> float:
    """Standard uncertainty of ``cooling_shrinkage`` for a rigid barrel, u = x·√((β·u_ΔT)² + (ΔT·u_β)²).

    Parameters
    ----------
    column : float, length x of the oil column on the loaded side, zero or more [m]
    cooling : float, fall ΔT of its temperature [K]
    cooling_uncertainty : float, standard uncertainty of that fall, wide: tank and cylinder differ [K]
    oil_expansion : float, expansion β of the oil by volume, above zero [1/K]
    expansion_uncertainty : float, standard uncertainty of β, zero or more [1/K]

    Returns
    -------
    float, standard uncertainty of the distance [m]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] JCGM 100:2008, 5.1.2 (law of propagation, no correlation).
    [2] The default spread of β: from memory.
    """
    not_negative(column=column, cooling_uncertainty=cooling_uncertainty, expansion_uncertainty=expansion_uncertainty)
    positive(oil_expansion=oil_expansion)
    finite(cooling=cooling)
    return column * math.hypot(oil_expansion * cooling_uncertainty, cooling * expansion_uncertainty)


def end_pressures(seal: Number, held: Number, other: Number, area_ratio: float) -> tuple[Number, Number]:
    """Pressures at both ends of a held cylinder that leaks, over the pressure that carries the load alone.

    What leaks into the other end through the seal and past its valve must fit the room that the moving piston makes
    there: a seal alone moves the rod as fast as the other end lets oil out (cap end loaded), or freely (rod end
    loaded). With both ports plugged and the cap end loaded, both pressures become F/A_rod and the cylinder locks.

    Parameters
    ----------
    seal : number, laminar leakage by pressure k between the ends [m³/s/Pa]
    held : number, the same out of the loaded end [m³/s/Pa]
    other : number, the same out of the other end [m³/s/Pa]
    area_ratio : float, area of the loaded end over that of the other, above zero [-]

    Returns
    -------
    tuple of two numbers, pressure at the loaded and at the other end [-]

    Raises
    ------
    ValueError : an area ratio that is not above zero

    Source
    ------
    [1] Flow balance of both ends with p_held = F/A_held + p_other·A_other/A_held; derived.

    >>> [round(p, 2) for p in end_pressures(1.0, 0.0, 0.0, 2.0)]
    [2.0, 2.0]
    """
    positive(area_ratio=area_ratio)
    a = seal * area_ratio - seal - held
    b = (seal + other) * area_ratio - seal
    beyond = between(quotient(a, b - a / area_ratio), 0.0, math.inf)
    return 1 + beyond / area_ratio, beyond


def creep_flow(seal: Number, held: Number, other: Number, area_ratio: float) -> Number:
    """Flow out of the loaded end of a held cylinder, over the pressure that carries the load alone.

    Parameters
    ----------
    seal : number, laminar leakage by pressure k between the ends [m³/s/Pa]
    held : number, the same out of the loaded end [m³/s/Pa]
    other : number, the same out of the other end [m³/s/Pa]
    area_ratio : float, area of the loaded end over that of the other, above zero [-]

    Returns
    -------
    number, flow by pressure; the rod creeps with it over the loaded area [m³/s/Pa]

    Raises
    ------
    ValueError : an area ratio that is not above zero

    Source
    ------
    [1] Conservation of volume with the pressures of ``end_pressures``; derived.
    """
    loaded, beyond = end_pressures(seal, held, other, area_ratio)
    return (seal + held) * loaded - seal * beyond
