"""Findings and notes as text: 80 columns, what is listed line by line."""

from oilpath.kbcheck import Review
from oilpath.kbcheck.text import WIDTH, review_text
from oilpath.problems import Problem

LONG = Problem(
    "causes/a.yaml", 4, "a.b", "reads on every test like these; " + ", ".join(["c.d-and-more"] * 12) + ": e", ""
)


def test_sound() -> None:
    assert review_text(Review()) == "The knowledge base is in order.\n"


def test_findings_stand_before_notes() -> None:
    text = review_text(Review((Problem("rules/a.yaml", 1, "r", "is there twice", "one"),), (LONG, LONG)))
    lines = text.splitlines()
    assert lines[:2] == ["rules/a.yaml:1: r: is there twice; one", ""]
    assert lines[2:4] == ["Notes, no findings:", "causes/a.yaml:4: a.b: reads on every test like these"]
    assert lines[4].startswith("    c.d-and-more, ")
    assert lines[5].startswith("        c.d-and-more")
    assert lines[-1] == "1 finding; 2 notes."
    assert max(map(len, lines)) <= WIDTH
