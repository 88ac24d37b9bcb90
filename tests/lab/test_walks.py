"""Whole ways on the family: they end, and what they end at is held against that machine's truth."""

from __future__ import annotations

import pytest

from oilpath.knowledge.compile import load_knowledge
from oilpath.lab.family import draw
from oilpath.lab.walks import MOST_STEPS, cheapest, figures, run, table, walk


def test_a_way_is_the_same_each_time_and_ends() -> None:
    known = load_knowledge()
    case = draw("two-pump-excavator", 21, 3, "thin")
    found = walk(case, known)
    assert found == walk(case, known)
    assert found.steps <= MOST_STEPS
    assert found.minutes >= found.steps  # no step takes less than a minute
    assert found.truth == case.truths[0]


@pytest.mark.slow
def test_most_ways_end_at_the_true_part() -> None:
    """Loose floors; `docs/family.md` says what they are for. The figures of 400 ways: `benchmarks/walks.py`."""
    own = run(6, kinds=("two-pump-excavator",))
    other = run(6, kinds=("two-pump-excavator",), order=cheapest)
    assert figures(own)["right"] >= 0.6
    assert "ways" in table(own, other)
