"""The knowledge base checks itself: its files, its rules on their cases, and every cause on every circuit.

A finding is a `Problem` with the file and line of the entry, so that it can be mended there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from oilpath.kbcheck.cases import try_rules
from oilpath.kbcheck.measuring import try_measures
from oilpath.kbcheck.names import check_layer
from oilpath.kbcheck.simulated import try_causes
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import knowledge_of, lacking
from oilpath.knowledge.files import FolderContent, read_folder
from oilpath.problems import Problem, Problems

__all__ = ["Review", "check_knowledge", "review"]


@dataclass(frozen=True, slots=True)
class Review:
    """What is wrong with a knowledge base, and what may well be but is good to know; both by file and line."""

    findings: tuple[Problem, ...] = ()
    notes: tuple[Problem, ...] = ()


def check_knowledge(kb_dir: Path) -> list[Problem]:
    """Findings on the files alone, ordered by file and line; none for a sound knowledge base."""
    problems = Problems()
    content, known = _whole(kb_dir, problems)
    return list(problems) if known is None else list(_ordered(check_layer(known, content)))


def review(kb_dir: Path) -> Review:
    """All findings and notes; rules and causes are tried only where the files are sound, for they build on them."""
    problems = Problems()
    content, known = _whole(kb_dir, problems)
    if known is None:
        return Review(tuple(problems))
    if found := _ordered(check_layer(known, content)):
        return Review(found)
    placed = list(content.entries)
    wrong, brought = try_rules(known, placed)
    findings, notes = try_causes(known, placed, brought)
    return Review(_ordered([*wrong, *findings, *try_measures(known, placed)]), _ordered(notes))


def _whole(kb_dir: Path, problems: Problems) -> tuple[FolderContent, Knowledge | None]:
    content = read_folder(kb_dir, problems)
    problems.extend(lacking(kb_dir))
    return content, None if problems else knowledge_of(content)


def _ordered(found: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(dict.fromkeys(found), key=lambda p: (p.file, p.line, p.key, p.message)))
