"""Every cause on every kind of machine: does a rule suspect it, does it lead, and what does it look like?

A cause that readings show, at its middle severity and without scatter, must be suspected by a rule and stand in the
group that leads, or look the same as what does. One that no reading shows must be brought up by a sign or a code, by a
check, or by a case of a finding rule.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import field
from itertools import groupby
from operator import itemgetter
from types import MappingProxyType

import numpy as np

from oilpath.kbcheck.alike import parting
from oilpath.kbcheck.bench import Bench
from oilpath.kbcheck.entries import Entry
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.circuit import Circuit
from oilpath.machine.hypotheses import Hypothesis
from oilpath.outcomes import table
from oilpath.problems import Problem
from oilpath.records import dataclass

TELLS = 3.0
"""least ratio of an outcome's probability under a cause to that under nothing wrong, for a check to bring it up"""
PLACES = 2
"""places that a finding names, of all where it holds"""
RULES = 4
"""rules that it names"""

UNSUSPECTED = "readings show it, and no rule suspects it"
UNSEEN = "no reading shows it, and no sign, code, check or case of a finding rule brings it up"
VOID = "nothing shows it there"

CauseKey = tuple[str, str]
"""kind of cause and part"""


@dataclass(slots=True)
class Proof:
    """What was found out about one cause on one circuit."""

    cause: str
    circuit: str
    suspected: bool = True
    """everywhere there: by a rule on readings, a sign, a code or a check"""
    leads: bool = True
    """wherever readings show it, its group leads, or it looks the same as what leads"""
    told: dict[str, str | None] = field(default_factory=dict)
    """causes that read like it there → a check that tells the two apart (None: none does)"""
    remedy_proved: bool = True
    """the knowledge base says by what its remedy is known to have worked"""


@dataclass(frozen=True, slots=True)
class Tried:
    """What trying all causes gave."""

    findings: tuple[Problem, ...]
    notes: tuple[Problem, ...]
    proofs: tuple[Proof, ...]


@dataclass(slots=True)
class _Found:
    """What was found on the circuits so far."""

    wrong: list[tuple[str, str, str]] = field(default_factory=list)
    """(cause, what is wrong, where)"""
    void: list[tuple[str, str, str]] = field(default_factory=list)
    """the same of causes that move no reading there at all"""
    moving: set[str] = field(default_factory=set)
    """causes that move readings somewhere"""
    rules: dict[str, dict[str, None]] = field(default_factory=dict)
    """causes that no rule suspects → rules that fire on their readings"""
    proofs: dict[tuple[str, str], Proof] = field(default_factory=dict)
    """(cause, circuit) → what was found out about it there"""
    pairs: dict[tuple[str, str], dict[str | None, str]] = field(default_factory=dict)
    """kinds that look the same → the checks that tell them apart (None: none does), each with a place where it is so"""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is tried: these causes on every circuit that has a place for them, and all causes on these circuits."""

    causes: frozenset[str]
    circuits: frozenset[str] = frozenset()

    def on(self, circuit: Circuit, cause: Cause) -> bool:
        """Whether a cause is tried on a circuit."""
        return circuit.id in self.circuits or cause.cause in self.causes


def try_causes(
    known: Knowledge,
    entries: list[Entry],
    brought: Collection[str],
    wanted: Wanted | None = None,
    elsewhere_at: Callable[[str, str], Entry] | None = None,
) -> tuple[list[Problem], list[Problem]]:
    """(findings, notes) on the causes of a knowledge base whose files are sound; as `tried_causes`."""
    tried = tried_causes(known, entries, brought, wanted, elsewhere_at)
    return list(tried.findings), list(tried.notes)


def tried_causes(
    known: Knowledge,
    entries: list[Entry],
    brought: Collection[str],
    wanted: Wanted | None = None,
    elsewhere_at: Callable[[str, str], Entry] | None = None,
) -> Tried:
    """All causes on all circuits of a knowledge base whose files are sound.

    Parameters
    ----------
    brought : causes that cases of rules bring up
    wanted : what is tried, all where left out
    elsewhere_at : where a finding stands on a cause that is none of the entries, by its kind and the places
    """
    found = _Found()
    for circuit in known.circuits.values():
        tried = [cause for cause in known.causes if wanted is None or wanted.on(circuit, cause)]
        if any(stands_on(cause, circuit) for cause in tried):
            bench = Bench(circuit, known)
            kinds = frozenset(cause.cause for cause in tried)
            for h in bench.model.hypotheses:
                if h.cause.cause in kinds:
                    key = (h.cause.cause, circuit.id)
                    found.proofs.setdefault(key, Proof(*key, remedy_proved=h.cause.proof is not None))
            _try(bench, found, brought, kinds)
            _compare(bench, found, kinds)
    placed = _Placing({entry.key: entry for entry in entries if isinstance(entry.value, Cause)}, elsewhere_at)
    elsewhere = [one for one in found.void if one[0] in found.moving]
    nowhere = [(cause, UNSEEN, where) for cause, _, where in found.void if cause not in found.moving]
    findings = _placed([*found.wrong, *nowhere], placed, found.rules)
    notes = [*_placed(elsewhere, placed), *_likenesses(found, placed)]
    return Tried(tuple(findings), tuple(notes), tuple(found.proofs.values()))


def stands_on(cause: Cause, circuit: Circuit) -> bool:
    """Whether a circuit has a place for a cause."""
    return any(name in cause.at.parts or part.class_ in cause.at.class_ for name, part in circuit.parts.items())


@dataclass(frozen=True, slots=True)
class _Placing:
    """Where findings stand: at the entry of the cause, else where the caller says."""

    entries: Mapping[str, Entry]
    elsewhere: Callable[[str, str], Entry] | None

    def __call__(self, cause: str, where: str = "") -> Entry:
        if cause in self.entries or self.elsewhere is None:
            return self.entries[cause]
        return self.elsewhere(cause, where)


def _key(h: Hypothesis) -> CauseKey:
    return h.cause.cause, h.part


# --- suspected, and leading -----------------------------------------------------------


def _try(bench: Bench, found: _Found, brought: Collection[str], kinds: Collection[str]) -> None:
    """Each hypothesis of these kinds in turn."""
    hypotheses = bench.model.hypotheses
    raised, moving = _raised_by_checks(bench, kinds), bench.moving()
    for number, h in enumerate(hypotheses):
        if h.cause.cause not in kinds:
            continue
        if moving[number]:
            found.moving.add(h.cause.cause)
        wrong, rules = _wrong(bench, number, raised, brought)
        if wrong == UNSUSPECTED:
            found.rules.setdefault(h.cause.cause, {}).update(dict.fromkeys(rules))
        if wrong is not None:
            proof = found.proofs[h.cause.cause, bench.machine.circuit.id]
            if wrong in (UNSUSPECTED, UNSEEN):
                proof.suspected = False
            else:
                proof.leads = False
            part = f"{h.part} ({h.variant})" if h.variant else h.part
            where = f"{part} of {bench.machine.circuit.id}"
            if wrong == UNSEEN and not moving[number]:
                found.void.append((h.cause.cause, VOID, where))
            else:
                found.wrong.append((h.cause.cause, wrong, where))


def _raised_by_checks(bench: Bench, kinds: Collection[str]) -> set[CauseKey]:
    """Causes of these kinds that some outcome of some check makes clearly more probable."""
    causes = list(dict.fromkeys(_key(h) for h in bench.model.hypotheses if h.cause.cause in kinds))
    tells = table(bench.bench, [*causes, ("none", "machine")])
    if not tells.checks:
        return set()
    sound = np.maximum(tells.likelihood[:, :, -1:], 1e-9)
    best = (tells.likelihood[:, :, :-1] / sound).max(axis=(0, 1))
    return {cause for cause, ratio in zip(causes, best.tolist(), strict=True) if ratio >= TELLS}


def _wrong(
    bench: Bench, number: int, raised: set[CauseKey], brought: Collection[str]
) -> tuple[str | None, tuple[str, ...]]:
    """What is wrong with a hypothesis (None: nothing), and the rules that fire on its readings."""
    h = bench.model.hypotheses[number]
    shown = bench.tried(number)
    # Variants are seldom tested: a cause that shows in them alone may be brought up by something else.
    if not shown.readings or (shown.varied and not shown.suspected):
        up = _key(h) in raised or h.cause.cause in brought or bench.sight(number) is not None
        if not shown.readings:
            return None if up else UNSEEN, ()
    else:
        up = shown.suspected
    if not up:
        return UNSUSPECTED, shown.rules
    leading = set(shown.leading)
    if shown.varied and _key(h) not in leading and (sight := bench.sight(number)) is not None:
        leading = set(bench.tried(number, sight[0]).leading)
    alike = (_key(bench.model.hypotheses[n]) for n in np.flatnonzero(bench.same[number]))
    if leading & {_key(h), *alike}:
        return None, ()
    return _LEADS.get(shown.leading[0][0], "{} at {} leads").format(*shown.leading[0]), ()


_LEADS: Mapping[str, str] = {"none": "that nothing is wrong leads", "unknown": "that it is something unknown leads"}


# --- the same signature ---------------------------------------------------------------


def _compare(bench: Bench, found: _Found, kinds: Collection[str]) -> None:
    """Pairs of causes that look the same, the first one of these kinds, with the check that tells them apart."""
    keys = [_key(h) for h in bench.model.hypotheses]
    pairs = dict.fromkeys((keys[i], keys[j]) for i, j in zip(*np.nonzero(np.triu(bench.same)), strict=True))
    wanted = (pair if pair[0][0] in kinds else pair[::-1] for pair in pairs if pair[0] != pair[1])
    apart = list(dict.fromkeys((one, two) for one, two in wanted if one[0] in kinds))
    checks = parting(bench.bench, apart)
    for ((first, at), (second, there)), check in zip(apart, checks, strict=True):
        told = found.proofs[first, bench.machine.circuit.id].told
        told[second] = check if told.get(second, check) is not None else None
        parts = at if at == there else f"{at} and {there}"
        found.pairs.setdefault((first, second), {}).setdefault(check, f"{parts} of {bench.machine.circuit.id}")


def _likenesses(found: _Found, placed: _Placing) -> Iterator[Problem]:
    """For each cause the ones that look the same, with the checks that tell them apart."""
    for kind, pairs in groupby(sorted(found.pairs.items(), key=itemgetter(0)), lambda pair: pair[0][0]):
        raised: dict[str, list[str]] = {}
        for (_, other), checks in pairs:
            by = " or ".join(sorted(check for check in checks if check is not None))
            where = f"no check tells them apart (at {checks[None]})" if None in checks else f"{by} tells them apart"
            raised.setdefault(where, []).append(other if other != kind else "itself elsewhere")
        entry = placed(kind)
        says = "; ".join(f"{', '.join(others)}: {where}" for where, others in raised.items())
        yield Problem(entry.file, entry.line, kind, f"reads on every test like these; {says}", "")


# --- as problems -----------------------------------------------------------------------


def _placed(
    raised: list[tuple[str, str, str]], placed: _Placing, rules: Mapping[str, Iterable[str]] = MappingProxyType({})
) -> Iterator[Problem]:
    """One problem for each cause and what is wrong with it, with the first places where that is so."""
    for (cause, wrong), many in groupby(sorted(raised, key=itemgetter(0, 1)), itemgetter(0, 1)):
        where = list(dict.fromkeys(place for *_, place in many))
        more = [f"{len(where) - PLACES} more"] if len(where) > PLACES else []
        entry = placed(cause, " ".join(where))
        fired = [*rules.get(cause, ())][:RULES] if wrong == UNSUSPECTED else []
        accepted = (
            f"a rule that suspects it there, or fewer places in `at`; its readings fire {', '.join(fired)}"
            if fired
            else ""
        )
        yield Problem(entry.file, entry.line, cause, f"{wrong} (at {', '.join(where[:PLACES] + more)})", accepted)
