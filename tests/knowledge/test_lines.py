"""What the lines of a circuit say. How such machines are built is common practice of the trade, as the circuits say."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.circuit_check import circuit_faults
from oilpath.knowledge.lines import derive, unused
from oilpath.knowledge.wiring import Wiring, wire
from tests import shipped

CIRCUITS = shipped.knowledge().circuits
EXCAVATOR, COMPACT = CIRCUITS["two-pump-excavator"], CIRCUITS["compact-excavator"]
LOADER, RIG = CIRCUITS["wheel-loader"], CIRCUITS["hydraulic-test-rig"]
EVERY_LINE = [(name, number) for name, one in CIRCUITS.items() for number in range(len(one.lines))]


def without(circuit: Circuit, *numbers: int) -> Circuit:
    lines = tuple(line for number, line in enumerate(circuit.lines) if number not in numbers)
    return circuit.model_copy(update={"lines": lines})


def differing(one: Wiring, two: Wiring) -> set[str]:
    return {f.name for f in dataclasses.fields(Wiring) if getattr(one, f.name) != getattr(two, f.name)}


@pytest.mark.parametrize("name", sorted(CIRCUITS))
def test_the_lines_that_ship_leave_nothing_without_a_way_and_none_is_idle(name: str) -> None:
    assert wire(CIRCUITS[name]).faults == ()
    assert unused(CIRCUITS[name]) == ((), ())


@pytest.mark.parametrize(
    ("circuit", "function", "expected"),
    [
        (
            EXCAVATOR,
            "boom-raise",
            {
                "spool": "boom-spool",
                "pilot": "boom-raise-pilot",
                "merge_valve": "boom-merge-valve",
                "supply": ("boom-holding-valve", "boom-cap-hose"),
                "exhaust": ("boom-rod-hose",),
                "regen_valve": None,
                "drag": (),
            },
        ),
        (
            EXCAVATOR,
            "boom-lower",
            {"merge_valve": None, "supply": ("boom-rod-hose",), "exhaust": ("boom-cap-hose", "boom-holding-valve")},
        ),
        (
            EXCAVATOR,
            "arm-in",
            {
                "regen_valve": "arm-regen-valve",
                "merge_valve": "arm-merge-valve",
                "exhaust": ("arm-rod-hose", "arm-holding-valve"),
            },
        ),
        (EXCAVATOR, "arm-out", {"regen_valve": None, "merge_valve": "arm-merge-valve", "gates": ()}),
        (EXCAVATOR, "swing-left", {"pilot": "swing-left-pilot", "supply": (), "drag": ("swing-brake", "swing-gear")}),
        (
            EXCAVATOR,
            "travel-left-reverse",
            {
                "spool": "travel-left-spool",
                "pilot": "travel-left-reverse-pilot",
                "gates": ("straight-travel-valve",),
                "supply": ("swivel-joint", "travel-left-counterbalance"),
                "exhaust": ("travel-left-counterbalance", "swivel-joint"),
                "drag": ("travel-left-brake", "travel-left-final-drive", "track-left"),
            },
        ),
        (COMPACT, "blade-raise", {"pilot": None, "gates": ("blade-compensator",), "supply": ("blade-rod-hose",)}),
        (LOADER, "lift-raise", {"gates": ("priority-excess", "lift-compensator"), "pilot": "lift-raise-pilot"}),
        (
            LOADER,
            "steer-left",
            {
                "spool": "steering-unit",
                "gates": ("priority-valve", "steering-compensator"),
                "supply": ("steering-left-hose",),
                "exhaust": ("steering-right-hose",),
            },
        ),
        (RIG, "load", {"spool": "switching-valve", "supply": (), "exhaust": (), "pilot": None}),
    ],
)
def test_what_serves_a_function(circuit: Circuit, function: str, expected: dict[str, Any]) -> None:
    served = wire(circuit).functions[function]
    assert {key: getattr(served, key) for key in expected} == expected


@pytest.mark.parametrize(
    ("circuit", "part", "of", "end", "function"),
    [
        (EXCAVATOR, "pump-1-regulator", "pump-1", None, None),
        (EXCAVATOR, "pump-2-flow-signal", "pump-2", None, None),
        (EXCAVATOR, "pressure-sensor-2", "pump-2", None, None),
        (EXCAVATOR, "pilot-relief", "pilot-pump", None, None),
        (EXCAVATOR, "pilot-accumulator", "pilot-pump", None, None),
        (EXCAVATOR, "main-relief", None, None, None),  # of two pumps
        (EXCAVATOR, "boom-holding-valve", "boom-cylinder", "cap", None),
        (EXCAVATOR, "arm-rod-make-up-check", "arm-cylinder", "rod", None),
        (EXCAVATOR, "arm-regen-valve", "arm-cylinder", None, None),
        (EXCAVATOR, "boom-cylinder-left", "boom-cylinder", None, None),
        (EXCAVATOR, "swing-left-relief", "swing-motor", None, "swing-left"),
        (EXCAVATOR, "travel-right-reverse-crossover", "travel-right-motor", None, "travel-right-reverse"),
        (EXCAVATOR, "travel-left-shift", "travel-left-motor", None, None),
        (EXCAVATOR, "track-left", "travel-left-motor", None, None),
        (EXCAVATOR, "swivel-joint", None, None, None),  # of both motors
        (EXCAVATOR, "bucket-curl-pilot", None, None, "bucket-curl"),
        (EXCAVATOR, "boom-spool", None, None, None),
        (EXCAVATOR, "engine", None, None, None),
        (COMPACT, "load-signal", "pump-1", None, None),
        (COMPACT, "pump-1-cutoff", "pump-1", None, None),
        (COMPACT, "boom-shuttle", None, None, None),
        (LOADER, "steering-right-hose", "steering-cylinder", None, "steer-right"),
        (RIG, "accumulator", "pump", None, None),
    ],
)
def test_where_a_part_stands(
    circuit: Circuit, part: str, of: str | None, end: str | None, function: str | None
) -> None:
    placed = wire(circuit).parts[part]
    assert (placed.of, placed.end, placed.function) == (of, end, function)


def test_what_limits_reads_drains_holds_and_goes_beside() -> None:
    excavator, compact, rig = wire(EXCAVATOR), wire(COMPACT), wire(RIG)
    assert excavator.reliefs == {"main-relief": ("pump-1", "pump-2")}
    assert set(compact.reliefs) == {"main-relief", "pump-1-cutoff", "load-signal"}
    assert excavator.gauges == {"pressure-sensor-1": ("pump-1",), "pressure-sensor-2": ("pump-2",)}
    assert excavator.shunts["boom-cap-port-relief"] == ("boom-raise",)
    assert compact.shunts["boom-shuttle"] == ("boom-raise", "boom-lower")
    assert not set(rig.shunts)  # its relief limits the pump, its accumulator lets nothing past
    assert excavator.drains["travel-left-motor"] == ("swivel-joint", "tank")
    held = {name: hold.valve for name, hold in excavator.holds.items()}
    assert held == {"boom-cylinder": "boom-holding-valve", "arm-cylinder": "arm-holding-valve", "bucket-cylinder": None}
    assert {hold.valve for hold in compact.holds.values()} == {None}
    assert excavator.parts["boom-cylinder"].members == ("boom-cylinder-left", "boom-cylinder-right")
    assert excavator.filling["suction"] == ("pump-1", "pump-2", "pilot-pump")
    assert excavator.driving["pump-drive"] == ("pump-1", "pump-2", "pilot-pump")


def test_the_pilot_supply_moves_what_its_valves_move_and_no_lever() -> None:
    """A blade worked by its lever and a steering unit have no pilot valve."""
    assert set(wire(COMPACT).piloted["pilot-lockout"]) == set(COMPACT.functions) - {"blade-lower", "blade-raise"}
    assert set(wire(LOADER).piloted["pilot-pump"]) == {"lift-raise", "lift-lower", "tilt-back", "tilt-dump"}
    assert wire(RIG).pilot_pumps == ()


@pytest.mark.parametrize(("name", "number"), EVERY_LINE)
def test_no_line_can_be_left_out(name: str, number: int) -> None:
    """Each one changes what follows from the others, or leaves something without a way, which `kb check` finds."""
    circuit = CIRCUITS[name]
    less = without(circuit, number)
    changed = differing(wire(circuit), derive(less))
    assert changed
    assert changed != {"faults"} or list(circuit_faults(less))


@pytest.mark.parametrize(
    ("circuit", "kind", "lost"),
    [
        (EXCAVATOR, "suction", {"inlets", "filling", "faults"}),
        (EXCAVATOR, "work", {"functions", "holds", "shunts", "faults"}),
        (EXCAVATOR, "return", {"functions", "outlets", "faults"}),
        (EXCAVATOR, "delivery", {"functions"}),
        (EXCAVATOR, "merge", {"functions", "faults"}),
        (EXCAVATOR, "relief", {"shunts", "reliefs", "parts"}),
        (EXCAVATOR, "drain", {"drains"}),
        (EXCAVATOR, "pilot", {"functions", "holds", "piloted", "moved", "parts"}),
        (EXCAVATOR, "signal", {"gauges", "parts"}),
        (COMPACT, "signal", {"gauges", "parts", "shunts", "reliefs"}),
        (EXCAVATOR, "drive", {"functions", "driving", "parts"}),
    ],
)
def test_without_all_lines_of_a_kind_what_they_say_is_lost(circuit: Circuit, kind: str, lost: set[str]) -> None:
    gone = [number for number, line in enumerate(circuit.lines) if line.kind == kind]
    assert gone
    assert lost <= differing(wire(circuit), derive(without(circuit, *gone)))


@given(data=st.data())
def test_whatever_lines_are_left_out_nothing_is_raised_and_no_other_part_is_named(data: st.DataObject) -> None:
    circuit = CIRCUITS[data.draw(st.sampled_from(sorted(CIRCUITS)))]
    gone = data.draw(st.sets(st.integers(0, len(circuit.lines) - 1), max_size=12))
    found = derive(without(circuit, *gone))
    tables = (found.shunts, found.reliefs, found.gauges, found.inlets, found.outlets, found.filling, found.drains)
    named = {part for table in tables for part in table}
    assert named <= set(circuit.parts)
    assert set(found.parts) == set(circuit.parts)
    assert set(found.functions) == set(circuit.functions)


@given(order=st.permutations(range(len(LOADER.lines))))
def test_the_order_of_the_lines_does_not_matter(order: list[int]) -> None:
    """But for the order in which parts are listed in a table."""
    found = derive(LOADER.model_copy(update={"lines": tuple(LOADER.lines[number] for number in order)}))
    usual = wire(LOADER)
    assert found.functions == usual.functions
    assert {name: (part.of, part.end, part.function) for name, part in found.parts.items()} == {
        name: (part.of, part.end, part.function) for name, part in usual.parts.items()
    }
    assert (found.shunts, found.reliefs, found.holds) == (usual.shunts, usual.reliefs, usual.holds)


def test_a_bypass_of_a_holding_valve_leaves_the_end_unheld() -> None:
    """In series is a cut: what the oil can get round holds nothing."""
    line = next(line for line in EXCAVATOR.lines if "boom-holding-valve" in line.through and line.kind == "work")
    past = line.model_copy(update={"through": ("boom-spool", "boom-cap-hose")})
    assert derive(EXCAVATOR.model_copy(update={"lines": (*EXCAVATOR.lines, past)})).holds["boom-cylinder"].valve is None
