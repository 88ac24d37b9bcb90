"""Readings that go with parameters of single parts: the powers that the circuit states, and nothing of other parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.arrays import Array
from oilpath.documents.machine import Machine
from oilpath.flow import Evidence
from oilpath.knowledge.cause import Disturbs
from oilpath.knowledge.circuit import Factor, Response
from oilpath.machine.graph import circuit_graph
from oilpath.machine.hypotheses import disturbance
from oilpath.physics.flows import Flows
from oilpath.physics.predictions import observe
from oilpath.physics.responses import LEAST, find_response, response
from oilpath.physics.state import State
from tests import shipped

READINGS = {
    "cooler-efficiency": ("cooler", "effectiveness"),
    "opening-pressure": ("switching-valve", "switching"),
    "oil-given-back": ("accumulator", "charge"),
}
LEAK = Response(test="own", at="pump", factors=(Factor(part="pump", parameter="leakage", power=2),))


def _rig() -> Machine:
    circuit = shipped.knowledge().circuits["hydraulic-test-rig"]
    return Machine(name="Invented", circuit=circuit.model_copy(update={"responses": (*circuit.responses, LEAK)}))


RIG = _rig()


def evidence(test: str, part: str) -> Evidence:
    return Evidence(test, test, "response", "", {"part": part}, "ratio", 0.0, 0.01)


def flows(parameter: str, part: str, values: list[float]) -> Flows:
    """One row for each value of a parameter at a part."""
    circuit = circuit_graph(RIG)
    state = State(len(values), circuit, RIG)
    disturbed = disturbance(
        Disturbs.model_validate({"parameter": parameter}), part, circuit.functions_of(part), circuit
    )
    state.disturb(disturbed, np.arange(len(values)), np.array(values))
    return Flows(state)


def predicted(test: str, at: str, parameter: str, part: str, values: list[float]) -> Array:
    found = response(evidence(test, at), flows(parameter, part, values), RIG)
    assert found is not None
    return found


@pytest.mark.parametrize(("test", "place"), READINGS.items())
def test_a_sound_rig_reads_what_it_did(test: str, place: tuple[str, str]) -> None:
    assert predicted(test, place[0], place[1], place[0], [1.0]).tolist() == [1.0]


@pytest.mark.parametrize(("test", "place"), READINGS.items())
@given(values=st.lists(st.floats(0.01, 1.5), min_size=2, max_size=5))
def test_a_reading_rises_with_its_own_parameter(test: str, place: tuple[str, str], values: list[float]) -> None:
    found = predicted(test, place[0], place[1], place[0], sorted(values))
    assert np.all(np.diff(found) >= 0)
    assert np.all((found < 1) == (np.array(sorted(values)) < 1))


@pytest.mark.parametrize(("test", "place"), READINGS.items())
@pytest.mark.parametrize(("other", "foreign"), READINGS.items())
def test_the_state_of_another_part_leaves_it_alone(
    test: str, place: tuple[str, str], other: str, foreign: tuple[str, str]
) -> None:
    moved = predicted(test, place[0], foreign[1], foreign[0], [0.5]).tolist() != [1.0]
    assert moved == (test == other)


@given(st.floats(0.0, 0.9))
def test_what_is_added_counts_as_one_less_it(leakage: float) -> None:
    assert predicted("own", "pump", "leakage", "pump", [leakage])[0] == pytest.approx((1 - leakage) ** 2)


def test_what_is_lost_wholly_stays_finite() -> None:
    assert predicted("own", "pump", "leakage", "pump", [1.4])[0] == LEAST**2


def test_the_model_takes_the_logarithm() -> None:
    """Half the charge: as much oil less as the power in the circuit file says."""
    sound = Flows(State(1, circuit_graph(RIG), RIG))
    effect = observe(evidence("oil-given-back", "accumulator"), flows("charge", "accumulator", [0.5]), sound, RIG)
    factor = next(one for one in RIG.circuit.responses if one.test == "oil-given-back").factors[0]
    assert effect is not None
    assert effect[0] == pytest.approx(factor.power * np.log(0.5))


def test_no_response_where_the_circuit_states_none() -> None:
    assert find_response("oil-given-back", "cooler", RIG) is None
    assert find_response("oil-given-back", None, RIG) is None
    sound = Flows(State(1, circuit_graph(RIG), RIG))
    assert response(evidence("oil-given-back", "cooler"), sound, RIG) is None
    without = RIG.model_copy(update={"absent": ("accumulator",)})
    lacking = Flows(State(1, circuit_graph(without), without))
    assert response(evidence("oil-given-back", "accumulator"), lacking, without) is None


def test_heat_shows_only_where_the_oil_temperature_was_not_taken_into_account() -> None:
    """A hot rig lets more leak; a flow that was worked out for its temperature says nothing of that."""
    hot, sound = flows("heat", "oil", [0.5]), Flows(State(1, circuit_graph(RIG), RIG))
    flow = Evidence("f", "flow-at-load", "flow", "steps", {"at": "pump-outlet"}, "ratio", 0.0, 0.01)
    plain = observe(flow, hot, sound, RIG)
    worked_out = observe(replace(flow, corrected=("oil-temperature",)), hot, sound, RIG)
    assert plain is not None
    assert worked_out is not None
    assert plain[0] < -0.005
    assert worked_out[0] == pytest.approx(0, abs=1e-12)
