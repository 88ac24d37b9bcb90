"""Engine, pumps, power control and pilot supply of the family, from first principles."""

import math
from dataclasses import replace

import pytest

from oilpath.lab.family.holding import Holding
from oilpath.lab.family.machine import IDLE_PRESSURE, Machine, Power
from oilpath.lab.family.oil import Leak
from oilpath.lab.family.plant import Plant, root
from oilpath.lab.family.state import State

from .samples import COMPACT, ideal, machine


def limited(law: str, corner: float = 15.0) -> Machine:
    return replace(ideal(), power=Power(law, corner, 1.0))


def test_root_finds_a_zero_and_keeps_to_its_range() -> None:
    assert root(lambda x: 2 - x * x, 0, 2) == pytest.approx(math.sqrt(2), rel=1e-4)
    assert root(lambda x: -1 - x, 0, 2) == 0
    assert root(lambda x: 5 - x, 0, 2) == 2


def test_a_pump_gives_displacement_times_speed() -> None:
    """Q = V·n; Esposito, example 5.7 has it with its efficiency."""
    one = ideal()
    flow, _ = Plant(one, State()).supply((5.0, IDLE_PRESSURE), (1.0, 0.0))
    assert flow == pytest.approx(one.displacement[0] * one.engine.speed / 1000, rel=1e-9)


def test_own_law_holds_the_torque_of_each_pump() -> None:
    """Constant torque: stroke times pressure stays what it is at the corner, whatever the other pump does."""
    plant = Plant(limited("own"), State())
    for pressure in (15.0, 20.0, 30.0):
        flow, _ = plant.supply((pressure, IDLE_PRESSURE), (1.0, 0.0))
        both, _ = plant.supply((pressure, pressure), (1.0, 1.0))
        assert flow * pressure == pytest.approx(plant.machine.full_flow * 15, rel=0.01)
        assert both == pytest.approx(flow, rel=0.01)


def test_summed_law_takes_both_pumps_back_together() -> None:
    """Summed-pressure control: the sum of both pressures rules, so one pump alone has nearly all the torque."""
    plant = Plant(limited("summed"), State())
    alone, _ = plant.supply((28.0, IDLE_PRESSURE), (1.0, 0.0))
    first, second = plant.supply((28.0, 10.0), (1.0, 1.0))
    assert alone == pytest.approx(plant.machine.full_flow * 30 / (28 + IDLE_PRESSURE), rel=0.01)
    assert first == pytest.approx(second, rel=0.01)
    assert first == pytest.approx(plant.machine.full_flow * 30 / 38, rel=0.01)


def test_the_governor_gives_way_and_a_weak_engine_lugs() -> None:
    one = replace(ideal(), engine=replace(machine().engine, droop=0.05, torque=500.0, reserve=0.2))
    plant, weak = Plant(one, State()), Plant(one, State(power=0.6))
    assert plant.speed(0) == pytest.approx(one.engine.speed)
    assert plant.speed(500) == pytest.approx(0.95 * one.engine.speed)
    assert weak.speed(0) == plant.speed(0)
    assert weak.speed(330) < 0.9 * plant.speed(330)


def test_a_starved_intake_takes_more_from_two_pumps_than_from_one() -> None:
    """A strainer's loss goes with the square of the flow through it; what all pumps take together counts."""
    plant = Plant(ideal(), State(strainer=6.0))
    full = 2 * plant.machine.full_flow
    assert plant.fill(full) < plant.fill(0.75 * full) <= 1.0
    assert plant.fill(0.2 * full) == 1.0
    assert Plant(ideal(), State()).fill(full) == 1.0


def test_thick_oil_starves_the_intake_and_air_fills_it_at_any_flow() -> None:
    thick, airy = Plant(ideal(), State(viscosity=8.0)), Plant(ideal(), State(air=0.2))
    assert thick.fill(2 * thick.machine.full_flow) < 0.95
    assert airy.fill(2 * airy.machine.full_flow) == pytest.approx(0.8)
    assert airy.fill(0.3 * airy.machine.full_flow) < 0.9


def test_worn_pump_loses_with_pressure_and_thin_oil() -> None:
    """Low flow at zero pressure is speed or suction, not wear (common practice)."""
    one = machine()
    state = State()
    state.add("pump-1", Leak(40.0))
    worn, sound = Holding(Plant(one, state)), Holding(Plant(one, State()))
    assert worn.flow("pump-1", 1.0) > 0.97 * sound.flow("pump-1", 1.0)
    at = 0.7 * one.relief
    assert worn.flow("pump-1", at) < sound.flow("pump-1", at) - 20
    cold = Holding(Plant(one, state, celsius=30)).flow("pump-1", at)
    assert cold > worn.flow("pump-1", at) + 5
    assert worn.flow("pump-2", at) == pytest.approx(sound.flow("pump-2", at))


def test_a_relief_passes_nothing_below_cracking_and_the_full_flow_at_its_setting() -> None:
    plant = Plant(ideal(), State())
    wide = plant.machine.override
    assert plant.over_relief(30 * (1 - wide) - 0.01, "main-relief", 30.0) == 0.0
    assert plant.over_relief(30.0, "main-relief", 30.0) == pytest.approx(plant.machine.full_flow)


def test_cut_off_destrokes_before_the_relief_opens() -> None:
    one = machine(COMPACT)
    assert one.cutoff is not None
    assert one.cutoff < one.relief
    assert Plant(one, State()).stroke(0, one.cutoff, 0.0) == 0.0


def test_pilot_relief_whatever_the_speed_and_pilot_pump_by_speed() -> None:
    """A worn pilot pump falls off at low idle, a low relief does not (common practice)."""
    low, worn = State(), State()
    low.setting["pilot-relief"] = 0.6
    worn.add("pilot-pump", Leak(1.2 * machine().pilot.flow * 30 / machine().pilot.pressure))
    for state, falls in ((low, False), (worn, True)):
        plant = Plant(machine(), state)
        full, idle = plant.pilot_supply(), plant.pilot_supply(throttle=0.45)
        assert full < 0.9 * machine().pilot.pressure
        assert (idle < 0.9 * full) is falls


def test_a_blocked_pilot_filter_leaves_the_pressure_before_it() -> None:
    state = State()
    state.setting["pilot-filter"] = 0.5
    pilot = Plant(machine(), state).pilot
    assert pilot["pump"] == pytest.approx(machine().pilot.pressure)
    assert pilot["filter"] == pilot["lockout"] == pytest.approx(0.5 * pilot["pump"])


def test_low_pilot_pressure_destrokes_positive_control_and_lets_brakes_drag() -> None:
    state = State()
    state.setting["pilot-relief"] = 0.35
    plant = Plant(replace(machine(), control="positive"), state)
    assert plant.lever("boom-raise", "boom") < 0.9
    assert plant.brake_drag(10.0) > 0
    assert Plant(machine(), State()).brake_drag(10.0) == 0
