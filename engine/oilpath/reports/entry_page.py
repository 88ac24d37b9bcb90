"""The entry of a sheet laid out for a page: stretches of the day, tests, a row for each reading with its fields."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from oilpath.flow import Measured, ReadingResult, Result, SignResult
from oilpath.problems import UnusableInput
from oilpath.records import dataclass
from oilpath.reports import words as say
from oilpath.reports.asking import judged_lines, unclear_sentence
from oilpath.reports.blocks import Tone
from oilpath.reports.check import slot_title
from oilpath.reports.limits import limit_beside
from oilpath.reports.names import safe, sentence, spaced
from oilpath.reports.notes import Sayer
from oilpath.reports.prepare import judged_by, own_conditions
from oilpath.reports.words import Words
from oilpath.session.day import DayPlan, DayTest
from oilpath.session.entry import Step
from oilpath.session.fields import NOTE, Fields, Outcome, key_of
from oilpath.session.slots import Slot
from oilpath.units import QUANTITIES

_HEAD: Final = {
    "unit-number": "Unit number",
    "hours": "Hours on the meter",
    "date": "Date",
    "technician": "Technician",
    "order-number": "Order number",
    "serial-number": "Serial number",
    "complaint": "Complaint, in the operator's own words",
}
_TONES: Final[Mapping[str, Tone]] = {"fail": "out", "near": "near", "pass": "good", "invalid": "near"}
_OTHER: Final = "Somebody else wrote {now} here meanwhile. You typed {typed}. Save again to write yours over it."
_EMPTIED: Final = "nothing"
_MEANT: Final = "Perhaps {meant} is meant."


@dataclass(frozen=True, slots=True)
class FieldShown:
    """One field: what it asks for, what it holds. boxes: how many inputs; words: those to choose from."""

    key: str
    label: str
    unit: str = ""
    typed: tuple[str, ...] = ()
    boxes: int = 1
    words: tuple[str, ...] = ()
    kind: str = "number"
    """number, text, long, date, choice or veer"""


@dataclass(frozen=True, slots=True)
class Judged:
    """What is said of a reading: how it is judged, and whether it is meant."""

    texts: tuple[str, ...] = ()
    tone: Tone = "plain"
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RowShown:
    """One reading with what adds to it."""

    id: str
    title: str
    limit: str
    about: str
    value: FieldShown
    more: tuple[FieldShown, ...]
    judged: Judged
    timed: bool


@dataclass(frozen=True, slots=True)
class TestShown:
    """One test: cautions come before it."""

    test: str
    title: str
    minutes: str
    cautions: tuple[str, ...]
    how: tuple[str, ...]
    beside: tuple[str, ...]
    rows: tuple[RowShown, ...]
    made: int = 0


@dataclass(frozen=True, slots=True)
class PhaseShown:
    """A stretch of the day."""

    title: str
    cautions: tuple[str, ...]
    how: tuple[str, ...]
    tests: tuple[TestShown, ...]


@dataclass(frozen=True, slots=True)
class NotedShown:
    """A sign or code on the sheet: its number among the readings, and what it says."""

    number: int
    id: str
    text: str
    tone: Tone
    stop: str = ""


@dataclass(frozen=True, slots=True)
class EntryShown:
    """The whole entry. tests: every test that can be shown, with its title; shown: those that are."""

    always: tuple[str, ...]
    head: tuple[FieldShown, ...]
    conditions: tuple[FieldShown, ...]
    suits: str
    degrees: str
    phases: tuple[PhaseShown, ...]
    beside: tuple[TestShown, ...]
    noted: tuple[NotedShown, ...]
    tests: Mapping[str, str]
    made: int
    of: int


def lay_out_entry(
    fields: Fields, plan: DayPlan, words: Words, results: Sequence[Result], wanted: Iterable[str] = ()
) -> EntryShown:
    """The entry of a sheet; with `wanted` only those tests."""
    chosen = frozenset(wanted)
    judged = judged_readings(results, words)
    rows = _rows(fields, words, judged)
    made, of = counts(fields, plan)

    def shown(test: DayTest) -> TestShown:
        own = tuple(rows.get(test.test, ()))
        return TestShown(
            test.test, words.test(test.test), say.minutes(test.minutes),
            tuple(words.caution(one) for one in test.cautions), tuple(safe(text) for text in test.how),
            tuple(f"{sentence(text)}." for text in (*own_conditions(test, plan, words), *judged_by(test))), own,
            sum(bool(row.value.typed) for row in own),
        )  # fmt: skip

    def wants(test: DayTest) -> bool:
        return test.variant is None and test.test in rows and (not chosen or test.test in chosen)

    phases = tuple(
        PhaseShown(
            safe(phase.title), tuple(words.caution(one) for one in phase.cautions),
            tuple(safe(text) for text in phase.how), tests,
        )
        for phase in plan.phases
        if (tests := tuple(shown(test) for test in phase.tests if wants(test)))
    )  # fmt: skip
    beside = tuple(one for test in plan.left_out if wants(test) and ((one := shown(test)).made or test.test in chosen))
    steps = fields.entry.steps
    suits = "" if plan.oil_temperature is None else words.between(plan.oil_temperature, "temperature")
    names = [test.test for test in (*plan.tests, *plan.left_out) if test.variant is None and test.test in rows]
    return EntryShown(
        always=tuple(words.caution(one) for one in plan.always),
        head=tuple(_head(fields, step) for step in steps if step.kind == "head"),
        conditions=tuple(_condition(fields, step) for step in steps if step.kind == "condition"),
        suits=suits, degrees=say.named(fields.entry.unit("temperature")), phases=phases, beside=beside,
        noted=tuple(noted_on(fields, results, words)),
        tests={name: words.test(name) for name in dict.fromkeys(names)}, made=made, of=of,
    )  # fmt: skip


def counts(fields: Fields, plan: DayPlan) -> tuple[int, int]:
    """How many readings are made, and how many the day has and the sheet holds beside it."""
    day = {test.test for test in plan.tests if test.variant is None}
    readings = [step for step in fields.entry.steps if step.kind == "reading"]
    made = sum(fields.entry.answered(step) for step in readings)
    return made, sum(step.test in day or fields.entry.answered(step) for step in readings)


# --- fields -----------------------------------------------------------------------------


def _head(fields: Fields, step: Step) -> FieldShown:
    kinds = {"hours": "number", "date": "date", "complaint": "long"}
    unit = "h" if step.name == "hours" else ""
    key = key_of(step)
    return FieldShown(key, _HEAD[step.name], unit, fields.typed(key), kind=kinds.get(step.name, "text"))


def _condition(fields: Fields, step: Step) -> FieldShown:
    key = key_of(step)
    unit = fields.unit(step)
    return FieldShown(
        key, sentence(spaced(step.name)), say.named(unit) if unit else "", fields.typed(key), 1, step.words,
        "number" if step.quantity is not None else "choice",
    )  # fmt: skip


def _rows(fields: Fields, words: Words, judged: Mapping[str, Judged]) -> dict[str, list[RowShown]]:
    """The rows of each test."""
    found: dict[str, list[RowShown]] = {}
    more: dict[str, list[FieldShown]] = {}
    for step in fields.entry.steps:
        if step.kind == "more" and step.slot is not None:
            more.setdefault(step.slot.id, []).append(_field(fields, step))
    for step in fields.entry.steps:
        slot = step.slot
        if step.kind == "reading" and slot is not None:
            value = _field(fields, step)
            note = f"{NOTE}:{slot.id}"
            rest = (*more.get(slot.id, ()), FieldShown(note, "Note", typed=fields.typed(note), kind="text"))
            found.setdefault(slot.test, []).append(
                RowShown(
                    slot.id,
                    _title(slot, words),
                    limit_beside(slot, words),
                    _about(slot),
                    value,
                    rest,
                    judged.get(slot.id, Judged()),
                    slot.quantity == "time",
                )
            )
    return found


def _field(fields: Fields, step: Step) -> FieldShown:
    key, unit = key_of(step), fields.unit(step)
    typed = fields.typed(key)
    slot = step.slot
    boxes = max(slot.repeats, len(typed)) if slot is not None and step.kind == "reading" else 1
    if step.name == "veer":
        return FieldShown(key, "Off the line at the end", say.named(unit or ""), typed, kind="veer")
    label = sentence(spaced(step.name))
    shown = say.named(unit) if unit and step.quantity in QUANTITIES else ""
    return FieldShown(key, label, shown, typed, boxes)


def _title(slot: Slot, words: Words) -> str:
    title = slot_title(slot, words)
    return sentence(title.removeprefix(f"{words.test(slot.test)}, "))


def _about(slot: Slot) -> str:
    """What is stated of the reading beside its value: `hold 5 min`."""
    return ", ".join(f"{spaced(key)} {value}" for key, value in slot.figures.items())


# --- what is said of them ------------------------------------------------------------------


def judged_readings(results: Sequence[Result], words: Words) -> dict[str, Judged]:
    """How each reading is judged, by its id; a reading's veer beside it."""
    sayer = Sayer(words, results)
    found: dict[str, Judged] = {}
    for result in results:
        if isinstance(result, Measured):
            texts = tuple(judged_lines(result, words, sayer))
            doubts = tuple(sentence(sayer.say(question.says)) for question in result.questions if not question.of_limit)
            found[result.id] = Judged(texts, _TONES.get(result.verdict, "plain"), doubts)
    return found


def noted_on(fields: Fields, results: Sequence[Result], words: Words) -> Iterator[NotedShown]:
    """Signs and codes on the sheet."""
    titles = {result.id: result for result in results if not isinstance(result, Measured | ReadingResult)}
    for number, reading in enumerate(fields.entry.sheet.readings):
        result = titles.get(reading.id)
        if result is None:
            continue
        stop = ""
        if isinstance(result, SignResult) and result.verdict == "fail":
            sign = words.knowledge.signs.get(result.sign)
            stop = safe(sign.stop_use) if sign is not None and sign.stop_use else ""
        tone = _TONES.get(result.verdict, "plain")
        yield NotedShown(number, reading.id, f"{words.result(result)}: {words.value(result)}", tone, stop)


def outcome_text(outcome: Outcome) -> str:
    """Why what was typed is not on the sheet; empty if it is."""
    if outcome.kept:
        return ""
    if outcome.now is not None:
        typed = " ".join(outcome.change.typed) or _EMPTIED
        return _OTHER.format(now=" ".join(outcome.now) or _EMPTIED, typed=typed)
    if outcome.problem is not None:
        return problem_text(outcome.problem)
    assert outcome.unclear is not None
    meant = likely(outcome)
    return f"{unclear_sentence(outcome.unclear)}{f' {_MEANT.format(meant=meant)}' if meant else ''}"


def likely(outcome: Outcome) -> str:
    """What was perhaps meant by what cannot be taken; empty where nobody can tell."""
    return safe(outcome.unclear.likely or "") if outcome.unclear is not None else ""


def problem_text(error: UnusableInput) -> str:
    """The problems of a sheet in one line."""
    return " ".join(
        sentence(f"{one.message}{f'; {one.accepted}' if one.accepted else ''}.") for one in error.problems[:3]
    )
