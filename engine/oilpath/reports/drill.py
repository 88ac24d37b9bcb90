"""Drills in words: the question, its choices, and why the right answer is right."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from oilpath.bench import Bench, bench_for
from oilpath.documents.closed import ClosedJob
from oilpath.judging import judge
from oilpath.practice.catalogue import suspects
from oilpath.practice.drills import Answered, Drill, Item, Kind
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER, Block, Heading, Items, Para, Title
from oilpath.reports.conclusions import finding, out_of
from oilpath.reports.names import counted, safe, sentence, spaced
from oilpath.reports.practice import written
from oilpath.reports.words import Words

_TITLES: Final[dict[Kind, str]] = {
    "lookalikes": "lookalikes, and the one check that tells them apart",
    "bad-measurements": "readings, well made or not",
    "closed-jobs": "closed jobs",
}
_SLIPS: Final = {
    "none": "nothing: it is well made, whatever it shows",
    "unit": "the unit is wrong",
    "repeat": "one of the repeats is wrong",
    "decimal": "the decimal point is lost",
    "oil": "the oil is too cold for this test",
}
_LEARNT: Final = {
    "none": "The repeats agree, the unit fits, the oil is warm. A reading that is out is not a bad reading.",
    "unit": "The figure fits another unit: read the scale that the unit stands on.",
    "repeat": "One repeat lies far from the others: make it again before the mean is taken.",
    "decimal": "No such machine takes ten times as long: ask before it is believed.",
    "oil": "Cold oil slows every movement and hides leakage: warm it up and measure again.",
}
_SIMULATED: Final = (
    "Machines and readings here are simulated or invented. The machine's own manual comes first at a real one."
)
_GRADES: Final = {
    "torn-down": "seen in the opened part",
    "retested": "proved by tests made again",
    "symptom-gone": "the symptom was gone",
    "unknown": "not proved",
}


def drill_opening(drill: Drill, seed: int) -> Iterator[Block]:
    """What the drill is."""
    yield Title(f"Drill: {_TITLES[drill.kind]} · seed {seed}")
    yield Para(_SIMULATED, "caution")
    yield Para(f"{counted(len(drill.items), 'question')}. Type the number of an answer; q stops.")


def question(drill: Drill, bench: Bench, words: Words) -> Iterator[Block]:
    """The question that is asked now, with its answers by number."""
    yield from question_asked(drill, bench, words)
    if drill.item is not None:
        yield Items(tuple(f"{n} {one}" for n, one in enumerate(choices(drill, bench, words), 1)))


def choices(drill: Drill, bench: Bench, words: Words) -> tuple[str, ...]:
    """The answers to the question that is asked now."""
    item = drill.item
    return () if item is None else tuple(_choice(one, item, bench, words) for one in item.choices)


def question_asked(drill: Drill, bench: Bench, words: Words) -> Iterator[Block]:
    """The question that is asked now, without its answers."""
    item = drill.item
    if item is None:
        return
    yield Heading(f"Question {len(drill.answers) + 1} of {len(drill.items)}")
    if item.pair is not None:
        one, other = (_cause(" ".join(key), bench) for key in item.pair)
        yield Para(f"{one}, or {other[:1].lower()}{other[1:]}? Readings look much alike. Which check tells them apart?")
    elif item.option is not None:
        limit = _limit(item, bench, words)
        yield Para(f"{written(item.row)}{f' (limit: {limit})' if limit else ''}", "lead", label=item.option.name)
        yield Para("What is wrong with how it was made or written down?")
    elif item.job is not None:
        yield from _job(item.job, words)


def answered(given: Answered, bench: Bench, words: Words) -> Iterator[Block]:
    """Whether an answer is right, and why."""
    item = given.item
    if given.chosen is None:
        yield Para("Type one of the numbers.", "near")
        return
    right = _choice(item.choices[item.right], item, bench, words)
    yield Para("Right." if given.right else f"No. It is {item.right + 1}: {right}.", "good" if given.right else "out")
    if item.telling is not None:
        check = item.telling.check
        yield Items(tuple(words.caution(one) for one in check.cautions), "caution")
        yield Para(" ".join(safe(text) for text in check.how), label="How")
        one, other = ([say.percent(share) for share in shares] for shares in (item.telling.one, item.telling.other))
        yield Items(
            tuple(
                f"{sentence(safe(outcome.says))}: {one[n]} under the first, {other[n]} under the second"
                for n, outcome in enumerate(check.outcomes)
            )
        )
    elif item.option is not None:
        yield Para(_LEARNT[item.choices[item.right]])
    elif item.job is not None:
        yield from _ending(item.job)


def drill_end(drill: Drill) -> Iterator[Block]:
    """How many were right."""
    right = sum(one.right for one in drill.answers)
    yield Para(f"{right} of {len(drill.answers)} right.", "lead")
    yield Para(DEFER, "dim")


def _cause(choice: str, bench: Bench) -> str:
    names = {" ".join(one.key): one.name for one in suspects(bench)}
    return sentence(safe(names.get(choice, choice)))


def _choice(choice: str, item: Item, bench: Bench, words: Words) -> str:
    if item.pair is not None:
        name, _, part = choice.partition(" ")
        return sentence(words.check(name, part))
    if item.option is not None:
        return _SLIPS[choice]
    assert item.job is not None
    return _cause(choice, bench_for(item.job.sheet.machine, words.knowledge))


def _limit(item: Item, bench: Bench, words: Words) -> str:
    assert item.option is not None
    option = item.option
    found = [one for one in bench.machine.limits if one.test == option.test]
    own = next((one for one in found if all(option.keys.get(k) == v for k, v in one.where.items())), None)
    if own is None:
        return ""
    quantity = words.knowledge.tests[option.test].quantity
    return (
        "" if quantity is None or (own.min, own.max) == (None, None) else words.between((own.min, own.max), quantity, 4)
    )


def _job(job: ClosedJob, words: Words) -> Iterator[Block]:
    sheet = job.sheet
    told = Words(words.knowledge, sheet.machine, words.units)
    yield Para(f"“{safe(sheet.complaint or '')}”", "lead", label="The customer said")
    yield Para(safe(sheet.machine.name), label="Machine")
    results = judge(sheet, bench_for(sheet.machine, words.knowledge))
    out = tuple(finding(one, told) for one in out_of(results))
    yield Para("Out of its limits:" if out else "Nothing was out of its limits.")
    yield Items(out)
    for remedy in sheet.remedies:
        if remedy.helped is False:
            yield Para(
                f"{sentence(told.part(remedy.part))} {spaced(remedy.action)}: it did not help.", label="Tried first"
            )
    yield Para("What was it?")


def _ending(job: ClosedJob) -> Iterator[Block]:
    for one in job.job.found:
        if one.how:
            yield Para(safe(one.how), label="Done")
    minutes = f"; {say.minutes(job.job.minutes)} in all" if job.job.minutes is not None else ""
    yield Para(f"{_GRADES[job.job.grade]}{minutes}", label="Proof")
