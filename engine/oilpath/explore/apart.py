"""What tells two causes apart: tests that they move differently, and checks whose outcomes differ."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array
from oilpath.bench import Bench
from oilpath.explore.effects import MIDDLE, NOTICED, Effect, Survey
from oilpath.knowledge.check import Check
from oilpath.outcomes.table import SOUND, table
from oilpath.records import dataclass

_FAR = 4.0
"""difference beyond which a reading does not count for more"""
_TELLS = 0.2
"""difference between the probabilities of the outcomes from which a check is named"""
_CLOSE = 1.0
"""mean square of the difference up to which two causes look alike"""

CauseKey = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Telling:
    """A check at a part, and P(outcome) of each outcome under one cause and under the other."""

    check: Check
    part: str
    one: tuple[float, ...]
    other: tuple[float, ...]

    @property
    def distance(self) -> float:
        """By how much they differ, 0 to 1 (total variation)."""
        return sum(abs(a - b) for a, b in zip(self.one, self.other, strict=True)) / 2


@dataclass(frozen=True, slots=True)
class Difference:
    """One reading under two causes."""

    one: Effect
    other: Effect

    @property
    def size(self) -> float:
        """By how much they differ, in what counts as noticeable."""
        return abs(self.one.size - self.other.size)


def most_alike(view: Survey, one: int, others: list[int], severity: int = MIDDLE) -> tuple[int, int]:
    """Which of some hypotheses, and at which severity, looks most like another one at `severity`."""
    cost = _costs(view, one, severity)[others]
    place, at = np.unravel_index(int(cost.argmin()), cost.shape)
    return others[int(place)], int(at)


def _costs(view: Survey, one: int, severity: int) -> Array:
    """How far every hypothesis is from one, shape (hypotheses, severities)."""
    size = view.size
    far: Array = np.minimum(np.abs(size - size[one, severity]), _FAR) ** 2
    cost: Array = far.mean(axis=2)
    return cost


def differences(view: Survey, one: tuple[int, int], other: tuple[int, int]) -> tuple[Difference, ...]:
    """The readings that two hypotheses at their severities move differently, the largest difference first."""
    mine = {effect.reading.result: effect for effect in view.of(*one)}
    found = [Difference(mine[effect.reading.result], effect) for effect in view.of(*other)]
    return tuple(
        sorted((two for two in found if two.size >= NOTICED), key=lambda two: (-two.size, two.one.reading.result))
    )


def telling(bench: Bench, one: CauseKey, other: CauseKey = SOUND) -> tuple[Telling, ...]:
    """The checks whose outcomes differ under two causes: the clearest first, then the least work.

    By default against a sound machine.
    """
    known = table(bench, [one, other])
    found = []
    for number, (check, part) in enumerate(known.checks):
        chance = known.likelihood[number, : len(check.outcomes)]
        found.append(Telling(check, part, tuple(chance[:, 0].tolist()), tuple(chance[:, 1].tolist())))
    return tuple(
        sorted(
            (two for two in found if two.distance >= _TELLS),
            key=lambda two: (
                -round(two.distance, 1), two.check.intrusiveness, two.check.minutes, two.check.check, two.part
            ),
        )
    )  # fmt: skip


def alike(bench: Bench, view: Survey, one: int, most: int) -> tuple[tuple[int, int], ...]:
    """Hypotheses of other kinds of cause that the tests can take for this one, with their severity, the likest first.

    None for a cause that no test shows.
    """
    if bench.model.silent[one]:
        return ()
    cost = _costs(view, one, MIDDLE)
    at = cost.argmin(axis=1)
    least = cost.min(axis=1)
    own = bench.hypotheses[one]
    found: dict[str, tuple[int, int]] = {}
    for number in np.argsort(least, kind="stable").tolist():
        other = bench.hypotheses[number]
        if least[number] > _CLOSE or len(found) == most:
            break
        if other.cause.cause != own.cause.cause and not bench.model.silent[number]:
            found.setdefault(other.cause.cause, (number, int(at[number])))
    return tuple(found.values())
