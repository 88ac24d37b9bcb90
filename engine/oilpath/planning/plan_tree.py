"""The plan as arrays: greedy by information for its cost, level by level, until one unit is left.

Works on numbers alone, so that it can be compared with the exact optimum on small problems.
"""

from __future__ import annotations

from dataclasses import field

import numpy as np

from oilpath.arrays import Array, Indexes, small_product
from oilpath.records import dataclass


@dataclass(frozen=True, slots=True)
class PlanLimits:
    """When a branch of the plan ends."""

    isolated: float = 0.9
    """one unit (a replaceable part) has this probability"""
    closed: float = 0.01
    """the branch itself is less probable than this"""
    depth: int = 5
    """checks in a row"""
    bits: float = 0.02
    """no check that is left brings this much"""


@dataclass(frozen=True, slots=True)
class Choices:
    """What can be checked. likelihood: (checks, outcomes, causes), zero for outcomes that a check lacks; minutes and
    cost: (checks,); unit: (causes,), the number of the replaceable part that a cause stands at, −1 for none."""

    likelihood: Array
    minutes: Array
    cost: Array
    unit: Indexes
    _certain: list[Array] = field(default_factory=list)

    def certain(self) -> Array:
        """Σ over the outcomes of L·log2 L, shape (checks, causes)."""
        if not self._certain:
            self._certain.append(_xlogx(self.likelihood).sum(axis=1))
        return self._certain[0]


@dataclass(slots=True)
class PlanNode:
    """One node: the probability of reaching it, the causes that are left, and the check made there (None: an end)."""

    share: float
    causes: Array
    end: str = ""
    """isolated, closed, deep or inseparable; empty if a check follows"""
    check: int | None = None
    made: tuple[int, ...] = ()
    children: list[PlanNode] = field(default_factory=list)


def _xlogx(p: Array) -> Array:
    return p * np.log2(np.where(p > 0, p, 1.0))


def bits(choices: Choices, causes: Array) -> Array:
    """Expected information of every check about the causes, in bits: the mutual information of outcome and cause.

    causes: (causes,) or (causes, states), each adding up to 1. Shape of the result: (checks,) or (checks, states).
    """
    checks, outcomes, many = choices.likelihood.shape
    states = causes.reshape(many, -1)
    outcome = small_product(choices.likelihood.reshape(checks * outcomes, many), states)
    outcome = outcome.reshape(checks, outcomes, *causes.shape[1:])
    return np.asarray(
        np.maximum(
            small_product(choices.certain(), states).reshape(checks, *causes.shape[1:]) - _xlogx(outcome).sum(axis=1),
            0.0,
        )
    )


def units(choices: Choices, causes: Array) -> Array:
    """Probability of each replaceable part, shape (units,)."""
    known = choices.unit >= 0
    return np.bincount(choices.unit[known], weights=causes[known], minlength=1).astype(np.float64)


def grow(choices: Choices, prior: Array, limits: PlanLimits) -> PlanNode:
    """The greedy plan: in every state the check with the most bits for its cost, the first one where two are alike."""
    root = PlanNode(1.0, prior)
    level = [root]
    for depth in range(limits.depth + 1):
        level = [node for node in level if not _ends(node, choices, limits, depth)]
        if not level:
            break
        gain = bits(choices, np.stack([node.causes for node in level], axis=1))
        for column, node in enumerate(level):
            gain[list(node.made), column] = 0.0
        # Rounded, so that the last bits of a sum do not choose between two checks that are alike.
        worth = np.round(np.where(gain >= limits.bits, gain / choices.cost[:, None], 0.0), 12)
        best = worth.argmax(axis=0)
        for column, node in enumerate(level):
            if worth[best[column], column] <= 0:
                node.end = "inseparable"
                continue
            node.check = int(best[column])
            joint = choices.likelihood[node.check] * node.causes
            for outcome in joint:
                total = float(outcome.sum())
                # A padded row has no outcome behind it; it is kept, so that children match the check's outcomes.
                after = outcome / total if total > 0 else node.causes
                node.children.append(PlanNode(node.share * total, after, made=(*node.made, node.check)))
        level = [child for node in level for child in node.children]
    return root


def _ends(node: PlanNode, choices: Choices, limits: PlanLimits, depth: int) -> bool:
    if units(choices, node.causes).max() >= limits.isolated:
        node.end = "isolated"
    elif node.share < limits.closed:
        node.end = "closed"
    elif depth >= limits.depth:
        node.end = "deep"
    elif not len(choices.cost):
        node.end = "inseparable"
    return bool(node.end)


def expected_minutes(node: PlanNode, choices: Choices) -> float:
    """Minutes that the plan takes on average until its branches end."""
    if node.check is None:
        return 0.0
    below = sum(expected_minutes(child, choices) for child in node.children)
    return node.share * float(choices.minutes[node.check]) + below
