"""The pattern of a sheet (one word for each result), and how alike two patterns are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from oilpath.flow import CheckResult, CodeResult, ConditionFigure, Measured, Result, SignResult
from oilpath.records import dataclass

IN_ORDER: Final = "in-order"
NEAR: Final = "near"
OUT: Final = "out"
"""out of the limit, where no side is known"""
SEEN: Final = "seen"
NOT_SEEN: Final = "not-seen"

#: What says no more than that nothing shows there.
_QUIET: Final = frozenset({IN_ORDER, NOT_SEEN})
_HALF: Final = 0.5
"""what something found on one sheet counts where the other one did not look; from memory"""


def pattern_of(results: Iterable[Result]) -> dict[str, str]:
    """A word for each result that says something, by its id: `slow`, `low`, `near`, `in-order`, `seen`, an outcome."""
    found: dict[str, str] = {}
    for one in results:
        match one:
            case ConditionFigure():
                continue
            case Measured(verdict="fail"):
                found[one.id] = one.deviation or OUT
            case Measured(verdict="near"):
                found[one.id] = NEAR
            case Measured(verdict="pass"):
                found[one.id] = IN_ORDER
            case SignResult():
                found[one.id] = SEEN if one.seen else NOT_SEEN
            case CodeResult(active=active) if active is not None:
                found[one.id] = SEEN if active else NOT_SEEN
            case CheckResult():
                found[one.id] = one.outcome
    return found


@dataclass(frozen=True, slots=True)
class Likeness:
    """How alike two patterns are, from 0 to 1, and the results that are out, or seen, on both."""

    share: float
    alike: tuple[str, ...]


def likeness(own: Mapping[str, str], other: Mapping[str, str]) -> Likeness:
    """What both sheets found, as a share of what at least one found.

    Only what shows counts: two sheets are not alike because much is in order on both. What one found and the other did
    not look at counts half, and so does what is near the limit on one and out on the other. This is the index of
    Jaccard (1912) on what was found; the halves are our own.
    """
    alike: list[str] = []
    either = both = 0.0
    for name in sorted({*own, *other}):
        here, there = own.get(name), other.get(name)
        shows = [word for word in (here, there) if word is not None and word not in _QUIET]
        if not shows:
            continue
        weight = _HALF if here is None or there is None else 1.0
        either += weight
        if len(shows) == 2 and (here == there or NEAR in shows):
            alike.append(name)
            both += 1.0 if here == there else _HALF
    return Likeness(both / either if either else 0.0, tuple(alike))
