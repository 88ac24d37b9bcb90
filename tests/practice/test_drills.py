"""Drills: the same seed asks the same, the right answer is among the choices, and any keys are answered."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath import load_knowledge, load_machine
from oilpath.bench import bench_for
from oilpath.documents.closed import closed_files, load_closed
from oilpath.documents.edit import open_document
from oilpath.practice.drills import KINDS, QUESTIONS, Drill, Item, bad_measurements, closed_jobs, lookalikes
from oilpath.practice.hidden import Hidden
from oilpath.practice.records import Setup
from oilpath.reports.drill import answered, drill_end, drill_opening, question
from oilpath.reports.words import Words

CASES = Path(__file__).parents[2] / "cases"
PATH = str(CASES / "machines/trainer-22t.yaml")
KNOWLEDGE = load_knowledge()
MACHINE = load_machine(PATH, KNOWLEDGE)
BENCH = bench_for(MACHINE, KNOWLEDGE)
WORDS = Words(KNOWLEDGE, MACHINE)


@cache
def items(kind: str, seed: int = 3) -> tuple[Item, ...]:
    if kind == "lookalikes":
        return lookalikes(BENCH, seed)
    if kind == "bad-measurements":
        return bad_measurements(Hidden(Setup(seed, 2, dict(open_document(PATH).data)), MACHINE, KNOWLEDGE), seed)
    return closed_jobs([load_closed(path, KNOWLEDGE) for path in closed_files(CASES)], KNOWLEDGE, seed)


@pytest.mark.parametrize("kind", KINDS)
def test_every_question_has_one_right_answer(kind: str) -> None:
    found = items(kind)
    assert len(found) == QUESTIONS
    for item in found:
        assert len(set(item.choices)) == len(item.choices) >= 4
        assert 0 <= item.right < len(item.choices)
    drill = Drill(kind, found)  # type: ignore[arg-type]
    for item in found:
        assert list(question(drill, BENCH, WORDS))
        told = drill.give(str(item.right + 1))
        assert told is not None
        assert told.right
        assert list(answered(told, BENCH, WORDS))
    assert drill.item is None
    assert list(drill_end(drill))


def test_a_lookalike_s_check_tells_the_two_apart_and_the_others_do_not() -> None:
    """Total variation between the outcomes under both causes: of the right check large, of the others small."""
    for item in items("lookalikes"):
        assert item.telling is not None
        assert sum(abs(a - b) for a, b in zip(item.telling.one, item.telling.other, strict=True)) / 2 >= 0.5


def test_readings_are_well_and_badly_made_and_wrong_repairs_come_first() -> None:
    rights = {item.choices[item.right] for seed in (1, 2, 3) for item in items("bad-measurements", seed)}
    assert "none" in rights
    assert len(rights) >= 3
    first = items("closed-jobs")[0].job
    assert first is not None
    assert any(remedy.helped is False for remedy in first.sheet.remedies)


@settings(max_examples=30)
@given(st.lists(st.sampled_from(["1", "4", "9", "", "q", "x", "²", "1" * 50]), max_size=9), st.sampled_from(KINDS))
def test_any_keys_are_answered(lines: list[str], kind: str) -> None:
    drill = Drill(kind, items(kind))  # type: ignore[arg-type]
    assert list(drill_opening(drill, 3))
    for line in lines:
        told = drill.give(line)
        assert told is None or list(answered(told, BENCH, WORDS))
    assert len(drill.answers) <= QUESTIONS
