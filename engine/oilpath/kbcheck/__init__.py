"""The knowledge base checks itself: its files, its rules on their cases, and every cause on every circuit.

A finding is a `Problem` with the file and line of the entry, so that it can be mended there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from oilpath.kbcheck.cases import try_rules
from oilpath.kbcheck.circuits import check_circuits
from oilpath.kbcheck.entries import Entry, read_entries
from oilpath.kbcheck.kinds import check_scatter
from oilpath.kbcheck.measuring import try_measures
from oilpath.kbcheck.names import check_names
from oilpath.kbcheck.simulated import try_causes
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import read_knowledge
from oilpath.problems import Problem, UnusableInput

__all__ = ["Review", "check_knowledge", "review"]


@dataclass(frozen=True, slots=True)
class Review:
    """What is wrong with a knowledge base, and what may well be but is good to know; both by file and line."""

    findings: tuple[Problem, ...] = ()
    notes: tuple[Problem, ...] = ()


def check_knowledge(kb_dir: Path) -> list[Problem]:
    """Findings on the files alone, ordered by file and line; none for a sound knowledge base."""
    try:
        known = read_knowledge(kb_dir)
    except UnusableInput as error:
        return list(error.problems)
    return list(_of_files(kb_dir, known, list(read_entries(kb_dir))))


def _of_files(kb_dir: Path, known: Knowledge, placed: list[Entry]) -> tuple[Problem, ...]:
    return _ordered([*check_names(known, placed), *check_circuits(kb_dir, known), *check_scatter(kb_dir, known)])


def review(kb_dir: Path) -> Review:
    """All findings and notes; rules and causes are tried only where the files are sound, for they build on them."""
    try:
        known = read_knowledge(kb_dir)
    except UnusableInput as error:
        return Review(tuple(error.problems))
    placed = list(read_entries(kb_dir))
    if found := _of_files(kb_dir, known, placed):
        return Review(found)
    wrong, brought = try_rules(known, placed)
    findings, notes = try_causes(known, placed, brought)
    return Review(_ordered([*wrong, *findings, *try_measures(known, placed)]), _ordered(notes))


def _ordered(found: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(dict.fromkeys(found), key=lambda p: (p.file, p.line, p.key, p.message)))
