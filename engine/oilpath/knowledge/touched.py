"""Which entries of a workshop's own layers an answer rests on, where these replace what ships."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge, Replaced

if TYPE_CHECKING:
    from oilpath.flow import NextCheck, RankedCause, Result, Suspicions

EVERYWHERE = frozenset({"priors", "scatter"})
"""kinds of entries on which every ranking rests"""


def replaced_in_answer(
    known: Knowledge,
    machine: Machine,
    results: Sequence[Result],
    suspicions: Suspicions,
    causes: Iterable[RankedCause],
    checks: Iterable[NextCheck],
) -> tuple[Replaced, ...]:
    """The replaced entries that a diagnosis touches, in the order of the layers.

    What a layer takes away counts wherever it could have been said: a cause on every machine that has the part, a
    warning of a rule always.
    """
    if not known.replaced:
        return ()
    made = {
        *(("test", result.test) for result in results),
        *(("sign", result.keys["sign"]) for result in results if "sign" in result.keys),
        *(("check", result.keys["check"]) for result in results if "check" in result.keys),
        *(("check", check.check) for check in checks),
        *(("cause", cause.cause) for cause in causes),
        *(("rule", suspicion.rule) for suspicion in suspicions.suspicions),
        *(("variant", result.variant) for result in results),
    }
    return _touched(known, machine, made)


def replaced_in_day(known: Knowledge, machine: Machine, tests: Iterable[str]) -> tuple[Replaced, ...]:
    """The replaced entries that a plan for the day touches."""
    if not known.replaced:
        return ()
    phases = (("phase", phase.phase) for phase in known.day.phases)
    found = _touched(known, machine, {*phases, *(("test", test) for test in tests)})
    return tuple(one for one in found if one.kind not in ("priors", "scatter", "rule", "cause"))


def _touched(known: Knowledge, machine: Machine, made: set[tuple[str, str]]) -> tuple[Replaced, ...]:
    parts = {name for name in machine.circuit.parts if name not in machine.absent}
    touched = {*made, ("circuit", machine.circuit.id)}
    cautions = set(_cautions(known, touched))
    return tuple(
        one
        for one in known.replaced
        if (one.kind, one.id) in touched
        or one.kind in EVERYWHERE
        or (one.kind == "caution" and one.id in cautions)
        or any(gone.what == "warning" or (gone.what == "place" and gone.of in parts) for gone in one.lost)
    )


def _cautions(known: Knowledge, touched: set[tuple[str, str]]) -> Iterator[str]:
    """Ids of the cautions that belong to what an answer touches."""
    yield from known.always
    for check in known.checks:
        if ("check", check.check) in touched:
            yield from check.cautions
    for kind, named in (("test", known.tests), ("sign", known.signs)):
        for name, entry in named.items():
            if (kind, name) in touched:
                yield from entry.cautions
    for phase in known.day.phases:
        if ("phase", phase.phase) in touched:
            yield from phase.cautions
