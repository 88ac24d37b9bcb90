"""Helpers that let one formula serve floats and numpy arrays, and check their range."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Number = TypeVar("Number", float, "NDArray[np.float64]")


def _every(condition: Any) -> bool:
    """True when a comparison holds for a float, or for every element of an array."""
    return condition if isinstance(condition, bool) else bool(condition.all())


def require(holds: Any, name: str, value: Any, wanted: str) -> None:
    """Raise ``ValueError`` with a sentence unless the comparison ``holds`` is true throughout."""
    if not _every(holds):
        raise ValueError(f"{name.replace('_', ' ')} must be {wanted}, not {value}")


def positive(**values: Any) -> None:
    """Raise ``ValueError`` for the first value that is not above zero and finite."""
    for name, value in values.items():
        require((value > 0) & (value < math.inf), name, value, "above zero and finite")


def not_negative(**values: Any) -> None:
    """Raise ``ValueError`` for the first value that is below zero or not finite."""
    for name, value in values.items():
        require((value >= 0) & (value < math.inf), name, value, "zero or more, and finite")


def finite(**values: Any) -> None:
    """Raise ``ValueError`` for the first value that is infinite or not a number."""
    for name, value in values.items():
        require((value > -math.inf) & (value < math.inf), name, value, "a finite number")


def fraction(**values: Any) -> None:
    """Raise ``ValueError`` for the first value outside 0 < value <= 1 (an efficiency)."""
    for name, value in values.items():
        require((value > 0) & (value <= 1), name, value, "above 0 and at most 1")


def rod_in_bore(bore: Any, rod: Any) -> None:
    """Raise ``ValueError`` unless 0 < rod < bore and both are finite."""
    positive(bore=bore, rod=rod)
    require(rod < bore, "rod", rod, f"thinner than the bore ({bore})")


def signed_root(value: Number) -> Number:
    """Square root of the size of a value, with the value's sign."""
    if isinstance(value, (int, float)):
        return math.copysign(math.sqrt(abs(value)), value)
    import numpy as np

    root: Number = np.copysign(np.sqrt(np.abs(value)), value)
    return root


def log10(value: Number) -> Number:
    """Logarithm to base ten."""
    if isinstance(value, (int, float)):
        return math.log10(value)
    import numpy as np

    result: Number = np.log10(value)
    return result
