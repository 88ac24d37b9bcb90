"""What the words of the complaint, the history and the notes were taken for, and what was not recognised."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from oilpath.flow import Diagnosis, Heard
from oilpath.reports.names import listed, safe, sentence
from oilpath.reports.words import Words

HEADING: Final = "The words of the complaint"
_COUNTS: Final = {
    "yes": "{said} counts as the sign {sign}, though less than if it had been looked for",
    "stated": "{said}: for {sign} the sheet itself counts",
    "asked": "{said} counts for nothing by itself; measure it: {tests}",
    "measured": "{said} would be the sign {sign}, but what was measured counts",
}
_UNKNOWN: Final = "No sign is known for {said}; only what is measured counts there"


def heard_sentences(diagnosis: Diagnosis, words: Words) -> Iterator[str]:
    """A sentence for each sign that was recognised, and one for what was not."""
    unknown: dict[str, None] = {}
    for one in diagnosis.heard:
        if one.sign:
            yield sentence(_COUNTS[one.counts].format(said=_quoted(one), sign=_sign(one, words))) + "."
        elif one.counts == "asked" and (tests := _tests(one, diagnosis, words)):
            yield sentence(_COUNTS[one.counts].format(said=_quoted(one), tests=tests)) + "."
        elif one.word and one.counts != "asked":
            continue  # it was measured: nothing is to be said of it
        else:
            unknown[_quoted(one)] = None
    if unknown:
        yield _UNKNOWN.format(said=listed([*unknown])) + "."


def heard_data(one: Heard) -> dict[str, Any]:
    """The same for programs."""
    return {"text": one.text, "from": one.source, "sign": one.sign or None, "at": dict(one.keys), "counts": one.counts}


def _tests(one: Heard, diagnosis: Diagnosis, words: Words) -> str:
    """Those that would measure it and that this machine has."""
    entry = words.knowledge.vocabulary.words.get(one.word)
    lacking = {one.test for one in diagnosis.not_measured}
    names = [name for name in (entry.measured_by if entry is not None else ()) if name in lacking]
    return " or ".join(words.test(name).lower() for name in names)


def _quoted(one: Heard) -> str:
    return f"“{safe(one.text)}”"


def _sign(one: Heard, words: Words) -> str:
    known = words.knowledge.signs.get(one.sign)
    title = safe(known.title) if known is not None else one.sign
    return f"“{', '.join([title, *(words.place(name) for name in one.keys.values())])}”"
