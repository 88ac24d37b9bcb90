"""Closed jobs that looked like a sheet, and the one that a machine comes back from."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from oilpath.flow import Comeback, Compared, FoundCause, Measured, Result, SimilarJob
from oilpath.knowledge.closed import Closed
from oilpath.learning.counts import hours_of, same_unit
from oilpath.learning.pattern import likeness, pattern_of
from oilpath.units import QuantityError, parse

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet

LEAST: Final = 0.4
"""likeness from which a job is named; from memory"""
MOST: Final = 3
BACK_WITHIN: Final = 1000.0
"""hours within which the same unit comes back from a repair; later it is another job; from memory"""
_MOVED: Final = ("setting", "exchanged")


def similar_jobs(results: Sequence[Result], kind: str, jobs: Collection[Closed]) -> tuple[SimilarJob, ...]:
    """The jobs on the same kind of machine that looked most like these results, most alike first; ties by their ids."""
    own = pattern_of(results)
    found = []
    for job in jobs:
        if job.circuit != kind:
            continue
        like = likeness(own, job.pattern)
        if like.share >= LEAST:
            unit, date = job.stated("unit-number"), job.stated("date")
            found.append(SimilarJob(job.id, unit, date, _found(job), job.grade, like.share, like.alike))
    return tuple(sorted(found, key=lambda one: (-round(one.likeness, 9), one.job))[:MOST])


def _found(job: Closed) -> tuple[FoundCause, ...]:
    return tuple(FoundCause(one.cause, one.part, one.how) for one in job.found)


def comeback(sheet: Sheet, results: Sequence[Result], jobs: Collection[Closed]) -> Comeback | None:
    """The last job on the same unit before this sheet; None if there is none, or it is long ago."""
    before = [job for job in jobs if same_unit(job, sheet) and _earlier(job, sheet)]
    if not before:
        return None
    last = max(before, key=lambda job: (hours_of(job) or 0.0, job.stated("date") or "", job.id))
    hours = hours_of(last)
    since = None if hours is None or sheet.hours is None else sheet.hours - hours
    if since is not None and since > BACK_WITHIN:
        return None
    return Comeback(
        last.id, last.stated("date"), since, _found(last), last.grade, _touched(last), _compared(last, results)
    )


def _earlier(job: Closed, sheet: Sheet) -> bool:
    hours, date = hours_of(job), job.stated("date")
    if hours is not None and sheet.hours is not None and hours != sheet.hours:
        return hours < sheet.hours
    return date is None or sheet.date is None or date < sheet.date


def _touched(job: Closed) -> tuple[str, ...]:
    """The parts that were worked on, those of the causes first."""
    work = [one for key in ("remedies", "work") for one in job.sheet.get(key) or () if isinstance(one, Mapping)]
    moved = [one.get("part") for one in work if one.get("action") or one.get("what") in _MOVED]
    return tuple(dict.fromkeys([*(one.part for one in job.found), *(str(part) for part in moved if part)]))


def _compared(job: Closed, results: Sequence[Result]) -> tuple[Compared, ...]:
    """What was out then and is measured again now: before the repair, after it, now; in SI."""
    now = {one.id: one for one in results if isinstance(one, Measured)}
    found = []
    for name, written in job.values.items():
        one = now.get(name)
        values = [] if one is None or one.quantity is None else [_value(text, one.quantity) for text in written]
        if one is not None and values and values[0] is not None:
            after = values[1] if len(values) > 1 else None
            found.append(Compared(name, one.test, values[0], after, one.value))
    return tuple(found)


def _value(text: str, quantity: str) -> float | None:
    try:
        return parse(text, quantity)
    except QuantityError:
        return None
