"""Draws whole cases: a machine, what is wrong with it, and the sheet that a technician brings home."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from oilpath.lab.family.bench import Bench, Day, Test, with_keys
from oilpath.lab.family.book import Book, write_book
from oilpath.lab.family.checks import answer
from oilpath.lab.family.faults import FAULTS, Fault, Key
from oilpath.lab.family.harms import Blow
from oilpath.lab.family.layout import LAYOUTS
from oilpath.lab.family.machine import Machine, Rng, draw_type, one_of
from oilpath.lab.family.seen import codes, signs
from oilpath.lab.family.sheet import Clerk, Person, draw_person
from oilpath.lab.family.state import State
from oilpath.lab.family.visit import Habits, choose, measurable, places, routine, shows

KINDS: Final = tuple(LAYOUTS)
SHEETS: Final = ("full", "thin", "3", "5", "8", "pairs", "sound")
"""kinds of sheets: one fault on a full sheet, a thin one, or 3, 5, 8 readings; two faults; none"""
_SAME_FAULT: Final = 4
"""severities tried before another fault is drawn"""
_TRIES: Final = 200


@dataclass(frozen=True)
class Case:
    """One machine with a hidden truth. `machine` and `sheet` are what oilpath reads; `truths` what is wrong."""

    kind: str
    seed: int
    index: int
    sheet_kind: str
    machine: dict[str, Any]
    sheet: dict[str, Any]
    truths: tuple[Key, ...]
    hours: int
    severities: tuple[float, ...]
    shown: bool
    """whether some reading of the sheet is out of its limit by the fault"""
    _scene: Scene = field(repr=False, compare=False)

    @property
    def name(self) -> str:
        return f"{self.kind}-{self.sheet_kind}-{self.seed}-{self.index}.yaml"

    def text(self) -> str:
        """The sheet as a file, its machine inline; JSON, which is YAML."""
        return json.dumps(self.sheet, ensure_ascii=False)

    def measure(self, test: str, keys: dict[str, str], variant: str = "") -> dict[str, Any] | None:
        """A further reading as a line of the sheet; None if this machine cannot give it.

        The same reading is given the same value however often and in whatever order it is asked for.
        """
        return self._scene.measure(with_keys(test, keys, variant))

    def answer(self, check: str, part: str) -> str | None:
        """The outcome of a check of the knowledge base at a part; None if the family has no physics for it."""
        rng = chance_of(self.seed, self.index, "check", check, part)
        return answer(check, part, self.truths, self._scene.ill, self._scene.sound, rng)


@dataclass(frozen=True)
class Scene:
    """What a case keeps to answer more questions."""

    ill: Bench
    sound: Bench
    book: Book
    person: Person
    habits: Habits
    stream: tuple[int, int]

    def measure(self, test: Test) -> dict[str, Any] | None:
        try:
            here, there = self.ill(test), self.sound(test)
        except (KeyError, StopIteration, AssertionError):
            return None
        if not measurable(test, here.value, there.value):
            return None
        return Clerk(self.ill, self.book, self.person, chance_of(*self.stream, test.id)).reading(test)


def chance_of(*key: int | str) -> Rng:
    """A stream of chance of its own for a key."""
    words = [k if isinstance(k, int) else int.from_bytes(k.encode()[:64], "big") for k in key]
    return np.random.default_rng(np.random.SeedSequence(words))


def draw(kind: str, seed: int, index: int, sheet_kind: str) -> Case:
    """Draw one case. The same arguments give the same bytes.

    Parameters
    ----------
    kind : str, `two-pump-excavator`, `compact-excavator` or `wheel-loader`
    seed, index : int, zero or more
    sheet_kind : str, one of SHEETS

    Raises
    ------
    ValueError : a kind of machine or sheet that the family does not have
    """
    if kind not in LAYOUTS or sheet_kind not in SHEETS:
        raise ValueError(f"the family has {', '.join(KINDS)} with sheets {', '.join(SHEETS)}, not {kind}, {sheet_kind}")
    rng = np.random.default_rng(np.random.SeedSequence([seed, index, KINDS.index(kind), SHEETS.index(sheet_kind)]))
    type_ = draw_type(kind, rng)
    machine = one_of(type_, rng)
    day = draw_day(rng)
    book = write_book(type_, day, rng)
    hours = int(rng.gamma(3.0, 1800.0)) + 50
    person = draw_person(len(machine.layout.pumps), machine.relief, rng)
    habits = routine(machine, book, rng)
    sound = Bench(machine, State(), day)
    many = {"pairs": 2, "sound": 0}.get(sheet_kind, 1)
    fault: tuple[tuple[Fault, str], ...] = ()
    for number in range(_TRIES):
        if number % _SAME_FAULT == 0:
            fault = pick(machine, hours, many, rng)
        state, severities = harm(machine, fault, rng)
        ill = Bench(machine, state, day)
        tests, felt = choose(habits, sheet_kind, ill, sound, book, rng)
        shown = all_show(machine, fault, severities, tests, ill, sound, book, person)
        if shown or not many:
            break
    truths = tuple((one.cause, part) for one, part in fault)
    clerk = Clerk(ill, book, person, rng)
    beside = [
        *signs(truths, machine, _dead(ill, sound), rng),
        *codes(truths, machine, book.machine.get("codes", {}), rng),
    ]
    causes = [cause for cause, _ in truths]
    sheet = clerk.sheet(tests, _complaint(felt, many, ill, sound, rng), hours, beside, causes)
    scene = Scene(ill, sound, book, person, habits, (seed, index))
    return Case(
        kind, seed, index, sheet_kind, book.machine, sheet, truths, hours, severities, bool(shown and many), scene
    )


def draw_day(rng: Rng) -> Day:
    """The conditions of a visit: warm oil, the throttle nearly right."""
    celsius = float(rng.uniform(51, 59)) if rng.random() < 0.96 else float(rng.uniform(47, 64))
    quarter = rng.random() < 0.12
    return Day(
        celsius=round(celsius), throttle=float(np.clip(rng.normal(1, 0.006), 0.987, 1.013)),
        cools=float(max(0.0, rng.normal(1.5, 1.2))),
        stands_out=float(rng.uniform(0.3, 0.7)), turns=0.25 if quarter else 3.0,
        rest=bool(quarter or rng.random() < 0.8), work=float(rng.uniform(0.5, 0.75)),
        ambient=float(rng.integers(2, 32)),
    )  # fmt: skip


def pick(
    machine: Machine, hours: int, many: int, rng: Rng, faults: Sequence[Fault] = FAULTS, known: Collection[Key] = ()
) -> tuple[tuple[Fault, str], ...]:
    """Faults by their frequency at the machine's hours, each at one of its places; two are of different kinds.

    known: the causes at their parts that may be drawn; none: all.
    """
    there = [
        (fault, [part for part in fault.places(machine) if not known or (fault.cause, part) in known])
        for fault in faults
    ]
    there = [(fault, parts) for fault, parts in there if parts]
    odds = np.array([fault.frequency(hours) for fault, _ in there])
    chosen = []
    for n in rng.choice(len(there), size=many, replace=False, p=odds / odds.sum()).tolist():
        fault, parts = there[n]
        chosen.append((fault, str(parts[int(rng.integers(len(parts)))])))
    return tuple(chosen)


def harm(machine: Machine, faults: Sequence[tuple[Fault, str]], rng: Rng) -> tuple[State, tuple[float, ...]]:
    """A state with the faults done to it; severities lean to the lesser ones, as machines come before all is lost."""
    state = State()
    severities = tuple(float(rng.beta(1.1, 1.6)) for _ in faults)
    for (fault, part), severity in zip(faults, severities, strict=True):
        fault.act(Blow(machine, state, part, severity, rng))
    return state, severities


def all_show(
    machine: Machine, faults: Sequence[tuple[Fault, str]], severities: Sequence[float], tests: Sequence[Test],
    ill: Bench, sound: Bench, book: Book, person: Person,
) -> bool:  # fmt: skip
    """Whether each fault by itself brings a reading of the sheet out of its limit."""
    if len(faults) < 2:
        return any(shows(test, ill, sound, book) for test in tests) or _scatters(ill, tests, person)
    if not any(shows(test, ill, sound, book) for test in tests):
        return False
    for (fault, part), severity in zip(faults, severities, strict=True):
        state = State()
        fault.act(Blow(machine, state, part, severity, np.random.default_rng(0)))
        alone = Bench(machine, state, ill.day)
        if not any(shows(test, alone, sound, book) for test in tests) and not _scatters(alone, tests, person):
            return False
    return True


def _scatters(bench: Bench, tests: Sequence[Test], person: Person) -> bool:
    """Whether the repeats lie visibly apart, where there are any."""
    timed = any(test.name.endswith("-time") for test in tests)
    return bench.state.scatter >= 5 and timed and person.repeats > 1


_WORDS: Final = {
    "cycle-time": "{what} is slow", "swing-time": "Swing is slow", "travel-time": "Travels slowly or pulls to one side",
    "track-time": "One track is slow", "drift": "{what} sinks under load", "swing-stop": "Swing runs on",
    "creep": "Creeps on a slope", "stall-pressure": "{what} has no force",
}  # fmt: skip


def _complaint(felt: Test | None, many: int, ill: Bench, sound: Bench, rng: Rng) -> str | None:
    """What the driver says. Half of the sound machines come with a complaint that no reading supports."""
    if not many:
        words = ["Feels weaker than before", "Slow since last week", "Driver says it uses more fuel", "Jerky at times"]
        return str(rng.choice(words)) if rng.random() < 0.5 else None
    if felt is None:
        return "Does not work as it should"
    if felt.name == "cycle-time" and _how_many_slow(ill, sound) > 0.7:
        return "Everything is slow"
    what = next(iter(sorted(places(felt))), "machine").capitalize().replace("-", " ")
    return _WORDS[felt.name].format(what=what)


def _dead(ill: Bench, sound: Bench) -> bool:
    """Whether no movement of a cylinder can be timed."""
    tests = [with_keys("cycle-time", {"function": m.name}) for m in ill.machine.layout.movements]
    return not any(measurable(test, ill(test).value, sound(test).value) for test in tests)


def _how_many_slow(ill: Bench, sound: Bench) -> float:
    names = [with_keys("cycle-time", {"function": m.name}) for m in ill.machine.layout.movements]
    return sum(ill(test).value > 1.1 * sound(test).value for test in names) / len(names)
