"""Likelihood of a sheet under many hypotheses at once.

e − Δ has covariance Σ = diag(variance + (c·Δ)²) + L·Lᵀ: each reading's own variance, what the model does not know of
its predicted effect, and the scatter that the readings of one machine share. The scale of the scatter is marginalised
(multivariate t). One reading may be grossly wrong: (1 − Rε)·t(all) + ε·Σᵢ t(all but i)·Uᵢ.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oilpath.circuit.state import Array


@dataclass(frozen=True, slots=True)
class Likelihood:
    """Natural logarithms for N hypotheses and R readings.

    `plain` (N,) of all readings without the gross term, `without` (N, R) of all but one, `robust` (N,) with it, and
    `distance` (N,) the squared Mahalanobis distance of all readings.
    """

    plain: Array
    without: Array
    robust: Array
    distance: Array


def likelihood(
    e: Array, effect: Array, variance: Array, shared: Array, model_error: float, freedom: float, gross: float, width: Array
) -> Likelihood:  # fmt: skip
    """Likelihood of deviations e (R,) under predicted effects (N, R).

    `variance` (R,) or (N, R); `shared` (R, K); `width` (R,) is that of
    the uniform density of a gross reading. Woodbury's identity keeps the systems K × K. Source: multivariate t as in
    K. L. Lange et al., J. Am. Stat. Assoc. 84 (1989) 881 (formula from memory); the densities of subsets follow from
    the precision matrix.
    """
    n, r = effect.shape
    if r == 0:
        zero = np.zeros(n)
        return Likelihood(zero, np.zeros((n, 0)), zero, zero)
    delta = e - effect
    weight = 1 / (variance + (model_error * effect) ** 2)
    k = shared.shape[1]
    log_det = -np.log(weight).sum(axis=1)
    alpha, precision = weight * delta, weight.copy()
    if k:
        outer = (shared[:, :, None] * shared[:, None, :]).reshape(r, k * k)
        inner = (weight @ outer).reshape(n, k, k) + np.eye(k)
        root = np.linalg.cholesky(inner)
        log_det += 2 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
        inverse = np.linalg.inv(inner)
        toward = (inverse @ ((weight * delta) @ shared)[:, :, None])[:, :, 0]
        alpha = weight * (delta - toward @ shared.T)
        precision = weight - weight**2 * (inverse.reshape(n, k * k) @ outer.T)
    distance = (delta * alpha).sum(axis=1)
    plain = _log_t(distance, log_det, r, freedom)
    left = np.maximum(distance[:, None] - alpha**2 / precision, 0.0)
    without = _log_t(left, log_det[:, None] + np.log(precision), r - 1, freedom)
    share = min(gross, 0.5 / r)
    apart = np.logaddexp.reduce(without - np.log(width), axis=1) + math.log(share)
    robust = np.logaddexp(plain + math.log1p(-share * r), apart)
    return Likelihood(plain, without, robust, distance)


def _log_t(distance: Array, log_det: Array, size: int, freedom: float) -> Array:
    """Logarithm of the multivariate t density of `size` readings."""
    constant = (
        math.lgamma((freedom + size) / 2) - math.lgamma(freedom / 2) - size / 2 * math.log(freedom * math.pi)
    )  # fmt: skip
    result: Array = constant - 0.5 * log_det - (freedom + size) / 2 * np.log1p(distance / freedom)
    return result
