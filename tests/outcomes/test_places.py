"""The scopes of a check on the founding circuit: what stands near what (facts of the circuit file)."""

import numpy as np
import pytest

from oilpath.documents.machine import Machine
from oilpath.knowledge.check import Check
from oilpath.machine.graph import circuit_graph
from oilpath.outcomes.places import Places, places_of


@pytest.fixture(scope="module")
def places(machine: Machine) -> Places:
    return places_of(circuit_graph(machine))


def near(places: Places, scope: str, part: str) -> set[str]:
    row = places.near(scope)[places.index[part]]
    return {places.names[column] for column in np.flatnonzero(row)}


def test_a_pair_and_its_members(places: Places) -> None:
    both = {"boom-cylinder-left", "boom-cylinder-right"}
    assert near(places, "part", "boom-cylinder") == {"boom-cylinder"}
    assert near(places, "members", "boom-cylinder") == {"boom-cylinder", *both}
    assert near(places, "members-left", "boom-cylinder") == {"boom-cylinder-left"}
    assert near(places, "members-right", "boom-cylinder") == {"boom-cylinder-right"}
    assert near(places, "members-left", "arm-cylinder") == set()


def test_an_assembly_is_all_that_belongs_to_one_owner(places: Places) -> None:
    assert near(places, "assembly", "pump-1") >= {"pump-1", "pump-1-regulator", "pump-1-flow-signal"}
    assert "pump-2" not in near(places, "assembly", "pump-1")
    assert near(places, "assembly", "travel-left-brake") >= {"travel-left-motor", "travel-left-final-drive"}
    assert "travel-right-motor" not in near(places, "assembly", "travel-left-brake")
    assert {"boom-holding-valve", "boom-cap-port-relief"} <= near(places, "assembly", "boom-cylinder-left")


def test_a_side_holds_no_part_without_one(places: Places) -> None:
    left = near(places, "side", "travel-left-motor")
    assert {"track-left", "travel-left-spool"} <= left
    assert not {"track-right", "swivel-joint", "pump-1"} & left
    assert near(places, "side", "swivel-joint") == set()


def test_a_regulator_shares_its_pumps_group_and_functions(places: Places) -> None:
    assert {"pump-1", "pump-1-regulator", "bucket-spool"} <= near(places, "pump", "pump-1-flow-signal")
    assert "pump-2-regulator" not in near(places, "pump", "pump-1")
    assert {"pump-1-regulator", "pump-2-regulator"} <= near(places, "function", "swivel-joint")


def test_a_function_and_an_actuator(places: Places) -> None:
    assert {"boom-spool", "boom-cap-port-relief"} <= near(places, "function", "boom-raise-pilot")
    assert not {"arm-spool", "boom-rod-port-relief"} & near(places, "function", "boom-raise-pilot")
    assert {"boom-rod-port-relief", "boom-holding-valve", "boom-cylinder-left"} <= near(
        places, "actuator", "boom-spool"
    )
    assert "arm-cylinder" not in near(places, "actuator", "boom-spool")


@pytest.mark.parametrize("scope", ["part", "assembly", "side", "pump", "function", "actuator", "anywhere"])
def test_nearness_is_mutual(places: Places, scope: str) -> None:
    matrix = places.near(scope)
    assert (matrix == matrix.T).all()


def test_an_absent_part_is_nowhere(machine: Machine, checks: tuple[Check, ...]) -> None:
    lean = places_of(circuit_graph(machine.model_copy(update={"absent": ("arm-holding-valve",)})))
    exchange = next(check for check in checks if check.check == "exchange-holding-valve")
    assert "arm-holding-valve" not in lean.index
    assert lean.of(exchange) == ("boom-holding-valve",)


def test_a_member_is_checked_with_its_pair(places: Places, checks: tuple[Check, ...]) -> None:
    plug = next(check for check in checks if check.check == "plug-loaded-line")
    assert places.of(plug) == ("arm-cylinder", "boom-cylinder", "bucket-cylinder")


def test_a_check_may_need_two_of_a_class(machine: Machine, checks: tuple[Check, ...]) -> None:
    swap = next(check for check in checks if check.check == "swap-pump-outlets")
    assert places_of(circuit_graph(machine)).of(swap) == ("machine",)
    one_pump = machine.model_copy(update={"absent": ("pump-2", "pump-2-regulator", "pump-2-flow-signal")})
    assert places_of(circuit_graph(one_pump)).of(swap) == ()
