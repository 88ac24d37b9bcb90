"""The field types that the file formats share: quantities in SI, ids, words, text as written."""

import hashlib
import re
from collections.abc import Collection, Mapping
from functools import cached_property, partial
from typing import Annotated, Any, ClassVar, Literal, Self, get_args

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, WithJsonSchema
from pydantic_core import PydanticCustomError

from oilpath.spelling import nearest, shorten
from oilpath.units import QUANTITIES, QuantityError, bounds, parse

ID_PATTERN = r"[a-z0-9]+(-[a-z0-9]+)*"
_ID = re.compile(ID_PATTERN)
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def kebab(name: str) -> str:
    """Python field name to the key in the file (`engine_speed` → `engine-speed`)."""
    return name.rstrip("_").replace("_", "-")


class Entry(BaseModel):
    """Base of everything read from a file: frozen, kebab-case keys, unknown keys refused."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", alias_generator=kebab, populate_by_name=True, defer_build=True
    )
    called: ClassVar[str] = "this mapping"
    """what problems call a mapping of this kind"""
    needed: ClassVar[Mapping[str, str]] = {}
    """keys that must be stated, with what is accepted, of an entry that is read on though they are missing"""


class Keyed(Entry):
    """An entry by whose content something is kept: `content` is a hash, computed once for each object."""

    @cached_property
    def content(self) -> str:
        """Hash of the whole content, order included: mappings in another order may be shown in another order."""
        return digest(*self._content())

    def _content(self) -> tuple[str, ...]:
        return (repr(self),)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """A copy; what was computed from the content is its own."""
        copied = super().model_copy(update=update, deep=deep)
        for name in copied.__dict__.keys() - type(self).model_fields.keys():
            del copied.__dict__[name]
        return copied


def digest(*texts: str) -> str:
    """SHA-256 of some texts, one after the other."""
    found = hashlib.sha256()
    for text in texts:
        found.update(text.encode("utf-8", "surrogatepass") + b"\0")
    return found.hexdigest()


def problem(message: str, accepted: str = "") -> PydanticCustomError:
    """A validation error in words for the person, with what would be accepted."""
    return PydanticCustomError("oilpath", "{message}", {"message": message, "accepted": accepted})


Sign = Literal["positive", "nonnegative", "any"]
MAX_TEXT = 2000
MAX_NUMBER = 1000.0
_MAX_LIST = 24
_MOST = 1e12
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f]")


def nature(value: object) -> str:
    """What a value of a file is, in words."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, int | float):
        return "a number"
    if isinstance(value, str):
        return "a text"
    return "a list" if isinstance(value, list | tuple) else "a mapping"


# --- what a single value must be: each function gives it, or raises a problem -------


def text_value(value: object) -> str:
    """Text exactly as written; where it looks like a number the reader has kept it as text."""
    if not isinstance(value, str):
        raise problem(f"{nature(value)} where a text is expected", "one text")
    if not value.strip():
        raise problem("is empty", "some text; a key that is optional may be left out")
    if len(value) > MAX_TEXT:
        raise problem(f"a text of {len(value):,} characters is too long", f"at most {MAX_TEXT:,} characters")
    if not value.isprintable() and _CONTROL.search(value):
        raise problem("holds a control character", "printable text")
    return value


def flag_value(value: object) -> bool:
    """true or false."""
    if isinstance(value, bool):
        return value
    raise problem("is neither true nor false", "true or false")


def number_value(value: object, sign: Sign = "positive", *, least: float = 0.001, most: float = MAX_NUMBER) -> float:
    """A plain number without a unit; `least` is of the amount, zero apart."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise problem(f"{nature(value)} where a plain number is expected", "a number without a unit, such as 3")
    if sign == "any" or value > 0:
        if least <= abs(value) <= most:
            return float(value)
    else:
        _check_sign(value, sign)
    return _bounded(value, least, f"{least:g}", most, f"{most:,.10g}")


def whole_value(value: object, most: int = 10**12) -> int:
    """A whole number from 0 to `most`."""
    if isinstance(value, int | float) and not isinstance(value, bool) and value == int(value) and 0 <= value <= most:
        return int(value)
    raise problem("is not such a whole number", f"0 to {most}, without a unit")


def quantity_value(value: object, quantity: str, sign: Sign = "any") -> float:
    """A quantity as text → SI, within the range of its kind."""
    try:
        number = parse(value, quantity)
    except QuantityError as error:
        raise problem(error.message, error.accepted) from None
    kind, limits = QUANTITIES[quantity], bounds(quantity)
    if quantity == "temperature" and kind.bounds is not None and limits is not None:
        if limits[0] <= number <= limits[1]:
            return number
        raise problem("is out of range", f"{kind.words} from {kind.bounds[0]} to {kind.bounds[1]}")
    _check_sign(number, sign)
    if kind.bounds is None or limits is None:
        return number
    return _bounded(number, limits[0], kind.bounds[0], limits[1], kind.bounds[1])


def date_value(value: object) -> str:
    """A day of the calendar, as YYYY-MM-DD."""
    import datetime

    if not isinstance(value, str) or not _DATE.fullmatch(value):
        raise problem("is not a date", "YYYY-MM-DD, such as 2026-05-14")
    try:
        datetime.date.fromisoformat(value)
    except ValueError:
        raise problem("is not a day of the calendar", "YYYY-MM-DD, such as 2026-05-14") from None
    return value


def word_value(value: object, words: Collection[str], what: str, *, hints: bool = True) -> str:
    """One of a closed list of words. true and false stand for on and off where these are among them.

    hints: whether to look for the nearest word; a guess costs a comparison with every known one.
    """
    if isinstance(value, bool) and {"on", "off"} <= set(words):
        return "on" if value else "off"
    if not isinstance(value, str):
        raise problem(f"{nature(value)} where {what} is expected", "one of " + ", ".join(words))
    if value not in words:
        otherwise = None if len(words) <= _MAX_LIST else f"one of {len(words)}, such as {', '.join(sorted(words)[:3])}"
        raise problem(f"`{shorten(value)}` is not {what}", hint(value, words, otherwise, near=hints))
    return value


def hint(word: str, known: Collection[str], otherwise: str | None = None, *, near: bool = True) -> str:
    """What is accepted instead of an unknown word: the nearest known one, else the list or `otherwise`."""
    guess = nearest(word, known) if near else None
    if guess is not None:
        return f"did you mean {guess}?"
    if otherwise is not None:
        return otherwise
    return "one of " + ", ".join(known) if known else "nothing is known here"


def one_or_many(value: object) -> object:
    """A list, or one value alone as the list of it."""
    return value if isinstance(value, list | tuple) or value is None else [value]


def _check_sign(value: float, sign: Sign) -> None:
    if sign == "positive" and value <= 0:
        raise problem("must be more than zero", "a positive value")
    if sign == "nonnegative" and value < 0:
        raise problem("must not be negative", "zero or more")


def _bounded(value: float, low: float, low_text: str, high: float, high_text: str) -> float:
    # The bounds are read from text as well; a hair's breadth keeps `24 h` and `1440 min` both in.
    if abs(value) > high * (1 + 1e-9):
        raise problem("is too large", f"at most {high_text}")
    if value != 0 and abs(value) < low * (1 - 1e-9):
        raise problem("is too small", f"at least {low_text}")
    return float(value)


def identifier(value: object) -> str:
    if not isinstance(value, str) or not _ID.fullmatch(value):
        raise problem("is not an id", "lower-case letters, digits and hyphens, such as main-pump")
    return value


def _share(value: float) -> float:
    if not 0 <= value <= 1:
        raise problem("is not a share", "a number from 0 to 1")
    return value


def _probability(value: float) -> float:
    if not 0 < value < 1:
        raise problem("is a certainty or no probability", "a number above 0 and below 1")
    return value


# --- types of fields: the rules above, and what an editor needs to know -------------------


def quantity_schema(name: str) -> dict[str, Any]:
    """The JSON Schema of a quantity."""
    kind = QUANTITIES[name]
    return {
        "type": "string",
        "pattern": r"^\s*[+\-−]?[0-9]",
        "description": f"{kind.words} as a number and a unit ({', '.join(kind.examples)})",
        "examples": [kind.sample],
    }


def quantity(name: str, sign: Sign = "any") -> Any:
    """The annotated type of a quantity field: text in the file, a float in SI in the model."""

    def read(value: object) -> float:
        return quantity_value(value, name, sign)

    return Annotated[float, BeforeValidator(read), WithJsonSchema(quantity_schema(name))]


def plain_number(sign: Sign = "any", least: float = 0.0, most: float = _MOST) -> Any:
    """The annotated type of a number without a unit."""

    def read(value: object) -> float:
        return number_value(value, sign, least=least, most=most)

    return Annotated[float, BeforeValidator(read)]


def word(words: Any, what: str) -> Any:
    """The annotated type of a word of a closed list, which is given as a Literal."""

    def _word(value: object) -> str:
        return word_value(value, get_args(words), what)

    return Annotated[words, BeforeValidator(_word)]


Id = Annotated[str, BeforeValidator(identifier)]
Text = Annotated[str, BeforeValidator(text_value)]
Date = Annotated[str, BeforeValidator(date_value), WithJsonSchema({"type": "string", "format": "date"})]
Number = Annotated[float, BeforeValidator(partial(number_value, sign="any", least=0.0, most=_MOST))]
PositiveNumber = Annotated[float, BeforeValidator(partial(number_value, least=0.0, most=_MOST))]
NonnegativeNumber = Annotated[float, BeforeValidator(partial(number_value, sign="nonnegative", least=0.0, most=_MOST))]
Share = Annotated[Number, AfterValidator(_share)]
Probability = Annotated[Number, AfterValidator(_probability)]
WholeNumber = Annotated[int, BeforeValidator(whole_value)]
Texts = Annotated[tuple[Text, ...], BeforeValidator(one_or_many)]

Time = quantity("time", "positive")
Length = quantity("length", "positive")
Distance = quantity("distance", "positive")
Rotation = quantity("rotation", "positive")
Pressure = quantity("pressure", "nonnegative")
Temperature = quantity("temperature")
Flow = quantity("flow", "nonnegative")
Displacement = quantity("displacement", "positive")
Ratio = quantity("ratio", "positive")

#: Keys whose scalars are text exactly as written, even where they look like numbers.
TEXT_KEYS = frozenset(
    {"name", "unit-number", "order-number", "serial-number", "technician", "complaint", "history", "note", "notes",
     "text", "says", "how", "title", "because", "source", "mechanism", "signature", "against", "warn"}
)  # fmt: skip
