"""Every entry of every file of a knowledge base, with the file and line where it is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from oilpath.knowledge.files import Entry, read_folder
from oilpath.problems import Problem, Problems, nearest

__all__ = ["Entry", "missing", "read_entries"]


def read_entries(kb_dir: Path) -> Iterator[Entry]:
    """Every entry of every file, as its model. Raises UnusableInput with every problem."""
    problems = Problems()
    content = read_folder(kb_dir, problems)
    problems.raise_if_any()
    yield from content.entries


def missing(entry: Entry, what: str, word: str, known: Iterable[str]) -> Problem:
    """The finding on a name that does not exist, with the nearest one that does."""
    like = nearest(word, list(known))
    message = f"names the {what} {word}, which does not exist"
    return Problem(entry.file, entry.line, entry.key, message, f"did you mean {like}?" if like else "")
