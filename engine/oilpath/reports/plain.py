"""Text as lines: wrapped by display width, plain ASCII."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Final

_JOINERS: Final = "\u200c\u200d"  # spelling of some scripts needs them; they reorder and hide nothing

_ASCII: Final = str.maketrans(
    {
        "°": " deg ", "±": "+/-", "–": "-", "—": "-", "−": "-", "\u2011": "-",
        "×": "x", "·": "*", "…": "...", "≤": "<=",
        "≥": ">=", "≈": "~", "²": "2", "³": "3", "µ": "u", "μ": "u", "’": "'", "‘": "'", "“": '"', "”": '"', "→": "->",
        "•": "*", "Ω": "ohm", "½": "1/2", "\xa0": " ", "\u202f": " ", "\u2009": " ",
        "─": "-", "━": "-", "│": "|", "┃": "|", "├": "+", "└": "`", "╭": "+", "╮": "+", "╰": "+", "╯": "+", "┏": "+",
        "┓": "+", "┗": "+", "┛": "+", "┡": "+", "╇": "+", "┩": "+", "┼": "+", "┬": "+", "┴": "+", "┤": "+",
    }
)  # fmt: skip


def ascii_text(text: str) -> str:
    """Symbols in our own texts (degree, dashes, box lines …) as ASCII; letters of any language stay as they are."""
    if text.isascii():
        return text
    plain = text.translate(_ASCII)
    return plain.replace("  deg ", " deg ")


def columns(text: str) -> int:
    """Columns `text` takes in a fixed-width display (UAX #11: wide takes two, combining none)."""
    if text.isascii():
        return len(text)
    return sum(_columns(character) for character in text)


def _columns(character: str) -> int:
    if unicodedata.combining(character) or character in _JOINERS:
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def wrap(text: str, width: int, first: str = "", rest: str | None = None) -> list[str]:
    """`text` in lines of at most `width` columns; the first begins with `first`, the others with `rest`.

    Words longer than a line are broken. Without text the result is `first` alone.
    """
    rest = " " * columns(first) if rest is None else rest
    lines: list[str] = []
    line, used, empty = first, columns(first), True
    for word in text.split():
        for piece in _pieces(word, width - max(columns(first), columns(rest))):
            size = columns(piece)
            if not empty and used + 1 + size > width:
                lines.append(line)
                line, used, empty = rest, columns(rest), True
            line, used, empty = (
                (line + piece, used + size, False) if empty else (f"{line} {piece}", used + 1 + size, False)
            )
    return [*lines, line.rstrip() if empty else line]


def _pieces(word: str, width: int) -> Iterable[str]:
    """A word whole, or broken if it is wider than a line."""
    width = max(width, 2)
    piece, used = "", 0
    for character in word:
        size = _columns(character)
        if used + size > width:
            yield piece
            piece, used = "", 0
        piece, used = piece + character, used + size
    yield piece
