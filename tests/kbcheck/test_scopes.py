"""A cause that disturbs what has no place at its part is a finding, and the model refuses it."""

from __future__ import annotations

import pytest

from oilpath.bench import Bench
from oilpath.documents.machine import Machine
from oilpath.kbcheck.scopes import check_scopes
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.files import Entry
from oilpath.problems import UnusableInput
from tests import shipped

KNOWN = shipped.knowledge()


def cause(parameter: str, class_: str) -> Cause:
    worn = next(one for one in KNOWN.causes if one.cause == "pump.worn")
    disturbs = worn.disturbs[0].model_copy(update={"parameter": parameter})
    at = worn.at.model_copy(update={"class_": (class_,)})
    return worn.model_copy(update={"cause": "own.cause", "disturbs": (disturbs,), "at": at})


@pytest.mark.parametrize(
    ("parameter", "class_", "places", "would_do"),
    [
        ("back-pressure", "travel-motor", "travel-left-motor, travel-right-motor", "return-filter"),
        ("opening", "engine", "engine", "spool"),
        ("leakage", "tank", "tank", "main-pump"),
    ],
)
def test_a_parameter_without_a_place_is_found_with_the_classes_that_would_do(
    parameter: str, class_: str, places: str, would_do: str
) -> None:
    (found,) = check_scopes(KNOWN, [Entry("causes/own.yaml", 3, "own.cause", cause(parameter, class_))])
    assert (found.file, found.line, found.key) == ("causes/own.yaml", 3, "own.cause")
    assert f"disturbs `{parameter}` (" in found.message
    assert f"at {places}, where it has no place" in found.message
    assert would_do in found.accepted.removeprefix("at a part of class ").split(", ")
    assert class_ not in found.accepted.removeprefix("at a part of class ").split(", ")


def test_the_causes_that_ship_are_in_order() -> None:
    assert list(check_scopes(KNOWN, [Entry("x", 1, one.cause, one) for one in KNOWN.causes])) == []


def test_the_model_refuses_it_and_never_slows_the_whole_machine() -> None:
    other = KNOWN.model_copy(update={"causes": (*KNOWN.causes, cause("back-pressure", "travel-motor"))})
    with pytest.raises(UnusableInput, match=r"own\.cause: disturbs `back-pressure` at travel-left-motor"):
        _ = Bench(Machine(name="x", circuit=KNOWN.circuits["two-pump-excavator"]), other).model
