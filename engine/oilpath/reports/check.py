"""What a sheet or a machine file lacks, in words: what a diagnosis would complain about, without making one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from oilpath.bench import Bench
from oilpath.documents.sheet import Sheet
from oilpath.flow import Measured, ReadingResult, Result
from oilpath.flow.notes import Note
from oilpath.judging.doubts import limit_doubt
from oilpath.judging.estimates import least_stroke_time
from oilpath.records import dataclass
from oilpath.reports.blocks import Block, Items, Para
from oilpath.reports.names import counted, safe, sentence
from oilpath.reports.notes import Sayer
from oilpath.reports.words import VERDICTS, Words
from oilpath.session.day import DayPlan
from oilpath.session.slots import Slot

#: Notes of a valid reading by which it could have been made better.
_BETTER: Final = frozenset({
    "not-stated", "no-test-speed", "only-new-is-known", "limit-scaled-less-sure", "cooling-not-known",
    "warming-hides-drift", "engine-speed-not-corrected", "offset-from-unknown-run-up",
})  # fmt: skip
#: Notes that are no reason why a reading is not valid.
_ASIDE: Final = frozenset({"cooling-is-a-part", "cooling-is-all", "limit-scaled", "limit-scaled-less-sure"})
_NAMED: Final = 3
_FIRST: Final = 2
_MEASURED: Final = 0.9
"""share of a time by dimensions below which a limit is out of range: the rest is rounding of what is on plates"""


@dataclass(frozen=True, slots=True)
class Looked:
    """What was found: `counts` a line on the whole, `remarks` what could be better, each with its results."""

    counts: str
    remarks: tuple[tuple[str, tuple[str, ...]], ...]
    """text, ids of results"""
    titles: Mapping[str, str]


def look_over(sheet: Sheet, results: Sequence[Result], warnings: Sequence[Note], words: Words) -> Looked:
    """What a diagnosis would remark on a sheet that can be used."""
    sayer = Sayer(words, results)
    remarks: dict[str, list[str]] = {}
    for result in results:
        for text in _remarks(result, sayer):
            remarks.setdefault(text, []).append(result.id)
    said: dict[str, list[str]] = {sayer.say(one): [] for one in warnings}
    invalid = sum(isinstance(one, Measured) and one.verdict == "invalid" for one in results)
    head = [counted(len(sheet.readings), "reading")]
    if invalid:
        head.append(f"{counted(invalid, 'result')} not valid")
    return Looked(
        ", ".join(head),
        tuple((text, tuple(ids)) for text, ids in {**said, **remarks}.items()),
        {result.id: words.result(result) for result in results},
    )


def _remarks(result: Result, sayer: Sayer) -> Iterator[str]:
    if not isinstance(result, Measured):
        return
    yield from (sayer.say(question.says) for question in result.questions)
    if result.verdict in ("invalid", "unjudged"):
        notes = "; ".join(sayer.say(note) for note in result.notes if note.id not in _ASIDE)
        yield f"{VERDICTS[result.verdict]}: {notes}" if notes else VERDICTS[result.verdict]
    else:
        yield from (sayer.say(note) for note in result.notes if note.id in _BETTER)


def look_over_machine(plan: DayPlan, room: Sequence[Slot], bench: Bench, words: Words) -> Looked:
    """What a diagnosis would miss in a machine file that can be used."""
    machine = bench.machine
    without = [slot for slot in room if slot.limit is None]
    remarks: list[tuple[str, tuple[str, ...]]] = []
    if machine.engine_speed is None and any(test.demands.engine_speed for test in plan.tests):
        remarks.append(("no engine-speed: times cannot be corrected for the speed they were taken at", ()))
    if without:
        remarks.append(("no limit is stated", tuple(slot.id for slot in without)))
    remarks += _doubtful(room, words)
    remarks += _unreachable(room, bench, words)
    if not any(part.displacement for part in machine.parts.values()):
        remarks.append(("no displacement of a pump: without a limit, nothing can be estimated", ()))
    limits = counted(len(machine.limits), "limit")
    counts = f"{safe(machine.name)}: {limits}, {counted(len(room), 'reading')} to be made in a day of testing"
    titles = {slot.id: slot_title(slot, words) for slot in room}
    return Looked(counts, tuple(remarks), titles)


def _doubtful(room: Sequence[Slot], words: Words) -> list[tuple[str, tuple[str, ...]]]:
    """What is asked about limits that were probably not meant, each limit once with its readings."""
    knowledge, sayer = words.knowledge, Sayer(words, ())
    found: dict[str, list[str]] = {}
    for slot in room:
        if slot.limit is None:
            continue
        doubt = limit_doubt(slot.limit, knowledge.tests[slot.test], slot.id, knowledge.slips)
        if doubt is not None:
            found.setdefault(sayer.say(doubt.question.says), []).append(slot.id)
    return [(text, tuple(results)) for text, results in found.items()]


def _unreachable(room: Sequence[Slot], bench: Bench, words: Words) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Limits of times that are shorter than all the oil of the pumps could make them."""
    for slot in room:
        function = bench.machine.circuit.functions.get(slot.keys.get("function", ""))
        estimated = words.knowledge.tests[slot.test].estimate is not None and slot.quantity == "time"
        if slot.limit is None or slot.limit.max is None or function is None or not estimated:
            continue
        least = least_stroke_time(slot.keys["function"], function, bench)
        if least is not None and slot.limit.max < _MEASURED * least:
            most, could = words.amount(slot.limit.max, "time"), words.amount(least, "time")
            yield (
                f"the limit is max {most}, but by the dimensions and displacements in this file it takes {could} at"
                " the least; look up bore, stroke, count, displacement, engine-speed and the limit",
                (slot.id,),
            )


def slot_title(slot: Slot, words: Words) -> str:
    """What a slot is for: `Cycle time, boom raise`."""
    return words.result(ReadingResult(slot.id, slot.test, dict(slot.keys), "unjudged", float("nan"), slot.quantity))


def lay_out_looked(name: str, looked: Looked) -> Iterator[Block]:
    """A line on the whole, then what could be better."""
    yield Para(f"{name}: can be used; {looked.counts}.")
    if looked.remarks:
        yield Items(tuple(_remark(text, [looked.titles[one] for one in ids]) for text, ids in looked.remarks), "near")


def _remark(text: str, titles: list[str]) -> str:
    if len(titles) > _NAMED:
        titles = [f"{counted(len(titles), 'reading')} ({'; '.join(titles[:_FIRST])}; …)"]
    return sentence(f"{'; '.join(titles)}: {text}" if titles else text)


def looked_data(name: str, looked: Looked) -> dict[str, Any]:
    """As data, in the form of what is said of a sheet that cannot be used."""
    return {
        "oilpath": "check/1",
        "sheet": name,
        "problems": [],
        "warnings": [{"results": list(ids), "text": text} for text, ids in looked.remarks],
    }
