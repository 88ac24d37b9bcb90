"""Cylinders that hold: locking past a leaking seal, drift and leakage, shrinking by cooling.

Lock   ``equalised_pressure``, ``equalisation_ratio``, ``equal_pressure_force``
Drift  ``leakage_from_drift``, ``drift_from_leakage``, ``cooling_shrinkage``, ``cooling_shrinkage_uncertainty``
"""

from __future__ import annotations

import math

from oilpath.physics.formulas._numbers import Number, finite, not_negative, positive, require, rod_in_bore
from oilpath.physics.formulas.cylinder import rod_area

OIL_EXPANSION = 7.0e-4  # [1/K] mineral hydraulic oil, by volume
OIL_EXPANSION_UNCERTAINTY = 5.0e-5  # [1/K] standard uncertainty; common oils spread 6e-4 to 8e-4, from memory
STEEL_EXPANSION = 1.15e-5  # [1/K] carbon steel, by length


def equalised_pressure(force: Number, rod: Number) -> Number:
    """Pressure on both sides of a leaking piston that holds a load with both ports plugged, p = F/A_rod.

    Oil crosses the piston until both sides have the same pressure; the load then rests on the rod's
    area alone and the cylinder locks. It holds for a single-rod cylinder that the load pushes in; a
    double-rod cylinder, and a load that the rod side carries, can sink past the seal.

    Parameters
    ----------
    force : number, load F pushing the rod in, zero or more [N]
    rod : number, diameter of the rod, above zero [m]

    Returns
    -------
    number, gauge pressure on both sides [Pa]

    Raises
    ------
    ValueError : rod not above zero, force below zero

    Source
    ------
    [1] Balance of forces with equal pressures; derived.
    """
    not_negative(force=force)
    return force / rod_area(rod)


def equalisation_ratio(bore: Number, rod: Number) -> Number:
    """Rise of the holding pressure when the piston's seal leaks and both ports are plugged, D²/d².

    Parameters
    ----------
    bore : number, inside diameter D of the barrel [m]
    rod : number, diameter d of the rod, 0 < d < D [m]

    Returns
    -------
    number, pressure after over pressure before [-]

    Raises
    ------
    ValueError : wrong diameters

    Source
    ------
    [1] (F/A_rod)/(F/A_cap); derived.

    >>> round(equalisation_ratio(0.100, 0.070), 3)
    2.041
    """
    rod_in_bore(bore, rod)
    return (bore / rod) ** 2


def equal_pressure_force(pressure: Number, rod: Number, far_rod: Number | float = 0.0) -> Number:
    """Force of the same pressure on both sides of a piston, F = p·π/4·(d² − d_far²), positive when it extends the rod.

    A leaking piston with both ports plugged can lock only a load that works against this force: one that pushes the rod
    of a single-rod cylinder in. It cannot lock a load that pulls the rod out (the rod side carries it), nor one on a
    double-rod cylinder of equal rods, where the force is zero: those drift on past the seal.

    Parameters
    ----------
    pressure : number, gauge pressure p, zero or more [Pa]
    rod : number, diameter d of the rod, above zero [m]
    far_rod : number, diameter d_far of a rod on the other side, zero for none [m]

    Returns
    -------
    number, force [N]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] Balance of forces with equal pressures; derived. The two exceptions: trade article on seals and drift.
    """
    not_negative(pressure=pressure, far_rod=far_rod)
    positive(rod=rod)
    result: Number = pressure * math.pi / 4 * (rod * rod - far_rod * far_rod)
    return result


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
