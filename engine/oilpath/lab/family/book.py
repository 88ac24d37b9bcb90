"""The service information of a type as a machine file: limits, new values and sizes, as far as they are known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from oilpath.lab.family.bench import DISTANCE, HOLD, TURNS, Bench, Day, Test, all_tests
from oilpath.lab.family.machine import Machine, Rng
from oilpath.lab.family.notation import Notation
from oilpath.lab.family.state import State

CODES: Final = {
    "pump-1-flow-signal": "520200-4", "pump-2-flow-signal": "520201-4", "pressure-sensor-1": "520210-2",
    "pressure-sensor-2": "520211-2", "pilot-lockout": "520220-5", "engine": "520230-18",
}  # fmt: skip
"""codes of the drawn machines, in the range of the standard that every maker may fill"""
_ROOM: Final = {
    "drift": ("length", (2.2, 3.5)),
    "case-drain": ("flow", (2.0, 3.2)),
    "swing-stop": ("angle", (1.25, 1.5)),
}
"""how far a limit lies above the value of a new machine, as factors, if it is not a time"""
_SHORT_OF: Final = ("swing-stop", "creep", "case-drain", "flow", "temperature", "pressure")
#: The key that a limit of each test names; what it leaves out has one limit.
_PLACED_BY: Final = {
    "cycle-time": "function", "drift": "cylinder", "travel-time": "range", "track-time": "range", "case-drain": "part",
    "flow": "at", "creep": "of", "engine-speed": "state",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Limit:
    """What the service information accepts, in the units of the bench; None if it does not say."""

    low: float | None
    high: float | None
    veer: float | None = None


@dataclass(frozen=True, slots=True)
class Book:
    """A machine file as a plain mapping, the limits behind it by test, and what a new machine shows."""

    machine: dict[str, Any]
    limits: dict[Test, Limit]
    new: dict[Test, float]
    notation: Notation
    stated: tuple[str, ...]
    """tests whose limit gives a value of a new machine"""


def write_book(kind: Machine, day: Day, rng: Rng) -> Book:
    """Write the machine file of a type. Values are right to a per cent or two; some are missing."""
    notation = Notation(str(rng.choice(["metric", "bar", "us"], p=[0.6, 0.2, 0.2])))
    bench = Bench(kind, State(), Day(turns=day.turns, rest=day.rest, work=day.work))
    writer = _Writer(kind, bench, notation, rng)
    limits = writer.limits()
    machine: dict[str, Any] = {
        "oilpath": "machine/1", "name": kind.name, "circuit": kind.layout.kind,
        "engine-speed": notation.write("speed", kind.engine.speed),
        "oil": {"grade": f"ISO VG {kind.grade}"} | ({"viscosity-index": kind.index} if rng.random() < 0.5 else {}),
    }  # fmt: skip
    parts = _parts(kind, notation, rng)
    machine |= {"parts": parts} if parts else {}
    machine |= {"absent": sorted(kind.absent)} if kind.absent else {}
    machine |= _feeds(kind, rng)
    if not kind.layout.load_sensing:
        machine["control"] = kind.control
    if kind.travel is not None and rng.random() < 0.5:
        sizes = {"length": kind.travel.shoe, "track-gauge": kind.travel.gauge, "track-length": kind.travel.shoe}
        step = 0.1 if notation.units == "us" else 0.01
        machine["dimensions"] = {key: notation.write("distance", value, step=step) for key, value in sizes.items()}
    machine["limits"] = limits
    if rng.random() < 0.35:
        known = {part: code for part, code in CODES.items() if part in _coded(kind)}
        machine["codes"] = {
            code: {"says": f"Fault in the circuit of {part}", "part": part} for part, code in known.items()
        }
    return Book(machine, writer.accepted, writer.new, notation, tuple(sorted(writer.stated)))


def _coded(kind: Machine) -> set[str]:
    signals = set() if kind.layout.load_sensing else {f"{pump}-flow-signal" for pump in kind.layout.pumps}
    gauges = {f"pressure-sensor-{pump[-1]}" for pump in kind.layout.pumps}
    return signals | gauges | {"pilot-lockout", "engine"}


def _parts(kind: Machine, notation: Notation, rng: Rng) -> dict[str, Any]:
    parts: dict[str, Any] = {}
    if rng.random() < 0.7:
        size = notation.write("displacement", kind.displacement[0])
        parts |= {pump: {"displacement": size} for pump in kind.layout.pumps}
    if rng.random() < 0.6:
        for name, ram in kind.rams.items():
            sizes = {"bore": ram.bore, "rod": ram.rod, "stroke": ram.stroke}
            step = 0.01 if notation.units == "us" else None
            parts[name] = {"count": ram.count} | {
                key: notation.write("length", value, step=step) for key, value in sizes.items()
            }
    return parts


def _feeds(kind: Machine, rng: Rng) -> dict[str, Any]:
    """Which pump feeds what; left out where it is the usual allocation and nobody wrote it down."""
    if kind.layout.load_sensing:
        return {}
    usual = kind.feeds["bucket"] == "pump-1" and kind.feeds["swing"] == "pump-2" and kind.feeds["boom"] == "pump-1"
    if usual and rng.random() < 0.7:
        return {}
    pumps = {pump: [g for g, own in kind.feeds.items() if own == pump] for pump in kind.layout.pumps}
    return {"feeds": {**pumps, "merge": {name: pump for name, (pump, _) in kind.merge.items()}}}


class _Writer:
    """Draws, test by test, what the service information says."""

    def __init__(self, kind: Machine, bench: Bench, notation: Notation, rng: Rng) -> None:
        self.kind, self.bench, self.notation, self.rng = kind, bench, notation, rng
        self.accepted: dict[Test, Limit] = {}
        self.new: dict[Test, float] = {}
        self.stated: set[str] = set()
        # one manual keeps one habit: new and limit, limit alone, or new alone
        self.habit = str(rng.choice(["both", "limit", "new"], p=[0.65, 0.22, 0.13]))
        self.room = float(rng.uniform(1.12, 1.22))
        self.stall = str(rng.choice(["all", "min", "range", "new"], p=[0.5, 0.2, 0.2, 0.1]))

    def limits(self) -> list[dict[str, Any]]:
        tests = all_tests(self.kind)
        rows: list[dict[str, Any]] = []
        for name in dict.fromkeys(test.name for test in tests):
            some = [test for test in tests if test.name == name and not test.variant]
            if name in ("temperature", "pressure"):
                continue
            if self.rng.random() < (0.5 if name in _SHORT_OF or name == "engine-speed" else 0.07):
                continue
            rows += self._of(name, some)
        return rows

    def _of(self, name: str, tests: list[Test]) -> list[dict[str, Any]]:
        if name in ("stall-pressure", "pilot-pressure"):
            return self._pressures(name, tests)
        rows = []
        for key, same in self._alike(name, tests).items():
            value = self.bench(same[0]).value * float(self.rng.normal(1, 0.01))
            rows.append({"test": name, **dict(key), **self._per(name), **self._row(name, same, value)})
        return [row for row in rows if row]

    def _alike(self, name: str, tests: list[Test]) -> dict[tuple[tuple[str, str], ...], list[Test]]:
        """The tests that one row serves: both sides and ways have one limit, each range and movement its own."""
        found: dict[tuple[tuple[str, str], ...], list[Test]] = {}
        for test in tests:
            found.setdefault(tuple(pair for pair in test.keys if pair[0] == _PLACED_BY.get(name)), []).append(test)
        return found

    def _per(self, name: str) -> dict[str, Any]:
        if name in ("drift", "creep"):
            return {"hold": self.notation.write("hold", HOLD if name == "drift" else 3)}
        if name == "travel-time":
            return {"distance": self.notation.write("distance", DISTANCE, step=0.1)}
        if name in ("swing-time", "track-time"):
            return {"turns": self.bench.day.turns if name == "swing-time" else TURNS}
        return {}

    def _row(self, name: str, tests: list[Test], value: float) -> dict[str, Any]:
        write = self.notation.write
        if name == "engine-speed":
            wide = 0.025 if tests[0].get("state") == "high-idle" else 0.045
            low, high = (1 - wide) * value, (1 + wide) * value
            self._accept(tests, low, high, value)
            self.stated.add(name)
            bounds = {"min": write("speed", low, down=True), "max": write("speed", high, up=True)}
            return {"new": write("speed", value)} | bounds
        if name == "flow":
            self._accept(tests, 0.85 * value, None, value)
            return {"min": write("flow", 0.85 * value)}
        if name == "creep":
            self._accept(tests, None, 8.0, 0.0)
            return {"max": write("length", 8.0, step=0.05 if self.notation.units == "us" else 1)}
        kind, room = _ROOM.get(name, ("time", (0.985 * self.room, 1.015 * self.room)))
        factor = float(self.rng.uniform(*room))
        high = max(factor * value, 4.0) if name == "drift" else factor * value
        self._accept(tests, None, high, value, veer=self._veer(name))
        row: dict[str, Any] = {}
        if self.habit != "limit" and name != "case-drain":
            row["new"] = write(kind, value, step=self._step(kind))
            self.stated.add(name)
        if self.habit != "new" or name in ("drift", "case-drain"):
            row["max"] = write(kind, high, up=True, step=self._step(kind))
        else:
            self._accept(tests, None, None, value, veer=self.accepted[tests[0]].veer)
        veer = self.accepted[tests[0]].veer
        return row | ({"max-veer": write("distance", veer)} if veer is not None else {})

    def _step(self, kind: str) -> float | None:
        return 0.02 if kind == "length" and self.notation.units == "us" else None

    def _veer(self, name: str) -> float | None:
        if name != "travel-time" or self.rng.random() < 0.25:
            return None
        return float(self.rng.uniform(0.9, 1.6))

    def _pressures(self, name: str, tests: list[Test]) -> list[dict[str, Any]]:
        rows = []
        low = name == "pilot-pressure"
        for keys, some in self._stall_rows(name, tests):
            value = self.bench(some[0]).value
            wide = float(self.rng.uniform(0.07, 0.1)) if low else float(self.rng.uniform(0.025, 0.035))
            least, most = value * (1 - wide), value * (1 + wide)
            styles = {"all": "nlh", "min": "l", "range": "lh", "new": "n"}
            style = styles[self.stall] if not low or self.stall != "new" else "nlh"
            row: dict[str, Any] = {"test": name, **keys}
            figures = {"n": ("new", value), "l": ("min", least), "h": ("max", most)}
            row |= {figures[c][0]: self.notation.pressure(figures[c][1], low=low) for c in style}
            if "n" in style:
                self.stated.add(name)
            self._accept(some, least if "l" in style else None, most if "h" in style else None, value)
            rows.append(row)
        return rows

    def _stall_rows(self, name: str, tests: list[Test]) -> list[tuple[dict[str, str], list[Test]]]:
        """One limit for the working functions; some manuals give swing, travel and steering a limit of their own."""
        if name == "pilot-pressure":
            return [({}, tests)]

        def main(test: Test) -> bool:
            return test.get("function").split("-")[0] in ("boom", "arm", "bucket", "lift", "tilt")

        found: list[tuple[dict[str, str], list[Test]]] = [({}, [test for test in tests if main(test)])]
        for head, odds in (("swing", 0.35), ("travel", 0.35), ("steer", 0.8)):
            if self.rng.random() < odds:
                others = [test for test in tests if test.get("function").startswith(head)]
                found += [({"function": test.get("function")}, [test]) for test in others]
        return found

    def _accept(
        self, tests: list[Test], low: float | None, high: float | None, new: float, *, veer: float | None = None
    ) -> None:
        for test in tests:
            self.accepted[test] = Limit(low, high, veer)
            self.new[test] = new
