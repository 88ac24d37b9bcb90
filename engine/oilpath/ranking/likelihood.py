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
from collections.abc import Iterator, Sequence

import numpy as np

from oilpath.arrays import Array, inverse_roots, log_sum, small_product
from oilpath.ranking.slips import Shift, logs_of, mixed
from oilpath.records import dataclass

BLOCK = 160
"""rows that are worked on together, so that what they need stays in the cache of the processor"""


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
    reading, and the constants of `kb/priors.yaml`. Worked out once for a sheet: of the sound machine's covariance the
    inverse `precision` (R, R) and the logarithm of its determinant `log_det`. `slips` are the slips of writing that the
    readings may hold. `kinds` (R, J) is 1 where a reading belongs to a kind whose effects are off alike, by the share
    `off` (R,); `kin` are those of several readings, `common` (R, J·K) these times L, and `kindred` (R, R) the part of
    the precision between readings of one kind. `alone` (R,) is the square of `off` where a reading is the only one of
    its kind: that widens its own variance.
    """

    e: Array
    variance: Array
    shared: Array
    width: Array
    model_error: float
    freedom: float
    gross: float
    precision: Array
    log_det: float
    kinds: Array
    off: Array
    kin: Array
    common: Array
    alone: Array
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
    covariance = np.diag(variance) + shared @ shared.T
    log_det = float(np.linalg.slogdet(covariance)[1])
    precision: Array = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    single = kinds.sum(axis=0) < 1.5
    kin = kinds[:, ~single]
    common = (kin[:, :, None] * shared[:, None, :]).reshape(r, kin.shape[1] * k)
    alone = off**2 * kinds[:, single].sum(axis=1)
    kindred = precision * (kinds @ kinds.T)
    return SheetScatter(
        e, variance, shared, width, model_error, freedom, gross, precision, log_det, kinds, off, kin, common, alone,
        kindred, tempering, slips,
    )  # fmt: skip


def likelihood(
    s: SheetScatter,
    effect: Array,
    *,
    smear: Array | None = None,
    wider: Array | float = 0.0,
    doubt: Array | None = None,
) -> Likelihood:
    """Likelihood of the sheet's deviations under predicted effects (N, R); `wider` (R,) is added to the variance.

    `doubt` (N,) multiplies the shares by which the effects of a row are off alike (1 where left out).

    `smear` (N,) is the standard deviation of a factor that all effects of a row share, because a node of the severity
    grid stands for all severities up to its neighbours: Σ + smear²·Δ·Δᵀ, by the formula of Sherman and Morrison.

    Woodbury's identity keeps the systems K × K. Source: multivariate t as in K. L. Lange et al., J. Am. Stat. Assoc. 84
    (1989) 881 (formula from memory); the densities of subsets follow from the precision matrix. Slips change the
    deviations alone: they share all of that.
    """
    n, r = effect.shape
    if r == 0:
        return _nothing_read(n)
    deviations = np.stack([s.e, *(s.e + slip.by for slip in s.slips)])
    result = Likelihood(np.empty(n), np.empty((n, r)), np.empty(n), np.empty(n))
    for rows in _blocks(n):
        found = _solved(s, deviations, effect[rows], smear=_of(smear, rows), doubt=_of(doubt, rows), wider=wider)
        precision = found.precision[:, None]
        falls = found.alpha**2 / precision
        fit = densities(s, found.distance, found.log_det[:, None], falls, np.log(precision))
        fit = mixed(fit, logs_of(s.slips))
        result.plain[rows], result.without[rows] = fit.plain, fit.without
        result.robust[rows], result.distance[rows] = fit.robust, fit.distance
    return result


def left_out(
    s: SheetScatter,
    effect: Array,
    groups: Sequence[Sequence[int]],
    *,
    smear: Array | None = None,
    wider: Array | float = 0.0,
    doubt: Array | None = None,
) -> Array:
    """ln density of all readings, then of all but each group of them, shape (1 + groups, N), for effects (N, R).

    As `plain` of a likelihood, of the deviations as read. Without a group G the squared distance falls by
    α_Gᵀ·(P_GG)⁻¹·α_G and the ln determinant changes by ln |P_GG|, with the precision matrix P and α = P·δ.
    """
    n, r = effect.shape
    result = np.empty((1 + len(groups), n))
    for rows in _blocks(n):
        found = _solved(s, s.e[None], effect[rows], smear=_of(smear, rows), doubt=_of(doubt, rows), wider=wider)
        distance, alpha = found.distance[:, 0], found.alpha[:, 0]
        result[0, rows] = s.tempering * log_t(distance, found.log_det, r, s.freedom)
        for number, group in enumerate(groups, 1):
            fall, log_det = fall_without(found.block(list(group)), alpha[:, list(group)])
            left = np.maximum(distance - fall, 0.0)
            result[number, rows] = s.tempering * log_t(left, found.log_det + log_det, r - len(group), s.freedom)
    return result


def fall_without(precision: Array, alpha: Array) -> tuple[Array, Array]:
    """By how much the squared distance falls (N,) without G readings, and the ln determinant grows (N,); precision
    (N, G, G), alpha (N, G) of theirs."""
    root, log_det = inverse_roots(precision)
    result: Array = ((root @ alpha[:, :, None])[:, :, 0] ** 2).sum(axis=1)
    return result, log_det


def _blocks(n: int) -> Iterator[slice]:
    return (slice(first, first + BLOCK) for first in range(0, n, BLOCK))


def _of(values: Array | None, rows: slice) -> Array | None:
    return None if values is None else values[rows]


@dataclass(frozen=True, slots=True)
class _Solved:
    """The precision matrix P of N rows as its diagonal `precision` (N, R) and its parts, and what it makes of the
    deviations δ: `distance` (N, L) = δᵀ·P·δ, `alpha` (N, L, R) = P·δ; `log_det` (N,) of its inverse."""

    kin: Array
    alike: Array
    freed: Array
    columns: Array
    along: Array | None
    precision: Array
    alpha: Array
    distance: Array
    log_det: Array

    def block(self, group: list[int]) -> Array:
        """P between the readings of a group of G, shape (N, G, G)."""
        alike = self.alike[:, group, None] * self.kin[group]
        columns = self.columns[:, group]
        result: Array = -(alike * self.freed[:, None]) @ alike.transpose(0, 2, 1) - columns @ columns.transpose(0, 2, 1)
        if self.along is not None:
            along = self.along[:, group]
            result -= along[:, :, None] * along[:, None]
        diagonal = range(len(group))
        result[:, diagonal, diagonal] = self.precision[:, group]
        return result


def _solved(
    s: SheetScatter, deviations: Array, effect: Array, *, smear: Array | None, doubt: Array | None, wider: Array | float
) -> _Solved:
    """Of a few rows; deviations (L, R) as read and after each slip."""
    n, k = len(effect), s.shared.shape[1]
    felt = effect if doubt is None else doubt[:, None] * effect
    weight = 1 / (s.variance + wider + s.model_error**2 * effect**2 + s.alone * felt**2)
    log_det: Array = -np.log(weight).sum(axis=1)
    alike = weight * felt * s.off
    freed: Array = 1 / (1 + (alike * felt * s.off) @ s.kin)
    log_det -= np.log(freed).sum(axis=1)
    # the deviations as read and after each slip, and last the effect itself: (N, L + 1, R)
    x = np.concatenate([deviations - effect[:, None], effect[:, None]], axis=1)
    solved = weight[:, None] * x
    solved -= alike[:, None] * (((alike[:, None] * x) @ s.kin * freed[:, None]) @ s.kin.T)
    precision: Array = weight - alike**2 * (freed @ s.kin.T)
    columns = np.zeros((n, len(s.e), 0))
    if k:
        by_kind = small_product(alike, s.common).reshape(n, -1, k)
        columns = weight[:, :, None] * s.shared
        columns -= alike[:, :, None] * (s.kin @ (freed[:, :, None] * by_kind))
        inner = s.shared.T @ columns
        inner[:, range(k), range(k)] += 1
        root, inner_log_det = inverse_roots(inner)
        log_det += inner_log_det
        columns = columns @ root.transpose(0, 2, 1)
        precision -= np.einsum("nrk,nrk->nr", columns, columns)
        solved -= (x @ columns) @ columns.transpose(0, 2, 1)
    distance = np.einsum("nsr,nsr->ns", x[:, :-1], solved[:, :-1])
    alpha, along = solved[:, :-1], None
    if smear is not None:
        along = solved[:, -1]
        size = smear**2 * np.einsum("nr,nr->n", effect, along)
        along = along * (smear / np.sqrt(1 + size))[:, None]
        fall = np.einsum("nsr,nr->ns", x[:, :-1], along)
        log_det += np.log1p(size)
        distance = distance - fall**2
        alpha = alpha - fall[:, :, None] * along[:, None]
        precision = np.maximum(precision - along**2, 1e-9 * weight)
    return _Solved(s.kin, alike, freed, columns, along, precision, alpha, distance, log_det)


def approximate_robust(s: SheetScatter, effect: Array, doubt: Array | None = None) -> Array:
    """`robust` (N,) for many rows at a fraction of the cost, of gross mistakes only the likeliest.

    Good to a few nats where the effects are large: the model error of an effect widens the shared scatter of a reading
    as well as its own, so one precision matrix serves all rows.
    """
    n, r = effect.shape
    if r == 0:
        return np.zeros(n)
    kept, alike, spread, wider = _at_first_look(s, effect, doubt)
    log_det = s.log_det - np.log(np.maximum(kept.prod(axis=1), 1e-300)) + wider
    log_precision = np.log(s.precision.diagonal() * kept)
    root, rows = np.sqrt(kept), np.arange(n)
    share = gross_share(s, r)
    logs = logs_of(s.slips)
    values = np.empty((len(logs), n))
    for number, e in enumerate((s.e, *(s.e + slip.by for slip in s.slips))):
        distance, falls = _falls(s, e, effect, root, alike, spread)
        gross = falls.argmax(axis=1)
        left = np.maximum(distance - falls[rows, gross], 0.0)
        without = log_t(left, log_det + log_precision[rows, gross], r - 1, s.freedom) - np.log(s.width[gross])
        plain = log_t(distance, log_det, r, s.freedom)
        values[number] = np.logaddexp(
            s.tempering * plain + math.log1p(-share * r), s.tempering * without + math.log(share)
        )  # fmt: skip
    result: Array = np.logaddexp.reduce(values + logs[:, None], axis=0) if s.slips else values[0]
    return result


def _at_first_look(s: SheetScatter, effect: Array, doubt: Array | None) -> tuple[Array, Array, Array, Array]:
    """What does not depend on the deviations, and so is the same for all slips, each kind taken by itself.

    How much of each precision is kept (N, R), what is off alike (N, R) in terms of that, by how much each kind widens
    the scatter (N, J), and what the kinds add to the ln determinant (N,).
    """
    kept = effect * effect  # in place from here: the arrays are large, and most of the time would go to new memory
    kept *= s.model_error**2 / s.variance
    kept += 1
    np.reciprocal(kept, out=kept)
    if not s.kinds.shape[1]:
        return kept, effect, np.ones((len(effect), 0)), np.zeros(len(effect))
    alike = effect * s.off
    alike *= np.sqrt(kept)
    if doubt is not None:
        alike *= doubt[:, None]
    spread = small_product(small_product(alike, s.kindred) * alike, s.kinds)
    spread += 1
    return kept, alike, spread, np.log(spread).sum(axis=1)


def _falls(s: SheetScatter, e: Array, effect: Array, root: Array, alike: Array, spread: Array) -> tuple[Array, Array]:
    """The squared distance (N,) at first look and its fall without each reading (N, R), of the deviations e (R,); root
    (N, R) of what is kept of each precision."""
    delta = e - effect
    delta *= root
    falls = small_product(delta, s.precision)
    distance: Array = np.einsum("nr,nr->n", delta, falls)
    if s.kinds.shape[1]:
        toward = small_product(alike * falls, s.kinds)
        distance = np.maximum(distance - (toward * toward / spread).sum(axis=1), 0.0)
    np.square(falls, out=falls)
    falls /= s.precision.diagonal()
    return distance, falls


def _nothing_read(rows: int) -> Likelihood:
    zero = np.zeros(rows)
    return Likelihood(zero, np.zeros((rows, 0)), zero, zero)


def densities(s: SheetScatter, distance: Array, log_det: Array, falls: Array, log_precision: Array) -> Likelihood:
    """All densities from the squared distance (…), and by how much it falls (…, R) without each reading."""
    r = falls.shape[-1]
    plain = s.tempering * log_t(distance, log_det, r, s.freedom)
    left = np.maximum(distance[..., None] - falls, 0.0)
    without = s.tempering * log_t(left, log_det[..., None] + log_precision, r - 1, s.freedom)
    share = gross_share(s, r)
    apart = log_sum(without - s.tempering * np.log(s.width), axis=-1) + math.log(share)
    robust = np.logaddexp(plain + math.log1p(-share * r), apart)
    return Likelihood(plain, without, robust, distance)


def gross_share(s: SheetScatter, many: int) -> float:
    """Probability that one of so many readings is a gross mistake, and no other."""
    return min(s.gross, 0.5 / many)


def log_t(distance: Array, log_det: Array, size: int, freedom: float) -> Array:
    """Logarithm of the multivariate t density of `size` readings."""
    constant = (
        math.lgamma((freedom + size) / 2) - math.lgamma(freedom / 2) - size / 2 * math.log(freedom * math.pi)
    )  # fmt: skip
    result: Array = constant - 0.5 * log_det - (freedom + size) / 2 * np.log1p(distance / freedom)
    return result
