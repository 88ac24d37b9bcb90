"""The ranker's own discrete form: a Bayesian network as plain arrays, so that others can check the arithmetic.

Nodes: `hypothesis` and `severity`; `scale` of the scatter; one node for each shared source of scatter and one for where
between two severity nodes the truth lies, both on Gauss–Hermite points; `gross`, which reading (if any) is a gross
mistake; and for each reading a binary child, seen in its state «observed», whose probability is the reading's density
under its parents divided by the largest that it has anywhere, so it is at most 1. A common factor of a reading leaves
the posterior as it is.

How it stands to the continuous likelihood (likelihood.py): given its parents a reading is normal and independent of
the others. The shared nodes summed give the normal density with covariance Σ = diag(variance + (c·Δ)²) + L·Lᵀ +
smear²·Δ·Δᵀ; the scale, whose points are those of a gamma distribution (shape and rate ν/2), turns that into the
multivariate t; the gross node gives (1 − Rε)·t(all) + ε·Σᵢ t(all but i)·Uᵢ. No term is left out: with more points it
converges to the same numbers (a test shows it). With few points it is coarser than the ranker, and it stays small only
with few shared sources: `fold` adds the variance of the smaller ones to the readings' own, so it is a check of the
ranker's arithmetic and not a quicker ranker. Sets of causes are not in it.
"""

from __future__ import annotations

import math

import numpy as np

from oilpath.arrays import Array
from oilpath.records import dataclass

LARGEST = 20_000_000
"""states of all hidden nodes together, beyond which the arrays no longer fit a small machine"""


@dataclass(frozen=True, slots=True)
class Network:
    """The network for H hypotheses, S severities, M hidden nodes (scale and shared scatter) and R readings.

    `prior` (H,), `severity` (H, S) given the hypothesis, `hidden` M arrays of weights, `gross` (R + 1,) the
    probabilities that no reading, or the i-th, is a gross mistake. For each reading `parents` names the hidden nodes
    that it depends on, ascending, `observed` is its probability (H, S, *their states) if it is not a gross mistake and
    `mistaken` where it is one.
    """

    prior: Array
    severity: Array
    hidden: tuple[Array, ...]
    gross: Array
    parents: tuple[tuple[int, ...], ...]
    observed: tuple[Array, ...]
    mistaken: Array


def hermite(points: int) -> tuple[Array, Array]:
    """Points and weights (each (points,)) of the standard normal distribution; weights add to 1."""
    x, w = np.polynomial.hermite_e.hermegauss(points)
    return np.asarray(x, dtype=np.float64), np.asarray(w / w.sum(), dtype=np.float64)


def gamma_points(points: int, freedom: float) -> tuple[Array, Array]:
    """Points and weights of the gamma distribution with shape and rate freedom/2, which has mean 1.

    Source: G. H. Golub and J. H. Welsch, Math. Comp. 23 (1969) 221, for generalised Laguerre polynomials
    (recurrence from memory).
    """
    order = freedom / 2 - 1
    n = np.arange(points)
    side = np.sqrt(n[1:] * (n[1:] + order))
    x, vectors = np.linalg.eigh(np.diag(2 * n + 1 + order) + np.diag(side, 1) + np.diag(side, -1))
    return np.asarray(x / (freedom / 2), dtype=np.float64), np.asarray(vectors[0] ** 2, dtype=np.float64)


def fold(variance: Array, shared: Array, columns: int) -> tuple[Array, Array]:
    """Keep the `columns` largest shared columns; the others' variance goes to the readings' own.

    variance (R,), shared (R, K) → the same, with at most `columns` columns.
    """
    order = np.argsort(-(shared**2).sum(axis=0), kind="stable")
    kept, rest = np.sort(order[:columns]), order[columns:]
    return variance + (shared[:, rest] ** 2).sum(axis=1), shared[:, kept]


def network(
    prior: Array,
    severity: Array,
    effects: Array,
    e: Array,
    variance: Array,
    shared: Array,
    width: Array,
    *,
    model_error: float,
    freedom: float,
    gross: float,
    smear: Array | None = None,
    wider: Array | float = 0.0,
    points: int = 3,
    scales: int = 3,
) -> Network:
    """Build the network of one sheet.

    prior (H,), severity (H, S), effects (H, S, R) as predicted; e, variance, width (R,), shared (R, K) and the
    constants as in `likelihood.Scatter`; smear (H,) the relative width of a severity node, wider (H, R) added to the
    variance. Raises ValueError if the hidden states together would be more than `LARGEST`.
    """
    h, s, r = effects.shape
    x, weight = hermite(points)
    tau, chance = gamma_points(scales, freedom)
    between = smear is not None
    sources = shared.shape[1] + between
    if h * s * scales * points**sources > LARGEST:
        raise ValueError(f"{sources} shared sources of {points} points each are too many: fold the smaller ones")
    variances = variance + np.broadcast_to(wider, (h, r))[:, None, :] + (model_error * effects) ** 2
    steps = [np.broadcast_to(column, (h, s, r)) for column in shared.T]
    if smear is not None:
        steps.insert(0, smear[:, None, None] * effects)
    share = min(gross, 0.5 / r)
    parents, observed, mistaken = [], [], np.zeros(r)
    for i in range(r):
        touching = [k for k in range(sources) if np.any(steps[k][:, :, i])]
        around = (h, s, scales, *(points for _ in touching))
        delta = (e[i] - effects[:, :, i]).reshape(h, s, *(1 for _ in around[2:]))
        root = np.sqrt(tau).reshape(scales, *(1 for _ in touching))
        for place, k in enumerate(touching):
            size = [1] * len(around)
            size[3 + place] = points
            step = steps[k][:, :, i].reshape(h, s, *(1 for _ in around[2:]))
            delta = delta - step * x.reshape(size) / root
        v = variances[:, :, i].reshape(h, s, *(1 for _ in around[2:]))
        density = root * np.exp(-0.5 * (delta * root) ** 2 / v) / np.sqrt(2 * math.pi * v)
        largest = max(float(density.max()), 1 / float(width[i]))
        parents.append((0, *(1 + k for k in touching)))
        observed.append(np.broadcast_to(density / largest, around).copy())
        mistaken[i] = 1 / width[i] / largest
    none = np.concatenate([[1 - share * r], np.full(r, share)])
    hidden = (chance, *(weight for _ in range(sources)))
    return Network(prior / prior.sum(), severity, hidden, none, tuple(parents), tuple(observed), mistaken)


def posterior(net: Network) -> Array:
    """P(hypothesis, severity | every reading observed), shape (H, S).

    Two running products over the readings, of the case that none so far is a gross mistake and of the case that one
    is. Raises ValueError if the readings are impossible under every hypothesis.
    """
    h, s = net.severity.shape
    states = [len(weights) for weights in net.hidden]
    fine = np.ones((h, s, *(1 for _ in states)))
    wrong = np.zeros_like(fine)
    for i, (parents, table) in enumerate(zip(net.parents, net.observed, strict=True)):
        chance = table.reshape(h, s, *(n if k in parents else 1 for k, n in enumerate(states)))
        wrong = wrong * chance + fine * (net.gross[i + 1] * net.mistaken[i])
        fine = fine * chance
        largest = float(max(fine.max(), wrong.max()))
        if largest <= 0:
            raise ValueError("the readings are impossible under every hypothesis")
        fine, wrong = fine / largest, wrong / largest
    joint = net.gross[0] * fine + wrong
    for weights in reversed(net.hidden):
        joint = joint @ weights if joint.shape[-1] > 1 else joint[..., 0] * weights.sum()
    joint = joint * net.severity * net.prior[:, None]
    shares: Array = joint / joint.sum()
    return shares
