"""Whether earlier readings were made as this one was: under the same load, or whatever a test kind names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from oilpath.flow.notes import Amount, Note, note
from oilpath.judging.measured import Case


def alike(case: Case, other: Case) -> bool:
    """Whether the quantities that must agree do so; what either does not state is not compared with it."""
    return not _differing(case, other)


def _differing(case: Case, other: Case) -> list[str]:
    found: list[str] = []
    for key, allowed in case.kind.alike.items():
        own, theirs = case.reading.figures.get(key), other.reading.figures.get(key)
        if own is None or theirs is None:
            continue
        if not theirs * (1 - allowed.below) <= own <= theirs * (1 + allowed.above):
            found.append(key)
    return found


def compared_or_invalid(case: Case, others: Iterable[Case]) -> Case:
    """The case, with a fault where all of the earlier readings that there are were made otherwise."""
    apart = [(other, _differing(case, other)) for other in others]
    if not apart or any(not keys for _, keys in apart):
        return case
    other, keys = apart[0]
    faults = {key: _says(case, other, key) for key in keys}
    return replace(case, check=replace(case.check, faults={**case.check.faults, **faults}))


def _says(case: Case, other: Case, key: str) -> Note:
    quantity = case.kind.keys[key].quantity
    own, theirs = (Amount(one.reading.figures[key], quantity) for one in (case, other))
    return note("not-comparable", key=key, own=own, theirs=theirs)
