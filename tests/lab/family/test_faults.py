"""Each fault moves the readings that the trade expects, the way it expects, and leaves alone what it says it leaves.

Directions are common practice of the trade unless a line says otherwise.
"""

from dataclasses import replace
from fnmatch import fnmatchcase

import pytest

from oilpath.lab.family.bench import all_tests
from oilpath.lab.family.faults import FAULTS, Fault
from oilpath.lab.family.machine import Machine
from oilpath.lab.family.visit import deviation

from .samples import COMPACT, LOADER, TWO, bench, harmed, machine

SLOWER, HIGHER, FASTER, LOWER = 1, 1, -1, -1
#: kind, cause, part, readings that move with their direction, readings that stay
SIGNATURES = [
    (TWO, "engine.low-speed", "engine", {"cycle-time/bucket-curl": SLOWER, "swing-time/*": SLOWER,
     "track-time/*/high": SLOWER, "engine-speed/*": LOWER}, ["drift/*", "pilot-pressure"]),
    (TWO, "engine.low-power", "engine", {"engine-speed/stall-both-pumps": LOWER},
     ["engine-speed/high-idle", "drift/*"]),
    (TWO, "pump-drive.slipping", "pump-drive", {"cycle-time/bucket-curl": SLOWER, "track-time/*/high": SLOWER},
     ["engine-speed/high-idle", "drift/*"]),
    (TWO, "pressure-sensor.offset", "pressure-sensor-1", {},
     ["cycle-time/*", "swing-time/*", "stall-pressure/pump-2/*"]),
    (TWO, "oil.too-thin", "oil", {"drift/bucket-cylinder": HIGHER, "case-drain/*": HIGHER}, ["pilot-pressure"]),
    (TWO, "tank.low-level", "tank", {"cycle-time/bucket-curl": SLOWER, "travel-time/*/low": SLOWER}, ["drift/*"]),
    (TWO, "suction.restricted", "suction", {"cycle-time/boom-raise": SLOWER, "cycle-time/arm-in": SLOWER},
     ["drift/*", "stall-pressure/*"]),
    (TWO, "pumps.worn-alike", "machine", {"case-drain/pump-1": HIGHER, "case-drain/pump-2": HIGHER,
     "travel-time/*/high": SLOWER}, ["pilot-pressure", "drift/*", "case-drain/*-motor"]),
    (TWO, "pump.worn", "pump-2", {"case-drain/pump-2": HIGHER, "flow/pump-2-outlet": LOWER},
     ["case-drain/pump-1", "flow/pump-1-outlet", "pilot-pressure", "drift/*"]),
    (TWO, "regulator.stuck-low", "pump-1-regulator", {"flow/pump-1-outlet": LOWER, "track-time/right/*/high": SLOWER},
     ["case-drain/*", "flow/pump-2-outlet", "track-time/left/*", "stall-pressure/pump-2/*"]),
    (TWO, "regulator.torque-low", "pump-1-regulator", {"flow/pump-1-outlet": LOWER}, ["case-drain/*", "drift/*"]),
    (TWO, "pilot-relief.low", "pilot-relief", {"pilot-pressure": LOWER, "track-time/*/high": SLOWER}, ["drift/*"]),
    (TWO, "pilot-valve.low-output", "bucket-curl-pilot", {"cycle-time/bucket-curl": SLOWER},
     ["cycle-time/bucket-dump", "cycle-time/boom-*", "swing-time/*", "drift/*"]),
    (TWO, "main-relief.low", "main-relief", {"stall-pressure/*/b*": LOWER, "stall-pressure/*/arm-*": LOWER},
     ["cycle-time/bucket-dump", "drift/*", "case-drain/*", "pilot-pressure"]),
    (TWO, "main-relief.high", "main-relief", {"stall-pressure/*/bucket-*": HIGHER}, ["cycle-time/*", "drift/*"]),
    (TWO, "straight-travel.stuck-on", "straight-travel-valve", {"travel-time/*": SLOWER},
     ["drift/*", "stall-pressure/*"]),
    (TWO, "merge-valve.stuck-closed", "boom-merge-valve", {"cycle-time/boom-raise": SLOWER},
     ["cycle-time/boom-lower", "cycle-time/arm-*", "cycle-time/bucket-*", "swing-time/*", "track-time/*"]),
    (TWO, "regen-valve.stuck-closed", "arm-regen-valve", {"cycle-time/arm-in": SLOWER},
     ["cycle-time/arm-out", "cycle-time/b*"]),
    (TWO, "regen-valve.stuck-open", "arm-regen-valve", {"cycle-time/arm-in": FASTER}, ["cycle-time/arm-out"]),
    (TWO, "make-up-check.leaking", "boom-cap-make-up-check", {"drift/boom-cylinder": HIGHER},
     ["drift/arm-cylinder", "drift/bucket-cylinder", "swing-time/*"]),
    (TWO, "holding-valve.leaking", "boom-holding-valve", {"drift/boom-cylinder": HIGHER},
     ["cycle-time/*", "stall-pressure/*", "drift/bucket-cylinder"]),
    (TWO, "holding-valve.not-opening", "boom-holding-valve", {"cycle-time/boom-lower": SLOWER},
     ["cycle-time/boom-raise", "drift/*"]),
    (TWO, "cylinder.seal-leak", "bucket-cylinder", {"drift/bucket-cylinder": HIGHER},
     ["drift/boom-cylinder", "drift/arm-cylinder", "swing-time/*"]),
    (TWO, "cylinder.binding", "bucket-cylinder", {"cycle-time/bucket-*": SLOWER}, ["drift/*", "cycle-time/boom-*"]),
    (TWO, "swing-motor.worn", "swing-motor", {"case-drain/swing-motor": HIGHER, "swing-time/*": SLOWER},
     ["case-drain/travel-*", "cycle-time/*"]),
    (TWO, "swing-brake.dragging", "swing-brake", {"swing-time/*": SLOWER, "swing-stop/*": LOWER},
     ["cycle-time/*", "case-drain/*"]),
    (TWO, "swing-brake.slipping", "swing-brake", {"creep/swing": HIGHER}, ["swing-time/*", "creep/travel"]),
    (TWO, "travel-motor.worn", "travel-left-motor",
     {"case-drain/travel-left-motor": HIGHER, "travel-time/*/high": SLOWER},
     ["pressure/travel-left-motor/free-running", "case-drain/travel-right-motor", "cycle-time/*"]),
    (TWO, "travel-shift.stuck-low", "travel-left-shift", {"track-time/left/*/high": SLOWER},
     ["track-time/left/*/low", "track-time/right/*"]),
    (TWO, "travel-shift.stuck-high", "travel-left-shift", {"track-time/left/*/low": FASTER},
     ["track-time/left/*/high", "track-time/right/*"]),
    (TWO, "travel-brake.dragging", "travel-left-brake", {"pressure/travel-left-motor/free-running": HIGHER,
     "temperature/travel-left-final-drive": HIGHER}, ["case-drain/*", "pressure/travel-right-motor/free-running"]),
    (TWO, "track.too-tight", "track-left", {"pressure/travel-left-motor/free-running": HIGHER},
     ["temperature/*", "case-drain/*"]),
    (TWO, "swivel.cross-leak", "swivel-joint", {"travel-time/*/high": SLOWER}, ["case-drain/*", "cycle-time/*"]),
    (COMPACT, "load-margin.low", "pump-1-margin", {"track-time/*": SLOWER, "cycle-time/blade-*": SLOWER},
     ["stall-pressure/*/boom-*", "drift/*"]),
    (COMPACT, "pressure-cutoff.low", "pump-1-cutoff",
     {"stall-pressure/*/boom-*": LOWER, "stall-pressure/*/arm-*": LOWER},
     ["pilot-pressure", "drift/*"]),
    (COMPACT, "section-compensator.stuck", "arm-compensator", {"cycle-time/arm-*": SLOWER},
     ["cycle-time/bucket-*", "stall-pressure/*/bucket-*", "drift/*"]),
    (COMPACT, "load-shuttle.stuck", "arm-shuttle", {"stall-pressure/*/arm-*": LOWER}, ["stall-pressure/*/boom-*"]),
    (LOADER, "priority-valve.starving-steering", "priority-valve", {"cycle-time/steer-*": SLOWER},
     ["cycle-time/lift-*", "cycle-time/tilt-*"]),
    (LOADER, "priority-valve.holding-back", "priority-excess", {"cycle-time/lift-raise": SLOWER},
     ["cycle-time/steer-*"]),
    (LOADER, "steering-unit.worn", "steering-unit", {"cycle-time/steer-*": SLOWER}, ["cycle-time/lift-*", "drift/*"]),
]  # fmt: skip


def usual(kind: str) -> Machine:
    """A machine with holding valves, its pumps shared out in the usual way, where it has two."""
    some = (machine(kind, number) for number in range(2, 40))
    return next(
        m for m in some if not m.absent
        and (len(m.layout.pumps) == 1 or (m.feeds["travel-right"], m.feeds["swing"]) == ("pump-1", "pump-2"))
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "cause", "part", "moves", "stays"), SIGNATURES, ids=[f"{row[1]}-{row[2]}" for row in SIGNATURES]
)
def test_signature(kind: str, cause: str, part: str, moves: dict[str, int], stays: list[str]) -> None:
    of = replace(usual(kind), regeneration=0.35)
    ill, sound = bench(of, harmed(of, cause, part, 0.15 if "swing-brake" in cause else 0.7)), bench(of)
    moved = {test.id: deviation(test, ill, sound) for test in all_tests(of) if not test.variant}
    for pattern, way in moves.items():
        found = [value for name, value in moved.items() if fnmatchcase(name, pattern)]
        assert found, pattern
        assert all(value * way > 0.35 for value in found), (pattern, found)
    for pattern in stays:
        found = [value for name, value in moved.items() if fnmatchcase(name, pattern)]
        assert found, pattern
        assert all(abs(value) < 0.35 for value in found), (pattern, found)


def test_a_low_track_relief_weakens_one_way_only() -> None:
    of = machine(TWO, 2)
    states = [harmed(of, "travel-crossover.leaking", "travel-left-forward-crossover", 0.7, seed) for seed in range(6)]
    for state in states:
        ill, sound = bench(of, state), bench(of)
        moved = {test.id: deviation(test, ill, sound) for test in all_tests(of)}
        ahead = max(abs(v) for name, v in moved.items() if "left-forward" in name or "left/forward" in name)
        assert ahead > 0.5
        assert all(abs(v) < 0.35 for name, v in moved.items() if "left-reverse" in name or "left/reverse" in name)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.cause)
def test_more_severe_is_worse_somewhere(fault: Fault) -> None:
    """Some reading or the scatter goes further from the sound value as the fault grows.

    Travel apart: its veer cannot grow beyond a quarter circle.
    """
    of = next(replace(m, regeneration=0.35) for kind in (TWO, COMPACT, LOADER) if fault.places(m := machine(kind, 3)))
    sound, part = bench(of), fault.places(of)[0]
    tests = [test for test in all_tests(of) if test.name != "travel-time"]
    worst = []
    for severity in (0.1, 0.9):
        state = harmed(of, fault.cause, part, severity, 1)
        ill = bench(of, state)
        worst.append(max(*(abs(deviation(test, ill, sound)) for test in tests), state.scatter - 1))
    assert worst[1] >= worst[0]
    assert worst[1] > 0.3


def test_frequencies_grow_with_hours_where_parts_wear() -> None:
    worn = next(fault for fault in FAULTS if fault.cause == "pumps.worn-alike")
    assert worn.frequency(1000) < 0.1 * worn.weight < worn.frequency(9000)
    relief = next(fault for fault in FAULTS if fault.cause == "main-relief.low")
    assert relief.frequency(100) == relief.frequency(12000) == relief.weight
