"""The file `kb/tests.yaml`, `oilpath: tests/1`: what each test kind needs, how it is judged, its cautions."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator

from oilpath.formats.fields import Entry, Id, Number, Text, Texts, WholeNumber, quantity_value


class Key(Entry):
    """One key of a reading. `is_` says what it names; `words` closes the list; quantities name their `quantity`."""

    is_: Literal[
        "function", "cylinder", "part", "pump", "word", "quantity", "number", "whole", "flag", "functions", "veer", "log",
        "text"
    ]  # fmt: skip
    quantity: Id | None = None
    words: tuple[str, ...] = ()
    required: bool = False
    repeats: bool = False
    sign: Literal["positive", "nonnegative", "any"] = "any"


class Limits(Entry):
    """What a limit of this test may state beside new, min and max, and how it scales."""

    where: tuple[Id, ...] = ()
    """target keys that a limit may name"""
    per: Id | None = None
    """key (hold, turns, distance) for which the limit holds"""
    scaling: Literal["proportional", "proportional-wide", "none"] = "none"
    """`proportional-wide`: with an extra uncertainty (a drift is not quite steady)"""
    veer: bool = False
    difference: bool = False
    sides: Literal["upper", "lower", "both"] = "both"
    default_functions: tuple[Id, ...] = ()
    """groups of functions for which a limit holds that names no function (empty: all)"""


class Range(Entry):
    """An accepted range of a condition, in SI; either end may be open."""

    min: float | None = None
    max: float | None = None


def _range(value: object) -> object:
    if isinstance(value, dict):
        return {k: quantity_value(v, "temperature") if isinstance(v, str) else v for k, v in value.items()}
    return value


class Conditions(Entry):
    """The conditions that a test demands by common practice."""

    oil_temperature: Annotated[Range, BeforeValidator(_range)] | None = None
    engine_speed: bool = False
    """the engine must be at its test speed"""
    attachment: tuple[Literal["empty", "loaded", "other"], ...] = ()
    auto_idle: Literal["on", "off"] | None = None
    working_setting: Literal["full", "reduced"] | None = None
    least: dict[Id, Any] = {}
    """keys of the reading (hold …) with the least value that counts"""


class Instrument(Entry):
    """Instrument assumed where the sheet names none: type-B parts of the uncertainty, SI or shares."""

    kind: Id
    systematic: Number = 0
    """standard uncertainty that repeats do not reduce, in the test's SI unit"""
    systematic_ratio: Number = 0
    """the same as a share of the value"""
    scatter: Number = 0
    """least standard deviation of one reading, in the test's SI unit"""
    scatter_ratio: Number = 0
    resolution: Number = 0


class Scatter(Entry):
    """How far sound machines of one kind lie apart on this test (knowledge, used by the ranking)."""

    own: Number
    """as ln ratio for ratio tests, in SI for offsets"""
    because: Text


class Variant(Entry):
    """A variant that is compared with the standard reading."""

    says: Text


class TestKind(Entry):
    """One kind of test."""

    __test__ = False

    title: Text
    says: Text
    id: tuple[Id, ...] = ()
    """keys that make the result id, in order"""
    keys: dict[Id, Key]
    value: Id | None
    """key that holds the measured value (None: a sign, code or check)"""
    quantity: Id | None = None
    unit: str | None = None
    observe: Id
    """what the circuit model predicts for it"""
    load: str = ""
    """load case of the circuit; may name a key, such as `ground-{range}`"""
    scale: Literal["ratio", "offset"] = "ratio"
    more_is: Literal["slow", "high", "right"] = "high"
    less_is: Literal["fast", "low", "left"] = "low"
    timed: bool = False
    """flow-limited time: corrected for engine speed, invalid outside the accepted range"""
    uncorrected_groups: tuple[Id, ...] = ()
    limits: Limits = Limits()
    conditions: Conditions = Conditions()
    instrument: Instrument | None = None
    scatter: Scatter | None = None
    new_from_max: Number | None = None
    """where only `max` is known: typical new value as a share of it"""
    order: WholeNumber = 50
    minutes: Number = 5
    tools: Texts = ()
    how: Texts = ()
    cautions: tuple[Id, ...] = ()
    source: Text


class TestFile(Entry):
    """`kb/tests.yaml`."""

    __test__ = False

    oilpath: Literal["tests/1"]
    variants: dict[Id, Variant]
    tests: dict[Id, TestKind]
