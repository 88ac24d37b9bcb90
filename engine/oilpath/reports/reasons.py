"""The chain of reasons for people: numbered steps, each with the results that carry it and what follows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from oilpath.flow import Diagnosis, Reason
from oilpath.planning.reasons import chain_from, chain_to
from oilpath.reports.blocks import Branch
from oilpath.reports.conclusions import title_of
from oilpath.reports.names import counted, listed, sentence
from oilpath.reports.notes import Sayer

_NAMED: Final = 3
_BECAUSE: Final = "Because: "

Place = tuple[str, str]


def chain_lines(diagnosis: Diagnosis, sayer: Sayer, places: Sequence[Place]) -> list[str]:
    """The steps that lead to these causes, with what they rest on, and where rules and figures differ."""
    return _numbered(diagnosis, sayer, chain_to(diagnosis.reasons, places))


def result_lines(diagnosis: Diagnosis, sayer: Sayer, result: str) -> list[str]:
    """The steps that a result carries, with all that they rest on."""
    return _numbered(diagnosis, sayer, chain_from(diagnosis.reasons, result))


def chain_branches(diagnosis: Diagnosis, sayer: Sayer, place: Place, said: set[int]) -> tuple[Branch, ...]:
    """The chain to a cause as branches: the steps that suspect it, below each what it rests on.

    Only a chain of several steps is one. said: the steps shown before, to which these are added; they are named again
    without what they rest on.
    """
    reasons = diagnosis.reasons
    last = [n for n, one in enumerate(reasons) if place in one.suspects and one.after]
    return tuple(_rooted(diagnosis, sayer, number, said) for number in last)


def _rooted(diagnosis: Diagnosis, sayer: Sayer, number: int, said: set[int]) -> Branch:
    reason, again = diagnosis.reasons[number], number in said
    said.add(number)
    carried = _carried(diagnosis, reason, sayer)
    text = sentence(sayer.value(reason.says)) + (f" ({carried})" if carried else "")
    below = () if again else tuple(_rooted(diagnosis, sayer, place, said) for place in reason.after)
    return Branch(f"{_BECAUSE}{text}", "dim", below)


def _numbered(diagnosis: Diagnosis, sayer: Sayer, wanted: Sequence[int]) -> list[str]:
    number = {place: count for count, place in enumerate(wanted, 1)}
    return [f"{number[place]}. {_line(diagnosis, place, number, sayer)}" for place in wanted]


def _line(diagnosis: Diagnosis, place: int, number: dict[int, int], sayer: Sayer) -> str:
    reason = diagnosis.reasons[place]
    parts = [sentence(sayer.value(reason.says))]
    before = [str(number[one]) for one in reason.after if one in number]
    carried = _carried(diagnosis, reason, sayer)
    if rests := [
        *([f"step{'s' if len(before) > 1 else ''} {listed(before)}"] if before else []),
        *([carried] if carried else []),
    ]:
        parts.append(f"(From {'; '.join(rests)}.)")
    for label, causes in (("Cleared", reason.cleared), ("Leaves", reason.suspects)):
        if causes and (label == "Cleared" or before):
            parts.append(f"{label}: {_titles(diagnosis, causes, sayer)}.")
    if reason.asks:
        parts.append(f"To narrow it further: {listed([sayer.words.test(one).lower() for one in reason.asks])}.")
    return " ".join(parts)


def _carried(diagnosis: Diagnosis, reason: Reason, sayer: Sayer) -> str:
    titles = {result.id: sayer.words.result(result) for result in diagnosis.results}
    own = [titles[one] for one in reason.own if one in titles]
    return "; ".join(own) if len(own) <= _NAMED else counted(len(own), "result")


def _titles(diagnosis: Diagnosis, places: Sequence[Place], sayer: Sayer) -> str:
    named = [title_of(diagnosis, sayer.words, cause, part) for cause, part in places[:_NAMED]]
    more = len(places) - _NAMED
    return ", ".join(named) + (f" and {counted(more, 'other cause')}" if more > 0 else "")
