"""Cleanliness of oil: the code of ISO 4406 and the classes of AS4059.

ISO 4406  ``scale_number``, ``scale_limits``, ``cleanliness_code``, ``read_code``
AS4059    ``as4059_limit``, ``AS4059_SIZES``

Counts are cumulative: particles of a size and larger. Inside everything is per cubic metre, as all of this project is
SI: one particle per millilitre is 1e6 per m³. NAS 1638 counts size by size and is inactive for new designs.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from oilpath.physics.formulas._numbers import not_negative, require

PER_ML = 1e6  # [1/m³] one particle per millilitre
WEAK_COUNT = 20
"""raw particle counts below this make a scale number statistically weak, which the code shows as ≥"""

# Upper limits [1/m³], inclusive, of the scale numbers 0 to 28: each about twice the one before.
_UPPER = (
    1e4, 2e4, 4e4, 8e4, 16e4, 32e4, 64e4, 1.3e6, 2.5e6, 5e6, 1e7, 2e7, 4e7, 8e7, 1.6e8, 3.2e8, 6.4e8, 1.3e9, 2.5e9, 5e9,
    1e10, 2e10, 4e10, 8e10, 1.6e11, 3.2e11, 6.4e11, 1.3e12, 2.5e12,
)  # fmt: skip
SCALE_MAX = len(_UPPER) - 1

AS4059_SIZES = (4, 6, 14, 21, 38, 70)
"""sizes of AS4059E, cumulative counts by automatic counter [µm(c)]"""
_AS4059_CLASS_6 = (50_000, 19_462, 3_462, 612, 106, 16)  # particles per 100 mL


class ScaleRange(NamedTuple):
    """Counts [1/m³] that a scale number stands for: above `low`, up to `high`; weak when few particles were counted."""

    number: int
    low: float
    high: float
    weak: bool = False


def scale_number(count: float) -> int:
    """Scale number of a cumulative count; a count on a limit belongs to the lower number.

    Parameters
    ----------
    count : float, particles of the size and larger, 0 to 2.5e12 (2,500,000 per mL) [1/m³]

    Returns
    -------
    int, scale number, 0 to 28 [-]

    Raises
    ------
    ValueError : a count below zero, or above what number 28 holds

    Source
    ------
    [1] ISO 4406:2021, table 1; three public copies agree.

    >>> scale_number(640 * PER_ML), scale_number(641 * PER_ML)
    (16, 17)
    """
    not_negative(count=count)
    require(count <= _UPPER[-1], "count", count, f"at most {_UPPER[-1]:g} per m³, where the scale ends (> {SCALE_MAX})")
    return next(number for number, upper in enumerate(_UPPER) if count <= upper)


def scale_limits(number: int) -> tuple[float, float]:
    """Counts that a scale number stands for: above the first, up to and with the second.

    Parameters
    ----------
    number : int, scale number, 0 to 28 [-]

    Returns
    -------
    tuple of two floats, counts [1/m³]

    Raises
    ------
    ValueError : a number that the scale does not hold

    Source
    ------
    [1] ISO 4406:2021, table 1; three public copies agree.
    """
    require(0 <= number <= SCALE_MAX, "scale number", number, f"0 to {SCALE_MAX}")
    return (_UPPER[number - 1] if number else 0.0), _UPPER[number]


def cleanliness_code(counts: Sequence[float], counted: Sequence[int | None] = ()) -> str:
    """Code of cumulative counts, as in 19/16/10; a number that rests on fewer than 20 particles gets ≥ before it.

    Parameters
    ----------
    counts : two or three floats, counts at 4, 6 and 14 µm(c), or at 5 and 15 µm by microscope; never rising [1/m³]
    counted : as many whole numbers, particles really counted for each; None or left out where not known [-]

    Returns
    -------
    text, the code [-]

    Raises
    ------
    ValueError : another number of counts, a count that rises with size or lies outside the scale

    Source
    ------
    [1] ISO 4406:2021, 4.1; the mark for few particles from the same standard.

    >>> cleanliness_code([3000 * PER_ML, 500 * PER_ML, 7 * PER_ML])
    '19/16/10'
    """
    require(len(counts) in (2, 3), "counts", len(counts), "two (microscope) or three (counter)")
    require(not counted or len(counted) == len(counts), "counted", len(counted), f"{len(counts)} figures or none")
    for larger, smaller in zip(counts[1:], counts, strict=False):
        require(larger <= smaller, "counts", larger, f"at most that of the smaller size ({smaller})")
    weak = [n is not None and n < WEAK_COUNT for n in (counted or (None,) * len(counts))]
    return "/".join(("≥" if few else "") + str(scale_number(count)) for count, few in zip(counts, weak, strict=True))


def read_code(code: str) -> tuple[ScaleRange, ...]:
    """What a code stands for, as in 14/12/≥7 (>= is taken for ≥); - stands for a size that was not counted.

    Parameters
    ----------
    code : text, two or three scale numbers parted by / [-]

    Returns
    -------
    tuple of ScaleRange, one for each size that was counted [1/m³]

    Raises
    ------
    ValueError : text that is no code, a number that the scale does not hold, numbers that rise with size

    Source
    ------
    [1] ISO 4406:2021, 4.1 and table 1.
    """
    steps = [step.strip() for step in code.replace(">=", "≥").split("/")]
    fits = len(steps) in (2, 3) and all(re.fullmatch(r"-|≥?[0-9]{1,2}", step) for step in steps)
    require(fits, "code", repr(code), "scale numbers such as 19/16/13")
    numbers = [(int(step.lstrip("≥")), step.startswith("≥")) for step in steps if step != "-"]
    for (larger, _), (smaller, _) in zip(numbers[1:], numbers, strict=False):
        require(larger <= smaller, "code", repr(code), "numbers that do not rise with size")
    return tuple(ScaleRange(number, *scale_limits(number), weak) for number, weak in numbers)


def as4059_limit(class_: int, size: int) -> float:
    """Most particles of a size and larger that a cumulative class allows; from class to class the counts double.

    Parameters
    ----------
    class_ : int, class, 0 to 12 [-]
    size : int, one of ``AS4059_SIZES`` [µm(c)]

    Returns
    -------
    float, count, not rounded as the tables are [1/m³]

    Raises
    ------
    ValueError : another class or size

    Source
    ------
    [1] AS4059E, table 2, row of class 6 and its neighbours; the other rows by doubling.
    """
    require(0 <= class_ <= 12, "class", class_, "0 to 12")
    require(size in AS4059_SIZES, "size", size, "one of " + ", ".join(map(str, AS4059_SIZES)))
    return _AS4059_CLASS_6[AS4059_SIZES.index(size)] * 2.0 ** (class_ - 6) * PER_ML / 100
