"""Types of the values of sheets and machine files: what each takes, and the JSON Schema that an editor gets for it."""

import re
from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal, TypeVar, get_args

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema

from oilpath.knowledge.circuit import Control
from oilpath.knowledge.fields import (
    ID_PATTERN,
    Ratio,
    one_or_many,
    plain_number,
    problem,
    quantity,
    quantity_schema,
    quantity_value,
    whole_value,
    word,
)

T = TypeVar("T")
VEER_LINES: Final = ("start-line", "run-up-line", "chord")
_CAUSE: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*\.[a-z0-9]+(?:-[a-z0-9]+)*|unknown|none")
_MOST_HOURS: Final = 200_000.0
_MOST_CLASS: Final = 20.0
_MOST_TURNS: Final = 50.0
_MOST_MINUTES: Final = 100_000.0
MAX_ENTRIES: Final = 1000

ID_SCHEMA: Final[dict[str, Any]] = {"type": "string", "pattern": f"^{ID_PATTERN}$"}
FILE_PATH: Final[dict[str, Any]] = {"type": "string", "description": "path of a file, relative to this one"}
FEEDS: Final[dict[str, Any]] = {
    "type": "object",
    "properties": {"merge": {"anyOf": [{"type": "object", "additionalProperties": ID_SCHEMA}, {"type": "null"}]}},
    "additionalProperties": {"anyOf": [ID_SCHEMA, {"type": "array", "items": ID_SCHEMA}, {"type": "null"}]},
}

FIGURES: Final[dict[str, Any]] = {
    "type": "object",
    "propertyNames": ID_SCHEMA,
    "additionalProperties": {
        "anyOf": [{"type": ["number", "string"]}, {"type": "array", "minItems": 2, "maxItems": 2}]
    },
}

Many = Annotated[list[T], Field(max_length=MAX_ENTRIES)]
#: An id of the circuit or of the knowledge base, or the path of another file: bound later, as it was written.
Ref = Annotated[Any, WithJsonSchema(ID_SCHEMA)]
Refs = Annotated[Many[Ref], BeforeValidator(one_or_many)]
FilePath = Annotated[Any, WithJsonSchema(FILE_PATH)]
FilePaths = Annotated[list[FilePath], BeforeValidator(one_or_many)]


def _cause(value: object) -> str:
    if isinstance(value, str) and _CAUSE.fullmatch(value):
        return value
    raise problem("is not a cause", "PART-KIND.FAULT, such as pump.worn; or none or unknown")


def _ranged(name: str) -> Any:
    """The type of a range of a quantity, [least, greatest]."""
    accepted = "the least and the greatest value, such as [50 °C, 60 °C] for a temperature"

    def read(value: object) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise problem("is not a range", accepted)
        low, high = (quantity_value(one, name) for one in value)
        if not 0 < low < high:
            raise problem("does not rise from the least to the greatest value", accepted)
        return low, high

    schema = {"type": "array", "items": quantity_schema(name), "minItems": 2, "maxItems": 2}
    return Annotated[tuple[float, float], BeforeValidator(read), WithJsonSchema(schema)]


Cause = Annotated[str, BeforeValidator(_cause)]
TemperatureRange = _ranged("temperature")
RotationRange = _ranged("rotation")
AttachmentWord = Literal["empty", "loaded", "other"]
AutoIdleWord = Literal["on", "off"]
WorkingSettingWord = Literal["full", "reduced"]
#: Conditions that are said in words, on a sheet and in what a machine demands.
CONDITION_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "attachment": get_args(AttachmentWord),
    "auto-idle": get_args(AutoIdleWord),
    "working-setting": get_args(WorkingSettingWord),
}
Attachment = word(AttachmentWord, "a word for attachment")
AutoIdle = word(AutoIdleWord, "a word for auto-idle")
WorkingSetting = word(WorkingSettingWord, "a word for working-setting")


Side = word(Literal["left", "right"], "a side")
RemedyAction = word(Literal["exchanged", "adjusted", "cleaned", "repaired", "topped-up"], "an action of a remedy")
WorkKind = word(
    Literal["setting", "plugged", "crossed", "fitted", "wired", "exchanged"], "a kind of work on the machine"
)
JobGrade = word(Literal["torn-down", "retested", "symptom-gone", "unknown"], "how a cause is known")
Turns = plain_number("any", 0.0, _MOST_TURNS)
WorkMinutes = plain_number("nonnegative", 0.0, _MOST_MINUTES)
VeerLine = word(Literal["start-line", "run-up-line", "chord"], "a line that a veer is measured from")
Offset = quantity("distance", "nonnegative")
Moved = quantity("length", "nonnegative")
Hours = plain_number("nonnegative", 0.001, _MOST_HOURS)
Class = plain_number("positive", 0.001, _MOST_CLASS)
ControlWord = word(Control, "a control of the main pumps")


# --- machines -----------------------------------------------------------------------

#: Viscosity grades of ISO 3448:1992, by their viscosity at 40 °C in mm²/s.
GRADES: Final = (2, 3, 5, 7, 10, 15, 22, 32, 46, 68, 100, 150, 220, 320, 460, 680, 1000, 1500, 2200, 3200)
_GRADE: Final = re.compile(r"(?:iso[ -]*)?vg[ -]*([0-9]{1,4})", re.IGNORECASE)
_MOST_PARTS: Final = 16  # of one kind in one place, such as the cylinders of a boom
_MOST_TOLERANCE: Final = 0.2


def _tolerance(value: float) -> float:
    if value > _MOST_TOLERANCE:
        raise problem("is too large for a tolerance", "at most 20 %, such as 2 %")
    return value


def _grade(value: object) -> str:
    found = _GRADE.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is not None and int(found.group(1)) in GRADES:
        return f"ISO VG {int(found.group(1))}"
    raise problem("is not a viscosity grade of ISO 3448", "ISO VG followed by " + ", ".join(map(str, GRADES)))


def _count(value: object) -> int:
    number = whole_value(value, _MOST_PARTS)
    if number == 0:
        raise problem("must be more than zero", "1, 2 …; a part that the machine lacks is listed under absent")
    return number


Tolerance = Annotated[Ratio, AfterValidator(_tolerance)]
Grade = Annotated[str, BeforeValidator(_grade), WithJsonSchema({"type": "string", "examples": ["ISO VG 46"]})]
ViscosityIndex = plain_number("positive", 1, 400)
SpeedRatio = plain_number("positive", 0.05, 20)
Count = Annotated[int, BeforeValidator(_count), WithJsonSchema({"type": "integer", "minimum": 1})]
