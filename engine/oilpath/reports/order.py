"""The repair order: complaint, findings, cause, correction, for the workshop or for the customer, long or short.

It is worked out once, as `Order`, plain strings; `order_page` lays it out, a workshop's own template may do it instead.
Whatever the length, every group of causes from a tenth on is named with how sure it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from oilpath.documents.sheet import Confirmed, Work
from oilpath.flow import CheckResult, ConditionResult, ConditionWord, Diagnosis, Measured, NextCheck, Result
from oilpath.reports import words as say
from oilpath.reports.about import tests_again
from oilpath.reports.conclusions import (
    Suspect,
    carrying,
    leading,
    measure_again,
    next_checks,
    no_fault,
    not_measured,
    not_valid,
    question_text,
    several_at_once,
    stop_sentences,
    suspects,
    tally,
    tally_in_full,
    use_of,
)
from oilpath.reports.jobs import GRADES
from oilpath.reports.layers import lost_sentences
from oilpath.reports.names import counted, listed, safe, sentence
from oilpath.reports.notes import Sayer, sayer_of
from oilpath.reports.phrases import STANDING
from oilpath.reports.words import Words
from oilpath.reports.work import minutes_of, to_undo, work_line

Reader = Literal["workshop", "customer"]
Length = Literal["usual", "short", "full"]

REMEDY_FROM: Final = 0.6
"""from this share on the remedy of the leading cause is named"""
ORDER_NOW: Final = 0.95
"""from this share on the parts for the only cause left are ordered at once"""
MEMBERS: Final = 4
"""causes of one group that are named one by one"""
_SHOWN_NOTES: Final = ("compared-with-counterpart", "counterpart-is-worse", "differs-from-counterpart")
_PROOF: Final = ("fail", "near", "invalid")


@dataclass(frozen=True, slots=True)
class Suspected:
    """A group of causes: its title, how sure (`very likely, about 94%`; no percentage for a customer), its members."""

    title: str
    sure: str
    members: tuple[str, ...]
    more: int = 0
    """members that are not named one by one"""


@dataclass(frozen=True, slots=True)
class Item:
    """Something to order: the workshop's own number for it, where the machine file gives one."""

    says: str
    number: str | None = None


@dataclass(frozen=True, slots=True)
class Parts:
    """What one cause's remedy needs, and whether it may be ordered now or only after a check."""

    cause: str
    component: str
    when: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class OrderStep:
    """A next step, with its minutes in words; each caution in full and in a few words."""

    title: str
    about: str
    tools: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]
    how: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Closed:
    """A cause that was found and corrected: what was done, and the readings before and after."""

    title: str
    how: str
    proof: tuple[str, ...] = ()
    known: str = ""
    """how the cause is known"""
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """All that a repair order says. Texts are safe to show, and not escaped for any markup."""

    reader: Reader
    machine: str
    unit: str | None
    serial: str | None
    order: str | None
    hours: str | None
    date: str | None
    technician: str | None
    complaint: str
    history: tuple[str, ...]
    stop: tuple[str, ...]
    running: str
    """`stop`, `care`, `run` or `unknown`"""
    waiting: str
    counts: str
    findings: tuple[str, ...]
    in_order: tuple[str, ...]
    questions: tuple[str, ...]
    conclusion: str
    """said instead of causes: no fault, or none that is known"""
    at_once: bool
    suspected: tuple[Suspected, ...]
    because: str
    confirmed: bool
    closed: tuple[Closed, ...]
    remedy: str
    afterwards: tuple[str, ...]
    """what the remedy leaves to do, and the tests that are made again"""
    to_confirm: tuple[str, ...]
    again: str
    """what must be put right and measured again before any other step"""
    steps: tuple[OrderStep, ...]
    expected: str
    parts: tuple[Parts, ...]
    undo: tuple[str, ...]
    """what must be put back before the machine starts"""
    moved: tuple[str, ...]
    """what was moved on the machine, and how it is left"""
    minutes: str
    """time spent, as far as it was noted"""
    missing: tuple[str, ...]
    warnings: tuple[str, ...]
    versions: str


def order_of(
    diagnosis: Diagnosis, words: Words, *, reader: Reader = "workshop", closed: Sequence[Closed] = ()
) -> Order:
    """Everything that a repair order can say of an answer."""
    sayer = sayer_of(diagnosis, words)
    named = suspects(diagnosis, words)
    use = use_of(diagnosis, words)
    standing = named[0].members[0].cause if named else "unknown"
    return Order(
        reader=reader,
        machine=safe(diagnosis.machine),
        unit=_safe(diagnosis.unit_number),
        serial=_safe(diagnosis.serial_number),
        order=_safe(diagnosis.order_number),
        hours=None if diagnosis.hours is None else f"{diagnosis.hours:.10g}",
        date=_safe(diagnosis.date),
        technician=_safe(diagnosis.technician),
        complaint=safe(diagnosis.complaint or ""),
        history=tuple(safe(text) for text in diagnosis.history),
        stop=tuple(_reader_text(text, reader) for text in stop_sentences(diagnosis, words)),
        running=use.running,
        waiting="" if use.running == "stop" else sentence(" ".join(use.because)),
        counts=(tally_in_full if reader == "customer" else tally)(diagnosis.results),
        findings=tuple(_finding_lines(diagnosis, sayer, reader)),
        in_order=tuple(finding_line(one, sayer) for one in diagnosis.results if one.verdict == "pass"),
        questions=tuple(question_text(diagnosis, one, sayer) for one in diagnosis.questions),
        conclusion=_conclusion(diagnosis, words, named, reader),
        at_once=several_at_once(diagnosis),
        suspected=tuple(
            _suspected(one, words, reader) for one in named if not (one is named[0] and standing in STANDING)
        ),
        because=carrying(diagnosis, named[0], sayer) if named else "",
        confirmed=bool(closed),
        closed=tuple(closed),
        remedy=_remedy(named, words),
        afterwards=tuple(_afterwards(named, words)),
        to_confirm=tuple(_to_confirm(diagnosis, named, words)),
        again=measure_again(diagnosis, words),
        steps=tuple(_step(check, words) for check in next_checks(diagnosis)[:3]),
        expected="" if diagnosis.plan.expected_minutes is None else say.minutes(diagnosis.plan.expected_minutes),
        parts=tuple(_parts(diagnosis, named, words, closed)),
        undo=to_undo(diagnosis.work, words),
        moved=tuple(work_line(one, words) for one in diagnosis.work),
        minutes="" if (spent := minutes_spent(diagnosis.work, closed)) is None else say.minutes(spent),
        missing=tuple(not_measured(diagnosis, words)),
        warnings=tuple(sentence(safe(text)) for text in lost_sentences(diagnosis.replaced)),
        versions=f"oilpath {diagnosis.tool_version}, knowledge {diagnosis.knowledge_version[:19]}",
    )


def _safe(text: str | None) -> str | None:
    return safe(text) if text else None


def _findings(diagnosis: Diagnosis) -> list[Result]:
    """What is out, near or not valid, the outcomes of checks, and those that are compared with a counterpart."""
    shown = [one for verdict in _PROOF for one in diagnosis.results if one.verdict == verdict]
    made = [one for one in diagnosis.results if isinstance(one, CheckResult)]
    differing = {
        value.id
        for one in shown
        for note in one.notes
        if note.id in _SHOWN_NOTES and (value := note.values.get("other")) is not None and hasattr(value, "id")
    }
    twins = [one for one in diagnosis.results if one.id in differing and one not in shown]
    return [*shown, *twins, *made]


def _finding_lines(diagnosis: Diagnosis, sayer: Sayer, reader: Reader) -> Iterator[str]:
    """A line for each finding; readings not valid for one reason share one, and a customer gets their number."""
    found = _findings(diagnosis)
    invalid: dict[str, list[Result]] = {}
    for one in found:
        if one.verdict == "invalid":
            invalid.setdefault("; ".join(sayer.say(note) for note in one.notes), []).append(one)
    alone = {id(many[0]) for many in invalid.values() if len(many) == 1}
    for one in found:
        if one.verdict != "invalid" or (id(one) in alone and reader == "workshop"):
            yield finding_line(one, sayer)
    if reader == "customer":
        if number := sum(map(len, invalid.values())):
            yield f"{counted(number, 'reading')} must be repeated: not made the way the test requires."
        return
    for reason, many in invalid.items():
        if len(many) > 1:
            named = "; ".join(f"{sayer.words.result(one)}: {sayer.words.value(one)}" for one in many)
            yield f"{counted(len(many), 'reading')} not valid ({reason}): {named}"


def finding_line(result: Result, sayer: Sayer) -> str:
    """`Cycle time, bucket curl: 4.1 s, accepted max 3.9 s, out`."""
    words = sayer.words
    parts = [f"{words.result(result)}: {words.value(result)}"]
    if isinstance(result, Measured):
        limit, new = words.limit(result), words.new(result)
        if limit:
            estimated = {"estimate": " (estimate)", "sister": " (against a sister machine)"}.get(result.basis or "", "")
            parts.append(f"accepted {limit}{estimated}")
        elif new:
            parts.append(f"new {new}")
    if isinstance(result, Measured | ConditionWord):
        parts.append(say.VERDICTS[result.verdict])
    reasons = [
        sayer.say(note) for note in result.notes if result.verdict == "invalid" or note.id in _SHOWN_NOTES
    ]  # fmt: skip
    return ", ".join(parts) + (f" ({'; '.join(reasons)})" if reasons else "")


# --- cause and correction -------------------------------------------------------------


def _reader_text(text: str, reader: Reader) -> str:
    """A sentence of stop-use; a customer's has no percentages."""
    return say.without_percent(text) if reader == "customer" else text


def _sure(probability: float, reader: Reader) -> str:
    word = say.sure(probability)
    return word if reader == "customer" else f"{word}, {say.about(probability)}"


def _conclusion(diagnosis: Diagnosis, words: Words, named: Sequence[Suspect], reader: Reader) -> str:
    before = not_valid(diagnosis.results)
    if not named or leading(diagnosis) is None:
        return f"{before}No cause could be named."
    how = _sure(named[0].share, reader)
    match named[0].members[0].cause:
        case "none":
            return f"{before}{no_fault(diagnosis, words)} ({how})."
        case "unknown":
            return f"{before}The readings fit no usual cause ({how}). Further checks are needed."
        case _:
            return before.strip()


def _suspected(suspect: Suspect, words: Words, reader: Reader) -> Suspected:
    members = suspect.members
    named = [f"{words.cause(one)}, {_sure(one.probability, reader)}" for one in members[:MEMBERS]]
    several = len(members) > 1
    title = suspect.title
    if reader == "customer" and len(members) > 2 and not suspect.group.silent:
        title = f"{words.cause(members[0])}, or one of {len(members) - 1} others that look the same in these tests"
    how = _sure(suspect.share, reader)
    return Suspected(
        title,
        f"together {how}" if several else how,
        tuple(named) if several else (),
        max(0, len(members) - MEMBERS),
    )


def _remedy(named: Sequence[Suspect], words: Words) -> str:
    lead = named[0].members[0] if named else None
    if lead is None or lead.cause in STANDING or lead.probability < REMEDY_FROM:
        return ""
    return words.remedy(lead.cause) or ""


def _afterwards(named: Sequence[Suspect], words: Words) -> Iterator[str]:
    """What is left to do once the remedy that the order names is done."""
    if not _remedy(named, words):
        return
    lead = named[0].members[0].cause
    known = next(one for one in words.knowledge.causes if one.cause == lead)
    yield from (safe(text) for text in known.afterwards)
    if tests := tests_again(known, words):
        yield f"Tests to make again: {listed(tests)}."


def _to_confirm(diagnosis: Diagnosis, named: Sequence[Suspect], words: Words) -> Iterator[str]:
    """The checks that confirm the leading cause and were not made yet; no remedy before one of them."""
    lead = named[0].members[0] if named else None
    if lead is None or lead.cause in STANDING:
        return
    made = {one.check for one in diagnosis.results if isinstance(one, CheckResult)}
    offered = {(one.check, one.part): one for one in diagnosis.checks}
    for check in words.proof(lead.cause):
        if check not in made:
            part = next((at for name, at in offered if name == check), lead.part)
            yield sentence(words.check(check, part))


def _parts(diagnosis: Diagnosis, named: Sequence[Suspect], words: Words, closed: Sequence[Closed]) -> Iterator[Parts]:
    """What to order for every cause that is named."""
    first = sentence(words.check(diagnosis.checks[0].check, diagnosis.checks[0].part)) if diagnosis.checks else ""
    for suspect in named:
        for one in suspect.members[:MEMBERS]:
            wanted = words.order(one.cause)
            if not wanted or one.cause in STANDING:
                continue
            now = suspect.share >= ORDER_NOW and len(suspect.members) == 1 and not several_at_once(diagnosis)
            if closed:
                when = "order only what the job has shown to be missing"
            elif now and not first:
                when = "order now"
            elif now:
                when = f"order now, fit only after the check: {first}"
            else:
                when = f"order only after the check: {first}" if first else "order only once it is confirmed"
            items = tuple(Item(says, number) for says, number in words.items(one.cause, one.part))
            yield Parts(words.cause(one), words.component(one.part), when, items)


def _step(check: NextCheck, words: Words) -> OrderStep:
    return OrderStep(
        title=sentence(words.check(check.check, check.part)),
        about=f"about {say.minutes(check.minutes)}",
        tools=tuple(safe(tool) for tool in check.tools),
        cautions=tuple((words.caution(caution), words.brief_caution(caution)) for caution in check.cautions),
        how=tuple(safe(text) for text in check.how),
    )


# --- closed jobs ----------------------------------------------------------------------


def minutes_spent(work: Sequence[Work], closed: Sequence[Closed]) -> float | None:
    """Minutes of the whole job: as it was closed, else those noted with the work; None where nobody noted any."""
    stated = [one.minutes for one in closed if one.minutes is not None]
    return max(stated) if stated else minutes_of(work)


def closed_job(
    title: str, confirmed: Confirmed, before: Iterable[Result], after: Iterable[Result], words: Words
) -> Closed:
    """A confirmed cause with its proof: what was out or near the limit, and what it reads now."""
    now = {one.id: one for one in after}
    proof = [
        f"{words.result(one)}: {words.value(one)} before, {words.value(now[one.id])} after"
        f"{_limit(words, now[one.id])}, {say.VERDICTS[now[one.id].verdict]}"
        for one in before
        if one.verdict in ("fail", "near")
        and isinstance(one, Measured)
        and not isinstance(one, ConditionResult)
        and one.id in now
    ]
    known = GRADES.get(confirmed.grade or "", "")
    return Closed(sentence(safe(title)), safe(confirmed.how or ""), tuple(proof), known, confirmed.minutes)


def _limit(words: Words, result: Result) -> str:
    limit = words.limit(result) if isinstance(result, Measured) else ""
    return f", accepted {limit}" if limit else ""


def as_mapping(order: Order) -> Mapping[str, object]:
    """What a template sees: the fields of an order by their names, steps and causes with theirs."""
    return {name: getattr(order, name) for name in Order.__dataclass_fields__}
