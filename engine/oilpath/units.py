"""Text to SI numbers and back: the only place that knows units.

A quantity is text, `NUMBER UNIT`: ``34.3 MPa``, ``4975 psi``, ``54 °C``, ``112 cm3/rev``.
All that is said of a kind of quantity stands in one table, `QUANTITIES`; names of units are in `unit_names.py`.

Inside everything is SI: s, m, Pa, m³/s, K, rev/s for rotational speed, m³/rev for displacement,
rad for angle. The functions here are for the ends of the flow, where people read and write.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import field
from functools import cache, lru_cache
from typing import Final, Literal

from oilpath.records import dataclass
from oilpath.spelling import nearest, shorten
from oilpath.unit_names import BLANKS, CELSIUS, SCALES, TEMPERATURE, Dimension, UnknownUnit, product, tidy
from oilpath.unit_table import ATOMS

__all__ = [
    "CUSTOMARY",
    "QUANTITIES",
    "UNITS",
    "Quantity",
    "QuantityError",
    "Units",
    "bounds",
    "figure",
    "from_unit",
    "parse",
    "sample",
    "show",
    "to_unit",
    "unit_of",
]

_MAX_TEXT: Final = 100
_MAX_DIGITS: Final = 40
_MAX_EXPONENT: Final = 30
_MAX_UNIT: Final = 40


class QuantityError(ValueError):
    """Text that is not the wanted quantity: `message` says why, `accepted` what would do."""

    def __init__(self, message: str, accepted: str = "") -> None:
        super().__init__(message, accepted)
        self.message = message
        self.accepted = accepted

    def __str__(self) -> str:
        return f"{self.message}; {self.accepted}" if self.accepted else self.message


Units = Literal["metric", "us"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A kind of quantity, with all that is said of it.

    words: with its article, for messages. dimensions: those taken, the first is the SI one.
    unit: what answers give it in. examples: the units to suggest, the usual ones first. sample: a whole quantity.
    bounds: least amount and greatest value that a file can mean, least apart from zero; None if nothing is known.
    customary: what readers of US customary units get in place of a unit. steps: how people note a reading of it down,
    unit and smallest step; without them, in the unit of answers. per_turn: SI value of the base product.
    """

    words: str
    dimensions: tuple[Dimension, ...]
    unit: str
    factor: float
    """SI value of one such unit; SI value = (shown value + offset) * factor"""
    examples: tuple[str, ...]
    sample: str
    bounds: tuple[str, str] | None = None
    customary: Mapping[str, str] = field(default_factory=dict)
    steps: Mapping[Units, tuple[str, float]] = field(default_factory=dict)
    offset: float = 0.0
    per_turn: float = 1.0
    """2 pi where SI counts radians"""


def _steps(metric: tuple[str, float], us: tuple[str, float] | None = None) -> Mapping[Units, tuple[str, float]]:
    return {"metric": metric, "us": us or metric}


#: Every kind of quantity by name. `distance` is a length that people read in metres.
QUANTITIES: Final[Mapping[str, Quantity]] = {
    "time": Quantity(
        "a time", ((0, 0, 1, 0, 0),), "s", 1.0, ("s", "min", "h", "ms"), "4.8 s", ("0.01 s", "24 h"),
        steps=_steps(("s", 0.01)),
    ),
    "length": Quantity(
        "a length", ((1, 0, 0, 0, 0),), "mm", 1e-3, ("mm", "m", "in", "ft", "cm"), "12 mm", ("0.001 mm", "1000 m"),
        {"mm": "in"}, _steps(("mm", 1), ("in", 0.05)),
    ),
    "distance": Quantity(
        "a length", ((1, 0, 0, 0, 0),), "m", 1.0, ("m", "ft", "mm", "km"), "20 m", ("0.001 mm", "1000 m"),
        {"m": "ft"}, _steps(("m", 0.1), ("ft", 0.5)),
    ),
    # Standards write 1/min for what the trade calls rpm: a plain frequency counts revolutions.
    "rotation": Quantity(
        "a rotational speed", ((0, 0, -1, 0, 1), (0, 0, -1, 0, 0)), "rpm", 1.0 / 60.0,
        ("rpm", "rev/min", "1/min", "rev/s"), "1900 rpm", ("1 rpm", "20000 rpm"), steps=_steps(("rpm", 10)),
    ),
    "pressure": Quantity(
        "a pressure", ((-1, 1, -2, 0, 0),), "MPa", 1e6, ("MPa", "bar", "psi", "kPa"), "34.3 MPa",
        ("0.001 MPa", "200 MPa"), {"MPa": "psi"}, _steps(("MPa", 0.1), ("psi", 10)),
    ),
    "temperature": Quantity(
        "a temperature", (TEMPERATURE,), "°C", CELSIUS[0], ("°C", "degC", "°F", "degF", "K"), "54 °C",
        ("-60 °C", "250 °C"), {"°C": "°F"}, _steps(("°C", 1), ("°F", 1)), offset=CELSIUS[1],
    ),
    # A difference in °R is one in °F.
    "temperature-difference": Quantity(
        "a temperature difference", (TEMPERATURE,), "K", 1.0, ("K", "°C", "°F"), "5 K", ("0.001 K", "100 K"),
        {"K": "°R"},
    ),
    "flow": Quantity(
        "a flow", ((3, 0, -1, 0, 0),), "L/min", 1e-3 / 60.0, ("L/min", "gpm", "cm3/min", "m3/h"), "24 L/min",
        ("0.001 L/min", "10000 L/min"), {"L/min": "gpm", "mL/min": "in3/min"}, _steps(("L/min", 0.1), ("gpm", 0.05)),
    ),
    "displacement": Quantity(
        "a displacement", ((3, 0, 0, 0, -1),), "cm3/rev", 1e-6, ("cm3/rev", "cc/rev", "in3/rev", "L/rev"),
        "112 cm3/rev", ("0.1 cm3/rev", "20000 cm3/rev"), {"cm3/rev": "in3/rev"},
    ),
    "ratio": Quantity(
        "a ratio", ((0, 0, 0, 0, 0),), "%", 1e-2, ("%",), "2 %", ("0.001 %", "100 %"), steps=_steps(("%", 0.1)),
    ),
    "angle": Quantity(
        "an angle", ((0, 0, 0, 0, 1),), "deg", math.pi / 180.0, ("deg", "°", "rad", "rev"), "25 deg",
        ("0.01 deg", "720 deg"), steps=_steps(("deg", 1)), per_turn=math.tau,
    ),
    "mass": Quantity("a mass", ((0, 1, 0, 0, 0),), "kg", 1.0, ("kg", "t", "lb"), "22 t", customary={"kg": "lb"}),
    "force": Quantity(
        "a force", ((1, 1, -2, 0, 0),), "kN", 1e3, ("kN", "N", "lbf"), "150 kN", customary={"kN": "lbf"}
    ),
    "power": Quantity(
        "a power", ((2, 1, -3, 0, 0),), "kW", 1e3, ("kW", "hp", "W"), "110 kW", customary={"kW": "hp"}
    ),
    "torque": Quantity(
        "a torque", ((2, 1, -2, 0, 0),), "N*m", 1.0, ("N*m", "kN*m", "lbf*ft"), "500 N*m",
        customary={"N*m": "lbf*ft"},
    ),
    "energy": Quantity(
        "an energy", ((2, 1, -2, 0, 0),), "kJ", 1e3, ("kJ", "J", "kWh"), "5 kJ", customary={"kJ": "ft*lbf"}
    ),
    "speed": Quantity(
        "a speed", ((1, 0, -1, 0, 0),), "km/h", 1.0 / 3.6, ("km/h", "m/s", "mph", "ft/min"), "5.5 km/h",
        customary={"km/h": "mph"},
    ),
    "volume": Quantity(
        "a volume", ((3, 0, 0, 0, 0),), "L", 1e-3, ("L", "cm3", "gal", "m3"), "240 L",
        customary={"L": "gal", "mL": "in3"}, steps=_steps(("mL", 0.1), ("in3", 0.01)),
    ),
    "viscosity-kinematic": Quantity(
        "a kinematic viscosity", ((2, 0, -1, 0, 0),), "mm2/s", 1e-6, ("mm2/s", "cSt"), "46 mm2/s"
    ),
}  # fmt: skip

#: The units of answers, as the table has them: unit, factor, offset.
UNITS: Final[Mapping[str, tuple[str, float, float]]] = {
    name: (kind.unit, kind.factor, kind.offset) for name, kind in QUANTITIES.items()
}
#: What people who read US customary units get instead of a unit of the answers, as the table has it.
CUSTOMARY: Final[Mapping[str, str]] = {
    unit: instead for kind in QUANTITIES.values() for unit, instead in kind.customary.items()
}


# --- reading ------------------------------------------------------------------------

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
    if not isinstance(text, str):
        kind = QUANTITIES[quantity]
        raise QuantityError(_not_text(text, kind), _wanted(kind))
    return _parse_text(text, quantity)


@lru_cache(maxsize=4096)  # limits, holds and distances are the same on sheet after sheet
def _parse_text(text: str, quantity: str) -> float:
    kind = QUANTITIES[quantity]
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


@cache
def bounds(quantity: str) -> tuple[float, float] | None:
    """Least amount and greatest value of a kind of quantity in SI, where something is known of them."""
    written = QUANTITIES[quantity].bounds
    return None if written is None else (parse(written[0], quantity), parse(written[1], quantity))


def sample(quantity: str) -> str:
    """What a quantity looks like, for a problem that wants one."""
    kind = QUANTITIES[quantity]
    return f"{kind.words} such as {kind.sample}"


def _wanted(kind: Quantity) -> str:
    units = ", ".join(kind.examples)
    return f"{kind.words} as a number and a unit ({units}), such as {kind.sample}"


def _not_text(value: object, kind: Quantity) -> str:
    if value is None:
        return f"nothing where {kind.words} is expected"
    if isinstance(value, bool):
        return f"true or false where {kind.words} is expected"
    if isinstance(value, float) and not math.isfinite(value):
        return "infinity or NaN is not a measured value"
    if isinstance(value, int | float):
        return "a bare number has no unit"
    if isinstance(value, list | tuple):
        return f"a list where one quantity, {kind.words}, is expected"
    if isinstance(value, dict):
        return f"a mapping where {kind.words} is expected"
    return f"{kind.words} is written as text"


def _split(text: str, kind: Quantity) -> tuple[str, int, str]:
    """Number, exponent and unit; raises QuantityError with the likeliest mistake."""
    if len(text) > _MAX_TEXT:
        raise QuantityError(f"a text of {len(text):,} characters is not a quantity", _wanted(kind))
    text = BLANKS.sub(" ", text).strip(" ").replace("\u2212", "-")
    shown = f"`{shorten(text, 30)}`"
    if not text:
        raise QuantityError("an empty text is not a quantity", _wanted(kind))
    found = _NUMBER.match(text)
    if _NOT_FINITE.match(text):
        raise QuantityError("infinity or NaN is not a measured value", _wanted(kind))
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


def _unit(unit: str, quantity: str, kind: Quantity) -> tuple[float, float]:
    """Factor and offset of a unit as written; SI = (number + offset) * factor."""
    name = tidy(unit[: _MAX_UNIT + 1])
    if name in ("C", "F"):
        if TEMPERATURE in kind.dimensions:
            raise QuantityError(f"`{name}` alone is not a temperature", f"°{name} or deg{name}, such as {kind.sample}")
        raise QuantityError(f"`{name}` is not a unit of {_bare(kind)}", _wanted(kind))
    scale = SCALES.get(name)
    if scale is not None:
        if quantity == "temperature":
            return scale
        if quantity == "temperature-difference":
            return scale[0], 0.0
    try:
        if len(unit) > _MAX_UNIT:
            raise UnknownUnit(name)
        factor, dimension = (scale[0], TEMPERATURE) if scale is not None else product(name)
    except UnknownUnit as error:
        fitting = {name for name, (_, dimension) in ATOMS.items() if dimension in kind.dimensions}
        guess = nearest(str(error.args[0]), fitting.union(kind.examples))
        hint = f", did you mean `{guess}`?" if guess else ""
        raise QuantityError(f"`{shorten(unit, 30)}` is not a unit known here{hint}", _wanted(kind)) from None
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
            return f"`{shorten(unit, 30)}` is a unit of {_bare(other)}; {kind.words} is expected"
    return f"`{shorten(unit, 30)}` is not a unit of {_bare(kind)}"


# --- writing ------------------------------------------------------------------------


@lru_cache(maxsize=1024)
def _answer_unit(unit: str) -> tuple[float, float]:
    """Factor and offset of `unit` alone: SI = (value + offset) * factor."""
    name = tidy(unit)
    for shown, factor, offset in UNITS.values():
        if name == shown:
            return factor, offset
    if name in SCALES:
        return SCALES[name]
    try:
        factor, dimension = product(name)
    except UnknownUnit:
        raise QuantityError(f"`{shorten(unit, 30)}` is not a unit known here") from None
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
