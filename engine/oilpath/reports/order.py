"""The answer to paste into a repair order: plain text of at most 78 columns, in words for the customer to read."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from oilpath.flow import CheckResult, ConditionWord, Diagnosis, Measured, NextCheck, RankedCause, Result
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER
from oilpath.reports.conclusions import leading, no_fault, not_measured, not_valid, question_text, stop_sentences
from oilpath.reports.layers import lost_sentences
from oilpath.reports.names import counted, group_title, safe, sentence
from oilpath.reports.notes import Sayer, sayer_of
from oilpath.reports.plain import ascii_text, wrap
from oilpath.reports.words import Words

WIDTH: Final = 78
#: From this share on, the remedy for the leading cause is named.
REMEDY_FROM: Final = 0.6
_STEPS: Final = 3
_OTHERS: Final = 4


def to_order(diagnosis: Diagnosis, words: Words) -> str:
    """The text for the repair order. Our own symbols are ASCII; letters in other people's text stay."""
    lines: list[str] = []
    for section in (
        _stop(diagnosis, words),
        _lost(diagnosis),
        _head(diagnosis),
        _findings(diagnosis, words),
        _cause(diagnosis, words),
        _next(diagnosis, words),
        _missing(diagnosis, words),
        wrap(ascii_text(DEFER), WIDTH),
    ):
        block = list(section)
        if block:
            lines += [*block, ""]
    return "\n".join(line.rstrip() for line in lines[:-1]) + "\n"


def _wrap(text: str, first: str = "", rest: str | None = None) -> list[str]:
    return wrap(ascii_text(text), WIDTH, ascii_text(first), rest)


def _stop(diagnosis: Diagnosis, words: Words) -> Iterator[str]:
    for reason in stop_sentences(diagnosis, words):
        yield from _wrap(reason, "*** STOP USE *** ", "    ")


def _lost(diagnosis: Diagnosis) -> Iterator[str]:
    for text in lost_sentences(diagnosis.replaced):
        yield from _wrap(sentence(safe(text)), "WARNING: ", "    ")


def _head(diagnosis: Diagnosis) -> Iterator[str]:
    for label, value in (
        ("MACHINE", diagnosis.machine),
        ("UNIT", diagnosis.unit_number),
        ("SERIAL NO", diagnosis.serial_number),
        ("ORDER NO", diagnosis.order_number),
        ("HOURS", None if diagnosis.hours is None else f"{diagnosis.hours:.10g}"),
        ("DATE", diagnosis.date),
        ("COMPLAINT", diagnosis.complaint or "none stated"),
        ("HISTORY", "; ".join(diagnosis.history) or None),
    ):
        if value:
            yield from _wrap(safe(value), f"{label + ':':<11}", " " * 11)


def _findings(diagnosis: Diagnosis, words: Words) -> Iterator[str]:
    yield "FINDINGS"
    sayer = sayer_of(diagnosis, words)
    verdicts = ("fail", "near", "invalid")
    shown = [result for verdict in verdicts for result in diagnosis.results if result.verdict == verdict]
    made = [result for result in diagnosis.results if isinstance(result, CheckResult)]
    for result in (*shown, *made):
        yield from _wrap(_finding(result, sayer), "- ")
    passed = sum(result.verdict == "pass" for result in diagnosis.results)
    if passed:
        yield from _wrap(f"{counted(passed, 'result')} in order.", "- ")
    if not diagnosis.results:
        yield "- Nothing was measured."


def _finding(result: Result, sayer: Sayer) -> str:
    """`Cycle time, bucket curl: 4.1 s, accepted max 3.9 s: out`."""
    words = sayer.words
    parts = [f"{words.result(result)}: {words.value(result)}"]
    if isinstance(result, Measured):
        limit, new = words.limit(result), words.new(result)
        if limit:
            estimated = " (estimate)" if result.basis == "estimate" else ""
            parts.append(f"accepted {limit}{estimated}")
        elif new:
            parts.append(f"new {new}")
    if isinstance(result, Measured | ConditionWord):
        parts.append(say.VERDICTS[result.verdict])
    reasons = [sayer.say(note) for note in result.notes] if result.verdict == "invalid" else []
    return ", ".join(parts) + (f" ({'; '.join(reasons)})" if reasons else "")


def _cause(diagnosis: Diagnosis, words: Words) -> Iterator[str]:
    group = leading(diagnosis)
    if group is None:
        return
    yield "INDICATED CAUSE"
    how = f"{say.sure(group.probability)}, {say.about(group.probability)}"
    if repeat := not_valid(diagnosis.results):
        yield from _wrap(repeat, "- ")
    sayer = sayer_of(diagnosis, words)
    for question in diagnosis.questions:
        yield from _wrap(f"Please check: {question_text(diagnosis, question, sayer)}", "- ")
    members = [diagnosis.causes[index] for index in group.members]
    lead = members[0]
    if lead.cause == "none":
        yield from _wrap(f"{no_fault(diagnosis, words)} ({how}).", "- ")
        return
    if lead.cause == "unknown":
        yield from _wrap(f"The readings fit no usual cause ({how}). Further checks are needed.", "- ")
        return
    if len(members) == 1:
        yield from _wrap(f"{words.cause(lead)} ({how}).", "- ")
    else:
        title = sentence(safe(group_title(group, diagnosis.causes)))
        yield from _wrap(f"{title} ({how}). These readings cannot tell these apart:", "- ")
        for member in members[:_OTHERS]:
            yield from _wrap(_titled(member, words), "  - ")
        if len(members) > _OTHERS:
            yield from _wrap(f"and {len(members) - _OTHERS} more", "  - ")
    remedy = words.remedy(lead.cause)
    if remedy and lead.probability >= REMEDY_FROM:
        yield "REMEDY, ONCE THE NEXT CHECK CONFIRMS IT" if diagnosis.checks else "REMEDY"
        yield from _wrap(remedy, "- ")


def _titled(cause: RankedCause, words: Words) -> str:
    return f"{words.cause(cause)}, {say.about(cause.probability)}"


def _next(diagnosis: Diagnosis, words: Words) -> Iterator[str]:
    if not diagnosis.checks:
        return
    yield "NEXT STEPS"
    for number, check in enumerate(diagnosis.checks[:_STEPS], 1):
        yield from _check(number, check, words)


def _check(number: int, check: NextCheck, words: Words) -> Iterator[str]:
    for caution in check.cautions:
        yield from _wrap(words.caution(caution), "   CAUTION: ", " " * 12)
    yield from _wrap(
        f"{sentence(words.check(check.check, check.part))} (about {say.minutes(check.minutes)})", f"{number}. "
    )


def _missing(diagnosis: Diagnosis, words: Words) -> Iterator[str]:
    if diagnosis.not_measured:
        yield "NOT MEASURED"
        yield from _wrap("; ".join(not_measured(one, words) for one in diagnosis.not_measured) + ".", "- ")
