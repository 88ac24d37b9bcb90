"""Every cause on every kind of machine: does a rule suspect it, does it lead, and what does it look like?

A cause that readings show, at its middle severity and without scatter, must be suspected by a rule and stand in the
group that leads, or look the same as what does. One that no reading shows must be brought up by a sign or a code, by a
check, or by a case of a finding rule.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby
from operator import itemgetter

import numpy as np

from oilpath.kbcheck.alike import parting
from oilpath.kbcheck.bench import Bench
from oilpath.kbcheck.entries import Entry
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Cause
from oilpath.machine.hypotheses import Hypothesis
from oilpath.outcomes import table
from oilpath.problems import Problem

TELLS = 3.0
"""least ratio of an outcome's probability under a cause to that under nothing wrong, for a check to bring it up"""
PLACES = 2
"""places that a finding names, of all where it holds"""

UNSUSPECTED = "readings show it, and no rule suspects it"
UNSEEN = "no reading shows it, and no sign, code, check or case of a finding rule brings it up"
VOID = "nothing shows it there"

CauseKey = tuple[str, str]
"""kind of cause and part"""


@dataclass(slots=True)
class _Found:
    """What was found on the circuits so far."""

    wrong: list[tuple[str, str, str]] = field(default_factory=list)
    """(cause, what is wrong, where)"""
    void: list[tuple[str, str, str]] = field(default_factory=list)
    """the same of causes that move no reading there at all"""
    moving: set[str] = field(default_factory=set)
    """causes that move readings somewhere"""
    pairs: dict[tuple[str, str], dict[str | None, str]] = field(default_factory=dict)
    """kinds that look the same → the checks that part them (None: none does), each with a place where that is so"""


def try_causes(known: Knowledge, entries: list[Entry], brought: Collection[str]) -> tuple[list[Problem], list[Problem]]:
    """(findings, notes) on the causes of a knowledge base whose files are sound; `brought`: up by cases of rules."""
    found = _Found()
    for circuit in known.circuits.values():
        bench = Bench(circuit, known)
        _try(bench, found, brought)
        _compare(bench, found)
    placed = {entry.key: entry for entry in entries if isinstance(entry.value, Cause)}
    elsewhere = [one for one in found.void if one[0] in found.moving]
    nowhere = [(cause, UNSEEN, where) for cause, _, where in found.void if cause not in found.moving]
    findings = _placed([*found.wrong, *nowhere], placed)
    return list(findings), [*_placed(elsewhere, placed), *_likenesses(found, placed)]


def _key(h: Hypothesis) -> CauseKey:
    return h.cause.cause, h.part


# --- suspected, and leading -----------------------------------------------------------


def _try(bench: Bench, found: _Found, brought: Collection[str]) -> None:
    """Each hypothesis in turn."""
    hypotheses = bench.model.hypotheses
    told, moving = _told_by_checks(bench), bench.moving()
    for number, h in enumerate(hypotheses):
        if moving[number]:
            found.moving.add(h.cause.cause)
        wrong = _wrong(bench, number, told, brought)
        if wrong is not None:
            part = f"{h.part} ({h.variant})" if h.variant else h.part
            where = f"{part} of {bench.machine.circuit.id}"
            if wrong == UNSEEN and not moving[number]:
                found.void.append((h.cause.cause, VOID, where))
            else:
                found.wrong.append((h.cause.cause, wrong, where))


def _told_by_checks(bench: Bench) -> set[CauseKey]:
    """Causes that some outcome of some check makes clearly more probable."""
    causes = list(dict.fromkeys(map(_key, bench.model.hypotheses)))
    tells = table(bench.bench, [*causes, ("none", "machine")])
    if not tells.checks:
        return set()
    sound = np.maximum(tells.likelihood[:, :, -1:], 1e-9)
    best = (tells.likelihood[:, :, :-1] / sound).max(axis=(0, 1))
    return {cause for cause, ratio in zip(causes, best.tolist(), strict=True) if ratio >= TELLS}


def _wrong(bench: Bench, number: int, told: set[CauseKey], brought: Collection[str]) -> str | None:
    """What is wrong with a hypothesis, None where nothing is."""
    h = bench.model.hypotheses[number]
    shown = bench.tried(number)
    if not shown.readings:
        up = _key(h) in told or h.cause.cause in brought or bench.sight(number) is not None
        return None if up else UNSEEN
    if not shown.suspected:
        return UNSUSPECTED
    leading = set(shown.leading)
    if shown.varied and _key(h) not in leading and (sight := bench.sight(number)) is not None:
        leading = set(bench.tried(number, sight[0]).leading)
    alike = (_key(bench.model.hypotheses[n]) for n in np.flatnonzero(bench.same[number]))
    if leading & {_key(h), *alike}:
        return None
    return _LEADS.get(shown.leading[0][0], "{} at {} leads").format(*shown.leading[0])


_LEADS: Mapping[str, str] = {"none": "that nothing is wrong leads", "unknown": "that it is something unknown leads"}


# --- the same signature ---------------------------------------------------------------


def _compare(bench: Bench, found: _Found) -> None:
    """Pairs of causes that look the same, with the check that parts them."""
    keys = [_key(h) for h in bench.model.hypotheses]
    pairs = dict.fromkeys((keys[i], keys[j]) for i, j in zip(*np.nonzero(np.triu(bench.same)), strict=True))
    apart = [(one, two) for one, two in pairs if one != two]
    checks = parting(bench.bench, apart)
    for ((first, at), (second, there)), check in zip(apart, checks, strict=True):
        parts = at if at == there else f"{at} and {there}"
        found.pairs.setdefault((first, second), {}).setdefault(check, f"{parts} of {bench.machine.circuit.id}")


def _likenesses(found: _Found, placed: Mapping[str, Entry]) -> Iterator[Problem]:
    """For each cause the ones that look the same, with the checks that part them."""
    for kind, pairs in groupby(sorted(found.pairs.items(), key=itemgetter(0)), lambda pair: pair[0][0]):
        told: dict[str, list[str]] = {}
        for (_, other), checks in pairs:
            by = " or ".join(sorted(check for check in checks if check is not None))
            where = f"no check parts them (at {checks[None]})" if None in checks else f"{by} parts them"
            told.setdefault(where, []).append(other if other != kind else "itself elsewhere")
        entry = placed[kind]
        says = "; ".join(f"{', '.join(others)}: {where}" for where, others in told.items())
        yield Problem(entry.file, entry.line, kind, f"reads on every test like these; {says}", "")


# --- as problems -----------------------------------------------------------------------


def _placed(told: list[tuple[str, str, str]], placed: Mapping[str, Entry]) -> Iterator[Problem]:
    """One problem for each cause and what is wrong with it, with the first places where that is so."""
    for (cause, wrong), many in groupby(sorted(told, key=itemgetter(0, 1)), itemgetter(0, 1)):
        where = list(dict.fromkeys(place for *_, place in many))
        more = [f"{len(where) - PLACES} more"] if len(where) > PLACES else []
        entry = placed[cause]
        yield Problem(entry.file, entry.line, cause, f"{wrong} (at {', '.join(where[:PLACES] + more)})", "")
