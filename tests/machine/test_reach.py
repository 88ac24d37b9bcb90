"""Where a parameter has a place: what the parts of such machines can do is common practice of the trade."""

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.documents.machine import Machine
from oilpath.knowledge.parameters import PARAMETERS, Parameter
from oilpath.machine.graph import circuit_graph
from oilpath.machine.hypotheses import fitting_classes
from oilpath.machine.reach import reach
from tests import shipped

GRAPHS = {name: circuit_graph(Machine(name="x", circuit=model)) for name, model in shipped.knowledge().circuits.items()}


def at(circuit: str, parameter: Parameter, part: str) -> object:
    graph = GRAPHS[circuit]
    return reach(parameter, part, graph.functions_of(part), graph)


@pytest.mark.parametrize(
    ("circuit", "parameter", "part"),
    [
        ("two-pump-excavator", "back-pressure", "travel-left-motor"),  # its oil leaves by counterbalance and swivel
        ("two-pump-excavator", "leakage", "tank"),
        ("two-pump-excavator", "leakage", "engine"),
        ("two-pump-excavator", "opening", "engine"),
        ("two-pump-excavator", "opening", "track-left"),
        ("two-pump-excavator", "setting", "boom-spool"),
        ("two-pump-excavator", "setting", "oil"),
        ("two-pump-excavator", "stroke", "pressure-sensor-1"),
        ("two-pump-excavator", "stroke", "boom-spool"),
        ("two-pump-excavator", "fill", "return-filter"),
        ("two-pump-excavator", "drag", "boom-cap-hose"),
        ("two-pump-excavator", "shift", "travel-left-brake"),
        ("two-pump-excavator", "viscosity", "boom-cylinder"),
        ("two-pump-excavator", "seal-leak", "swing-motor"),
        ("two-pump-excavator", "held-leak", "pump-1"),
        ("two-pump-excavator", "regeneration", "boom-holding-valve"),
        ("two-pump-excavator", "offset", "controller"),
        ("hydraulic-test-rig", "charge", "main-relief"),
        ("wheel-loader", "bypass", "lift-cylinder"),
    ],
)
def test_no_place(circuit: str, parameter: Parameter, part: str) -> None:
    assert not at(circuit, parameter, part)


def test_a_restriction_in_one_way_back_is_felt_by_what_goes_that_way_alone() -> None:
    graph = GRAPHS["two-pump-excavator"]
    found = reach("back-pressure", "boom-cap-hose", graph.functions_of("boom-cap-hose"), graph)
    assert found.functions == ("boom-lower",)
    whole = reach("back-pressure", "return-filter", graph.functions_of("return-filter"), graph)
    assert whole.functions == tuple(graph.functions)


def test_the_pilot_supply_acts_on_what_it_moves() -> None:
    graph = GRAPHS["compact-excavator"]
    found = reach("opening", "pilot-lockout", (), graph).functions
    assert set(graph.functions) - set(found) == {"blade-lower", "blade-raise"}


@pytest.mark.parametrize("parameter", get_args(Parameter))
def test_every_parameter_has_a_place_somewhere_and_its_classes_are_named(parameter: Parameter) -> None:
    assert fitting_classes(parameter, GRAPHS.values())


@given(data=st.data())
def test_what_is_reached_is_of_the_machine(data: st.DataObject) -> None:
    graph = GRAPHS[data.draw(st.sampled_from(sorted(GRAPHS)))]
    part = data.draw(st.integers(0, len(graph.parts) - 1).map(list(graph.parts).__getitem__))
    parameter = data.draw(st.sampled_from(sorted(PARAMETERS)))
    found = reach(parameter, part, graph.functions_of(part), graph)
    assert set(found.pumps) <= set(graph.main_pumps())
    assert set(found.functions) <= set(graph.functions)
    assert set(found.cylinders) <= set(graph.holds)
