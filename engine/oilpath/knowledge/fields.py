"""The field types that the file formats share: quantities in SI, ids, words, text as written."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Any, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, WithJsonSchema
from pydantic_core import PydanticCustomError

from oilpath.units import QuantityError, parse

ID_PATTERN = r"[a-z0-9]+(-[a-z0-9]+)*"
_ID = re.compile(ID_PATTERN)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


def kebab(name: str) -> str:
    """Python field name to the key in the file (`engine_speed` → `engine-speed`)."""
    return name.rstrip("_").replace("_", "-")


class Entry(BaseModel):
    """Base of everything read from a file: frozen, kebab-case keys, unknown keys refused."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", alias_generator=kebab, populate_by_name=True, defer_build=True
    )


class Keyed(Entry):
    """An entry by whose content something is kept: `content` is a hash, worked out once for each object."""

    @cached_property
    def content(self) -> str:
        """Hash of the whole content, order included: mappings in another order may be shown in another order."""
        return digest(*self._content())

    def _content(self) -> tuple[str, ...]:
        return (repr(self),)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """A copy; its hash is its own."""
        copied = super().model_copy(update=update, deep=deep)
        copied.__dict__.pop("content", None)
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


def quantity_value(value: object, quantity: str, *, positive: bool = False, nonnegative: bool = False) -> float:
    """Read a quantity as text into SI; an already read number (from Python) is taken as SI.

    Raises PydanticCustomError where it is none, or not positive where that is asked for.
    """
    try:
        number = parse(value, quantity)
    except QuantityError as error:
        raise problem(error.message, error.accepted) from None
    if positive and not number > 0:
        raise problem("must be more than zero", f"a positive {quantity}")
    if nonnegative and number < 0:
        raise problem("must not be negative", f"a {quantity} of zero or more")
    return number


def quantity(name: str, *, positive: bool = False, nonnegative: bool = False) -> Any:
    """The annotated type of a quantity field: text in the file, a float in SI in the model."""

    def read(value: object) -> float:
        return quantity_value(value, name, positive=positive, nonnegative=nonnegative)

    schema = {"type": "string", "description": f"{name}: number and unit", "pattern": r"^\s*[+-]?[0-9]"}
    return Annotated[float, BeforeValidator(read), WithJsonSchema(schema)]


def identifier(value: object) -> str:
    """Check that a value is an id; raises PydanticCustomError."""
    if not isinstance(value, str) or not _ID.fullmatch(value):
        raise problem("is not an id", "lower-case letters, digits and hyphens, such as boom-raise")
    return value


def _plain_number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise problem("is not a plain number", "a number without a unit, such as 3")
    if not abs(value) < 1e12:
        raise problem("is out of bounds", "a number below 1e12")
    return float(value)


def _whole_number(value: object) -> int:
    number = _plain_number(value)
    if number != int(number) or number < 0:
        raise problem("is not a whole number", "0, 1, 2 …")
    return int(number)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise problem("is not text", "text")
    if not value.strip():
        raise problem("is empty", "some text, or leave the key out")
    if len(value) > 2000:
        raise problem("is too long", "at most 2000 characters")
    return value


def _date(value: object) -> str:
    import datetime

    if isinstance(value, str) and _DATE.fullmatch(value):
        try:
            datetime.date.fromisoformat(value)
        except ValueError:
            raise problem("is no day of the calendar", "a date as YYYY-MM-DD") from None
        return value
    raise problem("is not a date", "a date as YYYY-MM-DD")


def _positive_number(value: float) -> float:
    if not value > 0:
        raise problem("must be more than zero", "a positive number")
    return value


def _nonnegative_number(value: float) -> float:
    if value < 0:
        raise problem("must not be negative", "zero or more")
    return value


def _share(value: float) -> float:
    if not 0 <= value <= 1:
        raise problem("is no share", "a number from 0 to 1")
    return value


def _probability(value: float) -> float:
    if not 0 < value < 1:
        raise problem("is a certainty or no probability", "a number above 0 and below 1")
    return value


def _one_or_many(value: object) -> object:
    return value if isinstance(value, list | tuple) else [value]


Id = Annotated[str, BeforeValidator(identifier)]
Text = Annotated[str, BeforeValidator(_text)]
Date = Annotated[str, BeforeValidator(_date), WithJsonSchema({"type": "string", "format": "date"})]
Number = Annotated[float, BeforeValidator(_plain_number)]
PositiveNumber = Annotated[float, BeforeValidator(_plain_number), AfterValidator(_positive_number)]
NonnegativeNumber = Annotated[float, BeforeValidator(_plain_number), AfterValidator(_nonnegative_number)]
Share = Annotated[float, BeforeValidator(_plain_number), AfterValidator(_share)]
Probability = Annotated[float, BeforeValidator(_plain_number), AfterValidator(_probability)]
WholeNumber = Annotated[int, BeforeValidator(_whole_number)]
Texts = Annotated[tuple[Text, ...], BeforeValidator(_one_or_many)]

Time = quantity("time", positive=True)
Length = quantity("length", positive=True)
Rotation = quantity("rotation", positive=True)
Pressure = quantity("pressure", nonnegative=True)
Temperature = quantity("temperature")
Flow = quantity("flow", nonnegative=True)
Displacement = quantity("displacement", positive=True)
Ratio = quantity("ratio", nonnegative=True)

#: Keys whose scalars are text exactly as written, even where they look like numbers.
TEXT_KEYS = frozenset(
    {"name", "unit-number", "order-number", "serial-number", "technician", "complaint", "history", "note", "notes",
     "text", "says", "how", "title", "because", "source", "mechanism", "signature", "against", "warn"}
)  # fmt: skip
