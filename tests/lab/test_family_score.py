"""The scorer of the family: what each figure counts, on outcomes made up by hand, and drawn sheets from end to end."""

import dataclasses
import json

import pytest

from oilpath import load_knowledge
from oilpath.lab.family import draw
from oilpath.lab.family_score import (
    FIGURES,
    LARGEST,
    Outcome,
    equal_bins,
    equal_counts,
    family_json,
    family_text,
    figures,
    measure,
    run,
)

RIGHT = Outcome(
    kind="wheel-loader", sheet_kind="full", seed=1, index=0, truths=(("pump.worn", "pump-1"),), share=0.97, size=2,
    holds=True, first_three=True, probability=0.5, both=True, blamed=False, led=("pump.worn", "pump-1"),
)  # fmt: skip


def other(**changes: object) -> Outcome:
    return dataclasses.replace(RIGHT, **changes)  # type: ignore[arg-type]


def test_a_heap_is_wrong_by_its_size() -> None:
    assert RIGHT.right
    assert not other(size=LARGEST + 1).right
    found = figures([RIGHT, other(size=97)])
    assert (found["leading"], found["heaps"]) == (0.5, 0.5)


def test_sure_counts_what_claims_95_per_cent() -> None:
    found = figures([RIGHT, other(holds=False), other(share=0.94, holds=False), other(share=0.2)])
    assert (found["sure"], found["sure-right"]) == (0.5, 0.5)
    assert "sure-right" not in figures([other(share=0.5)])


def test_log_score_is_in_bits_and_has_a_floor() -> None:
    assert figures([RIGHT, other(probability=0.125)])["bits"] == pytest.approx(2.0)
    found = figures([other(probability=0.0)])
    assert found["bits"] == pytest.approx(19.93, abs=0.01)  # log2 of a million
    assert found["forgotten"] == 1.0


def test_calibration_is_nothing_where_shares_come_true() -> None:
    """A forecast of 0.75 that holds three times in four is calibrated; one that never holds is off by 0.75."""
    assert equal_bins([(0.75, True)] * 30 + [(0.75, False)] * 10) == pytest.approx(0.0)
    assert equal_bins([(0.75, False)] * 40) == equal_counts([(0.75, False)] * 40) == pytest.approx(0.75)
    assert equal_counts([(n / 40, n / 40 > 0.5) for n in range(41)]) == pytest.approx(0.25, abs=0.02)


def test_each_kind_of_sheet_has_its_own_figures() -> None:
    assert "both-in-five" in figures([other(sheet_kind="pairs")])
    assert "blamed" in figures([other(sheet_kind="sound")])
    assert figures([]) == {}
    assert set(figures([RIGHT])) - {"sheets"} <= set(FIGURES)


def test_a_drawn_sheet_from_end_to_end() -> None:
    knowledge = load_knowledge()
    case = draw("wheel-loader", 31, 0, "full")
    found = measure(case, knowledge)
    assert found == measure(case, knowledge)
    assert found.truths == case.truths
    assert 0 < found.share <= 1
    assert 0 <= found.probability <= 1
    sound = measure(draw("wheel-loader", 31, 0, "sound"), knowledge)
    assert sound.truths == (("none", "machine"),)


@pytest.mark.slow
def test_jobs_change_nothing() -> None:
    seen: list[tuple[int, int]] = []
    alone = run(
        3, seeds=(5,), kinds=("wheel-loader",), sheet_kinds=("3", "sound"), watch=lambda *done: seen.append(done)
    )
    assert seen == [(number, 6) for number in range(1, 7)]
    assert run(3, seeds=(5,), kinds=("wheel-loader",), sheet_kinds=("3", "sound"), jobs=2) == alone
    assert json.loads(family_json(alone, sheets=True))["outcomes"][0]["kind"] == "wheel-loader"
    assert "wheel-loader" in family_text(alone)
