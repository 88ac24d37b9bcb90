"""Closed jobs in words: those that looked like this sheet, and the one that a machine comes back from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from oilpath.flow import Comeback, Compared, Diagnosis, FoundCause, SimilarJob
from oilpath.flow.notes import OfTest
from oilpath.reports.blocks import Block, Heading, Items, Para
from oilpath.reports.conclusions import title_of
from oilpath.reports.names import counted, listed, safe, sentence
from oilpath.reports.notes import Sayer
from oilpath.reports.words import Words

GRADES: Final[Mapping[str, str]] = {
    "torn-down": "seen in the opened part",
    "retested": "proved by tests made again",
    "symptom-gone": "the complaint was gone",
    "unknown": "never proved",
}
_ALIKE: Final = 3


def found_text(found: tuple[FoundCause, ...], diagnosis: Diagnosis, words: Words) -> str:
    """`worn main pump 1 (Pump exchanged)`, several of them joined."""
    named = []
    for one in found:
        how = f" ({safe(one.how)})" if one.how else ""
        named.append(f"{title_of(diagnosis, words, one.cause, one.part)}{how}")
    return listed(named)


def similar_text(job: SimilarJob, diagnosis: Diagnosis, words: Words) -> str:
    """`PIT-07, 2026-03-02: Worn main pump 1 (Pump exchanged), seen in the opened part. Alike: …`."""
    titles = {result.id: words.result(result) for result in diagnosis.results}
    alike = [titles[name] for name in job.alike if name in titles]
    more = f" and {counted(len(alike) - _ALIKE, 'other')}" if len(alike) > _ALIKE else ""
    where = ", ".join(safe(text) for text in (job.unit_number or job.job, job.date) if text)
    same = f" Alike: {'; '.join(alike[:_ALIKE])}{more}." if alike else ""
    return f"{where}: {found_text(job.found, diagnosis, words)}, {GRADES[job.grade]}.{same}"


def similar_blocks(diagnosis: Diagnosis, words: Words) -> Iterator[Block]:
    """The closed jobs that looked like this sheet, and how many count at all."""
    if not diagnosis.similar and not diagnosis.counted:
        return
    yield Heading("Closed jobs")
    if diagnosis.similar:
        yield Items(tuple(similar_text(one, diagnosis, words) for one in diagnosis.similar))
    else:
        yield Para("No closed job looked like this sheet.")
    if diagnosis.counted:
        number = counted(diagnosis.counted, "closed job")
        yield Para(f"How often causes come counts {number} on machines of this kind.", "dim")


def comeback_brief(back: Comeback, diagnosis: Diagnosis, words: Words) -> str:
    """One sentence: when, what was found, what to look at first."""
    ago = f"{back.since:.10g} h ago" if back.since is not None else back.date or "before"
    touched = listed([words.part(part) for part in back.touched])
    found = found_text(back.found, diagnosis, words)
    return f"Repaired {ago}: {found}. Look first at what was touched then: {touched}."


def comeback_blocks(back: Comeback, diagnosis: Diagnosis, words: Words, sayer: Sayer) -> Iterator[Block]:
    """The earlier repair, what to ask, and its readings before, after and now."""
    yield Heading("Back after a repair")
    yield Para(f"{comeback_brief(back, diagnosis, words)} It was known by this: {GRADES[back.grade]}.", "near")
    lines = ["Was it fitted, bled and set as it must be, and is it the same complaint as then?"]
    lines += [compared_text(one, words, sayer) for one in back.compared]
    yield Items(tuple(lines))


def compared_text(one: Compared, words: Words, sayer: Sayer) -> str:
    """`Cycle time, bucket curl: 4.2 s before the repair, 3.4 s after it, 4.07 s now`."""

    def shown(value: float) -> str:
        return sayer.value(OfTest(value, one.test))

    after = "not measured" if one.after is None else shown(one.after)
    title = next((words.result(r) for r in sayer.results if r.id == one.result), one.result)
    return f"{sentence(title)}: {shown(one.before)} before the repair, {after} after it, {shown(one.now)} now"


# --- for programs -----------------------------------------------------------------------


def _found_data(found: tuple[FoundCause, ...]) -> list[dict[str, Any]]:
    return [{"cause": one.cause, "part": one.part, "how": one.how} for one in found]


def similar_data(job: SimilarJob, number: Any) -> dict[str, Any]:
    """A similar job as JSON data; `number` rounds."""
    return {
        "job": job.job,
        "unit-number": job.unit_number,
        "date": job.date,
        "found": _found_data(job.found),
        "grade": job.grade,
        "likeness": number(job.likeness),
        "alike": list(job.alike),
    }


def comeback_data(back: Comeback | None, sayer: Sayer) -> dict[str, Any] | None:
    """A comeback as JSON data, values in the unit of their test."""
    if back is None:
        return None

    def shown(value: float | None, test: str) -> str | None:
        return None if value is None else sayer.value(OfTest(value, test))

    return {
        "job": back.job,
        "date": back.date,
        "hours-since": back.since,
        "found": _found_data(back.found),
        "grade": back.grade,
        "touched": list(back.touched),
        "compared": [
            {
                "result": one.result,
                "before": shown(one.before, one.test),
                "after": shown(one.after, one.test),
                "now": shown(one.now, one.test),
            }
            for one in back.compared
        ],
    }
