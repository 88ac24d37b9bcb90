"""How likely each severity of a cause is on a sheet, for those who ask what a further reading would be."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array, Indexes
from oilpath.physics.predictions import SEVERITIES

WORKED_OUT = 1e-3
"""share of a cause from which its severities are handed on"""


def severities(hypothesis: Indexes, node: Indexes, joint: Array, many: int, nodes: int = SEVERITIES) -> Array:
    """Weights of the severity nodes of every hypothesis, shape (many, nodes); each row adds up to 1.

    hypothesis, node, joint (rows,): the rows of the posterior, ln prior + ln likelihood. Where a hypothesis has one row
    alone (it moves no reading, or is far behind by itself) its severity is not known: all nodes weigh the same.
    """
    table = np.full((many, nodes), -np.inf)
    table[hypothesis, node] = joint
    table[np.bincount(hypothesis, minlength=many) < 2] = 0.0
    weights: Array = np.exp(table - table.max(axis=1, keepdims=True))
    weights /= weights.sum(axis=1, keepdims=True)
    return weights


def of_cause(weights: Array, single: Array, mine: Indexes) -> tuple[float, ...]:
    """The weights of a cause with these hypotheses (its variants), one variant after the other; they add up to 1.

    weights (hypotheses, nodes) as of `severities`, single (hypotheses,): what each hypothesis is likely by itself.
    """
    shares = single[mine]
    total = float(shares.sum())
    shares = shares / total if total > 0 else np.full(len(mine), 1 / len(mine))
    return tuple((weights[mine] * shares[:, None]).ravel().tolist())
