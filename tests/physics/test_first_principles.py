"""The model against first principles and published relations: what an orifice, a relief, a power control must do.

Each test works its figure out by hand; the laws are those of textbooks on fluid power and named beside them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.machine.graph import circuit_graph
from oilpath.physics.flows import Flows
from oilpath.physics.predictions import observe
from oilpath.physics.state import State

from .conftest import EvidenceOf, MachineOf

Change = Mapping[str, Any]


def flows_of(machine: Machine, rows: int = 1) -> Flows:
    return Flows(State(rows, circuit_graph(machine), machine))


def column(flows: Flows, function: str) -> int:
    return flows.state.functions.index(function)


def stating(machine: Machine, **figures: float) -> Machine:
    """The machine with figures of its circuit as its file states them."""
    named = {name.replace("_", "-"): value for name, value in figures.items()}
    return machine.model_copy(update={"circuit": machine.circuit.with_figures(named)})


@pytest.fixture
def summed(machine: Machine) -> Machine:
    """One power control sets both pumps back by the sum of their pressures."""
    return stating(machine, power_sum=1.0)


@pytest.fixture
def own(machine: Machine) -> Machine:
    """Each pump has a power control of its own."""
    return stating(machine, power_sum=0.0)


def test_thin_oil_doubles_what_a_gap_loses_and_leaves_an_orifice_alone(machine: Machine) -> None:
    """Gap: Q ∝ Δp/μ (Hagen and Poiseuille). Sharp-edged orifice: Q ∝ √(Δp/ρ), no viscosity in it."""
    flows = flows_of(machine, 4)
    s, left = flows.state, column(flows, "travel-left-forward")
    s.viscosity[:] = [1.0, 0.5, 1.0, 0.5]
    s.shunt[:2, left] = 0.2
    s.seep[2:, left] = 0.2
    without = flows_of(machine, 4)
    without.state.viscosity[:] = s.viscosity
    lost = without.net("ground-high")[:, left] - flows.net("ground-high")[:, left]
    pressure = machine.circuit.functions["travel-left-forward"].pressure["ground-high"]
    assert lost == pytest.approx([0.2 * pressure, 0.4 * pressure, 0.2 * pressure**0.5, 0.2 * pressure**0.5])


def test_a_raised_track_hides_a_gap_more_than_an_orifice(machine: Machine) -> None:
    """At a quarter of the pressure a gap loses a quarter, an orifice half."""
    flows = flows_of(machine, 3)
    s, left = flows.state, column(flows, "travel-left-forward")
    s.shunt[1, left] = s.seep[2, left] = 0.1
    case = machine.circuit.functions["travel-left-forward"].pressure
    lost = {load: flows.net(load)[0, left] - flows.net(load)[1:, left] for load in ("ground-high", "raised-high")}
    ratio = lost["raised-high"] / lost["ground-high"]
    share = case["raised-high"] / case["ground-high"]
    assert ratio == pytest.approx([share, share**0.5])


def test_a_drift_past_a_chip_is_hardly_faster_when_hot_past_a_worn_spool_it_is(machine: Machine) -> None:
    """A poppet held open is an orifice; the clearance of a spool is a gap, and leaks twice at half the viscosity."""
    drifts = {}
    for what in ("valve_gap", "port_gap", "port_leak"):
        flows = flows_of(machine, 2)
        getattr(flows.state, what)[:] = 50.0
        flows.state.viscosity[:] = [1.0, 0.5]
        flows.state.spool_leak[:] = 1e6  # the way out behind the valve is free
        drifts[what] = flows.drift(flows.state.cylinders.index("arm-cylinder"))
    hot = {what: float(drift[1] / drift[0]) for what, drift in drifts.items()}
    assert hot["valve_gap"] == pytest.approx(1, abs=0.01)
    assert hot["port_gap"] == pytest.approx(1, abs=0.01)
    assert hot["port_leak"] == pytest.approx(2, abs=0.02)


@pytest.mark.parametrize(
    ("main", "own", "force"), [(1.0, 0.9, 0.9), (0.95, 0.9, 0.9), (0.8, 0.9, 0.8), (1.0, 0.7, 0.7)]
)
def test_the_lower_of_two_reliefs_speeds_up_the_swing(machine: Machine, main: float, own: float, force: float) -> None:
    """Torque = pressure · displacement, and the lower relief sets the pressure: time to speed ∝ 1/p (Newton)."""
    start, usual = machine.circuit.functions["swing-left"].acceleration, machine.circuit.values["swing-relief-setting"]
    flows = flows_of(machine, 2)
    s, left = flows.state, column(flows, "swing-left")
    s.relief[1] = main
    s.limit[1, left] = own
    sound, there = 1 / flows.net("swing")[:, left]
    assert there / sound == pytest.approx(1 - start + start * usual / force)


def test_a_leak_of_the_left_relief_lengthens_the_stop_of_the_right_swing(machine: Machine, reading: EvidenceOf) -> None:
    """Slowing down, the motor pumps into the line that fed the other way: that line's relief brakes it."""
    flows, sound = flows_of(machine, 3), flows_of(machine)
    s, left = flows.state, column(flows, "swing-left")
    s.seep[1, left] = 0.1
    s.limit[2, left] = s.port_relief[left] / 2

    def stop(direction: str) -> Any:
        ratio = observe(reading("swing-stop", "swing", direction=direction), flows, sound, machine)
        assert ratio is not None
        return np.exp(ratio)

    assert stop("left") == pytest.approx([1, 1, 1])
    right = stop("right")
    assert right[1] > 1.1
    assert right[2] == pytest.approx(2)  # energy = torque · angle: at half the pressure twice the angle


def test_a_drag_on_one_track_sets_back_both_pumps_under_one_power_control(summed: Machine) -> None:
    """Sum of p·V over both pumps is the torque that the control allows (hyperbola of constant torque)."""
    flows = with_a_drag_on_the_left(summed)
    left, right = column(flows, "travel-left-forward"), column(flows, "travel-right-forward")
    pressure = float(summed.circuit.functions["travel-left-forward"].pressure["ground-high"])
    speeds = flows.net("ground-high")[1]
    assert speeds[left] == pytest.approx(speeds[right])
    torque = (pressure + 0.3) * speeds[left] + pressure * speeds[right]
    assert torque == pytest.approx(2 * flows.corner)
    alone = flows.net("raised-high")[1]  # one track turns: the other pump needs no torque
    assert alone[right] == pytest.approx(1)


def test_a_drag_on_one_track_leaves_the_other_alone_where_each_pump_has_its_own_power_control(own: Machine) -> None:
    """p·V of the dragging track's pump is the torque of that pump; the other one does not feel it."""
    flows = with_a_drag_on_the_left(own)
    left, right = column(flows, "travel-left-forward"), column(flows, "travel-right-forward")
    pressure = float(own.circuit.functions["travel-left-forward"].pressure["ground-high"])
    sound, speeds = flows.net("ground-high")
    assert (pressure + 0.3) * speeds[left] == pytest.approx(flows.corner)
    assert speeds[right] == sound[right]


def with_a_drag_on_the_left(machine: Machine) -> Flows:
    """A sound row and one with a drag on the left track, nothing leaking."""
    flows = flows_of(machine, 2)
    flows.pump_leakage, flows.motor_leakage = 1e-9, 0.0
    flows.state.drag[1, [column(flows, "travel-left-forward"), column(flows, "travel-left-reverse")]] = 0.3
    return flows


def test_one_pump_that_works_alone_gets_the_torque_of_both(summed: Machine) -> None:
    """At the flow meter as at stall: displacement = min(1, total torque / pressure)."""
    flows = flows_of(summed)
    flows.pump_leakage = 1e-9
    both = 2 * flows.corner
    flow = flows.pump_flow(np.array([[0.9]]), np.array([0]), torque=flows.stalled)[0, 0]
    assert flow == pytest.approx(min(1.0, both / 0.9))


def test_one_pump_with_a_power_control_of_its_own_gets_no_more_when_it_works_alone(own: Machine) -> None:
    """displacement = min(1, its own torque / pressure), whatever the other pump does."""
    flows = flows_of(own)
    flows.pump_leakage = 1e-9
    flow = flows.pump_flow(np.array([[0.9]]), np.array([0]), torque=flows.stalled)[0, 0]
    assert flow == pytest.approx(flows.corner / 0.9)


@pytest.mark.parametrize(("load", "share"), [("raised-high", 1.0), ("raised-low", 0.6)])
def test_a_drag_takes_less_pressure_of_a_motor_in_low_range(machine: Machine, load: str, share: float) -> None:
    """Torque = pressure · displacement: the larger displacement of low range (1/0.6) needs 0.6 of the pressure."""
    flows = flows_of(machine, 2)
    left = column(flows, "travel-left-forward")
    flows.state.drag[1, left] = 0.2
    sound, dragging = flows.working_pressure(load, left)
    assert dragging - sound == pytest.approx(0.2 * share)
    assert machine.circuit.values["low-range-speed"] == 0.6


@pytest.mark.parametrize(("setting", "ratio"), [(0.95, 1.0), (0.3, 0.6)])
def test_without_pilot_pressure_a_travel_motor_falls_back_to_low_range(
    machine: Machine, reading: EvidenceOf, setting: float, ratio: float
) -> None:
    """The motor turns at flow over displacement; a spring holds the large one, pilot pressure shifts it (common
    practice). Low range is slower by what the spools let through alone, high range by the ratio of displacements too.
    """
    flows, sound = flows_of(machine, 1), flows_of(machine)
    flows.pump_leakage = sound.pump_leakage = 1e-9
    flows.motor_leakage = sound.motor_leakage = 0.0
    flows.state.pilot_setting[0] = setting

    def speed(range_: str) -> float:
        one = reading("track-time", "raised-" + range_, side="left", direction="forward", range=range_)
        effect = observe(one, flows, sound, machine)
        assert effect is not None
        return float(np.exp(-effect[0]))

    assert speed("high") / speed("low") == pytest.approx(ratio)


def test_with_its_spool_shut_a_pump_stands_by(machine: Machine) -> None:
    """An open centre passes all of the flow at next to no pressure: no relief opens (continuity)."""
    flows = flows_of(machine, 3)
    curl = column(flows, "bucket-curl")
    flows.state.opening[:, curl] = [1.0, 0.3, 0.0]
    sound, half, shut = flows.stall(0, curl)
    assert half == pytest.approx(sound)
    assert shut == pytest.approx(flows.standby)
    assert shut < 0.15 * sound


def test_a_short_intake_starves_what_takes_both_pumps_first(machine: Machine) -> None:
    """Continuity: pumps cannot give more than comes in. One pump at work, the other idling, draws about half."""
    flows = flows_of(machine, 3)
    s = flows.state
    flows.pump_leakage = 1e-9
    s.intake[:] = [1.0, 0.8, 0.4]
    speeds = flows.net("cycle")
    boom, bucket = speeds[:, column(flows, "boom-raise")], speeds[:, column(flows, "bucket-curl")]
    assert boom / boom[0] == pytest.approx([1, 0.8, 0.4])
    assert bucket[1] == bucket[0]
    assert bucket[2] / bucket[0] == pytest.approx(0.4 * 2 / 1.1)
    assert (flows.stall(0, column(flows, "bucket-curl"))[1:] == flows.stall(0, column(flows, "bucket-curl"))[0]).all()


@pytest.fixture
def compact(knowledge: Knowledge) -> Machine:
    return Machine(name="Compact, invented", circuit=knowledge.circuits["compact-excavator"])


def test_a_load_sensing_section_takes_the_least_of_its_setting_and_what_the_pump_gives(compact: Machine) -> None:
    """Section flow = C·A·√margin as long as the pump keeps the margin, else what the pump gives."""
    flows = flows_of(compact, 3)
    flows.pump_leakage, s = 1e-9, flows.state
    s.stroke[:, 0] = [1.0, 0.8, 0.5]
    speeds = flows.net("cycle")
    blade, bucket = (float(compact.circuit.values[f"{name}-section"]) for name in ("blade", "bucket"))
    assert speeds[:, column(flows, "blade-lower")] == pytest.approx([blade, blade, blade])
    assert speeds[:, column(flows, "bucket-curl")] == pytest.approx([bucket, bucket, 0.5])


def test_two_tracks_share_one_load_sensing_pump(compact: Machine) -> None:
    flows = flows_of(compact, 2)
    flows.pump_leakage, flows.motor_leakage = 1e-9, 0.0
    flows.state.stroke[1, 0] = 0.6
    speeds = flows.net("ground-low")[:, column(flows, "travel-left-forward")]
    assert speeds == pytest.approx([0.5, 0.3])


def test_a_cut_off_and_a_relief_do_not_multiply(compact: Machine, knowledge: Knowledge) -> None:
    from oilpath.machine.hypotheses import hypotheses

    state = State(1, circuit_graph(compact), compact)
    for h in hypotheses(knowledge.causes, state.circuit):
        if h.cause.cause in ("main-relief.low", "pressure-cutoff.low"):
            state.disturb(h.disturbances[0], slice(None), np.array([0.8 if h.part == "main-relief" else 0.7]))
    assert state.relief[0, 0] == pytest.approx(0.7)


def test_a_heavier_attachment_lowers_the_pressure_of_lowering_and_raises_that_of_raising(machine: Machine) -> None:
    flows = flows_of(machine, 2)
    flows.state.load[1] = 1.5
    lower = flows.working_pressure("cycle", column(flows, "boom-lower"))
    higher = flows.working_pressure("cycle", column(flows, "boom-raise"))
    assert lower[1] < lower[0]
    assert higher[1] == pytest.approx(1.5 * higher[0])


def test_negative_control_feels_the_centre_and_positive_control_the_pilot_pressure(machine_of: MachineOf) -> None:
    """At half a stroke the open centre passes flow: negative control answers that, positive the pilot pressure."""
    asked = {}
    for kind in ("negative", "positive", "fixed"):
        machine = machine_of({"control": kind})
        flows = flows_of(machine)
        asked[kind] = float(flows.control.demand(np.array([0.5]))[0])
    assert asked["positive"] == pytest.approx(0.5)  # in proportion to the pilot pressure
    assert asked["positive"] < asked["negative"] < asked["fixed"] == 1
