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


def _within(value: Any, low: float, *, above: bool) -> bool:
    """Whether a value is finite and at least (or above) `low`; not-a-number fails.

    An array is asked for its least element alone, which costs a model of thousands of rows little: what is infinite
    shows in the result.
    """
    if isinstance(value, (int, float)):
        return low < value < math.inf if above else low <= value < math.inf
    if not value.size:
        return True
    return bool(value.min() > low if above else value.min() >= low)


def positive(**values: Any) -> None:
    """Raise ``ValueError`` for the first value that is not above zero and finite."""
    for name, value in values.items():
        require(_within(value, 0.0, above=True), name, value, "above zero and finite")


def not_negative(**values: Any) -> None:
    """Raise ``ValueError`` for the first value that is below zero or not finite."""
    for name, value in values.items():
        require(_within(value, 0.0, above=False), name, value, "zero or more, and finite")


def finite(**values: Any) -> None:
    """Raise ``ValueError`` for the first value that is infinite or not a number."""
    for name, value in values.items():
        require(_within(value, -math.inf, above=True), name, value, "a finite number")


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


def root(value: Number) -> Number:
    """Square root of a value that is zero or more."""
    if isinstance(value, (int, float)):
        return math.sqrt(value)
    import numpy as np

    result: Number = np.sqrt(value)
    return result


def between(value: Number, low: float, high: float) -> Number:
    """The value, but no less than `low` and no more than `high`."""
    if isinstance(value, (int, float)):
        return min(max(value, low), high)
    import numpy as np

    result: Number = np.clip(value, low, high)
    return result


def quotient(over: Number, under: Number) -> Number:
    """over/under where `under` is above zero, 0 elsewhere."""
    if isinstance(under, (int, float)):
        return over / under if under > 0 else 0.0
    import numpy as np

    result: Number = np.where(under > 0, over / np.where(under > 0, under, 1.0), 0.0)
    return result


def log10(value: Number) -> Number:
    """Logarithm to base ten."""
    if isinstance(value, (int, float)):
        return math.log10(value)
    import numpy as np

    result: Number = np.log10(value)
    return result
