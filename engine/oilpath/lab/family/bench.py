"""The tests of the family: which readings a machine can give, and what each one would show without any error."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from oilpath.lab.family.holding import Holding
from oilpath.lab.family.layout import RANGES, SIDES, WAYS
from oilpath.lab.family.machine import Machine
from oilpath.lab.family.moves import Moves
from oilpath.lab.family.plant import WARM, Plant
from oilpath.lab.family.state import State

HOLD: Final = 5.0
"""minutes of a drift test"""
DISTANCE: Final = 20.0
TURNS: Final = 3.0


@dataclass(frozen=True, slots=True, order=True)
class Test:
    """One reading that can be taken: the test and the keys that place it."""

    __test__ = False  # no test case of pytest

    name: str
    keys: tuple[tuple[str, str], ...] = ()
    variant: str = ""

    def get(self, key: str) -> str:
        return dict(self.keys)[key]

    @property
    def id(self) -> str:
        return "/".join((self.name, *(value for _, value in self.keys))) + (f"@{self.variant}" if self.variant else "")


def _test(name: str, /, variant: str = "", **keys: str) -> Test:
    return Test(name, tuple(keys.items()), variant)


def with_keys(name: str, keys: dict[str, str], variant: str = "") -> Test:
    """A test by its name and keys as on a sheet."""
    return Test(name, tuple((key, keys[key]) for key in KEYS[name]), variant)


KEYS: Final = {
    "cycle-time": ("function",), "drift": ("cylinder",), "swing-time": ("direction",),
    "travel-time": ("direction", "range"), "track-time": ("side", "direction", "range"),
    "stall-pressure": ("pump", "function"), "pilot-pressure": (), "case-drain": ("part",), "engine-speed": ("state",),
    "swing-stop": ("direction",), "creep": ("of",), "flow": ("at",), "temperature": ("at",),
    "pressure": ("at", "state"),
}  # fmt: skip


def all_tests(machine: Machine) -> list[Test]:
    """Every reading that this machine can give, in the order of a day's testing."""
    layout = machine.layout
    tests = [_test("engine-speed", state=state) for state in ("high-idle", "stall-one-pump")]
    tests += [_test("engine-speed", state="stall-both-pumps")] * (len(layout.pumps) > 1)
    tests += [_test("pilot-pressure")]
    tests += [_test("drift", cylinder=c.name) for c in layout.cylinders if c.loaded]
    tests += [_test("cycle-time", function=m.name) for m in layout.movements]
    if layout.swings:
        tests += [_test("swing-time", direction=side) for side in SIDES]
        tests += [_test("swing-stop", direction=side) for side in SIDES]
    if layout.tracks:
        tests += [
            _test("track-time", side=side, direction=way, range=gear)
            for gear in RANGES
            for side in SIDES
            for way in WAYS
        ]
        tests += [_test("travel-time", direction=way, range=gear) for gear in RANGES for way in WAYS]
    tests += stalls(machine)
    if layout.tracks:
        tests += [_test("pressure", at=f"travel-{side}-motor", state="free-running") for side in SIDES]
        tests += [_test("temperature", at=f"travel-{side}-final-drive") for side in SIDES]
    units = [*layout.pumps, *(["swing-motor"] if layout.swings else [])]
    units += [f"travel-{side}-motor" for side in SIDES] if layout.tracks else []
    tests += [_test("case-drain", part=part) for part in units]
    if layout.swings:
        tests += [_test("creep", of="swing"), _test("creep", of="travel")]
    tests += [_test("flow", at=f"{pump}-outlet") for pump in layout.pumps]
    tests += [_test("drift", "engine-on", cylinder=c.name) for c in layout.cylinders if c.loaded]
    return tests


def stalls(machine: Machine) -> list[Test]:
    """Stall pressures: each movement on its own pump, and merged ones on the other as well."""
    layout = machine.layout
    found = []
    for m in layout.movements:
        for pump, _ in machine.pumps_of(m.name, m.group)[: 2 if m.name == "boom-raise" else 1]:
            found.append(_test("stall-pressure", pump=pump, function=m.name))
    if layout.swings:
        found += [_test("stall-pressure", pump=machine.feeds["swing"], function=f"swing-{side}") for side in SIDES]
    if layout.tracks:
        found += [
            _test("stall-pressure", pump=machine.feeds[f"travel-{side}"], function=f"travel-{side}-{way}")
            for side in SIDES
            for way in WAYS
        ]
    return found


@dataclass(frozen=True, slots=True)
class Day:
    """The conditions of a day of testing: oil temperature, throttle, and how the drift test was set up."""

    celsius: float = WARM
    throttle: float = 1.0
    cools: float = 1.0
    """kelvin that held oil cools in a drift test"""
    stands_out: float = 0.5
    """share of the stroke by which a held rod stands out"""
    turns: float = TURNS
    rest: bool = True
    work: float = 0.6
    """share of the relief at which drains and flows are read"""
    ambient: float = 18.0


@dataclass(frozen=True, slots=True)
class Value:
    """What a reading would show: its value, and the veer of a travel test in m."""

    value: float
    veer: float = 0.0


class Bench:
    """One machine in one state on one day. Values are kept, so that each is computed once."""

    def __init__(self, machine: Machine, state: State, day: Day) -> None:
        self.machine = machine
        self.state = state
        self.day = day
        self.plant = Plant(machine, state, celsius=day.celsius + state.hotter, throttle=day.throttle)
        self.moves = Moves(self.plant)
        self.holding = Holding(self.plant)
        self._kept: dict[Test, Value] = {}

    def __call__(self, test: Test) -> Value:
        """The value of a reading in s, mm, MPa, L/min, rpm, degrees or °C; infinite where nothing moves."""
        if test not in self._kept:
            self._kept[test] = self._value(test)
        return self._kept[test]

    def _value(self, test: Test) -> Value:
        day, keys = self.day, dict(test.keys)
        match test.name:
            case "cycle-time":
                return Value(self.moves.cylinder_time(self.machine.layout.movement(keys["function"])))
            case "swing-time":
                return Value(self.moves.swing_time(keys["direction"], day.turns, rest=day.rest))
            case "travel-time":
                return Value(*self.moves.travel(keys["direction"], keys["range"], DISTANCE))
            case "track-time":
                return Value(self.moves.raised_time(keys["side"], keys["direction"], keys["range"], TURNS))
            case "drift":
                return Value(self.drift(keys["cylinder"], test.variant))
            case "creep":
                return Value(self.holding.creep(keys["of"], 3))
            case "swing-stop":
                return Value(self.moves.swing_stop(keys["direction"]))
            case "engine-speed":
                return Value(self.holding.engine_speed(keys["state"]))
            case "temperature":
                return Value(day.ambient + self.holding.hub(keys["at"].split("-")[1]))
            case "case-drain":
                return Value(self.holding.case_drain(keys["part"], day.work * self.machine.relief))
            case "flow":
                return Value(self.holding.flow(keys["at"].removesuffix("-outlet"), day.work * self.machine.relief))
            case _:
                return Value(self._pressure(test))

    def _pressure(self, test: Test) -> float:
        keys = dict(test.keys)
        if test.name == "pilot-pressure":
            return self.plant.pilot[self.machine.pilot.port]
        if test.name == "pressure":
            return self.holding.running_pressure(keys["at"].split("-")[1])
        pump, name = keys["pump"], keys["function"]
        group = "swing" if name.startswith("swing") else name.rsplit("-", 1)[0]
        group = "steering" if group == "steer" else group
        return self.moves.stall(pump, name, group) * self.state.gauge[pump]

    def drift(self, cylinder: str, variant: str = "") -> float:
        """Millimetres of a drift test in the usual posture, or with the variant `load-reversed` or `engine-on`."""
        start = self.day.celsius + self.state.hotter
        return self.holding.drift(
            cylinder, HOLD, start=start, end=start - self.day.cools - self.state.cooling,
            extension=self.day.stands_out * self.machine.rams[cylinder].stroke,
            reversed_=variant == "load-reversed", running=variant == "engine-on",
        )  # fmt: skip

    def at(self, celsius: float) -> Bench:
        """The same machine at another oil temperature."""
        return Bench(self.machine, self.state, replace(self.day, celsius=celsius - self.state.hotter))
