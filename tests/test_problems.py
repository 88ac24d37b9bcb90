"""Problems in words for people."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.problems import Problem, Problems, UnusableInput, key_text, nearest, shorten


def test_a_problem_is_one_line() -> None:
    assert (
        str(Problem("a.yaml", 3, "hours", "is not a number", "a number"))
        == "a.yaml:3: hours: is not a number; a number"
    )
    assert str(Problem("a.yaml", 1, "", "is empty")) == "a.yaml:1: -: is empty"
    assert str(Problem("a\nb.yaml", 0, "k\x07", "m\u2028\ud800", "\u202e")) == (
        "a\\nb.yaml:1: k\\x07: m\\u2028\\ud800; \\u202e"
    )
    assert str(Problem("é.yaml", 2, "größe", "54 °C ≠ 3 µm")) == "é.yaml:2: größe: 54 °C ≠ 3 µm"


@given(st.text(), st.integers(), st.text(), st.text(), st.text())
def test_any_problem_prints_on_one_line_and_encodes(file: str, line: int, key: str, message: str, more: str) -> None:
    problem = Problem(file, line, key, message, more)
    assert str(problem).isprintable()
    assert str(problem).encode("utf-8")
    assert json.dumps([problem.key, problem.message, problem.accepted], ensure_ascii=False).encode("utf-8")
    assert Problem(file, line, problem.key, problem.message, problem.accepted) == problem
    assert len(problem.key) <= 1200


def test_long_values_are_shortened() -> None:
    assert shorten("x" * 5000) == "x" * 59 + "…"
    assert shorten("x" * 60) == "x" * 60
    assert shorten("\n" * 3) == "\\n\\n\\n"


def test_keys_are_shown_as_paths() -> None:
    assert key_text(("readings", 2, "times", 0)) == "readings[2].times[0]"
    assert key_text(()) == "-"
    assert key_text(("a\nb",)) == "a\\nb"


def test_all_problems_are_told_at_once_in_order() -> None:
    problems = Problems()
    problems.raise_if_any()
    assert not problems
    problems.add("b.yaml", 9, "x", "later")
    problems.add("a.yaml", 7, "z", "second")
    problems.extend([Problem("a.yaml", 7, "a", "third"), Problem("a.yaml", 2, "y", "first", "this")])
    problems.add("a.yaml", 7, "z", "second")  # twice the same is told once
    assert problems
    assert len(problems) == 5
    with pytest.raises(UnusableInput) as caught:
        problems.raise_if_any()
    assert str(caught.value) == "a.yaml:2: y: first; this\na.yaml:7: z: second\na.yaml:7: a: third\nb.yaml:9: x: later"
    assert [one.message for one in caught.value.problems] == ["first", "second", "third", "later"]
    assert isinstance(caught.value, ValueError)


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("complaints", "complaint"),
        ("Hours", "hours"),
        ("unit_number", "unit-number"),
        ("unit number", "unit-number"),
        ("reading", "readings"),
        ("xyzzy", None),
        ("", None),
        ("readings" * 1000, None),
    ],
)
def test_the_nearest_known_word(word: str, meant: str | None) -> None:
    known = ["readings", "complaint", "hours", "unit-number", "machine"]
    assert nearest(word, known) == meant
    assert nearest(word, reversed(known)) == meant
