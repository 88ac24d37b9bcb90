"""Names of units: what each is in SI and of which dimension. Nothing is ever evaluated.

A unit is at most six names with one-digit exponents, joined by * and /. Those in common use come from a table that was
made from pint (`unit_table.py`); pint itself is loaded only for a name that is not in it.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from functools import cache, lru_cache
from typing import Any, Final

from oilpath.unit_table import ATOMS

Dimension = tuple[int, int, int, int, int]
"""exponents of length, mass, time, temperature, turn"""

TEMPERATURE: Final[Dimension] = (0, 0, 0, 1, 0)
_MAX_FACTORS: Final = 6
# Scales with an offset: K = (reading + offset) * factor; 0 °F is 459.67 °R (NIST SP 811, B.8).
CELSIUS: Final = (1.0, 273.15)
_FAHRENHEIT: Final = (5.0 / 9.0, 459.67)
SCALES: Final[Mapping[str, tuple[float, float]]] = {
    **dict.fromkeys(("K", "kelvin", "Kelvin"), (1.0, 0.0)),
    **dict.fromkeys(("°C", "degC", "celsius", "Celsius"), CELSIUS),
    **dict.fromkeys(("°F", "degF", "fahrenheit", "Fahrenheit"), _FAHRENHEIT),
    **dict.fromkeys(("°R", "degR"), (5.0 / 9.0, 0.0)),
}

_SPACE: Final = " \t\xa0\u2000-\u200a\u202f\u205f\u3000"
BLANKS: Final = re.compile(f"[{_SPACE}]+")
_LOOKALIKES: Final = str.maketrans(
    {"º": "°", "˚": "°", "⋅": "*", "·": "*", "∙": "*", "\u2215": "/", "µ": "μ", "\u2212": "-", "⁻": "-"}
)
_AROUND: Final = re.compile(r" *([*/]) *")
_SPACED_DEGREE: Final = re.compile(r"^(°|deg) (?=[CFR]$)")
_FACTOR: Final = re.compile(r"([^\W\d_]+|[°%‰](?:[A-Z])?)(?:\^?(-?[1-9]))?")
_JOINT: Final = re.compile(r"([*/])")


class UnknownUnit(ValueError):
    """args: the name that is not a unit."""


@lru_cache(maxsize=1024)
def tidy(unit: str) -> str:
    """One spelling: superscripts as digits, one sign for products, no blanks around it."""
    unit = unicodedata.normalize("NFKC", unit.translate(_LOOKALIKES)).translate(_LOOKALIKES)
    unit = _AROUND.sub(r"\1", BLANKS.sub(" ", unit))
    return _SPACED_DEGREE.sub(r"\1", unit)


@lru_cache(maxsize=1024)
def product(unit: str) -> tuple[float, Dimension]:
    """Factor and dimension of names joined by * and /, read from left to right."""
    parts = _JOINT.split(unit)
    names, joints = parts[::2], ["*", *parts[1::2]]
    if len(names) > _MAX_FACTORS:
        raise UnknownUnit(unit)
    factor, exponents = 1.0, [0, 0, 0, 0, 0]
    for position, (joint, part) in enumerate(zip(joints, names, strict=True)):
        if part == "1" and position == 0:
            continue
        found = _FACTOR.fullmatch(part)
        if found is None:
            raise UnknownUnit(part or unit)
        power = int(found.group(2) or "1") * (1 if joint == "*" else -1)
        one, dimension = _atom(found.group(1))
        try:
            factor *= one**power
        except (OverflowError, ZeroDivisionError):
            raise UnknownUnit(unit) from None
        exponents = [sum_ + power * part_ for sum_, part_ in zip(exponents, dimension, strict=True)]
    length, mass, time, temperature, turn = exponents
    return factor, (length, mass, time, temperature, turn)


def _atom(name: str) -> tuple[float, Dimension]:
    known = ATOMS.get(name)
    if known is not None:
        return known
    if name in SCALES or name in ("C", "F") or not 1 < len(name) <= 24:
        raise UnknownUnit(name)
    return _from_pint(name)


@cache
def _registry() -> Any:
    import pint  # 0.35 s: only for units that the table does not hold

    return pint.UnitRegistry()


#: No dimension of ours: electric, luminous, bits, counts …
_FOREIGN: Final[Dimension] = (99, 99, 99, 99, 99)
_PINT_BASES: Final = ("meter", "gram", "second", "kelvin", "radian")


@lru_cache(maxsize=1024)
def _from_pint(name: str) -> tuple[float, Dimension]:
    """A single name (letters only) looked up in pint."""
    import pint

    registry = _registry()
    try:
        one = registry.Quantity(1.0, name).to_root_units()
        two = registry.Quantity(2.0, name).to_root_units()
    except (pint.PintError, ArithmeticError, ValueError):
        raise UnknownUnit(name) from None
    # A scale with an offset, a logarithm, or a mere number (pi, dozen) is not a unit of a reading.
    exponents = {base: int(power) for base, power in one.unit_items() if power == int(power)}
    if two.magnitude != 2.0 * one.magnitude or not exponents:
        raise UnknownUnit(name)
    if not set(exponents) <= set(_PINT_BASES) or len(exponents) != len(one.unit_items()):
        return 1.0, _FOREIGN
    length, mass, time, temperature, turn = (exponents.get(base, 0) for base in _PINT_BASES)
    factor = float(one.magnitude) * 1e-3**mass / math.tau**turn
    if not (math.isfinite(factor) and factor > 0.0):
        raise UnknownUnit(name)
    return factor, (length, mass, time, temperature, turn)
