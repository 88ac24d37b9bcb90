"""What a test can show at all, and likely slips of writing: knowledge by which a reading is asked about."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import ValidationInfo, WithJsonSchema, field_validator, model_validator

from oilpath.knowledge.fields import Entry, Id, PositiveNumber, Probability, Share, Text, problem, quantity_value
from oilpath.units import QUANTITIES, QuantityError, from_unit, to_unit


def span_value(value: object, quantity: str) -> object:
    """A span with quantities as text → SI; what is a number already stays."""
    if not isinstance(value, Mapping):
        return value
    return {key: quantity_value(v, quantity) if isinstance(v, str) else v for key, v in value.items()}


#: A quantity as text in the file, a number in SI in the model.
End = Annotated[float | None, WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "number"}, {"type": "null"}]})]


class Span(Entry):
    """From `min` to `max`, either may be left out; SI."""

    min: End = None
    max: End = None

    def holds(self, value: float) -> bool:
        """Whether a value lies in it, its ends included."""
        return (self.min is None or value >= self.min) and (self.max is None or value <= self.max)


ANYTHING = Span()


class Plausible(Entry):
    """What readings of one test can be."""

    shown: Span = ANYTHING
    """what a machine of any kind may show, sound or not; beyond it people are asked"""
    sound: Span = ANYTHING
    """what a sound machine of any kind may show; a limit beyond it is asked about"""
    of_new: Span = ANYTHING
    """ratio to what a sound one shows, beyond which a likely slip is asked about"""
    repeat: Share = 0
    """share by which one repeat may lie off the middle of the others (0: not looked at)"""
    within: Literal["stroke"] | None = None
    """figure of the part that a reading cannot exceed"""
    if_meant: Text | None = None
    """what a reading beyond `shown` may mean if it is right"""
    because: Text


class FigureSpan(Entry):
    """What a figure beside a reading (an oil temperature, a hold) may be."""

    quantity: Id
    shown: Span

    @field_validator("shown", mode="before")
    @classmethod
    def _si(cls, value: object, info: ValidationInfo) -> object:
        return span_value(value, _known(info.data.get("quantity")))


def _known(quantity: object) -> str:
    if quantity not in QUANTITIES:
        raise problem("is not a kind of quantity", "one of " + ", ".join(QUANTITIES))
    return str(quantity)


class SlipKind(Entry):
    """One slip of writing. One of `times`, `written` with `meant`, `one-of`, `other-side` says what was meant."""

    id: Id
    asks: Literal["unit", "decimal", "turns", "side"]
    of: tuple[Id, ...]
    """kinds of quantity in which it happens"""
    times: PositiveNumber | None = None
    """what was meant over what was written"""
    written: Text | None = None
    """the unit that was written in the place of `meant`"""
    meant: Text | None = None
    one_of: Id | None = None
    """the key that says how many were to be measured, where only one of them was"""
    other_side: bool = False
    """left was written for right, or right for left"""
    probability: Probability
    """how probable it is for one reading, or for the readings of one test together"""
    because: Text

    @model_validator(mode="after")
    def _one_way(self) -> SlipKind:
        ways = (self.times, self.written, self.one_of, self.other_side or None)
        if sum(way is not None for way in ways) != 1 or (self.written is None) != (self.meant is None):
            raise problem("says not just one way of going wrong", "times, written with meant, one-of, or other-side")
        for unit in (self.written, self.meant):
            try:
                from_unit(1.0, unit or "m")
            except QuantityError as error:
                raise problem(error.message, error.accepted) from None
        return self

    def read_as(self, value: float, figures: Mapping[str, float]) -> float | None:
        """What was meant by a value in SI; None if this slip cannot be made there."""
        if self.times is not None:
            return value * self.times
        if self.written is not None and self.meant is not None:
            return from_unit(to_unit(value, self.written), self.meant)
        if self.other_side:
            return -value
        many = figures.get(self.one_of or "")
        return value * many if many is not None and many > 1 else None


def plausible_value(value: object, quantity: object) -> object:
    """The entry `plausible` of a test, its spans of the test's own quantity in SI."""
    if not isinstance(value, Mapping):
        return value
    entry: dict[Any, Any] = dict(value)
    for key in ("shown", "sound"):
        if key in entry:
            entry[key] = span_value(entry[key], _known(quantity))
    return entry
