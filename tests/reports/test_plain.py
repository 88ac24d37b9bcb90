"""Other people's text made harmless, wrapping by columns, ASCII."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.reports.plain import ascii_text, columns, safe, wrap


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


@given(st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=300), st.integers(10, 80))
def test_wrapped_lines_fit_and_keep_every_character(text: str, width: int) -> None:
    lines = wrap(text, width, "- ", "  ")
    assert all(columns(line) <= width for line in lines)
    assert "".join(line[2:] for line in lines).replace(" ", "") == "".join(text.split())


def test_columns_of_wide_and_combining_characters() -> None:
    # UAX #11: East Asian wide characters take two columns
    assert columns("日本") == 4
    assert columns("e\u0301") == 1
    assert columns("abc") == 3


def test_wrap_breaks_a_word_wider_than_the_line() -> None:
    assert wrap("x" * 12, 10, "> ") == ["> xxxxxxxx", "  xxxx"]
    assert wrap("", 10, "> ") == [">"]


def test_ascii() -> None:
    assert ascii_text("54 °C ± 2, 3–5 × “a” → ü") == '54 deg C +/- 2, 3-5 x "a" -> ü'
    assert ascii_text("54°C") == "54 deg C"
