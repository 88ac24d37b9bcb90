"""Which tests and cautions fit a kind of machine. What hurts at which machine is common practice."""

from __future__ import annotations

import re

import pytest

from oilpath.documents.machine import Machine
from oilpath.knowledge.applicability import can_be_put_to, cautions_on, has_any
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from tests import shipped

CIRCUITS = ("two-pump-excavator", "compact-excavator", "wheel-loader", "hydraulic-test-rig")
OF_A_RIG = {"flow-at-load", "mean-flow", "cooler-efficiency", "opening-pressure", "oil-given-back"}


def machine(circuit: str, *absent: str) -> Machine:
    return Machine(name="Invented", circuit=shipped.knowledge().circuits[circuit], absent=absent)


def fitting(of: Machine) -> set[str]:
    return {name for name, kind in shipped.knowledge().tests.items() if can_be_put_to(name, kind, of)}


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_only_a_rig_is_put_to_the_tests_of_a_rig(circuit: str) -> None:
    assert fitting(machine(circuit)) & OF_A_RIG == (OF_A_RIG if circuit == "hydraulic-test-rig" else set())


@pytest.mark.parametrize(
    ("circuit", "test", "fits"),
    [
        ("two-pump-excavator", "swing-time", True),
        ("wheel-loader", "swing-time", False),  # it has no swing
        ("wheel-loader", "track-time", False),  # and no tracks
        ("compact-excavator", "track-time", True),
        ("hydraulic-test-rig", "drift", False),  # no cylinder that holds a load
        ("hydraulic-test-rig", "stall-pressure", True),
    ],
)
def test_what_a_machine_has_decides(circuit: str, test: str, fits: bool) -> None:
    assert (test in fitting(machine(circuit))) == fits


def test_a_part_that_is_absent_takes_its_test_along() -> None:
    assert "oil-given-back" not in fitting(machine("hydraulic-test-rig", "accumulator"))
    assert "cooler-efficiency" in fitting(machine("hydraulic-test-rig", "accumulator"))


# --- cautions ---------------------------------------------------------------------------

OF_TRACKS = {
    "marked-lane",
    "nobody-beside-tracks",
    "raised-track-clear",
    "never-under-raised-machine",
    "block-the-track",
}

#: Circuit → the cautions that its machines are spared, and why.
SPARED = {
    "two-pump-excavator": {"steering-gap"},  # it steers with its tracks
    "compact-excavator": {"steering-gap"},
    "wheel-loader": OF_TRACKS | {"swing-circle-clear"},  # no tracks, no upper structure that swings
    "hydraulic-test-rig": OF_TRACKS | {"swing-circle-clear", "steering-gap", "exhaust-led-away"},  # nor an engine
}


@pytest.fixture(scope="module")
def whole() -> Knowledge:
    return load_knowledge()


def test_every_shipped_circuit_is_looked_at(whole: Knowledge) -> None:
    assert SPARED.keys() == whole.circuits.keys()


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_a_machine_is_spared_only_cautions_of_what_it_lacks(circuit: str, whole: Knowledge) -> None:
    shown = cautions_on(whole.cautions, whole, Machine(name="Invented", circuit=whole.circuits[circuit]))
    assert whole.cautions.keys() - set(shown) == SPARED[circuit]


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_the_cautions_of_every_answer_are_for_every_machine(circuit: str, whole: Knowledge) -> None:
    assert cautions_on(whole.always, whole, Machine(name="Invented", circuit=whole.circuits[circuit])) == whole.always


def test_no_hazard_of_a_check_goes_without_a_caution_on_any_machine(whole: Knowledge) -> None:
    """As for excavators (planning/test_checks_data.py): a hazard is met by a caution of its kind that is shown."""
    for circuit in whole.circuits.values():
        of = Machine(name="Invented", circuit=circuit)
        for check in whole.checks:
            if not has_any(check.at.class_, of):
                continue
            shown = cautions_on((*check.cautions, *whole.always), whole, of)
            met = {whole.cautions[name].hazard for name in shown}
            met |= {"moving", "rotating"} if {"moving", "rotating"} & met else set()
            assert set(check.hazards) <= met, (circuit.id, check.check)


def test_without_a_machine_all_cautions_apply_and_unknown_ones_are_left_out(whole: Knowledge) -> None:
    assert cautions_on(whole.cautions, whole, None) == tuple(whole.cautions)
    assert cautions_on(("hot-oil", "no-such", "hot-oil"), whole, None) == ("hot-oil",)


def test_an_absent_part_spares_its_caution(whole: Knowledge) -> None:
    loader = whole.circuits["wheel-loader"]
    assert "steering-gap" in cautions_on(["steering-gap"], whole, Machine(name="Invented", circuit=loader))
    units = tuple(name for name, part in loader.parts.items() if part.class_ == "steering-unit")
    without = Machine(name="Invented", circuit=loader, absent=units)
    assert cautions_on(["steering-gap"], whole, without) == ()


@pytest.mark.parametrize("circuit", ["wheel-loader", "hydraulic-test-rig"])
def test_words_of_excavators_are_not_said_to_others(circuit: str, whole: Knowledge) -> None:
    of = Machine(name="Invented", circuit=whole.circuits[circuit])
    said = " ".join(whole.cautions[name].says for name in cautions_on(whole.cautions, whole, of)).casefold()
    assert not set(re.findall(r"[a-z]+", said)) & {"boom", "bucket", "swing", "track", "tracks", "attachment", "arm"}
