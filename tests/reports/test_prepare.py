"""The plan for the day as text and Markdown."""

from __future__ import annotations

from pathlib import Path

import pytest

from oilpath.documents.load import load_machine
from oilpath.knowledge.compile import load_knowledge
from oilpath.reports.blocks import Block, Step
from oilpath.reports.markdown import blocks_to_markdown
from oilpath.reports.prepare import lay_out_day
from oilpath.reports.text import blocks_to_text
from oilpath.reports.words import Words
from oilpath.session.day import prepare

MACHINES = Path(__file__).parents[2] / "cases/machines"
KNOWLEDGE = load_knowledge()


def blocks(name: str = "trainer-22t.yaml") -> list[Block]:
    machine = load_machine(MACHINES / name, KNOWLEDGE)
    return list(lay_out_day(prepare(machine, KNOWLEDGE), Words(KNOWLEDGE, machine)))


@pytest.fixture(scope="module")
def text() -> str:
    return blocks_to_text(blocks())


def flat(text: str) -> str:
    return " ".join(text.split())


def test_it_says_what_the_day_needs(text: str) -> None:
    said = flat(text)
    assert "34.5 m clear ahead of the machine and the same behind it" in said
    assert "39.5 m is better" in said
    assert "1900 rpm at the test setting, 1843 to 1957 rpm is accepted without correction" in said
    assert "50 to 60 °C suits all tests" in said
    assert "Raised-track time instead of Travel time" in said
    assert "people qualified for the work come first" in said  # defers to the machine's own manual


def test_limits_stand_beside_their_test(text: str) -> None:
    said = flat(text)
    assert "Limit, boom raise: max 4.9 s, new 4.2 s" in said
    assert "Limit, boom cylinders, hold 5 min: max 12 mm, new 3 mm" in said
    assert "Limit, high range, distance 20 m: max 15.9 s, new 14.1 s, veer at most 1.2 m" in said
    assert "the two sides within 6 %" in said
    assert "Limit: 33.3 to 35.3 MPa, new 34.3 MPa" in said


def test_cautions_stand_before_each_test() -> None:
    steps = [block for block in blocks() if isinstance(block, Step)]
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    drift = next(step for step in steps if step.title == "Cylinder drift")
    assert any("under raised parts" in caution for caution in drift.cautions)
    shown = blocks_to_text([drift])
    assert shown.index("under raised parts") < shown.index("Cylinder drift")


def test_lines_fit_80_columns_and_nothing_steers_a_terminal(text: str) -> None:
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "\x1b" not in text


def test_conditions_of_this_machine_are_marked() -> None:
    said = flat(blocks_to_text(blocks("yard-12t.yaml")))
    wanted = "Conditions for this machine: oil 48 to 58 °C, attachment loaded, hold at least 3 min"
    assert wanted in said


def test_markdown_holds_the_same() -> None:
    markdown = blocks_to_markdown(blocks())
    assert markdown.startswith("# Plan for a day of testing")
    assert "| What | Minutes | Oil |" in markdown
    assert markdown.index("under raised parts") < markdown.index("**Cylinder drift**")
    assert blocks_to_markdown(blocks()) == markdown
