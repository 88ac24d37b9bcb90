"""The files of `kb/causes/`, `oilpath: causes/1`: what can be wrong, what it disturbs, how often."""

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from oilpath.knowledge.fields import Entry, Id, NonnegativeNumber, Number, PositiveNumber, Text, problem
from oilpath.knowledge.parameters import Parameter

Frequency = Literal["common", "occasional", "rare", "seldom"]


class Disturbs(Entry):
    """The parameter of the circuit that a cause disturbs.

    `from` is the parameter's value where the cause can just be noticed, `to` where the function is lost; the severity
    runs between them on a log grid of effect.
    """

    parameter: Parameter
    from_: Annotated[Number, Field(alias="from")] = 1.0
    to: Number = 1.0
    quantity: Id = "ratio"
    only: Literal["supply", "exhaust"] | None = None
    """functions for which the part stands before the actuator, or behind it (None: all that it serves)"""
    of: Id | None = None
    """class of parts that are all disturbed alike (both pumps, all gauges) in place of the cause's own part"""


def _many(value: object) -> object:
    return value if isinstance(value, list | tuple) else [value]


class CausePlace(Entry):
    """Where a cause can stand: parts of a class, or named parts."""

    class_: Annotated[tuple[Id, ...], BeforeValidator(_many)] = ()
    parts: Annotated[tuple[Id, ...], BeforeValidator(_many)] = ()


class Repair(Entry):
    """What the remedy of a cause is and takes: one person's minutes with all preparation, and what has to be bought."""

    action: Literal["exchanged", "adjusted", "cleaned", "repaired", "topped-up"]
    minutes: PositiveNumber
    parts: Literal["none", "small", "large", "major"]
    """seals and filters are small, a valve block or a cylinder large, a pump or a final drive major"""


class Cause(Entry):
    """One kind of cause."""

    cause: Annotated[str, Field(pattern=r"^[a-z0-9-]+\.[a-z0-9-]+$")]
    title: Text
    """`{part}` stands for the part's title"""
    at: CausePlace
    variants: Literal["none", "functions", "sides"] = "none"
    """whether it may also stand in one function or on one side only"""
    disturbs: Annotated[tuple[Disturbs, ...], BeforeValidator(_many)] = ()
    ways: dict[Id, Annotated[tuple[Disturbs, ...], BeforeValidator(_many)]] = {}
    """instead of `disturbs`: named ways in which it can happen, each a variant (a relief set low, or leaking)"""
    titles: dict[Id, Text] = {}
    """titles of ways that need another than `title`"""
    frequency: Frequency
    frequencies: dict[Id, Frequency] = {}
    """ways that have a frequency of their own; `frequency` is then that of the others together"""
    repair: Repair | None = None
    """what its remedy takes, from memory"""
    worn_at: NonnegativeNumber = 0
    """hours at which wear makes it as frequent as `frequency` says; 0: at any age"""
    mechanism: Text
    signature: Text
    against: Text | None = None
    mistaken_for: Text | None = None
    """what it is easily taken for, and what tells the two apart"""
    confirm: Text | None = None
    """how to make sure of it before anything is opened or exchanged"""
    checks: tuple[Id, ...] = ()
    urgency: Literal["run", "care", "stop"] | None = None
    """what the machine may do until it is repaired: run, run with care, or stand still"""
    stop_use: Text | None = None
    """why the machine must stand still while this cause is likely"""
    waiting: Text | None = None
    """what it may cost to go on with the machine as it is, for the customer"""
    remedy: Text
    """what is repaired or replaced, for the repair order"""
    proof: Text | None = None
    """by what the remedy is known to have worked, measured after it"""
    afterwards: tuple[Text, ...] = ()
    """what the remedy leaves to do: what else is contaminated, filled, bled, started with care, set anew"""
    repeat: tuple[Id, ...] = ()
    """tests that are made again after it"""
    order: dict[Id, Text] = {}
    """what to order for the remedy: a word for each item (`seal-kit`) with its name; `{part}` as in the title"""
    source: Text

    @model_validator(mode="after")
    def _stops(self) -> Self:
        if self.urgency is not None and (self.urgency == "stop") != (self.stop_use is not None):
            raise problem("stop-use says why the machine must stand still, and urgency says that it must", "both")
        return self


class CauseFile(Entry):
    """One file of `kb/causes/`."""

    oilpath: Literal["causes/1"]
    causes: tuple[Cause, ...]
