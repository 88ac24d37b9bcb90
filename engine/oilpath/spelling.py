"""Words of a user's input: make them printable, shorten them, and guess which known word was meant."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

_LIMIT: Final = 60
_WORD_LIMIT: Final = 60
_ODD: Final = re.compile(r"[^ -~]")


def clean(text: str) -> str:
    """One printable line: control characters, line breaks, invisible marks and
    lone surrogates become escapes (``\\n``, ``\\x07``, ``\\u202e``, ``\\ud800``)."""
    return _ODD.sub(_escape, text)


def _escape(found: re.Match[str]) -> str:
    char = found.group()
    if char.isprintable():
        return char
    return char.encode("unicode_escape", "surrogatepass").decode("ascii")


def shorten(text: str, limit: int = _LIMIT) -> str:
    """`text` on one printable line of at most about `limit` characters."""
    if len(text) > limit:
        text = text[: limit - 1] + "…"
    return clean(text)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that `word` was most likely meant to be, or None.

    Case, and ``_`` or a space for ``-``, do not count. Ties go to the first in the alphabet.
    """
    if not word or len(word) > _WORD_LIMIT:  # difflib is quadratic in the length
        return None
    import difflib

    def plain(text: str) -> str:
        return text.casefold().replace("_", "-").replace(" ", "-")

    best: tuple[float, str] | None = None
    matcher = difflib.SequenceMatcher(autojunk=False)
    matcher.set_seq2(plain(word))
    for candidate in sorted(known):
        matcher.set_seq1(plain(candidate))
        floor = 0.6 if best is None else best[0]
        if matcher.real_quick_ratio() < floor or matcher.quick_ratio() < floor:
            continue
        ratio = matcher.ratio()
        if ratio >= 0.6 and (best is None or ratio > best[0]):
            best = (ratio, candidate)
    return best[1] if best else None


def nearest_of(word: str, known: Iterable[str], most: int) -> tuple[str, ...]:
    """Up to `most` known words that `word` may have been meant to be, the likeliest first; case counts."""
    if not word or len(word) > _WORD_LIMIT:
        return ()
    import difflib

    return tuple(difflib.get_close_matches(word, sorted(known), n=most, cutoff=0.6))
