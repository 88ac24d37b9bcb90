"""Flows, pressures and drift of a state: conservation, what no fault can do, textbook results as a second opinion."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath.arrays import Array
from oilpath.documents.machine import Machine
from oilpath.machine.graph import CircuitGraph
from oilpath.physics.flows import FLOOR, Flows
from oilpath.physics.formulas.cylinder import area_ratio
from oilpath.physics.formulas.holding import end_pressures
from oilpath.physics.state import USUAL_AREA_RATIO as AREA_RATIO
from oilpath.physics.state import State

LOADS = ("cycle", "swing", "ground-high", "ground-low", "raised-high", "raised-low")
MOVING = {"cycle": slice(0, 6), "swing": slice(6, 8)}  # functions that a load case moves; the rest are the tracks

StateOf = Callable[..., State]


@pytest.fixture(scope="module")
def state_of(circuit: CircuitGraph, machine: Machine) -> StateOf:
    """A sound state with some arrays set, each for all its columns or one of them: `leakage={0: 0.2}`."""

    def make(rows: int = 1, **values: object) -> State:
        state = State(rows, circuit, machine)
        for name, value in values.items():
            array = getattr(state, name)
            if isinstance(value, dict):
                for column, one in value.items():
                    array[:, column] = one
            else:
                array[:] = value
        return state

    return make


def net(state: State, load: str) -> Array:
    return Flows(state).net(load)[:, MOVING.get(load, slice(8, 12))]


# A pump: what it delivers


@given(
    pressure=st.floats(0.01, 0.94),
    leakage=st.floats(0, 0.9),
    bypass=st.floats(0, 0.9),
    stroke=st.floats(0.1, 1),
    speed=st.floats(0.4, 1.1),
    fill=st.floats(0.4, 1),
    viscosity=st.floats(0.3, 10),
)
def test_what_a_pump_moves_is_delivered_leaked_or_let_by(
    state_of: StateOf,
    pressure: float,
    leakage: float,
    bypass: float,
    stroke: float,
    speed: float,
    fill: float,
    viscosity: float,
) -> None:
    faulty = {"leakage": leakage, "bypass": bypass, "stroke": stroke, "speed": speed, "fill": fill}
    flows = Flows(state_of(**faulty, viscosity=viscosity))
    tight = Flows(state_of(stroke=stroke, speed=speed, fill=fill, leakage=-flows.pump_leakage))
    pumps = np.array([0, 1])
    at = np.full((1, 2), pressure)
    delivered, theoretical = flows.pump_flow(at, pumps), tight.pump_flow(at, pumps)
    # displacement is cut back where pressure times displacement would pass the torque limit (constant power)
    assert theoretical == pytest.approx(speed * fill * min(stroke, flows.corner / pressure))
    lost = (flows.pump_leakage + leakage) * pressure / viscosity + bypass * pressure**0.5
    assert delivered == pytest.approx(np.maximum(theoretical - lost, 0.0))


@given(pressure=st.floats(0, 3), leakage=st.floats(0, 2), setting=st.floats(0.2, 1.5))
def test_a_pump_never_delivers_less_than_nothing_nor_against_its_relief(
    state_of: StateOf, pressure: float, leakage: float, setting: float
) -> None:
    flow = Flows(state_of(leakage=leakage, relief=setting)).pump_flow(np.full((1, 1), pressure), np.array([0]))[0, 0]
    assert 0 <= flow <= 1
    if pressure >= setting:
        assert flow == 0


# What no fault can do: make anything faster

BASE = st.fixed_dictionaries(
    {
        "leakage": st.floats(0, 0.5),
        "bypass": st.floats(0, 0.3),
        "stroke": st.floats(0.3, 1),
        "torque": st.floats(0.3, 1.5),
        "opening": st.floats(0.2, 1),
        "drag": st.floats(0, 0.4),
        "cross": st.floats(0, 0.4),
        "shunt": st.floats(0, 0.4),
        "merge": st.floats(0, 1),
        "relief": st.floats(0.4, 1.2),
        "limit": st.floats(0.3, 1.12),
        "back": st.floats(0, 0.2),
        "fill": st.floats(0.5, 1),
        "pilot_setting": st.floats(0.3, 1),
        "pilot_leakage": st.floats(0, 0.9),
        "speed": st.floats(0.6, 1),
        "drive": st.floats(0.6, 1),
    }
)
WORSE = {
    "leakage": 0.2, "bypass": 0.2, "drag": 0.2, "cross": 0.2, "shunt": 0.2, "back": 0.1, "pilot_leakage": 0.1,
    "stroke": -0.2, "torque": -0.2, "opening": -0.15, "merge": -0.3, "relief": -0.2, "limit": -0.2, "fill": -0.2,
    "pilot_setting": -0.2, "speed": -0.2, "drive": -0.2,
}  # fmt: skip


@pytest.mark.parametrize("parameter", WORSE)
@settings(max_examples=40)
@given(base=BASE, share=st.floats(0.01, 1))
def test_a_worse_parameter_makes_nothing_faster(
    state_of: StateOf, parameter: str, base: dict[str, float], share: float
) -> None:
    worse = {**base, parameter: max(0.0, base[parameter] + share * WORSE[parameter])}
    for load in LOADS:
        before, after = net(state_of(**base), load), net(state_of(**worse), load)
        assert (after >= FLOOR * (1 - 1e-12)).all()  # a lost function stays finite
        assert (after <= before + 1e-12).all()


@given(base=BASE, thin=st.floats(0.15, 1))
def test_thinner_oil_makes_nothing_faster(state_of: StateOf, base: dict[str, float], thin: float) -> None:
    for load in LOADS:
        assert (net(state_of(**base, viscosity=thin), load) <= net(state_of(**base), load) + 1e-12).all()


def test_the_lighter_test_shows_less_of_a_leakage(state_of: StateOf) -> None:
    worn = {"cross": 0.3}
    lost = [1 - net(state_of(**worn), load) / net(state_of(), load) for load in ("ground-high", "raised-high")]
    assert (lost[0] > 2 * lost[1]).all()


def test_short_stroke_shows_alike_at_all_loads(state_of: StateOf) -> None:
    ratio = [net(state_of(stroke=0.5), load) / net(state_of(), load) for load in ("ground-high", "raised-high")]
    assert ratio[0] == pytest.approx(ratio[1], abs=0.03)
    assert ratio[1] == pytest.approx(0.5, abs=0.02)


def test_a_lost_pump_halves_a_function_that_two_feed(state_of: StateOf) -> None:
    ratio = net(state_of(), "cycle") / net(state_of(stroke={1: 0.0}), "cycle")
    names = list(state_of().functions[:6])
    assert ratio[0, names.index("boom-raise")] == pytest.approx(2)
    assert ratio[0, names.index("arm-out")] == pytest.approx(2)
    assert ratio[0, names.index("bucket-curl")] == pytest.approx(1)


@given(stroke=st.floats(0, 1))
def test_a_two_pump_function_takes_at_most_twice_the_time(state_of: StateOf, stroke: float) -> None:
    ratio = net(state_of(), "cycle") / net(state_of(stroke={1: stroke}), "cycle")
    assert (ratio <= 2 + 1e-9).all()
    assert (ratio >= 1 - 1e-12).all()


def test_lowering_is_hardly_the_pumps_work(state_of: StateOf) -> None:
    ratio = net(state_of(), "cycle") / net(state_of(stroke=0.5), "cycle")
    names = list(state_of().functions[:6])
    assert ratio[0, names.index("boom-lower")] < 1.2
    assert ratio[0, names.index("bucket-curl")] > 1.9


def test_a_heavier_attachment_raises_slower_and_lowers_faster(state_of: StateOf) -> None:
    heavy, usual = net(state_of(load=1.8), "cycle")[0], net(state_of(), "cycle")[0]
    names = list(state_of().functions[:6])
    assert heavy[names.index("boom-raise")] < usual[names.index("boom-raise")]
    assert heavy[names.index("boom-lower")] > usual[names.index("boom-lower")]
    assert net(state_of(load=1.8), "ground-high") == pytest.approx(net(state_of(), "ground-high"))


def test_a_relief_below_the_working_pressure_stops_the_movement(state_of: StateOf) -> None:
    state = state_of(limit={8: 0.3})  # the left track forward, 0.5 on the ground
    assert Flows(state).net("ground-high")[0, 8] == FLOOR
    assert Flows(state).net("raised-high")[0, 8] == Flows(state_of()).net("raised-high")[0, 8]


def test_mild_drag_hides_from_the_stopwatch(state_of: StateOf) -> None:
    dragging, sound = Flows(state_of(drag=0.1)), Flows(state_of())
    assert dragging.net("raised-high")[0, 8:] == pytest.approx(sound.net("raised-high")[0, 8:], rel=0.02)
    pressures = [flows.working_pressure("raised-high", 8)[0] for flows in (dragging, sound)]
    assert pressures[0] > 1.5 * pressures[1]


# The stuck range of a motor


@given(shift=st.floats(0, 1))
def test_a_motor_stuck_low_lacks_the_high_range_only(state_of: StateOf, shift: float) -> None:
    stuck, sound = Flows(state_of(shift=shift)), Flows(state_of())
    low = [flows.ranged("raised", "low", "high", 1 / 0.6)[0, 8:] for flows in (stuck, sound)]
    assert low[0] == pytest.approx(low[1])
    high = [flows.ranged("raised", "high", "low", 0.6)[0, 8:] for flows in (stuck, sound)]
    assert (high[0] <= high[1] * (1 + 1e-9)).all()
    assert (high[0] >= 0.6 * high[1]).all()  # the low range's speed, at its lower pressure


# Stall


@given(leakage=st.floats(0, 0.5))
def test_a_worn_pump_still_reaches_its_relief(state_of: StateOf, leakage: float) -> None:
    flows = Flows(state_of(leakage={0: leakage}))
    pressure = flows.stall(0, flows.state.functions.index("bucket-curl"))[0]
    assert flows.pump_leakage + leakage < flows.stalled  # it leaks less at relief pressure than it moves there
    assert 1 - flows.override <= pressure <= 1


@given(leakage=st.floats(1.1, 4))
def test_a_pump_that_leaks_all_its_flow_stops_below_its_relief(state_of: StateOf, leakage: float) -> None:
    flows = Flows(state_of(leakage={0: leakage}))
    pressure = flows.stall(0, flows.state.functions.index("bucket-curl"))[0]
    assert pressure == pytest.approx(flows.stalled / (flows.pump_leakage + leakage))  # k·p = flow


@given(leakage=st.floats(0, 1), bypass=st.floats(0.01, 1))
def test_what_escapes_at_stall_is_never_more_than_there_is(state_of: StateOf, leakage: float, bypass: float) -> None:
    flows = Flows(state_of(leakage=leakage, bypass=bypass))
    p = flows.stall(0, flows.state.functions.index("bucket-curl"))[0]
    assert (flows.pump_leakage + leakage) * p + bypass * p**0.5 <= flows.stalled * (1 + 1e-9)


def test_the_lower_of_relief_and_port_relief_limits_the_stall(state_of: StateOf) -> None:
    curl = state_of().functions.index("bucket-curl")
    low = Flows(state_of(limit={curl: 0.6}))
    assert low.stall(0, curl)[0] == pytest.approx(0.6, rel=0.03)
    assert low.stall(0, curl + 1)[0] == pytest.approx(Flows(state_of()).stall(0, curl + 1)[0])
    assert Flows(state_of(relief=1.4)).stall(0, curl)[0] < 1.12  # a main relief set high is stopped by the port's


@pytest.mark.parametrize("parameter", ["leakage", "bypass", "cross", "shunt"])
@given(low=st.floats(0, 1), more=st.floats(0, 1))
def test_more_leakage_never_raises_the_stall_pressure(
    state_of: StateOf, parameter: str, low: float, more: float
) -> None:
    pair = [Flows(state_of(**{parameter: value})).stall(0, 4)[0] for value in (low, low + more)]
    assert pair[1] <= pair[0] + 1e-12


# Pilot supply


def test_a_pilot_supply_above_two_thirds_opens_the_spools_fully(state_of: StateOf) -> None:
    # common practice: functions slow down below about two thirds of the pilot setting
    assert Flows(state_of(pilot_setting=0.7)).pilot_share()[0] == 1
    assert Flows(state_of(pilot_setting=0.4)).pilot_share()[0] < 0.7
    assert Flows(state_of(pilot_setting=0.4)).pilot_supply()[0] == pytest.approx(0.4)


def test_a_worn_pilot_pump_holds_its_pressure_cold_longer_than_hot(state_of: StateOf) -> None:
    cold, hot = (Flows(state_of(pilot_leakage=0.6, viscosity=v)).pilot_supply()[0] for v in (2.0, 0.5))
    assert hot < cold


# Drift: two chambers, one rod. The second opinion solves the balances of both ends as linear equations.


def second_opinion(k: float, held: float, other: float, area: float) -> float:
    """Speed of the rod (held area 1, other area 1/area) under unit load: unknowns p_held, p_other, v."""
    balance = np.array(
        [
            [k + held, -k, -1.0],  # k·(p_h − p_o) + held·p_h = v
            [k, -(k + other), -1 / area],  # k·(p_h − p_o) − other·p_o = v/area
            [1.0, -1 / area, 0.0],  # p_h − p_o/area = 1
        ]
    )
    _, p_other, speed = np.linalg.solve(balance, [0.0, 0.0, 1.0])
    return float(speed) if p_other >= 0 else k + held  # a port that would draw is fed from the tank


LEAK = st.floats(1e-3, 1e3)


@pytest.mark.parametrize("cylinder", [0, 1, 2])
@given(seal=LEAK, port=LEAK, other=LEAK)
def test_drift_is_the_balance_of_both_ends(
    state_of: StateOf, cylinder: int, seal: float, port: float, other: float
) -> None:
    state = state_of(seal={cylinder: seal}, port_leak={cylinder: port}, other_leak={cylinder: other})
    hold = state.holds[state.cylinders[cylinder]]
    through = 1 * 0.05 / 1.05 if hold.valve else 1.0
    area = AREA_RATIO if hold.loaded == "cap" else 1 / AREA_RATIO
    expected = second_opinion(seal, through + port, 1 + other, area)
    assert Flows(state).drift(cylinder)[0] == pytest.approx(expected, rel=1e-6)


def closed(state: State, cylinder: int, opening: float = 0.0) -> State:
    """Both ports shut (but for `opening` at the unloaded end): no leakage of spools and valves is left."""
    state.valve_leak[:, cylinder] = -0.05 + 1e-12
    state.other_leak[:, cylinder] = -1.0 + opening
    return state


@given(seal=LEAK)
def test_a_seal_leak_with_both_ports_shut_locks_where_the_cap_end_is_loaded(state_of: StateOf, seal: float) -> None:
    boom = Flows(closed(state_of(seal={0: seal}), 0))
    assert boom.state.holds["boom-cylinder"].loaded == "cap"
    assert boom.drift(0)[0] == pytest.approx(0, abs=1e-9)


@given(seal=LEAK)
def test_a_seal_leak_lets_a_cylinder_drift_freely_where_the_rod_end_is_loaded(state_of: StateOf, seal: float) -> None:
    arm = Flows(closed(state_of(seal={1: seal}), 1))
    assert arm.state.holds["arm-cylinder"].loaded == "rod"
    assert arm.drift(1)[0] == pytest.approx(seal, rel=1e-6)


@given(seal=st.floats(1e3, 1e6), opening=st.floats(0.01, 1))
def test_without_a_seal_the_rod_end_decides(state_of: StateOf, seal: float, opening: float) -> None:
    # v = q_rod/A_rod, q_rod at the equalised pressure F/A_rod, A_rod the rod's own area
    bore, rod = 0.120, 0.120 * (1 - 1 / AREA_RATIO) ** 0.5
    assert area_ratio(bore, rod) == pytest.approx(AREA_RATIO)
    drift = Flows(closed(state_of(seal={0: seal}), 0, opening)).drift(0)[0]
    pressure = (bore / rod) ** 2  # F/A_rod over F/A_bore
    assert end_pressures(1.0, 0.0, 0.0, AREA_RATIO)[0] == pytest.approx(pressure)
    assert drift == pytest.approx(opening * pressure * (bore / rod) ** 2, rel=0.01)


@given(spool=LEAK)
def test_a_worn_spool_behind_a_sound_holding_valve_cannot_drift_the_held_side(state_of: StateOf, spool: float) -> None:
    worn = {0: spool, 1: spool}
    flows = Flows(state_of(spool_leak=worn, other_leak=worn))
    sound = Flows(state_of())
    for cylinder in (0, 1):
        assert flows.drift(cylinder)[0] < 1.06 * sound.drift(cylinder)[0]


def test_a_worn_spool_drifts_a_cylinder_without_holding_valve(state_of: StateOf) -> None:
    bucket = Flows(state_of(spool_leak={2: 3.0}, other_leak={2: 3.0})).drift(2)[0]
    assert bucket == pytest.approx(4 * Flows(state_of()).drift(2)[0])


def test_in_series_the_tighter_one_holds(state_of: StateOf) -> None:
    both = Flows(state_of(valve_leak={0: 1e6})).drift(0)[0]
    assert both == pytest.approx(1.0, rel=1e-3)  # the spool's own leakage is left
    assert Flows(state_of(port_leak={0: 10.0})).drift(0)[0] > 10  # in parallel they add


@given(load=st.floats(1, 3), seal=LEAK)
def test_drift_goes_with_the_load(state_of: StateOf, load: float, seal: float) -> None:
    for cylinder in range(3):
        usual, heavy = (Flows(state_of(load=w, seal=seal)).drift(cylinder)[0] for w in (1.0, load))
        assert heavy == pytest.approx(load * usual)


@pytest.mark.parametrize("parameter", ["seal", "spool_leak", "valve_leak", "port_leak", "other_leak", "cooling"])
@given(low=st.floats(0, 100), more=st.floats(0, 100), seal=st.floats(0, 50))
def test_more_leakage_never_slows_a_drift(
    state_of: StateOf, parameter: str, low: float, more: float, seal: float
) -> None:
    states = [state_of(**{"seal": seal, parameter: value}) for value in (low, low + more)]
    for cylinder in range(3):
        before, after = (Flows(state).drift(cylinder)[0] for state in states)
        assert after >= before * (1 - 1e-9)


@given(thin=st.floats(0.15, 1))
def test_thinner_oil_drifts_faster_in_proportion(state_of: StateOf, thin: float) -> None:
    for cylinder in range(3):
        sound, hot = (Flows(state_of(viscosity=v)).drift(cylinder)[0] for v in (1.0, thin))
        assert hot == pytest.approx(sound / thin)


def test_creep_counts_only_while_the_engine_runs(state_of: StateOf) -> None:
    flows = Flows(state_of(running={2: 3.0}))
    assert flows.drift(2)[0] == Flows(state_of()).drift(2)[0]
    running = Flows(state_of(running={2: 3.0}), running=True)
    assert running.drift(2)[0] == pytest.approx(flows.drift(2)[0] + 3)


def test_cooling_is_the_same_share_whatever_stands_in_the_first_row(state_of: StateOf) -> None:
    state = state_of(2, cooling=1.0)
    state.valve_leak[0, 0] = 50.0
    assert Flows(state).drift(0)[1] == pytest.approx(Flows(state_of(cooling=1.0)).drift(0)[0])
