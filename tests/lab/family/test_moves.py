"""Movements of the family: textbook kinematics, swing dynamics, sections of load-sensing machines."""

import math
from dataclasses import replace

import pytest

from oilpath.lab.family.machine import Ram
from oilpath.lab.family.moves import Moves
from oilpath.lab.family.oil import Leak
from oilpath.lab.family.plant import Plant
from oilpath.lab.family.state import State

from .samples import COMPACT, LOADER, TWO, bench, cycle, ideal, machine, stall, track, travel


def moves(of: object = None, state: State | None = None) -> Moves:
    return Moves(Plant(of or machine(), state or State()))  # type: ignore[arg-type]


def test_areas_and_volume_of_a_cylinder() -> None:
    """100/70 mm: 78.54 cm² at the blind end, 40.06 at the rod end; area formulas of any handbook."""
    ram = Ram(1, 100, 70, 1000)
    assert ram.area("cap") == pytest.approx(78.54, abs=0.01)
    assert ram.area("rod") == pytest.approx(40.06, abs=0.01)
    assert ram.volume("cap") == pytest.approx(7.854, abs=0.001)


def test_a_stroke_takes_volume_over_flow() -> None:
    """t = A·s/Q, as in Esposito, example 6.1, with losses and leakage left out."""
    one = replace(ideal(), load=dict.fromkeys(ideal().load, 5.0))
    m = one.layout.movement("bucket-curl")
    expected = 60 * one.rams["bucket-cylinder"].volume("cap") / one.full_flow
    assert moves(one).cylinder_time(m) == pytest.approx(expected, rel=0.01)


def test_the_second_pump_joins_by_its_share() -> None:
    one = replace(ideal(), load=dict.fromkeys(ideal().load, 5.0))
    m = one.layout.movement("boom-raise")
    share = one.merge["boom-raise"][1]
    shut = State()
    shut.opening["boom-merge-valve"] = 0.0
    ratio = moves(one, shut).cylinder_time(m) / moves(one).cylinder_time(m)
    assert ratio == pytest.approx(1 + share, rel=0.01)


def test_regeneration_adds_the_rods_oil_and_its_fault_takes_it_away() -> None:
    one = replace(ideal(), regeneration=0.3)
    m = one.layout.movement("arm-in")
    ratio = moves(one, State(regeneration=0.0)).cylinder_time(m) / moves(one).cylinder_time(m)
    assert ratio == pytest.approx(1.3, rel=1e-6)


def test_a_restriction_raises_the_pump_pressure_and_costs_most_where_torque_is_limited() -> None:
    """Δp = k·(Q/A)²: the pump sees the load and the restriction."""
    narrow = State()
    narrow.opening["bucket-cap-hose"] = 0.25
    one = machine()
    m = one.layout.movement("bucket-curl")
    assert moves(one, narrow).cylinder_time(m) > 1.1 * moves(one).cylinder_time(m)
    assert stall_of(narrow) == pytest.approx(stall_of(State()))  # no flow, no loss


def stall_of(state: State) -> float:
    return moves(machine(), state).stall(machine().feeds["bucket"], "bucket-curl", "bucket")


def test_gravity_moves_what_the_pump_does_not() -> None:
    """With all of it gravity's, a lost pump changes nothing; a throttled outlet does."""
    one = replace(machine(), gravity={**machine().gravity, "boom-lower": 1.0})
    weak, shut = State(), State()
    weak.stroke[f"{one.feeds['boom']}-regulator"] = 0.4
    shut.opening["boom-cap-hose"] = 0.5
    m = one.layout.movement("boom-lower")
    assert moves(one, weak).cylinder_time(m) == pytest.approx(moves(one).cylinder_time(m))
    assert moves(one, shut).cylinder_time(m) > 1.5 * moves(one).cylinder_time(m)


def test_a_heavier_tool_is_raised_slower_and_falls_faster() -> None:
    raise_, lower = (machine().layout.movement(name) for name in ("boom-raise", "boom-lower"))
    heavy = moves(state=State(load=1.8))
    assert heavy.cylinder_time(raise_) > moves().cylinder_time(raise_)
    assert heavy.cylinder_time(lower) < moves().cylinder_time(lower)


# --- swing --------------------------------------------------------------------------------


def test_swing_starts_by_the_lower_of_both_reliefs() -> None:
    one = machine()
    assert one.swing is not None
    high = replace(one, swing=replace(one.swing, relief=1.3 * one.relief))
    low = replace(one, swing=replace(one.swing, relief=0.6 * one.relief))
    weak = State()
    weak.setting["main-relief"] = 0.75
    assert moves(high, weak).swing_time("left", 3) > 1.01 * moves(high).swing_time("left", 3)
    assert moves(low, weak).swing_time("left", 3) == pytest.approx(moves(low).swing_time("left", 3), rel=0.01)


def test_a_quarter_turn_may_never_reach_full_speed() -> None:
    """θ = ½·α·t² from rest, and θ = ω·t − ω²/(2α) once the speed is reached: elementary kinematics."""
    one = machine()
    assert one.swing is not None
    swing = moves(replace(one, habit={}))
    rate = swing.swing_rate("left")
    push = swing.stall(one.feeds["swing"], "swing-left", "swing") - one.swing.friction
    gain = push / one.swing.inertia
    assert swing.swing_time("left", 3) == pytest.approx(3 / rate + rate / gain / 2, rel=1e-6)
    small = rate**2 / gain / 4
    assert swing.swing_time("left", small) == pytest.approx(math.sqrt(2 * small / gain), rel=1e-6)
    assert swing.swing_time("left", 3, rest=False) == pytest.approx(3 / rate)


def test_stopping_loads_the_other_sides_relief() -> None:
    """Slowing down turns the motor into a pump on the other line: ½·J·ω² = torque times angle."""
    low = State()
    low.setting["swing-right-relief"] = 0.5
    sound, ill = moves(), moves(state=low)
    assert ill.swing_stop("left") > 1.3 * sound.swing_stop("left")
    assert ill.swing_stop("right") <= 1.02 * sound.swing_stop("right")
    leaking = State()
    leaking.add("swing-right-relief", Leak(0.5 * machine().full_flow, 1.0))
    assert moves(state=leaking).swing_stop("left") > 1.05 * sound.swing_stop("left")


# --- tracks -------------------------------------------------------------------------------


def test_veer_is_distance_squared_times_difference_over_twice_the_gauge() -> None:
    """20 m, 2.4 m gauge, 1 % difference: 0.83 m, to the slower side; geometry of a shallow circle."""
    one = ideal()
    assert one.travel is not None
    uneven = replace(one, travel=replace(one.travel, gauge=2.4), habit={"side-left": 1.01})
    time, veer = moves(uneven).travel("forward", "high", 20)
    assert veer == pytest.approx(-0.83, abs=0.03)
    assert time == pytest.approx(moves(one).travel("forward", "high", 20)[0], rel=0.01)


def test_drag_is_felt_by_pressure_and_slows_under_load_first() -> None:
    """Flow sets the speed of a motor; friction takes pressure until power or leakage run short (common practice)."""
    dragging = State()
    dragging.drag["travel-left-brake"] = 0.35 * machine().relief
    ill, sound = bench(machine(), dragging), bench(machine())
    assert ill.holding.running_pressure("left") > 2 * sound.holding.running_pressure("left")
    raised = ill(track("left")).value / sound(track("left")).value
    ground = ill.moves.track_speed("left", "forward", "high", ground=True)
    assert 1.0 < raised < sound.moves.track_speed("left", "forward", "high", ground=True) / ground
    assert ill.holding.hub("left") > sound.holding.hub("left") + 20
    assert ill(travel()).veer < sound(travel()).veer - 0.5  # pulls to the left


def test_without_pilot_pressure_there_is_no_high_range() -> None:
    one = machine()
    state = State()
    state.setting["pilot-relief"] = 0.9 * one.pilot.shift / one.pilot.pressure
    assert moves(one, state).range_of("left", "high") == "low"
    assert moves(one).range_of("left", "high") == "high"


# --- load sensing -------------------------------------------------------------------------


def test_a_section_has_its_own_flow_or_what_the_pump_can_give() -> None:
    """The smaller of both: a pump short of oil leaves small sections as they are."""
    one = machine(COMPACT)
    small, large = (dict(one.section) | {"bucket-dump": share * one.full_flow} for share in (0.4, 1.1))
    weak = State()
    weak.stroke["pump-1-regulator"] = 0.7
    for sections, slows in ((small, False), (large, True)):
        of = replace(one, section=sections)
        ratio = bench(of, weak)(cycle("bucket-dump")).value / bench(of)(cycle("bucket-dump")).value
        assert (ratio > 1.2) is slows


def test_the_flow_of_a_section_goes_with_the_root_of_the_margin() -> None:
    """Orifice with a compensator: Q ∝ √Δp (Esposito, valve coefficient)."""
    one = replace(
        machine(COMPACT), section={**machine(COMPACT).section, "bucket-dump": 0.4 * machine(COMPACT).full_flow}
    )
    ratio = bench(one, State(margin=0.49))(cycle("bucket-dump")).value / bench(one)(cycle("bucket-dump")).value
    assert ratio == pytest.approx(1 / 0.7, rel=0.02)


def test_a_pump_that_senses_less_fails_at_high_loads_first() -> None:
    """It holds what it senses plus its margin; a leak in the signal line costs more the higher the load."""
    of = machine(LOADER)
    of = replace(of, load={**of.load, "tilt-dump": 3.0, "tilt-back": 12.0})
    ill, sound = bench(of, State(signal=0.9)), bench(of)
    light, heavy = (ill(cycle(name)).value / sound(cycle(name)).value for name in ("tilt-dump", "tilt-back"))
    assert heavy > light
    assert ill(stall("pump-1", "tilt-back")).value < 0.99 * sound(stall("pump-1", "tilt-back")).value


def test_cut_off_and_relief_do_not_multiply() -> None:
    one = machine(COMPACT)
    low = State()
    low.setting["pump-1-cutoff"] = 0.7
    lower = State()
    lower.setting["pump-1-cutoff"], lower.setting["main-relief"] = 0.7, 0.9
    test = stall("pump-1", "boom-raise")
    assert bench(one, low)(test).value == pytest.approx(bench(one, lower)(test).value, rel=0.01)


@pytest.mark.parametrize("number", range(4))
@pytest.mark.parametrize("kind", [TWO, COMPACT, LOADER])
def test_stall_lies_at_the_lowest_of_what_limits_it(kind: str, number: int) -> None:
    of = machine(kind, number)
    m = of.layout.movements[0]
    value = bench(of)(stall(of.feeds[m.group], m.name)).value
    limit = min(of.relief, of.cutoff or of.relief)
    assert 0.9 * limit < value <= 1.001 * limit
