"""Writes the test sheet: readings with the errors of people and instruments, conditions as far as they were noted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from oilpath.lab.family.bench import DISTANCE, HOLD, TURNS, Bench, Test
from oilpath.lab.family.book import Book
from oilpath.lab.family.machine import Rng
from oilpath.lab.family.notation import Notation

STOPWATCH: Final = 0.1
"""scatter in s of a hand-held stopwatch from start to stop (Am. J. Phys. 87(2), 110, 2019: 0.07·√2 s)"""
LEVER: Final = 0.008
"""scatter of lever and posture from one repeat to the next, as a share"""
SLIP: Final = 0.01
"""share of sheets with one reading that is simply wrong"""
FARTHEST: Final = 4.0
"""m of veer at which the driver stops"""


@dataclass(frozen=True, slots=True)
class Person:
    """Who measures, and with what."""

    repeats: int
    bias: float
    """s that this one is late or early with the stopwatch"""
    gauges: tuple[float, ...]
    """error of each pump's gauge in MPa; the same where one gauge went round"""
    low_gauge: float
    camber: float
    """m of veer that the lane itself gives, forward"""
    ground: float
    """factor on travel times by this ground"""
    fine: bool


def draw_person(pumps: int, relief: float, rng: Rng) -> Person:
    """A technician with usual instruments: a stopwatch, gauges of class 1 or 1.6, a tape."""
    span, quality = (60.0 if relief > 30 else 40.0), float(rng.choice([0.6, 1.0, 1.6], p=[0.2, 0.5, 0.3])) / 100
    errors = [float(rng.uniform(-1, 1)) * 0.6 * quality * span for _ in range(pumps)]
    if rng.random() < 0.5:
        errors = errors[:1] * pumps
    return Person(
        repeats=int(rng.choice([1, 2, 3], p=[0.3, 0.2, 0.5])), bias=float(rng.normal(0, 0.05)), gauges=tuple(errors),
        low_gauge=float(rng.uniform(-1, 1)) * 0.6 * quality * 6, camber=float(rng.normal(0, 0.15)),
        ground=math.exp(float(rng.normal(0, 0.01))), fine=bool(rng.random() < 0.4),
    )  # fmt: skip


class Clerk:
    """Writes the readings of one visit."""

    def __init__(self, bench: Bench, book: Book, person: Person, rng: Rng) -> None:
        self.bench, self.book, self.person, self.rng = bench, book, person, rng
        self.notation = Notation(book.notation.units, person.fine)
        self.celsius = bench.day.celsius + bench.state.hotter

    def reading(self, test: Test, *, wrong: float = 1.0) -> dict[str, Any]:
        """One reading as a mapping; `wrong` is the factor of a slip."""
        keys = dict(test.keys)
        bench = self.bench.at(30.0) if test.variant == "cold" else self.bench
        shown = bench(test)
        value = shown.value * wrong
        row: dict[str, Any] = {"test": test.name, **keys}
        row |= {"variant": test.variant} if test.variant else {}
        match test.name:
            case "cycle-time" | "track-time" | "swing-time" | "travel-time":
                row |= self._timed(test, value, shown.veer)
            case "drift":
                row |= self._drift(keys["cylinder"], value)
            case "creep":
                moved = max(0.0, value + float(self.rng.normal(0, 1)))
                row |= {"hold": "3 min", "moved": self._length(moved)}
            case "stall-pressure" | "pressure" | "pilot-pressure":
                row |= {"pressure": self._pressure(test, value)}
            case "case-drain":
                flow = max(0.0, value * float(self.rng.normal(1, 0.06)))
                at = self.bench.day.work * self.bench.machine.relief
                row |= {"flow": self.notation.write("flow", flow, step=0.1), "pressure": self.notation.pressure(at)}
            case "flow":
                at = self.bench.day.work * self.bench.machine.relief
                flow = max(0.0, value * float(self.rng.normal(1, 0.012)))
                row |= {"flow": self.notation.write("flow", flow), "pressure": self.notation.pressure(at)}
            case "swing-stop":
                angle = max(0.0, value * float(self.rng.normal(1, 0.07)) + float(self.rng.normal(0, 2)))
                row |= {"angle": self.notation.write("angle", angle)}
            case "engine-speed":
                row |= {"speed": self.notation.write("speed", value * float(self.rng.normal(1, 0.003)))}
            case _:
                row |= {"temperature": self.notation.write("temperature", value + float(self.rng.normal(0, 1.5)))}
        if test.variant == "cold":
            row["conditions"] = {"oil-temperature": self.notation.write("temperature", 30.0)}
        return row

    def _timed(self, test: Test, value: float, veer: float) -> dict[str, Any]:
        person, state = self.person, self.bench.state
        value *= (person.ground if test.name == "travel-time" else 1.0) * math.exp(float(self.rng.normal(0, 0.01)))
        sigma = math.hypot(STOPWATCH, LEVER * value) * state.scatter
        times = [max(0.1, value + person.bias + float(self.rng.normal(0, sigma))) for _ in range(person.repeats)]
        row: dict[str, Any] = {}
        if test.name == "swing-time":
            row |= {"turns": self.bench.day.turns}
            row |= {"start": "rest" if self.bench.day.rest else "running"}
        elif test.name == "track-time":
            row |= {"turns": TURNS}
        elif test.name == "travel-time":
            row |= {"distance": self.notation.write("distance", DISTANCE, step=0.1)}
        row["times"] = [self.notation.write("time", time) for time in times]
        if test.name == "travel-time":
            row |= self._veer(test.get("direction"), veer)
        return row

    def _veer(self, way: str, veer: float) -> dict[str, Any]:
        slope = self.person.camber if way == "forward" else -self.person.camber
        seen = veer + slope + float(self.rng.normal(0, 0.08))
        seen = math.copysign(min(abs(seen), FARTHEST), seen)
        offset = self.notation.write("distance", abs(seen), step=0.1 if self.notation.units != "us" else 0.25)
        return {"veer": {"toward": "right" if seen > 0 else "left", "offset": offset}}

    def _drift(self, cylinder: str, value: float) -> dict[str, Any]:
        day, state = self.bench.day, self.bench.state
        moved = max(0.0, value * float(self.rng.normal(1, 0.04)) + float(self.rng.normal(0, 0.5)))
        row: dict[str, Any] = {"hold": self.notation.write("hold", HOLD), "moved": self._length(moved)}
        if self.rng.random() < 0.6:
            write = self.notation.write
            row["oil-start"] = write("temperature", self.celsius)
            row["oil-end"] = write("temperature", self.celsius - day.cools - state.cooling)
        if self.rng.random() < 0.5:
            out = day.stands_out * self.bench.machine.rams[cylinder].stroke
            row["extension"] = self.notation.write("length", out, step=0.5 if self.notation.units == "us" else 10)
        return row

    def _length(self, value: float) -> str:
        return self.notation.write("length", value, step=0.02 if self.notation.units == "us" else 1)

    def _pressure(self, test: Test, value: float) -> str:
        if test.name == "pilot-pressure":
            return self.notation.pressure(
                max(0.0, value * float(self.rng.normal(1, 0.006)) + self.person.low_gauge), low=True
            )
        pump = int(test.get("pump")[-1]) - 1 if test.name == "stall-pressure" else 0
        sigma = 0.004 * self.bench.machine.relief
        return self.notation.pressure(max(0.0, value + self.person.gauges[pump] + float(self.rng.normal(0, sigma))))

    # --- the sheet ------------------------------------------------------------------

    def sheet(
        self, tests: Sequence[Test], complaint: str | None, hours: int, beside: Sequence[dict[str, Any]],
        causes: Sequence[str],
    ) -> dict[str, Any]:  # fmt: skip
        """The whole sheet as a mapping, its machine inline."""
        slipped = int(self.rng.integers(max(1, len(tests)))) if self.rng.random() < SLIP else -1
        factor = math.exp(float(self.rng.choice([-1, 1])) * float(self.rng.uniform(0.15, 0.5)))
        rows = [self.reading(test, wrong=factor if n == slipped else 1.0) for n, test in enumerate(tests)]
        sheet: dict[str, Any] = {"oilpath": "sheet/1", "machine": self.book.machine}
        if self.rng.random() < 0.85:
            sheet["hours"] = hours
        sheet |= {"complaint": complaint} if complaint else {}
        conditions = self._conditions(causes)
        sheet |= {"conditions": conditions} if conditions else {}
        sheet["readings"] = [*rows, *beside]
        return sheet

    def _conditions(self, causes: Sequence[str]) -> dict[str, str]:
        """What somebody wrote down. What would have given the fault away was seldom looked at."""
        rng, write, found = self.rng, self.notation.write, {}
        slow = {"engine.low-speed", "setup.wrong-setting"} & set(causes)
        if rng.random() < 0.8:
            found["oil-temperature"] = write("temperature", self.celsius + float(rng.normal(0, 1)))
        if rng.random() < (0.3 if slow else 0.65):
            speed = self.bench.plant.speed(0.0) * float(rng.normal(1, 0.002))
            found["engine-speed"] = write("speed", speed)
        if rng.random() < 0.5:
            found["ambient-temperature"] = write("temperature", self.bench.day.ambient)
        if rng.random() < (0.2 if "load.not-reference" in causes else 0.6):
            found["attachment"] = "other" if "load.not-reference" in causes else "empty"
        if rng.random() < 0.5:
            found["auto-idle"] = "off"
        if rng.random() < (0.15 if "setup.wrong-setting" in causes else 0.5):
            found["working-setting"] = "reduced" if "setup.wrong-setting" in causes else "full"
        return found
