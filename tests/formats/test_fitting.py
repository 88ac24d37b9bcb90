"""Which tests a kind of machine can be put to."""

from __future__ import annotations

import pytest

from oilpath.formats.fitting import can_be_put_to
from oilpath.formats.machine import Machine
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
