"""A whole knowledge base proves itself: each cause on each circuit is suspected, leads, differs from others, and its
remedy is proved, but for what `excused.yaml` excuses with a reason."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from oilpath.kbcheck.entries import Entry
from oilpath.kbcheck.simulated import Proof
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.excused import Excused
from oilpath.problems import Problem

Lack = tuple[str, str, str | None, str]
"""finding, cause, neighbour, circuit"""

_ACCEPTED = {
    "not-told-apart": "a check whose outcomes differ under the two, or an entry of excused.yaml with its reason",
    "not-proved": "proof: what is measured after the remedy",
}


def lacks(proofs: Iterable[Proof]) -> Iterator[Lack]:
    """What is not proved, one for each cause and circuit."""
    for one in proofs:
        if not one.suspected:
            yield "not-suspected", one.cause, None, one.circuit
        if not one.leads:
            yield "not-leading", one.cause, None, one.circuit
        for other, check in one.told.items():
            if check is None:
                yield "not-told-apart", one.cause, other, one.circuit
        if not one.remedy_proved:
            yield "not-proved", one.cause, None, one.circuit


def excused_of(entries: Iterable[Entry]) -> list[tuple[Entry, Excused]]:
    """The exclusions of a knowledge base, each with where it stands."""
    return [(entry, entry.value) for entry in entries if isinstance(entry.value, Excused)]


def unproved(proofs: Sequence[Proof], entries: Sequence[Entry]) -> Iterator[Problem]:
    """Findings on what is neither proved nor excused, and on exclusions that excuse nothing.

    What is not suspected or does not lead is found elsewhere already, with its places.
    """
    causes = {entry.key: entry for entry in entries if isinstance(entry.value, Cause)}
    excuses = excused_of(entries)
    there = set(lacks(proofs))
    for finding, cause, other, circuit in sorted(there, key=str):
        if finding not in _ACCEPTED or is_excused((finding, cause, other, circuit), [one for _, one in excuses]):
            continue
        entry = causes.get(cause)
        if entry is None:
            continue
        what = {
            "not-told-apart": f"no check tells it from {other if other != cause else 'itself elsewhere'} on {circuit}",
            "not-proved": "nothing says by what its remedy is known to have worked",
        }[finding]
        yield Problem(entry.file, entry.line, cause, what, _ACCEPTED[finding])
    for entry, one in excuses:
        if (one.finding, one.cause, one.neighbour, one.circuit) not in there:
            yield Problem(
                entry.file, entry.line, one.cause, "excuses what is no finding", "take it out: the check proves it"
            )


def is_excused(lack: Lack, excuses: Iterable[Excused]) -> bool:
    """Whether an exclusion names this."""
    return any((one.finding, one.cause, one.neighbour, one.circuit) == lack for one in excuses)
