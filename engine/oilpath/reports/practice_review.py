"""The end of a practice session: what was hidden, the steps beside the tool's, both bills, and the reasons."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from oilpath.flow import Diagnosis
from oilpath.practice.compare import Beside, OwnWay, Review
from oilpath.practice.exercise import Exercise, Repair
from oilpath.practice.records import SOUND, Key, Taken
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER, Block, Heading, Items, Para, Row, Table
from oilpath.reports.conclusions import carrying, in_verdict, reasons, suspects
from oilpath.reports.names import counted, listed, safe, sentence, spaced
from oilpath.reports.notes import sayer_of
from oilpath.reports.practice import SIDE_WORDS, SIMULATED, cause_name, expected_words, step_name, written
from oilpath.reports.words import Words

_REASONS: Final = 5
_SLIPS: Final = {
    "unit": "it was written down in the wrong unit",
    "repeat": "one of the repeats was wrong",
    "decimal": "the decimal point was lost",
    "oil": "the oil was far too cold for this test",
    "lever": "the lever was pushed half way only",
}
_STANDS: Final = {
    "proved": "sure, and confirmed by a check",
    "sound": "sure that nothing is wrong",
    "together": "no step left that tells more apart",
    "too-many": "figures that fit only with many faults at once",
    "one-part": "one part left",
    "open": "stopped, with more than one part possible",
}


def lay_out_review(review: Review, exercise: Exercise, words: Words) -> Iterator[Block]:
    """What was hidden and named, both ways with their bills, the slips, and the chain of reasons."""
    yield Heading("What it was")
    yield from _truths(review, exercise, words)
    if review.steps:
        yield Heading("Your steps, and what the tool would have done there")
        yield Table(("Step", "Expected", "Read", "The tool"), tuple(_row(one, exercise) for one in review.steps))
    yield Heading("Both bills")
    yield from _bills(review, exercise, words)
    if review.slips:
        yield Heading("Badly made readings")
        yield Items(tuple(_slip(taken, again, exercise) for taken, again in review.slips))
    yield Heading("The chain of reasons")
    yield from chain(review.tool.answer, words)
    yield from _of_yours(review, words)
    yield Para(f"{SIMULATED} {DEFER}", "dim")


def _truths(review: Review, exercise: Exercise, words: Words) -> Iterator[Block]:
    for one in review.found:
        name = cause_name(one.truth, exercise)
        if one.named is None:
            yield Para(f"{name}. You did not name it.", "out", label="Hidden")
        else:
            same = (
                "" if one.named.cause == one.truth else f" You named {cause_name(one.named.cause, exercise)}, which no"
            )
            same += " reading tells apart from it." if same else ""
            yield Para(f"{name}. You found it.{same}", "good", label="Hidden")
        if one.truth != SOUND:
            remedy = words.remedy(one.truth[0])
            yield Para(sentence(remedy) if remedy else "", label="Its remedy")
            if one.named is not None and one.named.action:
                yield Para(_repaired(one.named, exercise), label="Your repair")
    for wrong in review.wrong:
        told = "There is a fault." if wrong.cause == SOUND else "There is nothing wrong."
        action = f" {sentence(spaced(wrong.action))}, it would not have helped." if wrong.action else f" {told}"
        yield Para(f"{cause_name(wrong.cause, exercise)}.{action}", "out", label="Not there")


def _repaired(named: Repair, exercise: Exercise) -> str:
    return f"{sentence(exercise.bench.circuit.title(named.cause[1]))} {spaced(named.action)}: at the right place."


def _row(one: Beside, exercise: Exercise) -> Row:
    taken = one.taken
    tool = "the same" if one.tool == taken.step else step_name(one.tool, exercise) if one.tool else "would stop here"
    return Row(
        (step_name(taken.step, exercise), expected_words(taken.expected), _read(taken), tool),
        "plain" if one.as_expected is None else "good" if one.as_expected else "near",
    )


def _read(taken: Taken) -> str:
    if taken.outcome:
        return spaced(taken.outcome)
    if taken.row is None:
        return "hardly moves"
    side = SIDE_WORDS[taken.side]
    return f"{written(taken.row).partition(' (')[0]}{f' ({side})' if side else ''}"


def _bills(review: Review, exercise: Exercise, words: Words) -> Iterator[Block]:
    yield Para(f"{say.minutes(round(review.minutes))} for {counted(len(review.steps), 'step')}", label="You")
    own: OwnWay = review.tool
    lead = _lead(own.answer, words)
    yield Para(
        f"{say.minutes(round(own.minutes))} for {counted(len(own.taken), 'step')}; in the end {_STANDS[own.stands]}:"
        f" {lead}",
        label="The tool",
    )
    right = any(
        exercise.hidden.is_truth((one.cause, one.part), truth)
        for one in own.answer.causes[:1]
        for truth in exercise.hidden.truths
    )
    if not right:
        yield Para("The tool was wrong here, or had another fault first.", "near")
    yield Items(tuple(f"{step_name(one.step, exercise)}: {_read(one)}" for one in own.taken))


def _lead(answer: Diagnosis, words: Words) -> str:
    found = in_verdict(answer, suspects(answer, words))
    return "; ".join(f"{one.title} ({one.sure})" for one in found) or "no cause stands out"


def _slip(taken: Taken, again: bool, exercise: Exercise) -> str:
    caught = "you made it again" if again else "you took it as it was"
    return f"{step_name(taken.step, exercise)}: {_SLIPS[taken.slip]}; {caught}"


def chain(answer: Diagnosis, words: Words) -> Iterator[Block]:
    """How the tool came to its answer: what rules say of its readings, and what speaks for the first cause."""
    found = suspects(answer, words)
    if not found:
        yield Para("No cause stands out.")
        return
    sayer, first = sayer_of(answer, words), found[0]
    members = {(one.cause, one.part) for one in first.members}
    said = [carrying(answer, first, sayer)]
    said += [sentence(sayer.filled(one.because)) for one in answer.suspicions if (one.cause, one.part) in members]
    titles = {result.id: words.result(result) for result in answer.results}
    said += [
        f"{safe(name.removesuffix(','))}: {say.weight(weight)}"
        for name, weight in reasons(first.members[0], titles)[:_REASONS]
    ]
    yield Items(tuple(dict.fromkeys(text for text in said if text)))


def _of_yours(review: Review, words: Words) -> Iterator[Block]:
    if review.steps:
        yield Para(_lead(review.answer, words), label="On your readings the tool says")


def named_truths(truths: tuple[Key, ...], exercise: Exercise) -> str:
    """What was hidden, in one line."""
    return listed([cause_name(one, exercise) for one in truths])
