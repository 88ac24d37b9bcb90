"""The first screen of an answer: what matters, in 24 lines of 80 columns.

Where room is short, the complaint, the findings and the evidence are cut; a reason to stop, a doubt and a caution
never are.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from oilpath.flow import Diagnosis, NextCheck
from oilpath.records import dataclass
from oilpath.reports import words as say
from oilpath.reports.blocks import Block, Facts, Para, Title, Tone
from oilpath.reports.conclusions import (
    MOST_PROBABLE,
    NOTHING_NEXT,
    Suspect,
    carrying,
    finding,
    heading,
    in_verdict,
    measure_again,
    next_checks,
    out_of,
    question_text,
    suspects,
    tally,
    use_of,
    verdict,
    would_change,
)
from oilpath.reports.jobs import comeback_brief
from oilpath.reports.names import safe, sentence
from oilpath.reports.notes import Sayer
from oilpath.reports.plain import wrap
from oilpath.reports.words import Words
from oilpath.reports.work import to_undo

WIDTH: Final = 80
HEIGHT: Final = 24
_LABELS: Final = 13  # columns of the labels
_OUT: Final = 3  # findings named one by one, at most
_STEPS: Final = 5  # of shortening
_FIRST: Final = "The machine's own manual, local rules and qualified people come first."

RUNNING: Final = {
    "care": "Yes, with care; stop if it gets worse",
    "run": "Yes, as far as these tests show",
    "stop": "No",
    "unknown": "These tests do not say",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the screen: its texts from the longest to the shortest, for the room that there is."""

    label: str
    texts: tuple[str, ...]
    tone: Tone = "plain"

    def para(self, step: int) -> Para:
        """The line in its `step`-th shortening."""
        return Para(self.texts[min(step, len(self.texts) - 1)], self.tone, self.label)


def first_screen(
    diagnosis: Diagnosis, words: Words, sayer: Sayer, *, alone: bool = False, fit: bool = True
) -> Iterator[Block]:
    """The blocks of the screen, cut to its size if `fit`; `alone` if nothing follows: then it says what comes first."""
    yield Title(" · ".join(heading(diagnosis)))
    lines = [line for line in _lines(diagnosis, words, sayer) if line.texts[0]]
    room = HEIGHT - 3 - (2 if alone else 0)  # the title, the line under it, and the one where the cursor stands
    rows = [line.para(0) for line in lines]
    for step in range(_STEPS if fit else 0):
        rows = [line.para(step) for line in lines]
        if sum(len(wrap(row.text, WIDTH - _LABELS)) for row in rows) <= room:
            break
    yield Facts(tuple(rows))
    if alone:
        yield Para(_FIRST, "dim")


def _lines(diagnosis: Diagnosis, words: Words, sayer: Sayer) -> Iterator[Line]:
    use, named = use_of(diagnosis, words), suspects(diagnosis, words)
    if use.running == "stop":
        for reason in use.because:
            yield Line("STOP USE", (reason,), "stop")
    if undo := to_undo(diagnosis.work, words):
        yield Line("Put back", (f"Before the machine starts. {'; '.join(undo)}.",), "caution")
    if diagnosis.comeback is not None:
        yield Line("Came back", _shorter(comeback_brief(diagnosis.comeback, diagnosis, words), 2, 1), "near")
    yield Line("Complaint", _shorter(safe(diagnosis.complaint or ""), 2, 1))
    yield Line("Out", _out(diagnosis, words), "out" if out_of(diagnosis.results) else "good")
    if diagnosis.questions:
        first, *others = (question_text(diagnosis, one, sayer) for one in diagnosis.questions)
        yield Line("Check entry", (f"{first}{f' And {len(others)} more.' if others else ''}",), "near")
    yield Line("Cause", (sentence(verdict(diagnosis, words).removeprefix(MOST_PROBABLE)),), "lead")
    yield Line("Or", (_doubts(diagnosis, named),))
    carried = dict.fromkeys(carrying(diagnosis, one, sayer) for one in in_verdict(diagnosis, named))
    because = " ".join(carried)
    yield Line("Because", (because, *_shorter(because, 4, 3, 2, 1)))  # what would change the picture is cut first
    reasons = "" if use.running == "stop" else f" {sentence(' '.join(use.because))}"  # above, where it must not run
    yield Line("May it run", (f"{RUNNING[use.running]}.{reasons}",))
    again = measure_again(diagnosis, words)
    yield Line("First", (again,), "lead")
    if checks := next_checks(diagnosis):
        step = checks[0]
        title = sentence(words.check(step.check, step.part))
        yield Line("Next", (f"{title} ({say.check_needs(step)}).", f"{title} ({say.minutes(step.minutes)})."), "lead")
        yield Line("Caution", (brief_cautions(step, words),), "caution")
    elif not again and use.running == "run":
        yield Line("Next", (NOTHING_NEXT,), "lead")
    yield Line("Would change", _shorter(would_change(diagnosis, words), 3, 1))


def _out(diagnosis: Diagnosis, words: Words) -> tuple[str, ...]:
    """How many results say what, then what is out by name and value: three, two, one of them."""
    out, counts = out_of(diagnosis.results), tally(diagnosis.results)
    if not out:
        return (counts,)
    named = [finding(result, words) for result in out[:_OUT]]
    return tuple(
        f"{counts} {'; '.join(named[:most])}{f'; and {len(out) - most} more' if len(out) > most else ''}."
        for most in range(len(named), 0, -1)
    )


def _doubts(diagnosis: Diagnosis, named: list[Suspect]) -> str:
    """Every other group from a tenth on, with its share in words."""
    said = in_verdict(diagnosis, named)
    doubts = "; ".join(f"{one.title} ({one.sure})" for one in named if one not in said)
    return f"{doubts}." if doubts else ""


def brief_cautions(check: NextCheck, words: Words) -> str:
    """The cautions of a check in a few words each."""
    return " ".join(words.brief_caution(caution) for caution in check.cautions)


def _shorter(text: str, *most: int) -> tuple[str, ...]:
    """A text whole, then in at most so many lines of the screen."""
    return (text, *(_cut(text, lines) for lines in most))


def _cut(text: str, most: int) -> str:
    lines = wrap(text, WIDTH - _LABELS)
    if len(lines) <= most:
        return text
    kept = " ".join(lines[:most])
    while len(wrap(f"{kept} …", WIDTH - _LABELS)) > most:
        kept = kept.rpartition(" ")[0]
    return f"{kept.rstrip(',;:.')} …"
