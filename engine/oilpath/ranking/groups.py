"""Causes that no reading of a sheet can tell apart: complete linkage on the distance of their predictions."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array, Indexes, Mask, small_product, without
from oilpath.ranking.posterior import Posterior

APART = 1.5
"""Mahalanobis distance from which two causes count as told apart"""
TWICE = 2.0
"""a sign, code or check that makes a cause so many times likelier than another tells them apart"""
FITS = 2.0
"""nats behind a cause's best severity within which a severity still fits"""


def alike(post: Posterior, most_probable: Indexes) -> tuple[list[list[int]], list[int]]:
    """Groups of causes, as indexes into the C of `most_probable`, and apart from them those that nothing shows.

    most_probable (C,): the hypothesis that stands for each cause.
    """
    q = post.question
    findings = q.findings[most_probable]
    shows = np.abs(q.effects[most_probable]).max(axis=(1, 2), initial=0.0) >= 1e-9
    visible = np.flatnonzero(shows | (np.abs(findings) >= 1e-9))
    effects, owner, best = _fitting(post, most_probable[visible])
    apart = distances(effects, owner, best, q.readings.variance, q.readings.shared, q.priors.model_error)
    clusters = complete_linkage(np.hypot(apart, said_apart(findings[visible])))
    quiet = without(len(most_probable), visible)
    return [visible[cluster].tolist() for cluster in clusters], quiet.tolist()


def said_apart(findings: Array) -> Array:
    """How far causes are apart by what signs, codes and checks say, ln likelihoods (causes,); shape (causes, causes).

    A squared distance stands for twice a ln likelihood ratio, so it goes with the difference; its unit is set by TWICE.
    """
    result: Array = APART * np.sqrt(np.abs(findings[:, None] - findings[None, :]) / np.log(TWICE))
    return result


def _fitting(post: Posterior, chosen: Indexes) -> tuple[Array, Indexes, Indexes]:
    """Effects of some hypotheses at the severities that fit, whose each row is, and which row fits each best."""
    rows, joint = post.rows, post.rows.joint
    start = np.searchsorted(rows.hypothesis, np.arange(len(post.single)))
    behind = joint - np.maximum.reduceat(joint, start)[rows.hypothesis] if len(start) else joint
    number = np.full(len(post.single), -1, dtype=np.intp)
    number[chosen] = np.arange(len(chosen))
    fit = np.flatnonzero((behind >= -FITS) & (number[rows.hypothesis] >= 0))
    fit = fit[np.argsort(number[rows.hypothesis[fit]], kind="stable")]
    owner = number[rows.hypothesis[fit]]
    top = np.flatnonzero(behind[fit] == 0)
    best = top[np.searchsorted(owner[top], np.arange(len(chosen)))]
    return post.question.effects[rows.hypothesis[fit], rows.node[fit]], owner, best


def distances(
    effects: Array, owner: Indexes, best: Indexes, variance: Array, shared: Array, model_error: float
) -> Array:
    """Pairwise Mahalanobis distances of causes whose predictions fit, shape (causes, causes).

    effects (N, R) are predictions at severities that fit, owner (N,) the cause of each in order, best (causes,) the row
    at which a cause fits best. Two causes are as far apart as the one at its best lies from the nearest that the other
    can do, at a severity or between two. What the model does not know of the effects counts as scatter.
    """
    many, r = len(best), effects.shape[1]
    if r == 0 or not many:
        return np.zeros((many, many))
    base = np.diag(variance) + shared @ shared.T
    projected = small_product(effects, np.linalg.cholesky(np.linalg.inv(base)))
    squares = (projected**2).sum(axis=1)
    plain = np.maximum(squares[best][:, None] + squares[None, :] - 2 * small_product(projected[best], projected.T), 0.0)
    plain = _between(plain, projected, owner)
    larger = np.maximum(squares[best][:, None], squares[None, :])
    plain /= 1 + model_error**2 * larger / r * 2
    near = np.minimum.reduceat(plain, np.searchsorted(owner, np.arange(many)), axis=1)
    apart: Array = np.sqrt(np.minimum(near, near.T))
    return apart


def _between(squared: Array, points: Array, owner: Indexes) -> Array:
    """Squared distances (causes, N) from points (N, R), or from the way to the next of the same owner where it is less.

    The foot of the perpendicular follows from the three sides of the triangle.
    """
    step = ((points[1:] - points[:-1]) ** 2).sum(axis=1)
    joined = (owner[1:] == owner[:-1]) & (step > 0)
    step = np.where(joined, step, 1.0)
    # in place: the arrays are large, and most of the time would go to new memory
    inner = squared[:, :-1] - squared[:, 1:]
    inner += step
    inner *= 0.5
    share = np.clip(inner, 0.0, step)
    share *= joined
    inner *= 2
    inner -= share
    share /= step
    inner *= share
    result = squared.copy()
    result[:, :-1] -= inner
    return np.maximum(result, 0.0, out=result)


def complete_linkage(apart: Array, limit: float = APART) -> list[list[int]]:
    """Clusters in which no two members lie further apart than `limit`, nearest first merged; deterministic."""
    near = apart < limit
    np.fill_diagonal(near, False)
    clusters = [[i] for i in range(len(apart))]
    for members in _connected(near):
        for cluster in _linked(apart[np.ix_(members, members)].astype(float), limit):
            first, *others = cluster
            clusters[members[first]] = sorted(members[i] for i in cluster)
            for other in others:
                clusters[members[other]] = []
    return [cluster for cluster in clusters if cluster]


def _connected(near: Mask) -> list[list[int]]:
    """Those (N,) that are near another one, by which they can be reached from each other; near (N, N)."""
    beside = {i: np.flatnonzero(near[i]).tolist() for i in np.flatnonzero(near.any(axis=1)).tolist()}
    found: list[list[int]] = []
    seen: set[int] = set()
    for start in beside:
        if start in seen:
            continue
        seen.add(start)
        reached = [start]
        for i in reached:  # grows while it is gone through
            new = [j for j in beside[i] if j not in seen]
            seen.update(new)
            reached += new
        found.append(sorted(reached))
    return found


def _linked(far: Array, limit: float) -> list[list[int]]:
    """Clusters of some of which each can be reached from each; the distances `far` are used up."""
    n = len(far)
    clusters: list[list[int]] = [[i] for i in range(n)]
    np.fill_diagonal(far, np.inf)
    alive = np.ones(n, dtype=bool)
    while n > 1:
        a, b = sorted(divmod(int(far.argmin()), n))
        if not far[a, b] < limit:
            break
        clusters[a] += clusters[b]
        far[a] = far[:, a] = np.maximum(far[a], far[b])
        far[a, a] = np.inf
        far[b] = far[:, b] = np.inf
        alive[b] = False
    return [clusters[i] for i in range(n) if alive[i]]
