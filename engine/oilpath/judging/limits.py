"""Which limit holds for a reading, and what it is for the reading's own hold, distance or turns."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import field

from oilpath.documents.machine import Limit, Machine
from oilpath.documents.sheet import Reading
from oilpath.flow import Basis
from oilpath.flow.notes import Note, Stretch, note
from oilpath.knowledge.testkind import TestKind
from oilpath.records import dataclass
from oilpath.uncertainty import rectangular

WIDE = 0.15  # standard uncertainty (share) of a limit scaled to e times its hold; drifts are not steady, from memory


@dataclass(frozen=True, slots=True)
class Standard:
    """What a value is judged against, SI.

    spread is the uncertainty that scaling adds to the reading, u that of the limits themselves (of an estimate, or a
    counterpart). reference is the value that a sound machine would show, with its uncertainty in the same unit; None
    where unknown.
    """

    basis: Basis | None
    new: float | None = None
    min: float | None = None
    max: float | None = None
    spread: float = 0.0
    u: float = 0.0
    reference: float | None = None
    reference_u: float = 0.0
    difference: float | None = None
    notes: tuple[Note, ...] = ()
    corrected: tuple[str, ...] = ()
    """conditions for which what it is compared with was computed"""
    shares: Mapping[str, str] = field(default_factory=dict)
    """words under which readings share what is not known of their references (`by` in kb/scatter.yaml)"""
    factor: float = 1.0
    """the limits are known but for this factor (standard uncertainty of their logarithm), beside u"""


def choose(
    test: str, kind: TestKind, reading: Reading, machine: Machine, fits: Callable[[Limit], bool] = lambda limit: True
) -> Limit | None:
    """The most specific limit of a test that holds for a reading and `fits`, None if there is none."""
    held = [one for one in machine.limits if one.test == test and fits(one) and _holds(one, kind, reading, machine)]
    return max(held, key=lambda one: len(one.where), default=None)


def _holds(limit: Limit, kind: TestKind, reading: Reading, machine: Machine) -> bool:
    if any(reading.keys.get(key) != word for key, word in limit.where.items()):
        return False
    groups = kind.limits.default_functions
    if not groups or "function" in limit.where:
        return True
    function = machine.circuit.functions.get(reading.keys.get("function", ""))
    return function is not None and function.group in groups


def limit_for(reading: Reading, machine: Machine) -> Limit | None:
    """The limit that a reading is judged against."""
    return choose(reading.test, reading.kind, reading, machine, lambda one: not (one.new is one.min is one.max is None))


def from_limit(reading: Reading, machine: Machine) -> tuple[Standard | None, tuple[Note, ...]]:
    """The standard that the machine's limits set for a reading, or None with the reason where one cannot be scaled."""
    kind = reading.kind
    limit = limit_for(reading, machine)
    if limit is None:
        return None, ()
    factor, notes = scale_factor(limit, reading)
    if factor is None:
        return None, notes
    new, low, high = (None if value is None else value * factor for value in (limit.new, limit.min, limit.max))
    widest = max(abs(value) for value in (new, low, high) if value is not None)
    spread = WIDE * abs(math.log(factor)) * widest if kind.limits.scaling == "proportional-wide" else 0.0
    reference, u = reference_of(kind, new, low, high)
    if low is None and high is None:
        notes = (*notes, note("only-new-is-known"))
    differing = choose(reading.test, kind, reading, machine, lambda one: one.max_difference is not None)
    return Standard(
        "limit", new, low, high, spread, 0.0, reference, u, differing.max_difference if differing else None, notes
    ), ()  # fmt: skip


def scale_factor(limit: Limit, reading: Reading) -> tuple[float | None, tuple[Note, ...]]:
    """By what a limit is multiplied for the reading's hold, distance or turns, and a note; None: it cannot be."""
    rules = reading.kind.limits
    per = rules.per
    if per is None or rules.scaling == "none" or limit.per is None or per not in reading.figures:
        return 1.0, ()
    own = reading.figures[per]
    if math.isclose(own, limit.per, rel_tol=1e-9):
        return 1.0, ()
    quantity = reading.kind.keys[per].quantity
    asked, made = Stretch(limit.per, per, quantity), Stretch(own, per, quantity)
    for key, word in rules.unscaled.items():
        if reading.keys.get(key) == word:
            return None, (note("limit-cannot-be-scaled", key=key, word=word, limit=asked, made=made),)
    wide = rules.scaling == "proportional-wide"
    return own / limit.per, (note("limit-scaled-less-sure" if wide else "limit-scaled", limit=asked, made=made),)


def reference_of(
    kind: TestKind, new: float | None, low: float | None, high: float | None
) -> tuple[float | None, float]:
    """What a sound machine would show, with its uncertainty: `new`, the middle of the range, or a share of a limit."""
    if new is not None:
        return new, 0.0
    if low is not None and high is not None:
        return (low + high) / 2, rectangular((high - low) / 4)
    limit, share = (high, kind.new_from_max) if high is not None else (low, kind.new_from_min)
    if limit is None or share is None:
        return None, 0.0
    # Half the way from the limit to the typical value.
    return limit * share, abs(limit * (1 - share)) / 2
