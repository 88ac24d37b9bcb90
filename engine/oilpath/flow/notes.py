"""What the steps have to say: an id and the figures that belong to it.

Sentences, units and rounding are made in reports: which sentence belongs to which id, and how many digits each figure
gets, is the table in `reports.phrases`. A note's values are figures in SI with their quantity, things named by their
ids, words of the file formats (`oil-temperature`), other people's text, other notes, or several of these in a tuple.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, TypeAlias

from oilpath.records import dataclass


@dataclass(frozen=True, slots=True)
class Amount:
    """A figure in SI with its quantity, a name of `units.QUANTITIES`; None for a plain number."""

    value: float
    quantity: str | None = None


@dataclass(frozen=True, slots=True)
class OfTest:
    """A value of a test in SI, or a difference between two: said in the unit of that test."""

    value: float
    test: str
    difference: bool = False


@dataclass(frozen=True, slots=True)
class Between:
    """A range in SI; None if it is open."""

    low: float | None
    high: float | None
    quantity: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """Over what a reading was made, in SI: the key that states it (`hold`, `distance`, `turns`) and its quantity."""

    value: float
    key: str
    quantity: str | None


@dataclass(frozen=True, slots=True)
class Named:
    """A thing by its id; of a cause or a check, `at` is the part where it is."""

    kind: Literal["result", "part", "function", "cause", "check"]
    id: str
    at: str = ""


@dataclass(frozen=True, slots=True)
class Quote:
    """Text that other people wrote: of the knowledge base, a machine file or a sheet."""

    text: str


@dataclass(frozen=True, slots=True)
class Filled:
    """A sentence of the knowledge base with its variables (`$pump`) and, by variable, the id that stands for each."""

    text: str
    words: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Note:
    """Something to say: the id of a phrase, and the values that it needs."""

    id: str
    values: Mapping[str, Value]


Value: TypeAlias = "Amount | OfTest | Between | Stretch | Named | Quote | Filled | Note | int | str | tuple[Value, ...]"


def note(phrase: str, /, **values: Value) -> Note:
    """A note, `note("oil-too-cold", oil=Amount(293.15, "temperature"), window=…)`."""
    return Note(phrase, values)
