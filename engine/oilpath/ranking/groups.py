"""Causes that no reading of a sheet can part: complete linkage on the distance of their predictions."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array, Indexes, small_product

APART = 1.5
"""Mahalanobis distance from which two causes count as told apart"""


def distances(
    effects: Array, owner: Indexes, best: Indexes, variance: Array, shared: Array, model_error: float
) -> Array:
    """Pairwise Mahalanobis distances of causes whose predictions fit, shape (causes, causes).

    effects (N, R) are predictions at severities that fit, owner (N,) the cause of each, best (causes,) the row at
    which a cause fits best. Two causes are as far apart as the one at its best lies from the nearest that the other
    can do. What the model does not know of the effects counts as scatter.
    """
    many, r = len(best), effects.shape[1]
    if r == 0 or not many:
        return np.zeros((many, many))
    base = np.diag(variance) + shared @ shared.T
    projected = small_product(effects, np.linalg.cholesky(np.linalg.inv(base)))
    squares = (projected**2).sum(axis=1)
    plain = np.maximum(squares[best][:, None] + squares[None, :] - 2 * small_product(projected[best], projected.T), 0.0)
    larger = np.maximum(squares[best][:, None], squares[None, :])
    plain /= 1 + model_error**2 * larger / r * 2
    near = np.full((many, many), np.inf)
    for row, cause in enumerate(owner):
        np.minimum(near[:, cause], plain[:, row], out=near[:, cause])
    apart: Array = np.sqrt(np.minimum(near, near.T))
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
