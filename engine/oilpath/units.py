"""Text to SI numbers and back: the only place that knows units.

A quantity is text, `NUMBER UNIT`: ``34.3 MPa``, ``4975 psi``, ``54 °C``, ``112 cm3/rev``.
Units in common use come from a table made from pint (`formats/unit_table.py`); products and
quotients of them are worked out here, and pint itself is loaded only for a name that is not
in the table. Nothing is ever evaluated: a unit is at most six names with one-digit exponents.

Inside everything is SI: s, m, Pa, m³/s, K, rev/s for rotational speed, m³/rev for displacement,
rad for angle. The functions here are for the ends of the flow, where people read and write.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, Final

from oilpath.problems import nearest, shorten
from oilpath.unit_table import ATOMS

__all__ = [
    "CUSTOMARY",
    "QUANTITIES",
    "UNITS",
    "QuantityError",
    "figure",
    "from_unit",
    "parse",
    "show",
    "to_unit",
    "unit_of",
]

Dimension = tuple[int, int, int, int, int]  # exponents of length, mass, time, temperature, turn

_MAX_TEXT: Final = 100
_MAX_DIGITS: Final = 40
_MAX_EXPONENT: Final = 30
_MAX_UNIT: Final = 40
_MAX_FACTORS: Final = 6


class QuantityError(ValueError):
    """Text that is not the wanted quantity: `message` says why, `accepted` what would do."""

    def __init__(self, message: str, accepted: str = "") -> None:
        super().__init__(message, accepted)
        self.message = message
        self.accepted = accepted

    def __str__(self) -> str:
        return f"{self.message}; {self.accepted}" if self.accepted else self.message


@dataclass(frozen=True, slots=True)
class Quantity:
    """A kind of quantity.

    words: with its article, for messages. dimensions: those taken, the first is the SI one.
    examples: the units to suggest, the usual ones first. sample: a whole quantity.
    per_turn: SI value of the base product (2 pi where SI counts radians, else 1).
    """

    words: str
    dimensions: tuple[Dimension, ...]
    examples: tuple[str, ...]
    sample: str
    per_turn: float = 1.0


def _kind(words: str, dimension: Dimension, examples: str, sample: str) -> Quantity:
    return Quantity(words, (dimension,), tuple(examples.split()), sample)


_LENGTH: Final = _kind("a length", (1, 0, 0, 0, 0), "mm m in ft cm", "12 mm")
_PER_TIME: Final = (0, 0, -1, 0, 0)
_TEMPERATURE: Final = (0, 0, 0, 1, 0)

#: Every kind of quantity by name. `distance` is a length that people read in metres.
QUANTITIES: Final[Mapping[str, Quantity]] = {
    "time": _kind("a time", (0, 0, 1, 0, 0), "s min h ms", "4.8 s"),
    "length": _LENGTH,
    "distance": Quantity(_LENGTH.words, _LENGTH.dimensions, ("m", "ft", "mm", "km"), "20 m"),
    # Standards write 1/min for what the trade calls rpm: a plain frequency counts revolutions.
    "rotation": Quantity(
        "a rotational speed", ((0, 0, -1, 0, 1), _PER_TIME), ("rpm", "rev/min", "1/min", "rev/s"), "1900 rpm"
    ),
    "pressure": _kind("a pressure", (-1, 1, -2, 0, 0), "MPa bar psi kPa", "34.3 MPa"),
    "temperature": Quantity("a temperature", (_TEMPERATURE,), ("°C", "degC", "°F", "degF", "K"), "54 °C"),
    "temperature-difference": Quantity("a temperature difference", (_TEMPERATURE,), ("K", "°C", "°F"), "5 K"),
    "flow": _kind("a flow", (3, 0, -1, 0, 0), "L/min gpm cm3/min m3/h", "24 L/min"),
    "displacement": _kind("a displacement", (3, 0, 0, 0, -1), "cm3/rev cc/rev in3/rev L/rev", "112 cm3/rev"),
    "ratio": _kind("a ratio", (0, 0, 0, 0, 0), "%", "2 %"),
    "angle": Quantity("an angle", ((0, 0, 0, 0, 1),), ("deg", "°", "rad", "rev"), "25 deg", math.tau),
    "mass": _kind("a mass", (0, 1, 0, 0, 0), "kg t lb", "22 t"),
    "force": _kind("a force", (1, 1, -2, 0, 0), "kN N lbf", "150 kN"),
    "power": _kind("a power", (2, 1, -3, 0, 0), "kW hp W", "110 kW"),
    "torque": _kind("a torque", (2, 1, -2, 0, 0), "N*m kN*m lbf*ft", "500 N*m"),
    "energy": _kind("an energy", (2, 1, -2, 0, 0), "kJ J kWh", "5 kJ"),
    "speed": _kind("a speed", (1, 0, -1, 0, 0), "km/h m/s mph ft/min", "5.5 km/h"),
    "volume": _kind("a volume", (3, 0, 0, 0, 0), "L cm3 gal m3", "240 L"),
    "viscosity-kinematic": _kind("a kinematic viscosity", (2, 0, -1, 0, 0), "mm2/s cSt", "46 mm2/s"),
}

# Scales with an offset: K = (reading + offset) * factor; 0 °F is 459.67 °R (NIST SP 811, B.8).
_CELSIUS: Final = (1.0, 273.15)
_FAHRENHEIT: Final = (5.0 / 9.0, 459.67)
_SCALES: Final[Mapping[str, tuple[float, float]]] = {
    **dict.fromkeys(("K", "kelvin", "Kelvin"), (1.0, 0.0)),
    **dict.fromkeys(("°C", "degC", "celsius", "Celsius"), _CELSIUS),
    **dict.fromkeys(("°F", "degF", "fahrenheit", "Fahrenheit"), _FAHRENHEIT),
    **dict.fromkeys(("°R", "degR"), (5.0 / 9.0, 0.0)),
}

#: What answers are written in, by kind of quantity: unit, factor, offset;
#: SI value = (shown value + offset) * factor.
UNITS: Final[Mapping[str, tuple[str, float, float]]] = {
    "time": ("s", 1.0, 0.0),
    "length": ("mm", 1e-3, 0.0),
    "distance": ("m", 1.0, 0.0),
    "rotation": ("rpm", 1.0 / 60.0, 0.0),
    "pressure": ("MPa", 1e6, 0.0),
    "temperature": ("°C", *_CELSIUS),
    "temperature-difference": ("K", 1.0, 0.0),
    "flow": ("L/min", 1e-3 / 60.0, 0.0),
    "displacement": ("cm3/rev", 1e-6, 0.0),
    "ratio": ("%", 1e-2, 0.0),
    "angle": ("deg", math.pi / 180.0, 0.0),
    "mass": ("kg", 1.0, 0.0),
    "force": ("kN", 1e3, 0.0),
    "power": ("kW", 1e3, 0.0),
    "torque": ("N*m", 1.0, 0.0),
    "energy": ("kJ", 1e3, 0.0),
    "speed": ("km/h", 1.0 / 3.6, 0.0),
    "volume": ("L", 1e-3, 0.0),
    "viscosity-kinematic": ("mm2/s", 1e-6, 0.0),
}

#: What people who read US customary units get instead of a unit of the answers. A difference in °R is one in °F.
CUSTOMARY: Final[Mapping[str, str]] = {
    "mm": "in",
    "m": "ft",
    "MPa": "psi",
    "°C": "°F",
    "K": "°R",
    "L/min": "gpm",
    "mL/min": "in3/min",
    "cm3/rev": "in3/rev",
    "kg": "lb",
    "kN": "lbf",
    "kW": "hp",
    "N*m": "lbf*ft",
    "kJ": "ft*lbf",
    "km/h": "mph",
    "L": "gal",
    "mL": "in3",
}


# --- reading ------------------------------------------------------------------------

_SPACE: Final = " \t\xa0\u2000-\u200a\u202f\u205f\u3000"
_BLANKS: Final = re.compile(f"[{_SPACE}]+")
_NUMBER: Final = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)(?:[eE]([+-]?[0-9]+)(?![0-9]))?")
_COMMA: Final = re.compile(r"[+-]?[0-9][0-9.]*,[0-9]")
_COLON: Final = re.compile(r"[+-]?[0-9]+:[0-9]")
_RANGE: Final = re.compile(r"[-–—~±]|\.\.|\+[-/]|to\b", re.IGNORECASE)
# A digit at the start or after a blank, but not the 1 of `1/min` or of a plain ratio.
_SECOND_NUMBER: Final = re.compile(r"(?:^|(?<= ))(?!1(?: ?/|$))[0-9]")
_NOT_FINITE: Final = re.compile(r"[+-]?\.?(?:nan|inf(?:inity)?|∞)(?![a-z0-9])", re.IGNORECASE)
_HALF_NUMBER: Final = re.compile(r"[+-]?(?:\.[0-9]|[0-9]+\.(?![0-9]))")


def parse(text: object, quantity: str) -> float:
    """The SI value of `text`, which must be of the kind `quantity` (a key of `QUANTITIES`).

    Temperatures are absolute [K]. Raises QuantityError, whatever `text` is.
    """
    kind = QUANTITIES[quantity]
    if not isinstance(text, str):
        raise QuantityError(_not_text(text, kind), _wanted(kind))
    number, exponent, unit = _split(text, kind)
    factor, offset = _unit(unit, quantity, kind)
    if abs(exponent) > _MAX_EXPONENT or len(number) > _MAX_DIGITS:
        raise QuantityError(f"`{shorten(text.strip(), 30)}` is out of all bounds", _wanted(kind))
    value = (float(f"{number}e{exponent}") + offset) * factor
    if not math.isfinite(value):
        raise QuantityError(f"`{shorten(text.strip(), 30)}` is out of all bounds", _wanted(kind))
    if quantity == "temperature" and value < 0.0:
        raise QuantityError("a temperature below absolute zero", "a temperature above -273.15 °C")
    return value


def _wanted(kind: Quantity) -> str:
    units = ", ".join(kind.examples)
    return f"{kind.words} as a number and a unit ({units}), such as {kind.sample}"


def _not_text(value: object, kind: Quantity) -> str:
    if value is None:
        return f"nothing stands where {kind.words} is wanted"
    if isinstance(value, bool):
        return f"true or false stands where {kind.words} is wanted"
    if isinstance(value, float) and not math.isfinite(value):
        return "infinity or NaN is no measured value"
    if isinstance(value, int | float):
        return "a bare number has no unit"
    if isinstance(value, list | tuple):
        return f"a list stands where one quantity, {kind.words}, is wanted"
    if isinstance(value, dict):
        return f"a mapping stands where {kind.words} is wanted"
    return f"{kind.words} is written as text"


def _split(text: str, kind: Quantity) -> tuple[str, int, str]:
    """Number, exponent and unit; raises QuantityError with the likeliest mistake."""
    if len(text) > _MAX_TEXT:
        raise QuantityError(f"a text of {len(text):,} characters is no quantity", _wanted(kind))
    text = _BLANKS.sub(" ", text).strip(" ").replace("\u2212", "-")
    shown = f"`{shorten(text, 30)}`"
    if not text:
        raise QuantityError("an empty text is no quantity", _wanted(kind))
    found = _NUMBER.match(text)
    if _NOT_FINITE.match(text):
        raise QuantityError("infinity or NaN is no measured value", _wanted(kind))
    if _COMMA.match(text):
        raise QuantityError(
            f"{shown} has a comma in its number", f"a decimal point and no commas, such as {kind.sample}"
        )
    if _COLON.match(text):
        raise QuantityError(f"{shown} is written with a colon", _wanted(kind))
    if _HALF_NUMBER.match(text):
        raise QuantityError(
            f"{shown} lacks digits before or after the decimal point", "a number such as 0.5 or 5.0, then the unit"
        )
    if found is None:
        raise QuantityError(f"{shown} does not start with a number", _wanted(kind))
    unit = text[found.end() :].strip(" ")
    if not unit:
        raise QuantityError("a bare number has no unit", _wanted(kind))
    _refuse_expression(unit, shown, kind)
    digits = found.group(2) or "0"
    # Long exponents are out of bounds anyway; int() of thousands of digits is not wanted.
    exponent = int(digits) if len(digits) < 8 else _MAX_EXPONENT + 1
    return found.group(1), exponent, unit


def _refuse_expression(unit: str, shown: str, kind: Quantity) -> None:
    if _RANGE.match(unit) and not unit.lower().startswith("torr"):
        raise QuantityError(f"{shown} is a range or a tolerance", f"one value: {_wanted(kind)}")
    if unit[0] in "*/^·⋅×+-(=" or "(" in unit or "**" in unit:
        raise QuantityError(f"{shown} is an expression", f"one number and one unit: {_wanted(kind)}")
    if _SECOND_NUMBER.search(unit):
        raise QuantityError(f"{shown} holds a second number", f"one number and one unit: {_wanted(kind)}")


# --- units --------------------------------------------------------------------------

_LOOKALIKES: Final = str.maketrans(
    {"º": "°", "˚": "°", "⋅": "*", "·": "*", "∙": "*", "\u2215": "/", "µ": "μ", "\u2212": "-", "⁻": "-"}
)
_AROUND: Final = re.compile(r" *([*/]) *")
_SPACED_DEGREE: Final = re.compile(r"^(°|deg) (?=[CFR]$)")
_FACTOR: Final = re.compile(r"([^\W\d_]+|[°%‰](?:[A-Z])?)(?:\^?(-?[1-9]))?")
_JOINT: Final = re.compile(r"([*/])")


class _UnknownUnit(ValueError):
    """args: the name that is no unit."""


def _tidy(unit: str) -> str:
    """One spelling: superscripts as digits, one sign for products, no blanks around it."""
    unit = unicodedata.normalize("NFKC", unit.translate(_LOOKALIKES)).translate(_LOOKALIKES)
    unit = _AROUND.sub(r"\1", _BLANKS.sub(" ", unit))
    return _SPACED_DEGREE.sub(r"\1", unit)


def _unit(unit: str, quantity: str, kind: Quantity) -> tuple[float, float]:
    """Factor and offset of a unit as written; SI = (number + offset) * factor."""
    name = _tidy(unit[: _MAX_UNIT + 1])
    if name in ("C", "F"):
        if _TEMPERATURE in kind.dimensions:
            raise QuantityError(f"`{name}` alone is no temperature", f"°{name} or deg{name}, such as {kind.sample}")
        raise QuantityError(f"`{name}` is no unit of {_bare(kind)}", _wanted(kind))
    scale = _SCALES.get(name)
    if scale is not None:
        if quantity == "temperature":
            return scale
        if quantity == "temperature-difference":
            return scale[0], 0.0
    try:
        if len(unit) > _MAX_UNIT:
            raise _UnknownUnit(name)
        factor, dimension = (scale[0], _TEMPERATURE) if scale is not None else _product(name)
    except _UnknownUnit as error:
        fitting = {name for name, (_, dimension) in ATOMS.items() if dimension in kind.dimensions}
        guess = nearest(str(error.args[0]), fitting.union(kind.examples))
        hint = f", did you mean `{guess}`?" if guess else ""
        raise QuantityError(f"`{shorten(unit, 30)}` is no unit known here{hint}", _wanted(kind)) from None
    if dimension not in kind.dimensions:
        raise QuantityError(_wrong_dimension(name, dimension, kind), _wanted(kind))
    return factor * kind.per_turn, 0.0


def _bare(kind: Quantity) -> str:
    return kind.words.split(" ", 1)[1]


def _wrong_dimension(unit: str, dimension: Dimension, kind: Quantity) -> str:
    if kind is QUANTITIES["displacement"] and dimension == (3, 0, 0, 0, 0):
        return f"`{shorten(unit, 30)}` is a volume, not one per revolution"
    for other in QUANTITIES.values():
        if dimension == other.dimensions[0]:
            return f"`{shorten(unit, 30)}` is a unit of {_bare(other)}, {kind.words} is wanted"
    return f"`{shorten(unit, 30)}` is no unit of {_bare(kind)}"


@lru_cache(maxsize=1024)
def _product(unit: str) -> tuple[float, Dimension]:
    """Factor and dimension of names joined by * and /, read from left to right."""
    parts = _JOINT.split(unit)
    names, joints = parts[::2], ["*", *parts[1::2]]
    if len(names) > _MAX_FACTORS:
        raise _UnknownUnit(unit)
    factor, exponents = 1.0, [0, 0, 0, 0, 0]
    for position, (joint, part) in enumerate(zip(joints, names, strict=True)):
        if part == "1" and position == 0:
            continue
        found = _FACTOR.fullmatch(part)
        if found is None:
            raise _UnknownUnit(part or unit)
        power = int(found.group(2) or "1") * (1 if joint == "*" else -1)
        one, dimension = _atom(found.group(1))
        try:
            factor *= one**power
        except (OverflowError, ZeroDivisionError):
            raise _UnknownUnit(unit) from None
        exponents = [sum_ + power * part_ for sum_, part_ in zip(exponents, dimension, strict=True)]
    length, mass, time, temperature, turn = exponents
    return factor, (length, mass, time, temperature, turn)


def _atom(name: str) -> tuple[float, Dimension]:
    known = ATOMS.get(name)
    if known is not None:
        return known
    if name in _SCALES or name in ("C", "F") or not 1 < len(name) <= 24:
        raise _UnknownUnit(name)
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
        raise _UnknownUnit(name) from None
    # A scale with an offset, a logarithm, or a mere number (pi, dozen) is no unit of a reading.
    exponents = {base: int(power) for base, power in one.unit_items() if power == int(power)}
    if two.magnitude != 2.0 * one.magnitude or not exponents:
        raise _UnknownUnit(name)
    if not set(exponents) <= set(_PINT_BASES) or len(exponents) != len(one.unit_items()):
        return 1.0, _FOREIGN
    length, mass, time, temperature, turn = (exponents.get(base, 0) for base in _PINT_BASES)
    factor = float(one.magnitude) * 1e-3**mass / math.tau**turn
    if not (math.isfinite(factor) and factor > 0.0):
        raise _UnknownUnit(name)
    return factor, (length, mass, time, temperature, turn)


# --- writing ------------------------------------------------------------------------


@lru_cache(maxsize=1024)
def _answer_unit(unit: str) -> tuple[float, float]:
    """Factor and offset of `unit` alone: SI = (value + offset) * factor."""
    name = _tidy(unit)
    for shown, factor, offset in UNITS.values():
        if name == shown:
            return factor, offset
    if name in _SCALES:
        return _SCALES[name]
    try:
        factor, dimension = _product(name)
    except _UnknownUnit:
        raise QuantityError(f"`{shorten(unit, 30)}` is no unit known here") from None
    kinds = [kind for kind in QUANTITIES.values() if dimension in kind.dimensions]
    if not kinds:
        raise QuantityError(f"`{shorten(unit, 30)}` is a unit of nothing that is measured here")
    return factor * kinds[0].per_turn, 0.0


def to_unit(value: float, unit: str) -> float:
    """An SI value in `unit`; °C and °F are temperatures, not differences. Raises QuantityError."""
    factor, offset = _answer_unit(unit)
    return value / factor - offset


def from_unit(value: float, unit: str) -> float:
    """The SI value of `value` in `unit`; the inverse of `to_unit`. Raises QuantityError."""
    factor, offset = _answer_unit(unit)
    return (value + offset) * factor


def unit_of(quantity: str) -> str:
    """The unit that answers give this kind of quantity in."""
    return UNITS[quantity][0]


def figure(value: float, digits: int | None = 3) -> str:
    """A number for people: `digits` significant digits, no exponent, no trailing zeros.

    With None the shortest text that reads back as the same number. Raises ValueError on NaN and infinity.
    """
    if not math.isfinite(value):
        raise ValueError("a number that is not finite cannot be shown")
    text = repr(float(value)) if digits is None else f"{value:.{max(1, digits)}g}"
    if "e" in text:
        from decimal import Decimal

        text = f"{Decimal(text):f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def show(value: float, quantity: str, digits: int | None = 3, unit: str | None = None) -> str:
    """An SI value as text that `parse` reads: ``34.3 MPa``; `unit` where not the usual one.

    Raises ValueError on NaN and infinity, QuantityError on a unit that is none.
    """
    if unit is not None:
        return f"{figure(to_unit(value, unit), digits)} {unit}"
    name, factor, offset = UNITS[quantity]
    return f"{figure(value / factor - offset, digits)} {name}"
