"""What a technician measures on one visit: the complaint, and which readings are taken for it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from oilpath.lab.family.bench import Bench, Test, all_tests
from oilpath.lab.family.book import Book
from oilpath.lab.family.machine import Machine, Rng

COUNTS: Final = {"3": 3, "5": 5, "8": 8}
"""readings of a short visit"""
MISSING: Final = 0.45
"""share of a full sheet's readings that a thin one lacks"""
SLOWEST: Final = 5.0
"""a movement that takes so many times its usual time is not timed"""
"""share of the way from the sound value to its limit from which a reading is nearly out"""

#: Deviation from the sound value that one would notice: ln ratio, or mm, K and m where the value is an offset.
_NOTICED: Final = {
    "cycle-time": 0.12, "swing-time": 0.12, "travel-time": 0.1, "track-time": 0.1, "drift": 0.9, "stall-pressure": 0.04,
    "pilot-pressure": 0.08, "case-drain": 0.8, "engine-speed": 0.03, "swing-stop": 0.35, "flow": 0.1, "pressure": 0.4,
}  # fmt: skip
_OFFSETS: Final = {"creep": 6.0, "temperature": 12.0}
_VEER: Final = 1.0


def measurable(test: Test, value: float, usual: float) -> bool:
    """Whether a reading can be written down at all: what hardly moves is not timed."""
    timed = test.name.endswith("-time")
    return math.isfinite(value) and (not timed or value < SLOWEST * usual)


def deviation(test: Test, ill: Bench, sound: Bench) -> float:
    """How far a reading is from the sound machine's, as multiples of what one would notice; positive upward."""
    here, there = ill(test), sound(test)
    if not math.isfinite(here.value):
        return 8.0
    if test.name in _OFFSETS:
        return (here.value - there.value) / _OFFSETS[test.name]
    off = math.log(max(here.value, 1e-3) / max(there.value, 1e-3)) / _NOTICED[test.name]
    if test.name == "travel-time":
        off = max(off, abs(here.veer - there.veer) / _VEER)
    return off


def shows(test: Test, ill: Bench, sound: Bench, book: Book) -> bool:
    """Whether the fault brings a reading out of its limit; without a limit, whether one would notice it."""
    here, there = ill(test), sound(test)
    if test.variant or test not in book.limits:
        return abs(deviation(test, ill, sound)) >= 1
    limit = book.limits[test]
    if limit.low is None and limit.high is None and limit.veer is None:
        return abs(deviation(test, ill, sound)) >= 1
    found = False
    for bound, up in ((limit.high, True), (limit.low, False)):
        if bound is not None:
            moved = here.value - there.value if up else there.value - here.value
            room = bound - there.value if up else there.value - bound
            found |= moved > 0.4 * abs(room) and moved >= room
    if limit.veer is not None:
        found |= abs(here.veer) >= limit.veer and abs(here.veer - there.veer) > 0.4 * limit.veer
    return found


# --- which readings -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Habits:
    """What this workshop measures on a full sheet, beside what everybody does."""

    tests: tuple[Test, ...]


def routine(machine: Machine, book: Book, rng: Rng) -> Habits:
    """The readings of a full sheet; drains, flows and pressures at points only where port, meter and mind are there."""
    chance = {name: float(rng.random()) for name in ("low-track", "low-travel", "stop", "drain", "motor", "flow", "hub",
              "free", "creep", "slow", "all", "idle", "cold", "running", "reversed", "stalls")}  # fmt: skip
    chosen = []
    for test in all_tests(machine):
        keys = dict(test.keys)
        odds = 1.0
        match test.name:
            case "track-time":
                odds = 1.0 if keys["range"] == "high" else float(chance["low-track"] < 0.5)
            case "travel-time":
                odds = 1.0 if keys["range"] == "high" else float(chance["low-travel"] < 0.4)
            case "swing-stop":
                odds = float(chance["stop"] < 0.35)
            case "case-drain":
                odds = float(chance["drain"] < 0.25 if keys["part"].startswith("pump") else chance["motor"] < 0.1)
            case "flow":
                odds = float(chance["flow"] < 0.08)
            case "temperature":
                odds = float(chance["hub"] < 0.12)
            case "pressure":
                odds = float(chance["free"] < 0.12)
            case "creep":
                odds = float(chance["creep"] < 0.1)
            case "engine-speed":
                odds = {"high-idle": 0.6}.get(keys["state"], 0.3)
            case "stall-pressure":
                odds = _stall_odds(keys["function"], book, test, chance["stalls"])
            case "drift":
                odds = 1.0 if not test.variant else float(chance["running"] < 0.1)
            case _:
                pass
        if rng.random() < odds:
            chosen.append(test)
    if chance["cold"] < 0.08:
        cycles = [test for test in chosen if test.name == "cycle-time"]
        picked = rng.choice(len(cycles), 2, replace=False)
        chosen += [Test(cycles[i].name, cycles[i].keys, "cold") for i in sorted(picked.tolist())]
    if chance["reversed"] < 0.08:
        drifts = [test for test in chosen if test.name == "drift" and not test.variant]
        one = drifts[int(rng.integers(len(drifts)))]
        chosen.append(Test(one.name, one.keys, "load-reversed"))
    return Habits(tuple(chosen))


def _stall_odds(function: str, book: Book, test: Test, more: float) -> float:
    usual = {"boom-raise", "arm-in", "bucket-curl", "lift-raise", "tilt-back", "steer-left", "steer-right"}
    if function.startswith(("travel", "swing")):
        return float(more < (0.5 if test in book.limits else 0.12))
    if function in usual:
        return 1.0
    return 0.8 if more < 0.4 else 0.0


def choose(
    habits: Habits, sheet_kind: str, ill: Bench, sound: Bench, book: Book, rng: Rng
) -> tuple[tuple[Test, ...], Test | None]:
    """The readings of one sheet, and the one that the complaint is about; None on a sound machine.

    A short visit goes for the complaint: the reading that is felt, what belongs to it, and what everybody checks.
    """
    tests = [test for test in habits.tests if measurable(test, ill(test).value, sound(test).value)]
    felt = _felt(habits.tests, ill, sound, rng)
    if sheet_kind in COUNTS:
        tests = _short(tests, felt, COUNTS[sheet_kind], ill.machine, rng)
    elif sheet_kind == "thin":
        tests = [test for test in tests if rng.random() >= MISSING] or tests[:1]
    kept = [test for test in tests if not test.variant or Test(test.name, test.keys) in tests]
    return tuple(kept), felt


def _felt(tests: Sequence[Test], ill: Bench, sound: Bench, rng: Rng) -> Test | None:
    """The reading that the driver feels, the more so the further it is off; pressures and drains are not felt."""
    felt = {"cycle-time", "swing-time", "travel-time", "track-time", "drift", "swing-stop", "creep", "stall-pressure"}
    off = [(abs(deviation(test, ill, sound)), test) for test in tests if test.name in felt and not test.variant]
    off = [(min(size, 6.0), test) for size, test in off if size > 0.5]
    if not off:
        return None
    weights = [size**2 * (0.5 if test.name == "stall-pressure" else 1.0) for size, test in off]
    total = sum(weights)
    return off[int(rng.choice(len(off), p=[w / total for w in weights]))][1]


def _short(tests: list[Test], felt: Test | None, count: int, machine: Machine, rng: Rng) -> list[Test]:
    weights = {test: _wish(test, felt, machine) for test in tests}
    if felt is None and tests:  # nothing is felt: somebody's words only
        weights |= {test: 3.0 for test in tests if test.name == "cycle-time"}
    chosen: list[Test] = [felt] if felt in weights and felt is not None else []
    rest = [test for test in tests if test not in chosen]
    while rest and len(chosen) < count:
        odds = [weights[test] for test in rest]
        total = sum(odds)
        chosen.append(rest.pop(int(rng.choice(len(rest), p=[w / total for w in odds]))))
    return [test for test in tests if test in chosen]


def _wish(test: Test, felt: Test | None, machine: Machine) -> float:
    """How much a technician wants a reading, given what the driver says."""
    wish = {"cycle-time": 1.5, "drift": 0.4, "swing-time": 0.8, "track-time": 0.6, "travel-time": 0.7,
            "stall-pressure": 1.0, "pilot-pressure": 1.6, "engine-speed": 0.8}.get(test.name, 0.3)  # fmt: skip
    if test.variant:
        wish *= 0.3
    if felt is None:
        return wish
    here, there = places(test), places(felt)
    if here & there:
        wish *= 8 if test.name == felt.name else 4
    elif test.name == felt.name:
        wish *= 3
    elif fed(test, machine) & fed(felt, machine):
        wish *= 1.5
    return wish


def places(test: Test) -> set[str]:
    """Groups of movements that a reading is about."""
    found: set[str] = set()
    for key, value in test.keys:
        if key == "function":
            head = value.rsplit("-", 1)[0]
            found.add("steering" if head == "steer" else head)
        elif key == "cylinder":
            found.add(value.removesuffix("-cylinder"))
        elif key == "side":
            found.add(f"travel-{value}")
        elif key in ("at", "part"):
            found.add(value.rsplit("-", 1)[0])
        elif key == "of":
            found |= {"swing"} if value == "swing" else {"travel-left", "travel-right"}
    if test.name.startswith("swing"):
        found.add("swing")
    if test.name == "travel-time":
        found |= {"travel-left", "travel-right"}
    return found


def fed(test: Test, machine: Machine) -> set[str]:
    """Pumps behind a reading."""
    return {machine.feeds[place] for place in places(test) if place in machine.feeds}
