"""Findings and notes on a knowledge base as text, 80 columns wide."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from oilpath.formats.problems import Problem
from oilpath.kbcheck import Review

WIDTH = 80


def review_text(told: Review) -> str:
    """Findings, then notes, then how many there are of each."""
    blocks = [_lines(told.findings)] if told.findings else []
    if told.notes:
        blocks.append("Notes, no findings:\n" + _lines(told.notes))
    order = "The knowledge base is in order" if not told.findings else _many(told.findings, "finding")
    blocks.append(f"{order}{'; ' if told.notes else ''}{_many(told.notes, 'note') if told.notes else ''}.")
    return "\n\n".join(blocks) + "\n"


def _lines(problems: Iterable[Problem]) -> str:
    """One problem after the other, what it lists (parted by semicolons) line by line."""
    return "\n".join(line for problem in problems for line in _wrapped(str(problem)))


def _wrapped(text: str) -> Iterator[str]:
    for number, piece in enumerate(text.split("; ")):
        indent = "    " if number else ""
        yield from textwrap.wrap(
            piece, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}    ", break_on_hyphens=False,
            break_long_words=False,
        )  # fmt: skip


def _many(problems: tuple[Problem, ...], word: str) -> str:
    return f"{len(problems)} {word}{'' if len(problems) == 1 else 's'}"
