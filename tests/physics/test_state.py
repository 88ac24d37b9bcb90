"""Where a disturbed parameter acts: which array, which pumps, functions or cylinders, and nowhere else."""

import numpy as np
import pytest

from oilpath.documents.machine import Machine
from oilpath.knowledge.cause import Disturbs
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.hypotheses import Disturbance
from oilpath.machine.hypotheses import disturbance as placed
from oilpath.physics.state import NoPlaceError, State

TRACKS = {f"travel-{side}-{way}" for side in ("left", "right") for way in ("forward", "reverse")}
BOTH = {"pump-1", "pump-2"}
MOVED = ("boom-raise", "boom-lower", "arm-in", "arm-out", "bucket-curl", "bucket-dump", "swing-left", "swing-right")
EVERY = {*TRACKS, *MOVED}


def arrays(state: State) -> dict[str, np.ndarray]:
    return {name: value.copy() for name, value in vars(state).items() if isinstance(value, np.ndarray)}


def disturbance(circuit: CircuitGraph, parameter: str, part: str) -> Disturbance:
    return placed(Disturbs.model_validate({"parameter": parameter}), part, circuit.functions_of(part), circuit)


def changed(state: State, before: dict[str, np.ndarray], row: int) -> dict[str, set[str]]:
    """Array → names of the columns that differ in a row (`-` for an array without columns)."""
    found: dict[str, set[str]] = {}
    for name, value in arrays(state).items():
        here = value[row] != before[name][row]
        if np.ndim(here) == 0:
            if here:
                found[name] = {"-"}
        elif here.any():
            columns = next(c for c in (state.pumps, state.functions, state.cylinders) if len(c) == len(here))
            found[name] = {columns[n] for n in np.flatnonzero(here)}
    return found


@pytest.mark.parametrize(
    ("parameter", "part", "expected"),
    [
        ("speed", "engine", {"speed": {"-"}}),
        ("drive-speed", "pump-drive", {"drive": BOTH, "pilot_drive": {"-"}}),
        ("viscosity", "oil", {"viscosity": {"-"}}),
        ("load", "machine", {"load": {"-"}}),
        ("fill", "suction", {"fill": BOTH, "pilot_fill": {"-"}}),
        ("fill", "pump-1", {"fill": {"pump-1"}}),
        ("stroke", "pump-2-regulator", {"stroke": {"pump-2"}}),
        ("stroke", "pump-1-flow-signal", {"stroke": {"pump-1"}}),
        ("torque", "pump-1-regulator", {"torque": {"pump-1"}}),
        ("torque", "engine", {"engine_torque": {"-"}}),
        ("leakage", "pump-2", {"leakage": {"pump-2"}}),
        ("leakage", "pilot-pump", {"pilot_leakage": {"-"}}),
        ("leakage", "travel-left-motor", {"cross": {"travel-left-forward", "travel-left-reverse"}}),
        ("leakage", "swing-motor", {"cross": {"swing-left", "swing-right"}}),
        ("leakage", "swivel-joint", {"shunt": TRACKS}),
        ("leakage", "boom-cap-port-relief", {"shunt": {"boom-raise"}}),
        ("leakage", "travel-right-reverse-crossover", {"shunt": {"travel-right-reverse"}}),
        ("bypass", "main-relief", {"bypass": BOTH}),
        ("opening", "boom-merge-valve", {"merge": {"boom-raise"}}),
        ("opening", "arm-merge-valve", {"merge": {"arm-in", "arm-out"}}),
        ("opening", "bucket-spool", {"opening": {"bucket-curl", "bucket-dump"}}),
        ("opening", "arm-out-pilot", {"opening": {"arm-out"}}),
        ("opening", "straight-travel-valve", {"opening": TRACKS}),
        ("drag", "swing-gear", {"drag": {"swing-left", "swing-right"}}),
        ("drag", "track-left", {"drag": {"travel-left-forward", "travel-left-reverse"}}),
        ("drag", "boom-cylinder-left", {"drag": {"boom-raise", "boom-lower"}}),
        ("back-pressure", "return-filter", {"back": EVERY}),
        ("back-pressure", "boom-rod-hose", {"back": {"boom-raise"}}),
        ("setting", "main-relief", {"relief": BOTH}),
        ("setting", "boom-rod-port-relief", {"limit": {"boom-lower"}}),
        ("setting", "pilot-relief", {"pilot_setting": {"-"}}),
        ("regeneration", "arm-regen-valve", {"regeneration": {"arm-in"}}),
        ("shift", "travel-right-shift", {"shift": {"travel-right-forward", "travel-right-reverse"}}),
        ("held-leak", "boom-holding-valve", {"valve_leak": {"boom-cylinder"}}),
        ("held-leak", "boom-cap-port-relief", {"port_leak": {"boom-cylinder"}}),
        ("held-leak", "boom-rod-port-relief", {"other_leak": {"boom-cylinder"}}),
        ("held-leak", "arm-rod-make-up-check", {"port_leak": {"arm-cylinder"}}),
        ("held-leak", "arm-cap-port-relief", {"other_leak": {"arm-cylinder"}}),
        ("held-leak", "arm-spool", {"spool_leak": {"arm-cylinder"}, "other_leak": {"arm-cylinder"}}),
        ("seal-leak", "boom-cylinder-right", {"seal": {"boom-cylinder"}, "cross": {"boom-raise", "boom-lower"}}),
        ("creep", "bucket-spool", {"running": {"bucket-cylinder"}}),
        ("offset", "pressure-sensor-2", {"offset": {"pump-2"}}),
        ("cooling", "oil", {"cooling": {"-"}}),
        ("scatter", "machine", {}),
        ("none", "controller", {}),
    ],
)
def test_where_a_parameter_acts(
    circuit: CircuitGraph, machine: Machine, parameter: str, part: str, expected: dict[str, set[str]]
) -> None:
    state = State(3, circuit, machine)
    before = arrays(state)
    state.disturb(disturbance(circuit, parameter, part), slice(1, 2), np.array([0.7]))
    assert changed(state, before, 1) == expected
    assert changed(state, before, 0) == changed(state, before, 2) == {}


def test_an_opening_before_all_functions_acts_on_all(circuit: CircuitGraph, machine: Machine) -> None:
    state = State(2, circuit, machine)
    before = arrays(state)
    state.disturb(disturbance(circuit, "opening", "pilot-lockout"), slice(0, 2), np.array([0.5, 0.25]))
    assert changed(state, before, 0) == {"opening": set(state.functions)}
    assert state.opening[1].tolist() == [0.25] * len(state.functions)


def test_ratios_multiply_leakages_add_settings_take_the_lower(circuit: CircuitGraph, machine: Machine) -> None:
    state, rows = State(1, circuit, machine), slice(0, 1)
    for value in (0.5, 0.8):
        state.disturb(disturbance(circuit, "stroke", "pump-1-regulator"), rows, np.array([value]))
        state.disturb(disturbance(circuit, "leakage", "pump-1"), rows, np.array([value]))
        state.disturb(disturbance(circuit, "setting", "boom-cap-port-relief"), rows, np.array([value]))
    assert state.stroke[0, 0] == pytest.approx(0.4)
    assert state.leakage[0, 0] == pytest.approx(1.3)
    assert state.limit[0, state.functions.index("boom-raise")] == 0.5


@pytest.mark.parametrize(
    ("parameter", "part"),
    [("back-pressure", "travel-left-motor"), ("leakage", "engine"), ("opening", "oil"), ("setting", "boom-spool")],
)
def test_what_has_no_place_is_refused_and_changes_nothing(
    circuit: CircuitGraph, machine: Machine, parameter: str, part: str
) -> None:
    state = State(1, circuit, machine)
    before = arrays(state)
    with pytest.raises(NoPlaceError, match=f"`{parameter}` has no place at {part}"):
        state.disturb(disturbance(circuit, parameter, part), slice(0, 1), np.array([0.7]))
    assert changed(state, before, 0) == {}
