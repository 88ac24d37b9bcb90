"""The notes of results as the sentences that people read, in SI."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from oilpath import load_knowledge
from oilpath.flow import Result
from oilpath.flow.notes import Note
from oilpath.reports.notes import Sayer
from oilpath.reports.words import Words


@cache
def _sayer() -> Sayer:
    return Sayer(Words(load_knowledge()))


def sentences(notes: Iterable[Note]) -> list[str]:
    return [_sayer().say(note) for note in notes]


def said(result: Result) -> str:
    """All notes of a result, one after the other."""
    return "; ".join(sentences(result.notes))
