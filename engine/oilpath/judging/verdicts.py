"""From a measured value and the standard it is judged against to a verdict, a deviation and evidence."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from oilpath.flow import Computed, Evidence, ReadingResult, Verdict
from oilpath.flow.notes import Note
from oilpath.judging.limits import Standard
from oilpath.judging.measured import Case
from oilpath.knowledge.testkind import TestKind
from oilpath.records import dataclass
from oilpath.uncertainty import combine, probability_out

_FLOOR = 0.01  # share of the reference below which a ratio says no more
_FIGURES = ("distance", "run-up", "hold", "pressure")  # quantities of a reading that a model may use


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Probability of being out from which a value fails, and up to which it passes.

    Raises ValueError if they are not 0 ≤ pass_at < fail_at ≤ 1.
    """

    fail_at: float = 0.95
    pass_at: float = 0.05

    def __post_init__(self) -> None:
        if not 0 <= self.pass_at < self.fail_at <= 1:
            raise ValueError(
                f"thresholds must be 0 ≤ pass_at < fail_at ≤ 1, not pass_at {self.pass_at} and fail_at {self.fail_at}"
            )

    def verdict(self, probability: float) -> Verdict:
        """pass, near or fail."""
        if probability >= self.fail_at:
            return "fail"
        return "pass" if probability <= self.pass_at else "near"


def judged(
    case: Case,
    standard: Standard | None,
    thresholds: Thresholds,
    *,
    computed: Mapping[str, Computed] | None = None,
    notes: tuple[Note, ...] = (),
    taken_off: tuple[float, float] = (0.0, 0.0),
    figures: Mapping[str, float] | None = None,
) -> ReadingResult:
    """The result of one numeric reading.

    taken_off: what the evidence (not the verdict) takes off the value for a known effect, with its uncertainty.
    """
    reading, kind = case.reading, case.kind
    faults = tuple(case.check.faults.values())
    every_note = (*faults, *case.check.notes, *notes, *(standard.notes if standard else ()))
    u = combine(case.u, standard.spread) if standard else case.u
    probability: float | None = None
    verdict: Verdict = "unjudged"
    low, high = (standard.min, standard.max) if standard else (None, None)
    if faults:
        verdict = "invalid"
    elif standard is not None and not (low is None and high is None):
        probability = _out(case, combine(u, standard.u), standard)
        verdict = thresholds.verdict(probability)
    usable = standard is not None and not faults
    return ReadingResult(
        id=reading.id, test=reading.test, keys=dict(reading.keys), value=case.value, quantity=kind.quantity,
        verdict=verdict, uncertainty=u, count=case.count,
        new=standard.new if standard else None, min=low, max=high,
        basis=standard.basis if standard else None,
        deviation=deviation(kind, case.value, standard) if usable else None,
        probability_out=probability, computed=computed or {}, notes=every_note, variant=reading.variant,
        together_with=reading.together_with,
        evidence=evidence(case, standard, u, taken_off, figures) if standard is not None and not faults else None,
    )  # fmt: skip


def _out(case: Case, u: float, standard: Standard) -> float:
    """Probability of being out; on a log scale where the limits are known only but for a factor."""
    low, high = standard.min, standard.max
    if standard.factor <= 1:
        return probability_out(case.value, u, low, high)
    low, high = (None if limit is None else math.log(limit) for limit in (low, high))
    value = max(case.value, case.resolution / 2, 1e-12)
    return probability_out(math.log(value), combine(u / value, math.log(standard.factor)), low, high)


def deviation(kind: TestKind, value: float, standard: Standard | None) -> str | None:
    """Which way a value lies from `new`, else from the middle of the range, else beyond its one limit."""
    if standard is None:
        return None
    low, high, middle = standard.min, standard.max, standard.new
    if middle is None and low is not None and high is not None:
        middle = (low + high) / 2
    if middle is not None:
        low = high = middle
    if high is not None and value > high and not math.isclose(value, high, rel_tol=1e-9):
        return kind.more_is
    if low is not None and value < low and not math.isclose(value, low, rel_tol=1e-9):
        return kind.less_is
    return None


def evidence(
    case: Case, standard: Standard, u: float, taken_off: tuple[float, float] = (0.0, 0.0),
    figures: Mapping[str, float] | None = None,
) -> Evidence | None:  # fmt: skip
    """What the reading says against the standard's reference; None if there is none, or nothing predicts it."""
    reference = standard.reference
    if reference is None or case.kind.observe == "nothing":
        return None
    off, off_u = taken_off
    if case.fellows is not None:  # one repeat is asked about: the others speak
        u = combine(case.fellows[1], standard.spread)
        case = replace(case, value=case.fellows[0])
    value = case.value - off
    if standard.corrected:
        case = replace(case, check=replace(case.check, corrected=(*case.check.corrected, *standard.corrected)))
    if case.kind.scale == "offset":
        return evidence_of(case, value - reference, combine(u, off_u, standard.reference_u), figures, standard.shares)
    floor = case.resolution / 2 if case.resolution else _FLOOR * reference
    reference = max(reference, floor)
    if reference <= 0:
        return None
    # What a correction takes off leaves at least one step of the instrument, or what was read if that is less.
    kept = max(value, floor, min(case.value, case.resolution) if off else floor)
    e = math.log(kept / reference)
    u_ratio = combine(combine(u, off_u, kept - value) / kept, standard.reference_u / reference)
    return evidence_of(case, e, u_ratio, figures, standard.shares)


def evidence_of(
    case: Case, e: float, u: float, figures: Mapping[str, float] | None = None,
    shares: Mapping[str, str] | None = None,
) -> Evidence:  # fmt: skip
    """Evidence under the names by which a circuit model knows the reading, and those of the scatter that it shares."""
    reading, kind = case.reading, case.kind
    kept = {name: reading.figures[name] for name in _FIGURES if name in reading.figures}
    return Evidence(
        reading.id, reading.test, kind.observe, kind.load.format_map(_Words(reading.keys)),
        {**reading.keys, **(shares or {})},
        kind.scale, e, u, case.check.corrected, reading.variant, {**kept, **(figures or {})},
    )  # fmt: skip


class _Words(dict[str, str]):
    """Keys for a load case; one that the reading does not have is left out."""

    def __missing__(self, key: str) -> str:
        return ""
