"""Direct relief valves between cracking and full flow: ``relief_share``, ``relief_pressure``."""

from __future__ import annotations

from oilpath.physics.formulas._numbers import Number, between, positive


def relief_share(pressure: Number, setting: Number, override: float) -> Number:
    """Share of the full flow that a relief still keeps back at a pressure, (p_full − p)/(h·p_full) within 0 and 1.

    Parameters
    ----------
    pressure : number, gauge pressure p [Pa]
    setting : number, pressure p_full at full flow, above zero [Pa]
    override : float, rise h from cracking to full flow as a share of the setting, above zero [-]

    Returns
    -------
    number, 1 up to the cracking pressure, 0 from the setting on [-]

    Raises
    ------
    ValueError : a setting or an override that is not above zero

    Source
    ------
    [1] A. Esposito, Fluid Power with Applications, Ex 8.1: a spring whose force rises with the lift.
    """
    positive(setting=setting, override=override)
    return between((setting - pressure) / (override * setting), 0.0, 1.0)


def relief_pressure(passing: Number, setting: Number, override: float) -> Number:
    """Pressure at which a relief lets a share of its full flow by, p_full·(1 − h·(1 − q)).

    Parameters
    ----------
    passing : number, flow over full flow q [-]
    setting : number, pressure p_full at full flow, above zero [Pa]
    override : float, rise h from cracking to full flow as a share of the setting, above zero [-]

    Returns
    -------
    number, gauge pressure [Pa]

    Raises
    ------
    ValueError : a setting or an override that is not above zero

    Source
    ------
    [1] As ``relief_share``, solved for the pressure.
    """
    positive(setting=setting, override=override)
    return setting * (1 - override * (1 - passing))
