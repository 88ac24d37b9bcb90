"""Is this meant? Readings and limits that hardly any machine shows, and slips of writing that would explain them.

A reading keeps its verdict. What was perhaps meant goes into its evidence, and the ranking sums it out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from oilpath.flow import Evidence, Measured, Question, ReadingResult, Result, Slip
from oilpath.flow.notes import Amount, Note, OfTest, Quote, note
from oilpath.judging.measured import Case, far_repeat
from oilpath.knowledge.plausible import SlipKind
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.documents.machine import Limit, Machine
    from oilpath.knowledge.testkind import TestKind

FITS = math.log(1.5)
"""ln ratio to what a sound machine shows within which a slip explains a reading"""
WRITTEN = 0.02
"""probability that a value stands that hardly any machine can show, where a slip explains it; from memory"""
APART = 4.0
"""ratio between the values of one limit from which one of them is asked about; from memory"""
SIDES = 0.5
"""share of what counts as noticeable from which readings name a side"""

_PERHAPS: Mapping[str, str] = {
    "unit": "perhaps-unit", "decimal": "perhaps-decimal", "turns": "perhaps-turns",
}  # fmt: skip


def asked(
    result: ReadingResult, case: Case, slips: Sequence[SlipKind], machine: Machine, limit: Limit | None = None
) -> ReadingResult:
    """A result with what is asked about it, and its evidence with the slips that may be in it."""
    about = _About(result, case, slips, machine)
    doubt = limit_doubt(limit, case.kind, case.reading.id, slips) if limit is not None else None
    if doubt is not None and result.evidence is not None and result.basis == "limit" and not about.beyond:
        fixed = replace(result.evidence, e=result.evidence.e - doubt.shift, as_meant=True) if doubt.shift else None
        return replace(result, evidence=fixed or result.evidence, questions=(doubt.question, *about.beside()))
    questions = [*([] if doubt is None else [doubt.question]), *about.itself(), *about.beside()]
    return replace(result, evidence=about.evidence(), questions=tuple(questions))


@dataclass(frozen=True, slots=True)
class _Likely:
    """A slip with what it makes of a value, and by how much it moves the evidence."""

    kind: SlipKind
    meant: float
    shift: float


class _About:
    """One reading, what may be wrong in how it was written down."""

    def __init__(self, result: ReadingResult, case: Case, slips: Sequence[SlipKind], machine: Machine) -> None:
        self.result, self.case, self.kind = result, case, case.kind
        plausible = case.kind.plausible
        self.plausible = plausible
        self.beyond = plausible is not None and not plausible.shown.holds(case.raw)
        self.hard = False
        if plausible is not None and plausible.within is not None:
            most = _most(plausible.within, case, machine)
            self.hard = most is not None and case.raw > most * (1 + 1e-9)
            self.beyond = self.beyond or self.hard
        e = result.evidence
        if plausible is not None and e is not None and case.kind.scale == "ratio":
            # No cause makes a time much shorter than new.
            self.beyond = self.beyond or (
                case.kind.limits.sides == "upper" and case.kind.timed and e.e < math.log(plausible.of_new.min or 1e-9)
            )
        self.slips = slips
        self.likely = self._likely()

    def _likely(self) -> list[_Likely]:
        """Slips that bring the reading near to what a sound machine shows, the best fit first."""
        if self.plausible is None:
            return []
        found: list[_Likely] = []
        ratio = self.kind.scale == "ratio"
        e = self.result.evidence.e if self.result.evidence is not None else None
        for slip in self.slips:
            if slip.other_side or self.kind.quantity not in slip.of:
                continue
            meant = slip.read_as(self.case.raw, self.case.reading.figures)
            shift = None if meant is None else self._shift(meant)
            if meant is None or shift is None or not self.plausible.shown.holds(meant):
                continue
            nearer = e is not None and abs(e + shift) < abs(e) and (not ratio or abs(e + shift) <= FITS)
            if nearer if e is not None else self.plausible.sound.holds(meant):
                found.append(_Likely(slip, meant, shift))
        # Of two that mean the same value the more probable one speaks.
        return sorted(found, key=lambda one: (round(abs((e or 0.0) + one.shift), 9), -one.kind.probability))

    def _shift(self, meant: float) -> float | None:
        if self.kind.scale == "offset":
            return meant - self.case.raw
        return math.log(meant / self.case.raw) if meant > 0 and self.case.raw > 0 else None

    @property
    def best(self) -> _Likely | None:
        """What was probably meant, if the reading is not."""
        return next(iter(self.likely), None)

    @property
    def far(self) -> bool:
        """Beyond what causes usually make of it."""
        e = self.result.evidence
        if self.beyond or self.plausible is None or e is None or self.kind.scale == "offset":
            return self.beyond
        return not self.plausible.of_new.holds(math.exp(e.e))

    def itself(self) -> Iterable[Question]:
        """What is asked about the value."""
        repeat = far_repeat(self.case.reading)
        if repeat is not None:
            yield self._repeat(repeat.repeat, repeat.fellows)
        elif self.far and self.best is not None:
            likely = self._value(self.best.meant)
            asks = self.best.kind.asks
            says = note(_PERHAPS[asks], value=self._value(self.case.raw), likely=likely)
            yield Question(self.result.id, asks, says, likely)
        elif self.beyond:
            yield Question(self.result.id, "impossible", self._impossible())

    def beside(self) -> Iterable[Question]:
        """What is asked about the figures beside it."""
        for key, figure in self.kind.plausible_figures.items():
            value = self.case.reading.figures.get(key)
            if value is not None:
                yield from about_figure(self.result.id, key, value, self.kind, self.slips, figure.quantity)

    def evidence(self) -> Evidence | None:
        """The evidence, with slips that may be in it; of what cannot be, that of what was probably meant."""
        e = self.result.evidence
        if e is None:
            return None
        if self.beyond and self.best is not None:
            back = Slip(self.best.kind.id, self.case.raw, -self.best.shift, WRITTEN)
            return replace(e, e=e.e + self.best.shift, slips=(back,), as_meant=True)
        if self.hard:
            return None
        slips = {
            round(one.shift, 9): Slip(one.kind.id, one.meant, one.shift, one.kind.probability)
            for one in reversed(self.likely)
        }
        return replace(e, slips=tuple(reversed(slips.values()))) if slips else e

    def _value(self, value: float) -> OfTest:
        return OfTest(value, self.case.reading.test)

    def _impossible(self) -> Note:
        value = self._value(self.case.raw)
        if self.hard:
            return note("more-than-there-is", value=value)
        says = self.plausible.if_meant if self.plausible is not None else None
        if says is not None:
            return note("hardly-shown-if-meant", value=value, says=Quote(says))
        return note("hardly-shown", value=value)

    def _repeat(self, far: float, fellows: tuple[float, ...]) -> Question:
        if len(fellows) == 1:
            says = note("repeats-apart", one=self._value(fellows[0]), other=self._value(far))
            return Question(self.result.id, "repeat", says)
        likely = self._value(math.fsum(fellows) / len(fellows))
        return Question(self.result.id, "repeat", note("repeat-far-off", one=self._value(far), others=likely), likely)


def _most(figure: str, case: Case, machine: Machine) -> float | None:
    """The figure of the part that a reading is made at; None if it is not known."""
    data = machine.parts.get(case.reading.keys.get("cylinder", ""))
    value = getattr(data, figure, None)
    return float(value) if value is not None else None


def about_figure(
    result: str, key: str, value: float, kind: TestKind, slips: Sequence[SlipKind], quantity: str
) -> Iterable[Question]:
    """What is asked about a figure beside a reading, or a condition."""
    span = kind.plausible_figures[key].shown
    if span.holds(value):
        return
    shown = Amount(value, quantity)
    for slip in slips:
        meant = slip.read_as(value, {}) if quantity in slip.of else None
        if meant is not None and span.holds(meant):
            likely = Amount(meant, quantity)
            says = note("figure-perhaps", key=key, value=shown, likely=likely)
            yield Question(result, slip.asks, says, likely)
            return
    yield Question(result, "impossible", note("figure-hardly-shown", key=key, value=shown))


# --- limits -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LimitDoubt:
    """What is asked about a limit; shift: ln ratio of what was probably meant to what is written (0: not known)."""

    question: Question
    shift: float


def limit_doubt(limit: Limit, kind: TestKind, result: str, slips: Sequence[SlipKind]) -> LimitDoubt | None:
    """Whether the limit of a result is one that no sound machine has, or its values do not go together."""
    plausible, test = kind.plausible, limit.test
    values = {key: value for key in ("new", "min", "max") if (value := getattr(limit, key)) is not None}
    if plausible is None or not values:
        return None
    wrong = {key: value for key, value in values.items() if not plausible.sound.holds(value)}
    if not wrong:
        return _disagreeing(values, limit, result)
    key, value = next(iter(wrong.items()))
    for slip in slips:
        if kind.quantity not in slip.of or slip.other_side or slip.one_of is not None:
            continue
        meant = {name: slip.read_as(one, {}) for name, one in wrong.items()}
        if all(one is not None and plausible.sound.holds(one) for one in meant.values()):
            to = meant[key] or value
            question = _about_limit(limit, result, slip.asks, key, value, to)
            carries = "new" in wrong or "new" not in values
            return LimitDoubt(question, math.log(to / value) if carries and kind.scale == "ratio" else 0.0)
    says = note("limit-hardly-meant", key=key, value=OfTest(value, test), line=limit.line)
    return LimitDoubt(Question(result, "impossible", says, of_limit=True), 0.0)


def _disagreeing(values: Mapping[str, float], limit: Limit, result: str) -> LimitDoubt | None:
    new = values.get("new")
    for key in ("min", "max"):
        value = values.get(key)
        if new is None or value is None or new <= 0 or value <= 0:
            continue
        ratio = value / new
        if not 1 / APART <= ratio <= APART and 10 / 1.6 <= max(ratio, 1 / ratio) <= 16:
            to = value / 10 if ratio > 1 else value * 10
            return LimitDoubt(_about_limit(limit, result, "decimal", key, value, to), 0.0)
    return None


def _about_limit(limit: Limit, result: str, asks: str, key: str, value: float, to: float) -> Question:
    likely = OfTest(to, limit.test)
    says = note("limit-perhaps", key=key, value=OfTest(value, limit.test), likely=likely, line=limit.line)
    return Question(result, asks, says, likely, of_limit=True)  # type: ignore[arg-type]


# --- left and right ---------------------------------------------------------------------


def sides(results: Sequence[Result], slips: Sequence[SlipKind], tests: Mapping[str, TestKind]) -> tuple[Result, ...]:
    """The results again; where readings of one side and the pull to a side contradict each other, both are asked about.

    A machine pulls to the side that is slow.
    """
    slip = next((one for one in slips if one.other_side), None)
    read = [one for one in results if isinstance(one, ReadingResult) and one.standard and one.evidence is not None]
    pulls = [one for one in read if tests[one.test].more_is == "right"]
    pairs = _pairs([one for one in read if "side" in one.keys and tests[one.test].timed])
    if slip is None or not pulls or not pairs:
        return tuple(results)
    slower = [_e(right) - _e(left) for left, right in pairs]
    one, two = _mean(slower), _mean([_e(pull) for pull in pulls])
    clear = abs(one) > SIDES * _noticeable(pairs[0][0], tests) and abs(two) > SIDES * _noticeable(pulls[0], tests)
    if not clear or one * two > 0:
        return tuple(results)
    shifts = {pull.id: -2 * _e(pull) for pull in pulls}
    for left, right in pairs:
        shifts[left.id], shifts[right.id] = _e(right) - _e(left), _e(left) - _e(right)
    marked = {pull.id for pull in pulls if _e(pull) * two > 0}
    return tuple(_turned(result, shifts, slip, marked) for result in results)


def _turned(result: Result, shifts: Mapping[str, float], slip: SlipKind, marked: set[str]) -> Result:
    if not isinstance(result, Measured) or result.evidence is None or result.id not in shifts:
        return result
    other = Slip(slip.id, -result.value, shifts[result.id], slip.probability)
    questions = result.questions
    if result.id in marked:
        likely = OfTest(-result.value, result.test)
        value = OfTest(result.value, result.test)
        questions = (*questions, Question(result.id, slip.asks, note("perhaps-side", value=value), likely))
    return replace(
        result, evidence=replace(result.evidence, slips=(*result.evidence.slips, other)), questions=questions
    )


def _pairs(readings: Sequence[ReadingResult]) -> list[tuple[ReadingResult, ReadingResult]]:
    """Left and right of what differs in nothing else."""

    def rest(one: ReadingResult) -> tuple[object, ...]:
        return one.test, *sorted((key, value) for key, value in one.keys.items() if key != "side")

    right = {rest(one): one for one in readings if one.keys["side"] == "right"}
    return [(one, right[rest(one)]) for one in readings if one.keys["side"] == "left" and rest(one) in right]


def _e(result: ReadingResult) -> float:
    return result.evidence.e if result.evidence is not None else 0.0


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _noticeable(result: ReadingResult, tests: Mapping[str, TestKind]) -> float:
    scatter = tests[result.test].scatter
    return scatter.noticeable or 0.0 if scatter is not None else 0.0
