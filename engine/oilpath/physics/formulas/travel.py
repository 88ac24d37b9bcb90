"""Movement of the whole machine: tracks, ground, swing, and the veer of a straight run.

``track_speed``, ``ground_speed``, ``swing_speed``, ``veer_offset``, ``speed_difference``
"""

from __future__ import annotations

from typing import Literal

from oilpath.physics.formulas._numbers import Number, finite, not_negative, positive, require

Reference = Literal["start-line", "run-up-line", "chord"]


def track_speed(turns: Number, track_length: Number, time: Number) -> Number:
    """Speed of a raised track, v = n·L/t.

    Parameters
    ----------
    turns : number, full turns n of the track, above zero [-]
    track_length : number, length L of the track along the shoes, above zero [m]
    time : number, time t, above zero [s]

    Returns
    -------
    number, speed [m/s]

    Raises
    ------
    ValueError : an argument not above zero

    Source
    ------
    [1] Distance over time; derived.

    >>> round(track_speed(7, 4.0, 56.0) * 3.6, 3)
    1.8
    """
    positive(turns=turns, track_length=track_length, time=time)
    return turns * track_length / time


def ground_speed(distance: Number, time: Number) -> Number:
    """Mean speed over a measured stretch, v = s/t.

    Parameters
    ----------
    distance : number, measured stretch s, above zero; 20 m or more by ISO 6014 [m]
    time : number, time t, above zero [s]

    Returns
    -------
    number, speed [m/s]

    Raises
    ------
    ValueError : an argument not above zero

    Source
    ------
    [1] ISO 6014:1986 (mean of runs over a measured track).
    """
    positive(distance=distance, time=time)
    return distance / time


def swing_speed(turns: Number, time: Number) -> Number:
    """Mean speed of the upper structure, n = N/t. From rest it includes the start and is lower.

    Parameters
    ----------
    turns : number, turns N, above zero [-]
    time : number, time t, above zero [s]

    Returns
    -------
    number, speed [rev/s]

    Raises
    ------
    ValueError : an argument not above zero

    Source
    ------
    [1] Turns over time; derived.
    """
    positive(turns=turns, time=time)
    return turns / time


def _lever(distance: Number, gauge: Number, run_up: Number | float, reference: str) -> Number:
    """Offset per unit of speed difference [m]."""
    positive(distance=distance, gauge=gauge)
    not_negative(run_up=run_up)
    if reference == "start-line":
        return distance * distance / (2 * gauge)
    if reference == "run-up-line":
        return distance * (distance + 2 * run_up) / (2 * gauge)
    if reference == "chord":
        return distance * distance / (8 * gauge)
    require(False, "reference", reference, "start-line, run-up-line or chord")
    raise AssertionError


def veer_offset(
    difference: Number, distance: Number, gauge: Number, run_up: float = 0.0, reference: Reference = "start-line"
) -> Number:
    """Sideways offset of a straight run whose tracks run at different speeds.

    From the direction at the start of the measured stretch, y = L²ε/(2g); from the line on which the
    run-up began, y = L·(L + 2r)·ε/(2g), counted between the two ends of the measured stretch; as the
    largest gap to the chord, y = L²ε/(8g).

    Range: the path is taken as a parabola, good to 2 % up to a heading change of 0.5 rad (4 % from the
    line of a long run-up, that turn with it). Beyond it
    the result grows on without an error and only says "much" (an offset beyond some 2 m is censored
    anyway, because the operator corrects or stops).

    Parameters
    ----------
    difference : number, speed difference ε = (left − right)/mean [-]
    distance : number, measured stretch L, above zero [m]
    gauge : number, track gauge g, above zero [m]
    run_up : float, run-up r before the stretch, zero or more; only the run-up line needs it [m]
    reference : text, what the offset was measured from: start-line, run-up-line or chord [-]

    Returns
    -------
    number, offset, positive to the right [m]

    Raises
    ------
    ValueError : an argument outside its range, an unknown reference

    Source
    ------
    [1] Circle of radius g/ε for small angles; derived.

    >>> round(veer_offset(0.01, 20.0, 2.4), 2)
    0.83
    """
    finite(difference=difference)
    return difference * _lever(distance, gauge, run_up, reference)


def speed_difference(
    offset: Number, distance: Number, gauge: Number, run_up: float = 0.0, reference: Reference = "start-line"
) -> Number:
    """Speed difference of the tracks behind a sideways offset; the inverse of ``veer_offset``.

    Parameters
    ----------
    offset : number, sideways offset, positive to the right [m]
    distance : number, measured stretch L, above zero [m]
    gauge : number, track gauge g, above zero [m]
    run_up : float, run-up before the stretch, zero or more; only the run-up line needs it [m]
    reference : text, what the offset was measured from: start-line, run-up-line or chord [-]

    Returns
    -------
    number, speed difference (left − right)/mean [-]

    Raises
    ------
    ValueError : an argument outside its range, an unknown reference

    Source
    ------
    [1] Circle of radius g/ε for small angles; derived.
    """
    finite(offset=offset)
    return offset / _lever(distance, gauge, run_up, reference)
