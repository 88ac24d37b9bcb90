"""Counts over closed jobs: how often each kind of cause comes, and how checks come out.

Sources: the gamma–Poisson model with exposure and the Dirichlet model of counts, A. Gelman and others, Bayesian Data
Analysis, 3rd edition, sections 2.6 and 3.4 (from memory). `docs/closed-jobs.md` has the formulas.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from oilpath.arrays import Array
from oilpath.knowledge.closed import Closed
from oilpath.outcomes.declared import asked, given_by, picks
from oilpath.ranking.priors import worn
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.documents.sheet import Sheet
    from oilpath.knowledge.check import Check
    from oilpath.machine.hypotheses import Hypothesis

_CHECK: Final = "check"
_SOUND: Final = ("none", "unknown")


@dataclass(frozen=True, slots=True)
class Learned:
    """What closed jobs of one kind of machine say.

    frequency: by kind of cause the factor on its prior odds. found: by kind of cause how many jobs, by their grades.
    outcomes: by check P(outcome), shape (1 + entries of `tells`, outcomes), `otherwise` first. jobs: how many counted.
    """

    frequency: Mapping[str, float]
    found: Mapping[str, float]
    outcomes: Mapping[str, Array]
    jobs: int = 0


NOTHING: Final = Learned({}, {}, {})


def learned(jobs: Iterable[Closed], bench: Bench) -> Learned:
    """What these jobs say about machines of the same kind; jobs of other kinds are ignored."""
    grades = bench.priors.learning.grades
    counting = [job for job in jobs if job.circuit == bench.machine.circuit.id and grades.get(job.grade, 0.0) > 0]
    if not counting:
        return NOTHING
    found: dict[str, float] = {}
    for job in counting:
        for one in job.found:
            if one.cause not in _SOUND:
                found[one.cause] = found.get(one.cause, 0.0) + grades[job.grade]
    return Learned(_frequencies(counting, found, bench), found, _outcomes(counting, bench), len(counting))


def _frequencies(jobs: Sequence[Closed], found: Mapping[str, float], bench: Bench) -> dict[str, float]:
    """Posterior mean of θ with prior Γ(W·p, W·p) and n ~ Poisson(θ·E): (W·p + n) / (W·p + E), by kind of cause.

    p: the stated share of a kind among all; E: how many of the counted faults it would then have been, at the hours of
    each job; n: how many it was.
    """
    priors = bench.priors
    weight = priors.learning.jobs
    stated = _stated(bench.hypotheses, bench, None)
    expected = dict.fromkeys(stated, 0.0)
    for job in jobs:
        faults = sum(one.cause not in _SOUND for one in job.found)
        counts = faults * priors.learning.grades[job.grade]
        for kind, share in _stated(bench.hypotheses, bench, hours_of(job)).items():
            expected[kind] += counts * share
    return {
        kind: (weight * share + found.get(kind, 0.0)) / (weight * share + expected[kind])
        for kind, share in stated.items()
    }


def _stated(hypotheses: Sequence[Hypothesis], bench: Bench, hours: float | None) -> dict[str, float]:
    """The share of each kind of cause among all, as the knowledge base states it; with hours, at that age."""
    priors = bench.priors
    found: dict[str, float] = {}
    for h in hypotheses:
        age = 1.0 if hours is None else worn(h.cause.worn_at, hours, priors)
        found[h.cause.cause] = found.get(h.cause.cause, 0.0) + priors.frequency[h.frequency] * h.share * age
    total = sum(found.values())
    return {kind: value / total for kind, value in found.items()}


def _outcomes(jobs: Sequence[Closed], bench: Bench) -> dict[str, Array]:
    """Posterior mean of declared outcomes, (C·p + n) / (C + Σn), for each check that was made in a job."""
    kinds = {check.check: check for check in bench.knowledge.checks}
    learning = bench.priors.learning
    counts: dict[str, Array] = {}
    for job in jobs:
        for name, part, outcome in outcomes_in(job.sheet):
            check = kinds.get(name)
            words = [] if check is None else [one.outcome for one in check.outcomes]
            if check is None or part not in bench.places.index or outcome not in words:
                continue
            row = _row(check, part, job, bench)
            if row is not None:
                held = counts.setdefault(name, np.zeros((1 + len(check.tells), len(words))))
                held[row, words.index(outcome)] += learning.grades[job.grade]
    found = {}
    for name, seen in counts.items():
        declared = given_by(kinds[name])
        found[name] = (learning.outcomes * declared + seen) / (learning.outcomes + seen.sum(axis=1, keepdims=True))
    return found


def _row(check: Check, part: str, job: Closed, bench: Bench) -> int | None:
    """Which entry of a check a job's outcome counts for; None if its causes fall under several, or that is computed."""
    places = bench.places
    causes = asked(places, [(one.cause, one.part) for one in job.found])
    named = {int(row) for row in picks(check, [places.index[part]], places, causes)[0] if row > 0}
    if len(named) > 1 or (not named and check.measures):
        return None
    return named.pop() if named else 0


def outcomes_in(sheet: Mapping[str, Any]) -> Iterable[tuple[str, str, str]]:
    """Check, part and outcome of all checks on a sheet as plain data."""
    for one in sheet.get("readings") or ():
        if isinstance(one, Mapping) and one.get("test") == _CHECK:
            yield str(one.get("check")), str(one.get("part")), str(one.get("outcome"))


# --- which jobs count --------------------------------------------------------------------


def hours_of(job: Closed) -> float | None:
    """The machine's hours when the job came in."""
    value = job.sheet.get("hours")
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def content_of(sheet: Sheet) -> str:
    """A hash of all readings of a sheet. It does not depend on their order and units."""
    said = ((one.id, one.values, sorted(one.figures.items()), one.text, one.veer) for one in sheet.readings)
    lines = sorted(map(repr, said))
    return hashlib.sha256("\n".join(lines).encode("utf-8", "surrogatepass")).hexdigest()


def own_jobs(sheet: Sheet, jobs: Collection[Closed]) -> frozenset[str]:
    """Ids of the jobs that this sheet was closed as: the same readings, or the same unit on the same date."""
    if not jobs:
        return frozenset()
    content = content_of(sheet)
    return frozenset(
        job.id for job in jobs if job.content == content or (job.stated("date") == sheet.date and _same_day(job, sheet))
    )


def _same_day(job: Closed, sheet: Sheet) -> bool:
    return sheet.date is not None and same_unit(job, sheet)


def same_unit(job: Closed, sheet: Sheet) -> bool:
    """Whether a job was on the unit of a sheet: by the number of the unit, or the serial number."""
    return any(
        own is not None and own == job.stated(key)
        for key, own in (("unit-number", sheet.unit_number), ("serial-number", sheet.serial_number))
    )
