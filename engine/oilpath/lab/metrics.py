"""How well stated probabilities match the truth: pure functions of a table of cases."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from oilpath.arrays import Array, Indexes


def brier(probabilities: Array | Sequence[Sequence[float]], truth: Sequence[int]) -> float:
    """Mean over cases of the squared distance of the stated probabilities from the truth; 0 best, 2 worst.

    probabilities (cases, alternatives), truth (cases,) the alternative that was true. Raises ValueError if the
    shapes do not fit. Source: G. W. Brier, Monthly Weather Review 78 (1950) 1 (formula from memory).
    """
    table, true = _checked(probabilities, truth)
    wanted = np.zeros_like(table)
    wanted[np.arange(len(true)), true] = 1
    return float(((table - wanted) ** 2).sum(axis=1).mean())


def log_score(probabilities: Array | Sequence[Sequence[float]], truth: Sequence[int]) -> float:
    """Mean over cases of −ln of the probability given to the truth [nats]; infinite where that was 0.

    Arguments as for `brier`. Source: I. J. Good, J. R. Stat. Soc. B 14 (1952) 107 (formula from memory).
    """
    table, true = _checked(probabilities, truth)
    given = table[np.arange(len(true)), true]
    return float(-np.log(given).mean()) if (given > 0).all() else float("inf")


def reciprocal_rank(probabilities: Array | Sequence[Sequence[float]], truth: Sequence[int]) -> float:
    """Mean over cases of 1/(place of the truth when sorted by probability); alternatives that tie with it come first.

    Arguments as for `brier`.
    """
    table, true = _checked(probabilities, truth)
    given = table[np.arange(len(true)), true]
    return float((1 / (table >= given[:, None]).sum(axis=1)).mean())


def _checked(probabilities: Array | Sequence[Sequence[float]], truth: Sequence[int]) -> tuple[Array, Indexes]:
    table, true = np.asarray(probabilities, dtype=np.float64), np.asarray(truth, dtype=np.intp)
    if table.ndim != 2 or true.shape != table.shape[:1] or not len(true):
        raise ValueError(f"a row of probabilities for each of one or more cases is wanted, not {table.shape}")
    if (true < 0).any() or (true >= table.shape[1]).any():
        raise ValueError(f"the truth must be one of {table.shape[1]} alternatives, counted from 0")
    return table, true
