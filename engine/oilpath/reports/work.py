"""What was moved on the machine, in words: what must be put back before it starts, and what is left as it was."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from oilpath.documents.sheet import Remedy, Work
from oilpath.flow import Diagnosis
from oilpath.ranking.remedies import remedy_id
from oilpath.reports import words as say
from oilpath.reports.names import safe, sentence
from oilpath.reports.words import Words
from oilpath.units import figure

_DONE: Final[Mapping[str, str]] = {
    "setting": "setting moved",
    "plugged": "line plugged",
    "crossed": "lines crossed",
    "fitted": "gauge or meter fitted",
    "wired": "wire on the valve",
    "exchanged": "exchanged",
}
_UNDO: Final[Mapping[str, str]] = {
    "setting": "turn the setting back",
    "plugged": "take the plug out and join the line",
    "crossed": "put the lines back",
    "fitted": "take the gauge or meter off and close the port",
    "wired": "take the wire off",
    "exchanged": "put the part back where it belongs",
}
BEFORE_START: Final = "Before the machine starts"


def work_line(work: Work, words: Words) -> str:
    """`Main relief valve: setting moved, 0.5 turn out (10 min); left so`."""
    what = _DONE[work.what]
    if work.turns:
        what += f", {figure(abs(work.turns), 3)} turn {'in' if work.turns > 0 else 'out'}"
    took = f" ({say.minutes(work.minutes)})" if work.minutes else ""
    left = "still to be put back" if work.open else "put back or left so" if work.undo is False else "left so"
    noted = f": {safe(work.note)}" if work.note else ""
    return f"{sentence(words.part(work.part))}: {what}{took}; {left}{noted}"


def to_undo(work: Sequence[Work], words: Words) -> tuple[str, ...]:
    """What must be put back: `Boom cylinder: take the plug out`. Each once."""
    found = (f"{sentence(words.part(one.part))}: {_UNDO[one.what]}" for one in work if one.open)
    return tuple(dict.fromkeys(found))


def minutes_of(work: Sequence[Work]) -> float | None:
    """Minutes noted with the work; None if none are."""
    noted = [one.minutes for one in work if one.minutes is not None]
    return sum(noted) if noted else None


def work_page(work: Sequence[Work], words: Words) -> Iterator[str]:
    """A line for each entry, and the minutes together."""
    yield from (work_line(one, words) for one in work)
    if (spent := minutes_of(work)) is not None:
        yield f"Time noted: {say.minutes(spent)}"


_TRIED: Final = {True: "it helped", False: "it did not help", None: "not known yet whether it helped"}


def remedy_title(remedy: Remedy, words: Words) -> str:
    """A remedy by what was done: `main relief valve exchanged, it did not help`."""
    return f"{sentence(words.part(remedy.part))} {remedy.action.replace('-', ' ')}, {_TRIED[remedy.helped]}"


def evidence_titles(diagnosis: Diagnosis, words: Words) -> dict[str, str]:
    """Names of all that speaks for or against a cause, by id: results, and remedies that were tried."""
    return {
        **{result.id: words.result(result) for result in diagnosis.results},
        **{remedy_id(one.action, one.part): remedy_title(one, words) for one in diagnosis.remedies},
    }
