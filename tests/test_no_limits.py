"""Demo sheets on their machines without any limit: dimensions and twins still lead to the cause.

The causes are those that the sheets were simulated with (cases/README.md). That a reading with nothing to be compared
with says nothing is common practice.
"""

from __future__ import annotations

import dataclasses
import math
from functools import cache

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.data import data_folder
from oilpath.flow import Diagnosis, Measured, ReadingResult
from oilpath.reports.text import to_text
from oilpath.reports.words import Words
from tests.saying import said

DEMO = data_folder("cases") / "demo"

#: Demos in which something can be compared: another side, direction, pump, or what the dimensions let expect.
SPEAKS = {
    "pump-1-slow": ("pump.worn", "pump-1"),
    "one-track-slow": ("travel-motor.worn", "travel-left-motor"),
    "swing-one-way": ("swing-relief.leaking", "swing-left-relief"),
    "arm-drift": ("cylinder.seal-leak", "arm-cylinder"),
    "engine-low": ("engine.low-speed", "engine"),
    "nothing-wrong": ("none", "machine"),
    "relief-low": ("main-relief.low", "main-relief"),  # by the operator's words, written down as a sign
}
#: Drifts, which nothing but the cylinder's dimensions can be held against.
SPEAKS_BY_DIMENSIONS = {
    "boom-drift": ("holding-valve.leaking", "boom-holding-valve"),
    "arm-drift": ("cylinder.seal-leak", "arm-cylinder"),
    "two-causes": ("holding-valve.leaking", "arm-holding-valve"),  # the other, a merge valve, only slows one time
}
#: Readings with no twin and nothing to be worked out from: one drift, and one setting for both pumps.
SILENT = {
    ("boom-drift", False): "drift/boom-cylinder",
    ("relief-low", False): "stall-pressure/pump-1/bucket-curl",
    ("relief-low", True): "stall-pressure/pump-1/bucket-curl",
}
#: Circuits whose sections may each be built for less than the pump gives, so that little can be said of a time.
SECTIONS = ("compact-arm-slow", "loader-lift-slow")


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
    assert not any(result.basis == "limit" for result in answer.results if isinstance(result, ReadingResult))


@pytest.mark.parametrize("name", SPEAKS_BY_DIMENSIONS)
def test_a_drift_speaks_by_the_dimensions_of_its_cylinder(name: str) -> None:
    answer = _answer(name, True)
    first = answer.causes[0]
    assert (first.cause, first.part) == SPEAKS_BY_DIMENSIONS[name]
    drifting = next(r for r in answer.results if r.test == "drift" and r.keys["cylinder"] in _actuators(first.part))
    assert isinstance(drifting, Measured)
    assert (drifting.basis, drifting.deviation) == ("estimate", "high")
    assert drifting.probability_out is not None
    assert drifting.probability_out > 0.8


def _actuators(part: str) -> tuple[str, ...]:
    return part, part.replace("holding-valve", "cylinder")


def test_the_demo_that_comes_first_keeps_its_cause_first() -> None:
    for dimensions in (True, False):
        first = _answer("pump-1-slow", dimensions).causes[0]
        assert (first.cause, first.part) == SPEAKS["pump-1-slow"]
        assert first.probability > 0.5


def test_verdicts_are_marked_by_what_they_rest_on() -> None:
    bases = {one.id: one.basis for one in _answer("pump-1-slow", True).results if isinstance(one, Measured)}
    assert bases["cycle-time/bucket-curl"] == "estimate"
    assert bases["swing-time/left"] == bases["travel-veer/forward/high"] == "twin"
    assert bases["pilot-pressure"] is None
    bare = {one.id: one.basis for one in _answer("pump-1-slow", False).results if isinstance(one, Measured)}
    assert "estimate" not in bare.values()
    assert bare["cycle-time/bucket-curl"] is None
    assert bare["swing-time/left"] == "twin"


def test_estimates_say_how_sure_they_are() -> None:
    answer = _answer("pump-1-slow", True)
    estimates = [one for one in answer.results if isinstance(one, Measured) and one.basis == "estimate"]
    assert len(estimates) == 8  # all strokes but the one that weight makes, and three drifts
    for result in estimates:
        assert ("a factor of 2" if result.test == "drift" else "±") in said(result)
    text = " ".join(to_text(answer, Words(load_knowledge())).split())
    assert "estimate from dimensions, no substitute for the service information" in text


@pytest.mark.parametrize(("name", "dimensions", "id_"), [(*case, id_) for case, id_ in SILENT.items()])
def test_what_has_nothing_to_compare_with_accuses_nobody(name: str, dimensions: bool, id_: str) -> None:
    answer = _answer(name, dimensions)
    result = next(result for result in answer.results if result.id == id_)
    assert result.verdict in ("unjudged", "pass")
    assert isinstance(result, Measured)
    assert result.basis in (None, "twin")
    assert max(cause.present for cause in answer.causes if cause.cause not in ("none", "unknown")) < 0.5
    assert answer.stop_use == ()


@pytest.mark.parametrize("dimensions", [True, False], ids=["dimensions", "nothing"])
@pytest.mark.parametrize("name", ["gravel-pit-1", "quarry-1", "yard-1", "yard-3", "compact-1", "loader-2"])
def test_sound_machine_without_limits_is_not_accused(name: str, dimensions: bool) -> None:
    answer = _answer(f"../sound/{name}", dimensions)
    assert answer.causes[0].cause == "none"
    assert [result.id for result in answer.results if result.verdict == "fail"] == []


def test_setting_of_a_relief_is_not_guessed() -> None:
    result = next(r for r in _answer("relief-low", True).results if r.test == "stall-pressure")
    assert "the setting of a relief does not follow from dimensions" in said(result)


@pytest.mark.parametrize("name", SECTIONS)
@pytest.mark.parametrize("dimensions", [True, False], ids=["dimensions", "nothing"])
def test_sections_of_unknown_size_accuse_nobody(name: str, dimensions: bool) -> None:
    answer = _answer(name, dimensions)
    assert max(cause.present for cause in answer.causes if cause.cause not in ("none", "unknown")) < 0.5
    estimates = [one for one in answer.results if isinstance(one, Measured) and one.basis == "estimate"]
    assert not any(result.verdict == "fail" for result in estimates)


def test_a_section_may_be_built_for_a_third_of_the_flow() -> None:
    results = {result.id: result for result in _answer("compact-arm-slow", True).results}
    arm = results["cycle-time/arm-in"]
    assert isinstance(arm, Measured)
    # Cap end of 75 mm bore over 590 mm with 37 cm³ × 2300/60 s⁻¹ × 0.92 (conservation of volume), as the whole pump
    # would fill it, up to three times that: the middle on a log scale.
    whole = math.pi / 4 * 0.075**2 * 0.590 / (37e-6 * 2300 / 60 * 0.92)
    assert arm.new == pytest.approx(whole * math.sqrt(1 / 0.33), rel=1e-3)
    assert "takes 33 to 100 % of the flow available" in said(arm)
