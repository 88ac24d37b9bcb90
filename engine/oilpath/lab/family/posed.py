"""A machine of the family posed as another one: its circuit's choices are taken over, then a fault is hidden in it.

What a reading of it would be is a share of what its own type shows when new. Whoever asks knows what the other
machine shows when new, and multiplies.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from oilpath.lab.family.bench import KEYS, Bench, Day, Test, all_tests, with_keys
from oilpath.lab.family.book import Book, Limit
from oilpath.lab.family.checks import answer
from oilpath.lab.family.draw import all_show, chance_of, draw_day, harm, pick
from oilpath.lab.family.faults import FAULTS, Key
from oilpath.lab.family.layout import LAYOUTS
from oilpath.lab.family.machine import Machine, Rng, draw_type, one_of
from oilpath.lab.family.notation import Notation
from oilpath.lab.family.seen import signs
from oilpath.lab.family.sheet import Clerk, Person, draw_person
from oilpath.lab.family.state import State
from oilpath.lab.family.visit import deviation, measurable, shows

_TYPES: Final = 40
"""types drawn, of which the one nearest in size is taken"""
_TRIES: Final = 120
_SAME_FAULT: Final = 4
_COMMON: Final = 3
"""weight from which a fault is a common one"""
_FELT: Final = (
    "cycle-time", "swing-time", "travel-time", "track-time", "drift", "swing-stop", "creep", "stall-pressure",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Given:
    """What the other machine fixes: the pump of each group, the second pump of a movement, parts that it lacks.

    displacement in cm³/rev and relief in MPa choose a type of about its size; units are `metric`, `bar` or `us`.
    """

    kind: str
    feeds: Mapping[str, str]
    merge: Mapping[str, str]
    absent: frozenset[str]
    control: str
    units: str
    displacement: float | None = None
    relief: float | None = None
    celsius: float | None = None
    """oil temperature in °C that its tests ask for"""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be hidden: how many faults, among which causes and parts, common ones alone or all."""

    many: int
    known: frozenset[Key]
    common: bool = False
    limits: Mapping[Test, Limit] = field(default_factory=dict)
    """limits in the figures of the family's own type"""
    tests: tuple[Test, ...] = ()
    """readings that can be taken, in one of which each fault must show; none: all that the machine can give"""


@dataclass(frozen=True, slots=True)
class Felt:
    """What the driver feels: a reading, and whether it is more than it should be; None: nothing."""

    test: Test | None
    more: bool = True
    everything: bool = False


class Posed:
    """A type with one machine of it, on one day, before anything is hidden."""

    def __init__(self, given: Given, seed: int) -> None:
        rng = chance_of(seed, "posed", given.kind)
        self.given, self.seed = given, seed
        self.type = _taken_over(_nearest(given, rng), given)
        self.machine = one_of(self.type, rng)
        self.day = replace(draw_day(rng), turns=3.0, rest=True)
        if given.celsius is not None:
            self.day = replace(self.day, celsius=given.celsius)
        self.hours = int(rng.gamma(3.0, 1800.0)) + 50
        drawn = draw_person(len(self.machine.layout.pumps), self.machine.relief, rng)
        self.person: Person = replace(drawn, repeats=3)
        self._new = Bench(self.type, State(), replace(self.day, celsius=Day().celsius, throttle=1.0))
        self._rng = rng

    def tests(self) -> tuple[Test, ...]:
        """Every reading that this machine can give."""
        return tuple(test for test in all_tests(self.machine) if math.isfinite(self._new(test).value))

    def new(self, test: Test) -> float:
        """What the type shows when new, in s, mm, MPa, L/min, rpm, degrees or °C."""
        return self._new(test).value

    def hide(self, wish: Wish) -> Hidden:
        """Hide faults. Raises ValueError where none of those that are wanted shows on this machine."""
        rng, tests = self._rng, wish.tests or self.tests()
        sound = Bench(self.machine, State(), self.day)
        book = Book({}, dict(wish.limits), {}, Notation(self.given.units), ())
        faults = [one for one in FAULTS if one.weight >= _COMMON] if wish.common else FAULTS
        chosen: tuple[Any, ...] = ()
        for number in range(_TRIES):
            if number % _SAME_FAULT == 0:
                chosen = pick(self.machine, self.hours, wish.many, rng, faults, wish.known)
            state, severities = harm(self.machine, chosen, rng)
            ill = Bench(self.machine, state, self.day)
            there = [test for test in tests if measurable(test, ill(test).value, sound(test).value)]
            if not wish.many or all_show(self.machine, chosen, severities, there, ill, sound, book, self.person):
                break
        else:
            raise ValueError("no fault that is wanted shows on this machine")
        truths = tuple((one.cause, part) for one, part in chosen)
        felt = _felt(tests, ill, sound, rng) if wish.many else Felt(None)
        seen = signs(truths, self.machine, False, rng)
        scene = _Scene(ill, sound, book, self.person, self.seed)
        return Hidden(truths, severities, felt, tuple(seen), scene)


@dataclass(frozen=True, slots=True)
class _Scene:
    ill: Bench
    sound: Bench
    book: Book
    person: Person
    seed: int


@dataclass(frozen=True, slots=True)
class Hidden:
    """The machine with its faults. `truths` are causes at parts, `signs` lines of a sheet."""

    truths: tuple[Key, ...]
    severities: tuple[float, ...]
    felt: Felt
    signs: tuple[dict[str, Any], ...]
    _scene: _Scene = field(repr=False)

    def reading(self, test: Test, factor: float, nth: int, *, celsius: float | None = None) -> dict[str, Any] | None:
        """The `nth` time that a reading is taken, as a line of the sheet; None where nothing moves.

        factor: what the family's figure is multiplied by. celsius: oil temperature in °C, if not that of the day.
        """
        scene = self._scene
        try:
            here, there = scene.ill(test), scene.sound(test)
        except (KeyError, StopIteration, AssertionError):
            return None
        if not measurable(test, here.value, there.value):
            return None
        bench = scene.ill if celsius is None else scene.ill.at(celsius + scene.ill.state.hotter)
        clerk = Clerk(bench, scene.book, scene.person, chance_of(scene.seed, test.id, nth))
        return clerk.reading(test, wrong=factor)

    def check(self, check: str, part: str) -> str | None:
        """The outcome of a check at a part; None if the family has no physics for it."""
        scene = self._scene
        rng = chance_of(scene.seed, "check", check, part)
        try:
            return answer(check, part, self.truths, scene.ill, scene.sound, rng)
        except (KeyError, StopIteration, AssertionError, ValueError, IndexError):
            return None

    def shows(self, test: Test) -> bool:
        """Whether the faults bring a reading out of its limit."""
        scene = self._scene
        return shows(test, scene.ill, scene.sound, scene.book)


def test_of(name: str, keys: Mapping[str, str]) -> Test | None:
    """A test by its name and keys as on a sheet; None if the family does not have it."""
    if name not in KEYS or any(key not in keys for key in KEYS[name]):
        return None
    return with_keys(name, dict(keys))


def _nearest(given: Given, rng: Rng) -> Machine:
    """Of many drawn types the one whose pump and relief are nearest to what is given."""

    def far(one: Machine) -> float:
        size = 0.0 if given.displacement is None else abs(math.log(one.displacement[0] / given.displacement))
        return size + (0.0 if given.relief is None else 5 * abs(math.log(one.relief / given.relief)))

    return min((draw_type(given.kind, rng) for _ in range(_TYPES)), key=far)


def _taken_over(drawn: Machine, given: Given) -> Machine:
    """The type with the other machine's allocation of pumps, absent parts and control."""
    feeds = {group: given.feeds.get(group, pump) for group, pump in drawn.feeds.items()}
    shares = [share for _, share in drawn.merge.values()] or [0.8]
    usual = float(np.mean(shares))
    merge = {
        name: (pump, drawn.merge[name][1] if name in drawn.merge else usual)
        for name, pump in given.merge.items()
        if any(name == one.name for one in drawn.layout.movements)
    }
    control = given.control if not drawn.layout.load_sensing else drawn.control
    return replace(drawn, feeds=feeds, merge=merge, absent=given.absent, control=control)


def _felt(tests: Sequence[Test], ill: Bench, sound: Bench, rng: Rng) -> Felt:
    """The reading that the driver feels, the more so the further it is off; pressures and drains are not felt."""
    off = [(deviation(test, ill, sound), test) for test in tests if test.name in _FELT and not test.variant]
    sizes = [(min(abs(size), 6.0), size, test) for size, test in off if abs(size) > 0.5]
    if not sizes:
        return Felt(None)
    weights = [size**2 * (0.5 if test.name == "stall-pressure" else 1.0) for size, _, test in sizes]
    total = sum(weights)
    _, size, test = sizes[int(rng.choice(len(sizes), p=[one / total for one in weights]))]
    cycles = [one for one in tests if one.name == "cycle-time"]
    slow = sum(ill(one).value > 1.1 * sound(one).value for one in cycles) / max(len(cycles), 1)
    return Felt(test, size > 0, everything=test.name == "cycle-time" and slow > 0.7)


def kinds() -> Collection[str]:
    """The circuits that the family can pose as."""
    return LAYOUTS.keys()
