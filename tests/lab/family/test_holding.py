"""Held cylinders of the family: what a leaking piston does and does not do, shrinking oil, series of valves."""

from dataclasses import replace

import pytest

from oilpath.lab.family.holding import Holding
from oilpath.lab.family.layout import COMPACT as COMPACT_LAYOUT
from oilpath.lab.family.machine import Hold, Machine, Ram
from oilpath.lab.family.oil import Leak
from oilpath.lab.family.plant import Plant
from oilpath.lab.family.state import State

from .samples import COMPACT, TWO, bench, drift, machine


def tight(end: str) -> Machine:
    """A compact machine whose valves let nothing by, its bucket held at one end by 6 MPa."""
    one = machine(COMPACT)
    return replace(
        one, valve_leak=0.0, seal_leak=0.0, spool_leak=dict.fromkeys(one.spool_leak, 0.0),
        rams={**one.rams, "bucket-cylinder": Ram(1, 120, 85, 800)},
        holds={**one.holds, "bucket-cylinder": Hold(end, 6.0)},
    )  # fmt: skip


def sinking(of: Machine, state: State, end: str) -> float:
    return Holding(Plant(of, state)).sinking("bucket-cylinder", end, 6.0, 25.0, running=False)


def test_a_leaking_piston_locks_when_the_cap_end_is_loaded_and_the_rod_end_is_shut() -> None:
    """Pressures equalise at load over rod area and it stands still (trade articles on drift and piston seals)."""
    state = State()
    state.add("bucket-cylinder", Leak(3.0, 0.5))
    assert sinking(tight("cap"), state, "cap") == pytest.approx(0.0, abs=0.01)


def test_it_goes_on_when_the_rod_end_is_loaded() -> None:
    """v = q/A of the rod end: the exception that the same articles name."""
    state = State()
    state.add("bucket-cylinder", Leak(0.3, 1.0))
    ram = tight("rod").rams["bucket-cylinder"]
    expected = 10 * 300 * (6 / 30) ** 0.5 / ram.area("rod")
    assert sinking(tight("rod"), state, "rod") == pytest.approx(expected, rel=0.01)


def test_a_cap_loaded_piston_sinks_as_fast_as_the_rod_end_lets_oil_out() -> None:
    """v = q_rod/A_rod at a rod-side pressure up to A_cap/A_rod times the load's (ratio of areas, 120/85 mm: 2.0)."""
    state = State()
    state.add("bucket-cylinder", Leak(50.0, 1.0))
    state.add_held("bucket-rod-port-relief", Leak(100.0, 1.0))
    ram = tight("cap").rams["bucket-cylinder"]
    most = 10 * 100 * (6 * ram.area("cap") / ram.rod_area / 30) ** 0.5 / ram.rod_area
    found = sinking(tight("cap"), state, "cap")
    assert 0.95 * most < found <= most


def test_drift_is_leakage_over_area() -> None:
    """120 mm bore, 8 mm in 4 min: 22.6 mL/min; Q = A·dx/t."""
    state = State()
    state.add_held("bucket-spool", Leak(22.6 * 30 / 6))
    assert 4 * sinking(tight("cap"), state, "cap") == pytest.approx(8.0, rel=0.01)


def test_cooling_shrinks_the_held_column() -> None:
    """800 mm by 20 K: 11.2 mm, less the steel's share 10.6 to 11.0 mm; the bore cancels out (0.0007 per kelvin)."""
    held = Holding(Plant(tight("cap"), State()))
    moved = held.drift("bucket-cylinder", 5, start=55, end=35, extension=800)
    assert moved == pytest.approx(11.0, abs=0.3)
    assert held.drift("bucket-cylinder", 5, start=55, end=55, extension=800) == pytest.approx(0.0, abs=0.01)


def test_a_poppet_in_series_rules_until_it_leaks_and_then_the_spool_does() -> None:
    one = replace(machine(TWO, 1), absent=frozenset())
    sound = bench(one)(drift("boom-cylinder")).value
    chip, gone, bore = State(), State(), State()
    chip.add_held("boom-holding-valve", Leak(100.0, 1.0))
    gone.add_held("boom-holding-valve", Leak(1e6, 1.0))
    bore.add_held("boom-spool", Leak(1e4))
    without = bench(replace(one, absent=frozenset({"boom-holding-valve"})))(drift("boom-cylinder")).value
    assert sound < bench(one, chip)(drift("boom-cylinder")).value < bench(one, gone)(drift("boom-cylinder")).value
    assert bench(one, gone)(drift("boom-cylinder")).value == pytest.approx(without, rel=0.05)
    assert bench(one, bore)(drift("boom-cylinder")).value < sound + 2  # a worn spool cannot drift what a poppet holds


def test_a_spool_off_centre_shows_only_while_the_engine_runs() -> None:
    state = State()
    state.creep["bucket-spool"] = 500.0
    of = bench(machine(COMPACT), state)
    assert of.drift("bucket-cylinder", "engine-on") > 2 * of.drift("bucket-cylinder")


def test_every_held_cylinder_of_the_layout_has_a_posture() -> None:
    one = machine(COMPACT)
    assert set(one.holds) == {c.name for c in COMPACT_LAYOUT.cylinders}
