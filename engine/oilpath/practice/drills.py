"""Drills: short questions with four or five answers, the same for the same seed.

`lookalikes`: two causes that readings take for each other, and the check that tells them apart. `bad-measurements`: a
reading, and whether it was well made. `closed-jobs`: a job from the file, and what it was.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import field
from random import Random
from typing import Any, Final, Literal

from oilpath.bench import Bench, bench_for
from oilpath.documents.closed import ClosedJob
from oilpath.explore.apart import Telling, alike, telling
from oilpath.explore.effects import survey
from oilpath.practice.catalogue import suspects
from oilpath.practice.records import Hides, Key, Option, Slip
from oilpath.records import dataclass

Kind = Literal["lookalikes", "bad-measurements", "closed-jobs"]
KINDS: Final[tuple[Kind, ...]] = ("lookalikes", "bad-measurements", "closed-jobs")
QUESTIONS: Final = 6
_CHOICES: Final = 4
_SLIPS: Final[tuple[Slip, ...]] = ("none", "unit", "repeat", "decimal", "oil")
"""what can be seen on a reading by itself; a lever that is pushed half way cannot"""
_CLEAR: Final = 0.5
"""difference between the outcomes under both causes from which a check tells them apart"""


@dataclass(frozen=True, slots=True)
class Item:
    """One question. choices: ids of what can be answered, `right` the place of the right one."""

    choices: tuple[str, ...]
    right: int
    pair: tuple[Key, Key] | None = None
    telling: Telling | None = None
    option: Option | None = None
    row: Mapping[str, Any] = field(default_factory=dict)
    job: ClosedJob | None = None


@dataclass(frozen=True, slots=True)
class Answered:
    """An answer to an item. chosen: None if it names none of the choices."""

    item: Item
    chosen: int | None

    @property
    def right(self) -> bool:
        """Whether the right answer was chosen."""
        return self.chosen == self.item.right


class Drill:
    """A series of questions. Each line that is typed moves it on, as in a session."""

    def __init__(self, kind: Kind, items: Sequence[Item], lines: Sequence[str] = ()) -> None:
        self.kind, self.items = kind, tuple(items)
        self.answers: list[Answered] = []
        self.left = False
        for line in lines:
            self.give(line)

    @property
    def item(self) -> Item | None:
        """The question that is asked now; None at the end."""
        return None if self.left or len(self.answers) == len(self.items) else self.items[len(self.answers)]

    def give(self, line: str) -> Answered | None:
        """Take a line: the number of a choice, or `q`. If the line names no choice, the question is asked again."""
        item, text = self.item, line.strip().lower()
        if item is None:
            return None
        if text == "q":
            self.left = True
            return None
        number = int(text) if text.isascii() and text.isdecimal() and len(text) < 3 else 0
        if not 1 <= number <= len(item.choices):
            return Answered(item, None)
        answered = Answered(item, number - 1)
        self.answers.append(answered)
        return answered


def lookalikes(bench: Bench, seed: int) -> tuple[Item, ...]:
    """Pairs of causes that look alike in the tests, each with the check that tells them apart."""
    rng, view = Random(seed), survey(bench)
    order = [number for number in range(len(bench.hypotheses)) if not bench.model.silent[number]]
    rng.shuffle(order)
    found: list[Item] = []
    seen: set[frozenset[str]] = set()
    for number in order:
        one = bench.hypotheses[number]
        for other_number, _ in alike(bench, view, number, 3):
            other = bench.hypotheses[other_number]
            pair = ((one.cause.cause, one.part), (other.cause.cause, other.part))
            kinds = frozenset((pair[0][0], pair[1][0]))
            item = _told_apart(bench, pair, rng) if kinds not in seen else None
            if item is not None:
                seen.add(kinds)
                found.append(item)
                break
        if len(found) == QUESTIONS:
            break
    return tuple(found)


def _told_apart(bench: Bench, pair: tuple[Key, Key], rng: Random) -> Item | None:
    """A question about a pair; None where no check tells them apart, or every one does."""
    tells = telling(bench, *pair)
    if not tells or tells[0].distance < _CLEAR:
        return None
    best = tells[0]
    told = {one.check.check for one in tells}
    others = sorted(
        {
            (check.check, part)
            for check in bench.knowledge.checks
            if check.check not in told
            for part in bench.places.of(check)[:1]
        }
    )
    if len(others) < _CHOICES - 1:
        return None
    choices = [f"{name} {part}" for name, part in rng.sample(others, _CHOICES - 1)]
    right = rng.randrange(_CHOICES)
    choices.insert(right, f"{best.check.check} {best.part}")
    return Item(tuple(choices), right, pair=pair, telling=best)


def bad_measurements(hidden: Hides, seed: int) -> tuple[Item, ...]:
    """Readings of one machine; about half of them are badly made."""
    rng = Random(seed)
    options = [one for one in hidden.options if one.test.endswith("-time") or one.test in _MEASURED]
    rng.shuffle(options)
    found = []
    for option in options:
        fitting = ["none", *_SLIPS[1:]] if option.test.endswith("-time") else ["none", "unit"]
        if option.test.endswith("-time"):
            fitting.remove("unit")
        slip: Any = "none" if rng.random() < 0.35 else rng.choice(fitting[1:])
        row = hidden.reading(option, 0, slip)
        if row is None:
            continue
        found.append(Item(tuple(_SLIPS), _SLIPS.index(slip), option=option, row=row))
        if len(found) == QUESTIONS:
            break
    return tuple(found)


_MEASURED: Final = ("stall-pressure", "pilot-pressure", "drift")


def closed_jobs(jobs: Sequence[ClosedJob], knowledge: Any, seed: int) -> tuple[Item, ...]:
    """Closed jobs in random order; those whose first repair was wrong come first."""
    rng = Random(seed)
    order = list(jobs)
    rng.shuffle(order)
    order.sort(key=lambda one: not any(remedy.helped is False for remedy in one.sheet.remedies))
    found = []
    for job in [*order[:2], *rng.sample(order[2:], min(len(order) - 2, QUESTIONS - 2) if len(order) > 2 else 0)]:
        bench = bench_for(job.sheet.machine, knowledge)
        true = job.job.found[0]
        known = {" ".join(one.key) for one in suspects(bench)}
        right_id = f"{true.cause} {true.part}"
        wrong = sorted(
            {f"{one.cause} {one.part}" for other in jobs for one in other.job.found} & known
            - {f"{one.cause} {one.part}" for one in job.job.found}
        )  # fmt: skip
        if right_id not in known or len(wrong) < _CHOICES - 1:
            continue
        rng.shuffle(wrong)
        near = {true.part.partition("-")[0], true.cause.partition(".")[0]}
        related = {one for one in wrong if not near.isdisjoint(re.split(r"[ .-]", one))}
        wrong = [*(one for one in wrong if one in related), *(one for one in wrong if one not in related)]

        choices = wrong[: _CHOICES - 1]
        right = rng.randrange(_CHOICES)
        choices.insert(right, right_id)
        found.append(Item(tuple(choices), right, job=job))
    return tuple(found)
