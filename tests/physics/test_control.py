"""What the control of the main pumps makes of a low pilot supply, from first principles.

Positive control follows the pilot pressure, negative control what passes the open centre, load sensing the opened
section: common practice.
"""

from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.arrays import Array
from oilpath.knowledge.circuit import Control
from oilpath.machine.graph import circuit_graph
from oilpath.physics.control import CONTROLS
from oilpath.physics.flows import FLOOR, Flows
from oilpath.physics.state import State
from tests.physics.conftest import MachineOf

FULL = 0.65  # `pilot-full-stroke` of the circuit
KINDS = get_args(Control)


def flows_of(machine_of: MachineOf, kind: str, settings: list[float], **keys: object) -> Flows:
    """One row for each pilot setting, on the founding circuit under this control."""
    machine = machine_of({"control": kind}, **keys)
    state = State(len(settings), circuit_graph(machine), machine)
    state.pilot_setting[:] = settings
    return Flows(state)


def boom(machine_of: MachineOf, kind: str, settings: list[float], **keys: object) -> Array:
    flows = flows_of(machine_of, kind, settings, **keys)
    return flows.net("cycle")[:, flows.state.functions.index("boom-raise")]


def test_every_control_that_a_circuit_may_name_has_its_figures() -> None:
    assert set(CONTROLS) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_changes_at_full_pilot_pressure_and_nothing_moves_at_none(kind: str, machine_of: MachineOf) -> None:
    full, usual, none = boom(machine_of, kind, [FULL, 1.0, 0.02])
    assert full == usual == boom(machine_of, "load-sensing", [1.0])[0]
    assert none < 0.1 * usual


@pytest.mark.parametrize("kind", KINDS)
@given(low=st.floats(0.02, 1.2), more=st.floats(0, 1))
def test_less_pilot_pressure_never_makes_anything_faster_or_a_stall_higher(
    kind: str, machine_of: MachineOf, low: float, more: float
) -> None:
    flows = flows_of(machine_of, kind, [low, low + more])
    for load in ("cycle", "swing", "ground-high", "raised-low"):
        slower, faster = flows.net(load)
        assert (slower <= faster + 1e-12).all()
    lower, higher = flows.pump_flow(np.full((2, 1), 0.3), np.array([0]))
    assert lower <= higher + 1e-12


def test_the_pump_under_positive_control_is_set_back_most_and_under_negative_control_gently(
    machine_of: MachineOf,
) -> None:
    half = [FULL / 2]
    whole = boom(machine_of, "load-sensing", [1.0])[0]
    speeds = {kind: float(boom(machine_of, kind, half)[0] / whole) for kind in KINDS}
    assert speeds["positive"] < speeds["load-sensing"] < speeds["negative"] < speeds["fixed"] < 1


def test_only_positive_control_sets_back_a_pump_that_works_on_a_flow_meter(machine_of: MachineOf) -> None:
    # the meter takes all the flow: none passes the centre of the valve block, and no section is in the way
    for kind in KINDS:
        low, full = flows_of(machine_of, kind, [FULL / 2, 1.0]).pump_flow(np.full((2, 1), 0.05), np.array([0]))
        assert low < 0.6 * full if kind == "positive" else low == full


def test_a_pump_at_its_torque_limit_has_displacement_to_spare(machine_of: MachineOf) -> None:
    # at high pressure the torque limit has set the pump back already, so a weaker demand changes nothing
    low, full = flows_of(machine_of, "positive", [0.9 * FULL, 1.0]).pump_flow(np.full((2, 1), 0.9), np.array([0]))
    assert low == full > FLOOR


def test_what_a_lever_moves_by_itself_needs_no_pilot_supply(machine_of: MachineOf) -> None:
    for kind in KINDS:
        flows = flows_of(machine_of, kind, [FULL / 2, 1.0])
        flows.piloted[:] = False
        low, full = flows.net("cycle")
        assert (low == full).all()


@pytest.mark.parametrize("control", ["negative", "load-sensing"])
def test_the_machine_file_overrides_the_control_of_the_circuit(control: str, machine_of: MachineOf) -> None:
    half = [FULL / 2]
    usual, own = boom(machine_of, "positive", half), boom(machine_of, "positive", half, control=control)
    assert own == boom(machine_of, control, half) != usual


@pytest.mark.parametrize("kind", KINDS)
@given(share=st.floats(0, 1))
def test_what_does_not_pass_the_centre_goes_on(kind: str, share: float) -> None:
    # a flow is conserved: with an open centre each litre goes past it or on
    control, x = CONTROLS[kind], np.array([share])
    if control.open_centre:
        assert control.past(x) + control.passed(x) == pytest.approx(1)
    assert 0 <= control.demand(x)[0] <= 1
