"""Slips of writing, summed out: a reading, or several written alike, may not be what was meant.

P(e | cause) = (1 − Σp)·P(e as read) + Σ p·P(e as meant | cause). A slip explains readings and says nothing about parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from oilpath.arrays import Array, log_sum
from oilpath.flow import Evidence
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.ranking.likelihood import Likelihood

MOST = 0.5
"""largest probability that all slips of a sheet have together"""


@dataclass(frozen=True, slots=True)
class Shift:
    """What the deviations of a sheet change by if a slip was made, shape (R,), and how probable that is."""

    by: Array
    probability: float


def shifts(evidence: Sequence[Evidence], e: Array, censored: Array) -> tuple[Shift, ...]:
    """The slips that the readings may hold: each by itself, and readings that share one together.

    Whoever mixes up two units, or left and right, does so for a whole test, or for all that a gauge reads. e (R,) are
    the deviations as the likelihood takes them, censored (R,) where a reading only says "much".
    """
    made: dict[tuple[float, ...], float] = {}
    of_test: dict[tuple[str, str], list[tuple[int, float]]] = {}
    of_all: dict[str, list[tuple[int, float]]] = {}
    for number, one in enumerate(evidence):
        for slip in one.slips:
            meant = float(np.clip(one.e + slip.shift, -censored[number], censored[number]))
            step = number, meant - float(e[number])
            of_test.setdefault((slip.id, one.test), []).append(step)
            of_all.setdefault(slip.id, []).append(step)
            _add(made, [step], len(evidence), slip.probability)
    chance = {slip.id: slip.probability for one in evidence for slip in one.slips}
    for (name, _), steps in of_test.items():
        _add(made, steps, len(evidence), chance[name])
    for name, steps in of_all.items():
        _add(made, steps, len(evidence), chance[name])
    shifts_made = [Shift(np.array(by), probability) for by, probability in made.items()]
    total = sum(made.values())
    return tuple(replace(one, probability=one.probability * min(1.0, MOST / total)) for one in shifts_made)


def _add(made: dict[tuple[float, ...], float], steps: Sequence[tuple[int, float]], size: int, chance: float) -> None:
    by = np.zeros(size)
    for number, shift in steps:
        by[number] = shift
    key = tuple(by.tolist())
    made[key] = max(made.get(key, 0.0), chance)


def mixed(fits: Likelihood, logs: Array) -> Likelihood:
    """The likelihood (N,) with slips summed out, from those (N, slips + 1) as read and after each slip."""
    if len(logs) == 1:
        return replace(
            fits,
            plain=fits.plain[:, 0],
            without=fits.without[:, 0],
            robust=fits.robust[:, 0],
            distance=fits.distance[:, 0],
        )
    joint = fits.robust + logs
    return replace(
        fits,
        plain=log_sum(fits.plain + logs, axis=1),
        without=log_sum(fits.without + logs[:, None], axis=1),
        robust=log_sum(joint, axis=1),
        distance=np.take_along_axis(fits.distance, joint.argmax(axis=1)[:, None], axis=1)[:, 0],
    )


def logs_of(slips: Sequence[Shift]) -> Array:
    """ln probability that all is as read, then of each slip, shape (slips + 1,)."""
    chances = np.array([slip.probability for slip in slips])
    result: Array = np.log(np.concatenate([[1 - chances.sum()], chances]))
    return result
