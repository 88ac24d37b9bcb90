"""Causes that no reading of a sheet can part: complete linkage on the distance of their predictions."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array

APART = 1.5
"""Mahalanobis distance from which two causes count as told apart"""


def distances(effects: Array, variance: Array, shared: Array, model_error: float) -> Array:
    """Pairwise Mahalanobis distances of effects (H, R); what the model does not know of them counts as scatter."""
    n, r = effects.shape
    if r == 0:
        return np.zeros((n, n))
    base = np.diag(variance) + shared @ shared.T
    root = np.linalg.cholesky(np.linalg.inv(base))
    projected = effects @ root
    squares = (projected**2).sum(axis=1)
    plain = np.maximum(squares[:, None] + squares[None, :] - 2 * projected @ projected.T, 0.0)
    larger = np.maximum(squares[:, None], squares[None, :])
    # a difference that is a small share of the effects themselves is within the model's own error
    apart: Array = np.sqrt(plain / (1 + model_error**2 * larger / max(1, r) * 2))
    return apart


def complete_linkage(apart: Array, limit: float = APART) -> list[list[int]]:
    """Clusters in which no two members lie further apart than `limit`, nearest first merged; deterministic."""
    n = len(apart)
    clusters: list[list[int]] = [[i] for i in range(n)]
    far = apart.astype(float).copy()
    np.fill_diagonal(far, np.inf)
    alive = np.ones(n, dtype=bool)
    while n > 1:
        flat = int(np.argmin(far))
        a, b = sorted(divmod(flat, len(far)))
        if not far[a, b] < limit:
            break
        clusters[a] += clusters[b]
        far[a] = far[:, a] = np.maximum(far[a], far[b])
        far[a, a] = np.inf
        far[b] = far[:, b] = np.inf
        alive[b] = False
    return [sorted(clusters[i]) for i in range(n) if alive[i]]
