"""Demo sheets on their machines without any limit: dimensions and twins still lead to the cause.

The causes are those that the sheets were simulated with (cases/README.md). That a reading with nothing to be compared
with says nothing is common practice.
"""

from __future__ import annotations

import dataclasses
from functools import cache

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.data import data_folder
from oilpath.flow import Diagnosis

DEMO = data_folder("cases") / "demo"

#: Demos in which something can be compared: another side, direction, pump, or what the dimensions let expect.
SPEAKS = {
    "pump-1-slow": ("pump.worn", "pump-1"),
    "one-track-slow": ("travel-motor.worn", "travel-left-motor"),
    "swing-one-way": ("swing-relief.leaking", "swing-left-relief"),
    "arm-drift": ("cylinder.seal-leak", "arm-cylinder"),
    "engine-low": ("engine.low-speed", "engine"),
    "nothing-wrong": ("none", "machine"),
}
#: Demos whose fault stands alone: one drift, one setting for both pumps.
SILENT = {"boom-drift": "drift/boom-cylinder", "relief-low": "stall-pressure/pump-1/bucket-curl"}


@cache
def _answer(name: str, dimensions: bool) -> Diagnosis:
    knowledge = load_knowledge()
    sheet = load_sheet(DEMO / f"{name}.yaml", knowledge)
    gone: dict[str, object] = {"limits": ()}
    if not dimensions:
        gone["parts"] = {}
    bare = dataclasses.replace(sheet, machine=sheet.machine.model_copy(update=gone))
    return diagnose(bare, knowledge)


@pytest.mark.parametrize("dimensions", [True, False], ids=["dimensions", "nothing"])
@pytest.mark.parametrize("name", SPEAKS)
def test_cause_stays_in_the_first_three(name: str, dimensions: bool) -> None:
    answer = _answer(name, dimensions)
    assert SPEAKS[name] in [(cause.cause, cause.part) for cause in answer.causes[:3]]
    assert not any(result.basis == "limit" for result in answer.results if result.test != "condition")


def test_the_demo_that_comes_first_keeps_its_cause_first() -> None:
    for dimensions in (True, False):
        first = _answer("pump-1-slow", dimensions).causes[0]
        assert (first.cause, first.part) == SPEAKS["pump-1-slow"]
        assert first.probability > 0.5


def test_verdicts_are_marked_by_what_they_rest_on() -> None:
    bases = {result.id: result.basis for result in _answer("pump-1-slow", True).results}
    assert bases["cycle-time/bucket-curl"] == "estimate"
    assert bases["swing-time/left"] == bases["travel-veer/forward/high"] == "twin"
    assert bases["pilot-pressure"] is None
    bare = {result.id: result.basis for result in _answer("pump-1-slow", False).results}
    assert "estimate" not in bare.values()
    assert bare["cycle-time/bucket-curl"] is None
    assert bare["swing-time/left"] == "twin"


def test_estimates_say_how_sure_they_are() -> None:
    answer = _answer("pump-1-slow", True)
    estimates = [result for result in answer.results if result.basis == "estimate"]
    assert len(estimates) == 5  # all strokes but the one that weight makes
    for result in estimates:
        text = " ".join(result.notes)
        assert "no substitute for the service information" in text
        assert "±" in text


@pytest.mark.parametrize(("name", "id_"), SILENT.items())
def test_what_has_nothing_to_compare_with_accuses_nobody(name: str, id_: str) -> None:
    answer = _answer(name, False)
    result = next(result for result in answer.results if result.id == id_)
    assert result.verdict in ("unjudged", "pass")
    assert result.basis in (None, "twin")
    assert max(cause.present for cause in answer.causes if cause.cause not in ("none", "unknown")) < 0.5
    assert answer.stop_use == ()


@pytest.mark.parametrize("dimensions", [True, False], ids=["dimensions", "nothing"])
@pytest.mark.parametrize("name", ["gravel-pit-1", "quarry-1", "yard-1", "yard-3"])
def test_sound_machine_without_limits_is_not_accused(name: str, dimensions: bool) -> None:
    answer = _answer(f"../sound/{name}", dimensions)
    assert answer.causes[0].cause == "none"
    assert [result.id for result in answer.results if result.verdict == "fail"] == []
