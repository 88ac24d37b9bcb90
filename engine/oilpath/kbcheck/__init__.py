"""The knowledge base checks itself: its files, its rules on their cases, and every cause on every circuit.

A finding is a `Problem` with the file and line of the entry, so that it can be mended there.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from oilpath.kbcheck.closed import review_jobs
from oilpath.kbcheck.names import check_layer
from oilpath.kbcheck.onewave import OneWave
from oilpath.kbcheck.simulated import Proof
from oilpath.kbcheck.tolerant import read_tolerantly
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import knowledge_of, lacking
from oilpath.knowledge.files import OPTIONAL, SINGLE, read_folder
from oilpath.knowledge.layers import lay_over, open_layer, twice
from oilpath.problems import Problem, Problems
from oilpath.records import dataclass

__all__ = ["Review", "as_far_as_read", "check_knowledge", "review", "review_layers"]


@dataclass(frozen=True, slots=True)
class Review:
    """Findings (what is wrong) and notes (what is worth knowing) on a knowledge base, by file and line."""

    findings: tuple[Problem, ...] = ()
    notes: tuple[Problem, ...] = ()
    replaced: tuple[Problem, ...] = ()
    """entries of layers that replace others"""
    proofs: tuple[Proof, ...] = ()
    """of a whole knowledge base: each cause on each circuit where it can stand"""


def check_knowledge(kb_dir: Path) -> list[Problem]:
    """Findings on the files alone, ordered by file and line; none for a sound knowledge base."""
    problems = Problems()
    content = read_folder(kb_dir, problems)
    problems.extend(lacking(kb_dir))
    return list(problems) if problems else list(_ordered(check_layer(knowledge_of(content), content)))


def review(kb_dir: Path) -> Review:
    """All findings and notes on a whole knowledge base. Parts that mistakes make impossible to check are skipped."""
    problems = Problems()
    read = read_tolerantly(kb_dir, "", problems)
    problems.extend(lacking(kb_dir))
    if not set(SINGLE).difference(OPTIONAL) <= set(read.content.files):
        return Review(tuple(problems))
    known = knowledge_of(read.content)
    return _reviewed(OneWave(known, (read,), None), problems)


def as_far_as_read(below: Knowledge, folders: Iterable[str | Path]) -> Knowledge:
    """The knowledge with layers that may still have mistakes or gaps; used for its words only."""
    known, problems = below, Problems()
    for folder in folders:
        if Path(folder).is_dir():
            known = lay_over(known, read_tolerantly(*open_layer(folder, problems), problems).content)
    return known


def review_layers(below: Knowledge, folders: Iterable[str | Path]) -> Review:
    """All findings and notes on these layers, but not on the knowledge base below them."""
    problems, reads, known = Problems(), [], below
    for folder in folders:
        path, shown = open_layer(folder, problems)
        if not os.path.isdir(path):
            continue
        read = read_tolerantly(path, shown, problems)
        problems.extend(twice(read.content.entries))
        known = lay_over(known, read.content)
        reads.append(read)
        problems.extend(review_jobs(known, folder))
    return _reviewed(OneWave(known, tuple(reads), below), problems)


def _reviewed(wave: OneWave, problems: Problems) -> Review:
    findings, notes, proofs = wave.reviewed()
    return Review(_ordered([*problems, *findings]), _ordered(notes), _ordered(wave.replaced()), proofs)


def _ordered(found: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(dict.fromkeys(found), key=lambda p: (p.file, p.line, p.key, p.message)))
