"""Other people's text made harmless, lists, titles of results within text."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.reports.names import counted, listed, safe


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain text", "plain text"),
        # ECMA-48: control sequences, and strings such as OSC (a title, a link)
        ("\x1b[31mred\x1b[0m", "red"),
        ("\x9b31mred", "red"),
        ("\x1b]0;title\x07after", "after"),
        ("\x1b]8;;http://x.example\x1b\\link\x1b]8;;\x1b\\", "link"),
        ("a\x1b(Bb", "ab"),
        ("end\x1b", "end"),
        ("bell\x07 and\x08 back", "bell and back"),
        ("two\nlines\r\nand\ttab", "two lines and tab"),
        ("\u2028line\u2029", "line"),
        # bidirectional overrides and isolates (UAX #9), zero width, byte order mark, tag characters
        ("\u202eabc\u202c\u2066d\u2069", "abcd"),
        ("in\u200bvis\ufeffible\U000e0041", "invisible"),
        ("lone \ud800", "lone \ufffd"),
        ("Grüße 日本", "Grüße 日本"),
        ("\u0645\u06cc\u200c\u062e", "\u0645\u06cc\u200c\u062e"),  # a joiner that spelling needs
        ("  ", ""),
    ],
)
def test_safe(text: str, shown: str) -> None:
    assert safe(text) == shown


@given(st.text(st.characters(exclude_categories=())))
def test_safe_text_holds_nothing_that_steers(text: str) -> None:
    shown = safe(text)
    assert all(unicodedata.category(char) not in ("Cc", "Cs", "Zl", "Zp") for char in shown)
    assert all(unicodedata.category(char) != "Cf" or char in "\u200c\u200d" for char in shown)
    assert safe(shown) == shown


def test_lists_and_counts() -> None:
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert counted(1, "result") == "1 result"
    assert counted(2, "other cause") == "2 other causes"
