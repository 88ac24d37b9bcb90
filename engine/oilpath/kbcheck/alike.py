"""Causes with the same signature: every test would read the same under both."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from oilpath.arrays import Array, Mask
from oilpath.bench import Bench
from oilpath.outcomes import CauseKey, table

ALIKE = 0.08
"""largest difference of any reading at which two causes look the same, in what is noticeable for its test"""
PARTS = 0.3
"""difference of the probabilities of its outcomes (total variation) from which a check parts two causes"""


def alike(curves: Array, noticeable: Array, middle: int) -> Mask:
    """Which hypotheses look the same, shape (H, H): one at its severity `middle` is the other at some severity.

    curves (H, S, R): effects on all readings. noticeable (R,). Hypotheses that no reading shows are like nothing.
    """
    scaled = curves / noticeable
    start, way = scaled[:, :-1], np.diff(scaled, axis=1)
    length = np.maximum((way**2).sum(axis=2), 1e-12)
    many = len(curves)
    same: Mask = np.zeros((many, many), dtype=bool)
    for number in range(many):
        here = scaled[number, middle]
        if np.abs(here).max(initial=0.0) < 1:
            continue
        share = np.clip(((here - start) * way).sum(axis=2) / length, 0.0, 1.0)
        off = np.abs(start + share[:, :, None] * way - here).max(axis=2)
        same[number] = off.min(axis=1) < ALIKE * max(1.0, float(np.abs(here).max()))
    np.fill_diagonal(same, False)
    return np.asarray(same | same.T)


def parting(bench: Bench, pairs: Iterable[tuple[CauseKey, CauseKey]]) -> list[str | None]:
    """For each pair of causes the check that tells them apart best, None if none does."""
    wanted = list(pairs)
    causes = list(dict.fromkeys(cause for pair in wanted for cause in pair))
    found_checks = table(bench, causes)
    found: list[str | None] = []
    for one, two in wanted:
        first, second = (found_checks.likelihood[:, :, causes.index(cause)] for cause in (one, two))
        apart = np.abs(first - second).sum(axis=1) / 2
        parted = len(apart) > 0 and apart.max() >= PARTS
        found.append(found_checks.checks[int(apart.argmax())][0].check if parted else None)
    return found
