"""Wrapping by columns, ASCII."""

from hypothesis import given
from hypothesis import strategies as st

from oilpath.reports.plain import ascii_text, columns, wrap


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
