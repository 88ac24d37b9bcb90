"""Likelihood of a sheet under many hypotheses at once.

e − Δ has covariance Σ = diag(variance + (c·Δ)²) + Σ_b (s·Δ_b)·(s·Δ_b)ᵀ + L·Lᵀ: each reading's own variance, what the
model does not know of its predicted effect, what it does not know alike for all readings b of a kind, and the scatter
that the readings of one machine share. The scale of the scatter is marginalised (multivariate t). One reading may be
grossly wrong: (1 − Rε)·t(all) + ε·Σᵢ t(all but i)·Uᵢ. Each density is raised to a power τ ≤ 1 (`tempering`), for the
readings of a machine that the model does not fit say less than the density claims. Source: P. D. Grünwald and T. van
Ommen, Bayesian Anal. 12 (2017) 1069, doi:10.1214/17-BA1085. Slips of writing are summed out on top of that (`slips`).
"""

from __future__ import annotations

import math

import numpy as np

from oilpath.arrays import Array, inverses, small_product
from oilpath.ranking.slips import Shift, robust_without_slips, sums_out_slips
from oilpath.records import dataclass


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


@dataclass(frozen=True, slots=True)
class SheetScatter:
    """What the likelihood of a sheet needs beside the effects, for R readings that share K sources of scatter.

    `e` (R,) deviations, `variance` (R,), `shared` (R, K) the factor L, `width` (R,) one over the density of a gross
    reading, and the constants of `kb/priors.yaml`. Worked out once for a sheet: `outer` (R, K²), the products of the
    columns of L, and of the sound machine's covariance the inverse `precision` (R, R) and the logarithm of its
    determinant `log_det`. `slips` are the slips of writing that the readings may hold. `kinds` (R, J) is 1 where a
    reading belongs to a kind whose effects are off alike, by the share `off` (R,); `common` (R, J·K) are kinds times L,
    and `kindred` (R, R) the part of the precision between readings of one kind.
    """

    e: Array
    variance: Array
    shared: Array
    width: Array
    model_error: float
    freedom: float
    gross: float
    outer: Array
    precision: Array
    log_det: float
    kinds: Array
    off: Array
    common: Array
    kindred: Array
    tempering: float = 1.0
    slips: tuple[Shift, ...] = ()


def scatter(
    e: Array, variance: Array, shared: Array, width: Array, model_error: float, freedom: float, gross: float,
    slips: tuple[Shift, ...] = (), *, kinds: Array | None = None, off: Array | None = None, tempering: float = 1.0,
) -> SheetScatter:  # fmt: skip
    """The scatter of one sheet, with what is computed once. Without kinds no effects are off alike."""
    r, k = shared.shape
    if kinds is None or off is None or not off.any():
        kinds, off = np.zeros((r, 0)), np.zeros(r)
    kinds = kinds[:, off @ kinds > 0]
    outer = (shared[:, :, None] * shared[:, None, :]).reshape(r, k * k)
    covariance = np.diag(variance) + shared @ shared.T
    log_det = float(np.linalg.slogdet(covariance)[1])
    precision: Array = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    common = (kinds[:, :, None] * shared[:, None, :]).reshape(r, kinds.shape[1] * k)
    kindred = precision * (kinds @ kinds.T)
    return SheetScatter(
        e, variance, shared, width, model_error, freedom, gross, outer, precision, log_det, kinds, off, common, kindred,
        tempering, slips,
    )  # fmt: skip


@sums_out_slips
def likelihood(s: SheetScatter, effect: Array, *, smear: Array | None = None, wider: Array | float = 0.0) -> Likelihood:
    """Likelihood of the sheet's deviations under predicted effects (N, R); `wider` (R,) is added to the variance.

    `smear` (N,) is the standard deviation of a factor that all effects of a row share, because a node of the severity
    grid stands for all severities up to its neighbours: Σ + smear²·Δ·Δᵀ, by the formula of Sherman and Morrison.

    Woodbury's identity keeps the systems K × K. Source: multivariate t as in K. L. Lange et al., J. Am. Stat. Assoc. 84
    (1989) 881 (formula from memory); the densities of subsets follow from the precision matrix.
    """
    n, r = effect.shape
    if r == 0:
        return _nothing_read(n)
    delta = s.e - effect
    weight = 1 / (s.variance + wider + (s.model_error * effect) ** 2)
    k, j = s.shared.shape[1], s.kinds.shape[1]
    log_det: Array = -np.log(weight).sum(axis=1)
    alike = weight * effect * s.off
    freed, gain = _freed(s, effect, alike)
    log_det -= np.log(freed).sum(axis=1)
    alpha, along = _without_kinds(s, weight, alike, freed, delta), _without_kinds(s, weight, alike, freed, effect)
    precision: Array = weight - gain
    if k:
        inner = small_product(weight, s.outer).reshape(n, k, k)
        columns = weight[:, :, None] * s.shared
        if j:
            by_kind = small_product(alike, s.common).reshape(n, j, k)
            inner -= (by_kind * freed[:, :, None]).transpose(0, 2, 1) @ by_kind
            columns -= alike[:, :, None] * (s.kinds @ (freed[:, :, None] * by_kind))
        inner[:, range(k), range(k)] += 1
        inverse, inner_log_det = inverses(inner)
        log_det += inner_log_det
        toward = np.stack([small_product(alpha, s.shared), small_product(along, s.shared)], axis=-1)
        precision = precision - ((columns @ inverse) * columns).sum(axis=2)
        fallen: Array = columns @ (inverse @ toward)
        alpha = alpha - fallen[:, :, 0]
        along = along - fallen[:, :, 1]
    distance = (delta * alpha).sum(axis=1)
    if smear is not None:
        scale = smear**2 / (1 + smear**2 * (effect * along).sum(axis=1))
        fall = (along * delta).sum(axis=1)
        log_det += np.log1p(smear**2 * (effect * along).sum(axis=1))
        distance = distance - scale * fall**2
        alpha = alpha - (scale * fall)[:, None] * along
        precision = np.maximum(precision - scale[:, None] * along**2, 1e-9 * weight)
    return _with_gross(s, distance, log_det, alpha**2 / precision, np.log(precision))


def _freed(s: SheetScatter, effect: Array, alike: Array) -> tuple[Array, Array]:
    """1/(1 + (sΔ_b)ᵀW(sΔ_b)) of each kind b (N, J), and what the kinds take from each precision (N, R).

    alike (N, R): W·sΔ.
    """
    if not s.kinds.shape[1]:
        return np.ones((len(effect), 0)), np.zeros(effect.shape)
    freed: Array = 1 / (1 + small_product(alike * effect * s.off, s.kinds))
    return freed, alike**2 * small_product(freed, s.kinds.T)


def _without_kinds(s: SheetScatter, weight: Array, alike: Array, freed: Array, x: Array) -> Array:
    """(W⁻¹ + Σ_b (sΔ_b)(sΔ_b)ᵀ)⁻¹·x (N, R), by the formula of Sherman and Morrison for each kind."""
    plain: Array = weight * x
    if not s.kinds.shape[1]:
        return plain
    taken: Array = alike * small_product(freed * small_product(alike * x, s.kinds), s.kinds.T)
    return plain - taken


@sums_out_slips
def approximate_likelihood(s: SheetScatter, effect: Array) -> Likelihood:
    """The same for many rows at a fraction of the cost, good to a few nats where the effects are large.

    The model error of an effect widens the shared scatter of a reading as well as its own. So one precision matrix
    serves all rows.
    """
    if effect.shape[1] == 0:
        return _nothing_read(len(effect))
    kept, distance, falls, wider = _at_first_look(s, effect)
    log_precision = np.log(s.precision.diagonal() * kept)
    return _with_gross(s, distance, s.log_det - np.log(kept).sum(axis=1) + wider, falls, log_precision)


@robust_without_slips
def approximate_robust(s: SheetScatter, effect: Array) -> Array:
    """`robust` of a first look (N,), of gross mistakes only the likeliest."""
    n, r = effect.shape
    if r == 0:
        return np.zeros(n)
    kept, distance, falls, wider = _at_first_look(s, effect)
    log_det = s.log_det - np.log(np.maximum(kept.prod(axis=1), 1e-300)) + wider
    gross = falls.argmax(axis=1)
    rows = np.arange(n)
    precision = s.precision.diagonal()[gross] * kept[rows, gross]
    left = np.maximum(distance - falls[rows, gross], 0.0)
    share = min(s.gross, 0.5 / r)
    without = _log_t(left, log_det + np.log(precision), r - 1, s.freedom) - np.log(s.width[gross])
    plain = _log_t(distance, log_det, r, s.freedom)
    result: Array = np.logaddexp(
        s.tempering * plain + math.log1p(-share * r), s.tempering * without + math.log(share)
    )  # fmt: skip
    return result


def _at_first_look(s: SheetScatter, effect: Array) -> tuple[Array, Array, Array, Array]:
    """How much of each precision is kept (N, R), the squared distance (N,), its fall without each reading (N, R), and
    what the kinds add to the ln determinant (N,), each kind taken by itself."""
    kept = effect * effect  # in place from here: the arrays are large, and most of the time would go to new memory
    kept *= s.model_error**2 / s.variance
    kept += 1
    np.reciprocal(kept, out=kept)
    delta = s.e - effect
    delta *= np.sqrt(kept)
    falls = small_product(delta, s.precision)
    distance: Array = np.einsum("nr,nr->n", delta, falls)
    wider = np.zeros(len(effect))
    if s.kinds.shape[1]:
        alike = effect * s.off
        alike *= np.sqrt(kept)
        spread = small_product(small_product(alike, s.kindred) * alike, s.kinds)
        spread += 1
        toward = small_product(alike * falls, s.kinds)
        distance = np.maximum(distance - (toward * toward / spread).sum(axis=1), 0.0)
        wider = np.log(spread).sum(axis=1)
    np.square(falls, out=falls)
    falls /= s.precision.diagonal()
    return kept, distance, falls, wider


def _nothing_read(rows: int) -> Likelihood:
    zero = np.zeros(rows)
    return Likelihood(zero, np.zeros((rows, 0)), zero, zero)


def _with_gross(s: SheetScatter, distance: Array, log_det: Array, falls: Array, log_precision: Array) -> Likelihood:
    """All densities from the squared distance, and by how much it falls (N, R) without each reading."""
    r = falls.shape[1]
    plain = s.tempering * _log_t(distance, log_det, r, s.freedom)
    left = np.maximum(distance[:, None] - falls, 0.0)
    without = s.tempering * _log_t(left, log_det[:, None] + log_precision, r - 1, s.freedom)
    share = min(s.gross, 0.5 / r)
    one_gross = without - s.tempering * np.log(s.width)
    top = one_gross.max(axis=1)
    apart = top + np.log(np.exp(one_gross - top[:, None]).sum(axis=1)) + math.log(share)
    robust = np.logaddexp(plain + math.log1p(-share * r), apart)
    return Likelihood(plain, without, robust, distance)


def _log_t(distance: Array, log_det: Array, size: int, freedom: float) -> Array:
    """Logarithm of the multivariate t density of `size` readings."""
    constant = (
        math.lgamma((freedom + size) / 2) - math.lgamma(freedom / 2) - size / 2 * math.log(freedom * math.pi)
    )  # fmt: skip
    result: Array = constant - 0.5 * log_det - (freedom + size) / 2 * np.log1p(distance / freedom)
    return result
