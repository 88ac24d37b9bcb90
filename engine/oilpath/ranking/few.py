"""Exact likelihood of causes that move few of the readings: most move one to six of forty.

All severities of a cause widen the scatter of the same m readings and of no other. Given the other readings, these have
on a sound machine an expected value and a covariance V (m × m), those of a conditional normal distribution. A severity
adds to V what the model does not know of its effects. So a severity takes one m × m system, and what follows from the
sound machine's precision matrix is worked out once for a cause. Source: T. W. Anderson, An Introduction to Multivariate
Statistical Analysis, 3rd ed. 2003, section 2.5 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from oilpath.arrays import Array, Indexes, Mask, log_sum
from oilpath.ranking.likelihood import Likelihood, SheetScatter, densities, gross_share, log_t
from oilpath.ranking.slips import logs_of, mixed
from oilpath.records import dataclass

SIZES = (2, 6, 12)
"""numbers of moved readings that are worked on together; what moves fewer is filled up with idle readings"""
TRIED = 3
"""readings that are not moved of which it is asked whether one is a gross mistake, those worst off"""
LEAST = 1e-9
"""precision at least, where rounding leaves none"""


@dataclass(frozen=True, slots=True)
class Moved:
    """N hypotheses that move at most m of R readings, at S severities: what is the same for every value of these.

    `row` (N,) which of the hypotheses they are, those that move most first, and `counts` (m,) how many move more than
    0, 1, … readings. `at` (N, m) which readings they move, `idle` (N, m) where they move none. `effect` (m, N, S) on
    each of these, and `unsure` (m, m, N, S) the covariance of what the model does not know of them.
    """

    row: Indexes
    counts: tuple[int, ...]
    at: Indexes
    idle: Mask
    effect: Array
    unsure: Array


@dataclass(frozen=True, slots=True)
class Few:
    """The same hypotheses on a sheet with L − 1 slips.

    `gain` (N, m, R) leads from all deviations to those of the moved readings given the others, `root` (m, m, N, S) is
    the inverse of the lower root of their covariance, `whitened` (m, L, N, S) their deviations in its terms.
    `precision` (N, R) and `alpha` (N, L, R) are what the others say by themselves; `distance` (N, S, L) and `log_det`
    (N, S) are those of all readings.
    """

    scatter: SheetScatter
    moved: Moved
    gain: Array
    root: Array
    whitened: Array
    precision: Array
    alpha: Array
    distance: Array
    log_det: Array

    def promise(self) -> tuple[Array, Array, Array]:
        """ln likelihood (N, S): without gross mistakes, about what it is with the likeliest one, and of all readings
        but the one that fits worst."""
        s, (n, many, r) = self.scatter, self.alpha.shape
        logs, log_det = logs_of(s.slips), self.log_det[:, :, None]
        share = gross_share(s, r)
        plain = s.tempering * log_t(self.distance, log_det, r, s.freedom) + math.log1p(-share * r)
        # the readings that are worst off without the cause, and those that are moved
        falls = (self.alpha**2 / np.maximum(self.precision, LEAST)[:, None]).max(axis=1)
        place = np.arange(n)[:, None]
        worst = np.argpartition(falls, -min(TRIED, r), axis=1)[:, -min(TRIED, r) :]
        factors = np.einsum("ijns,njc->icns", self.root, self.gain[place, :, worst].transpose(0, 2, 1))
        factors = np.concatenate([factors, self.root], axis=1)
        at = np.concatenate([worst, self.moved.at], axis=1)
        idle = np.concatenate([np.zeros_like(worst), self.moved.idle], axis=1)
        base = np.maximum(np.where(idle, 0.0, self.precision[place, at]), 0.0).T[..., None]
        alpha = np.where(idle[:, None], 0.0, np.take_along_axis(self.alpha, at[:, None], axis=2)).transpose(2, 1, 0)
        precision = np.maximum(base + (factors**2).sum(axis=0), LEAST)
        falls = (alpha[..., None] + np.einsum("icns,ilns->clns", factors, self.whitened)) ** 2 / precision[:, None]
        cost = np.log(precision) / 2 + np.log(s.width[at.T])[..., None]
        left = np.maximum(self.distance.transpose(2, 0, 1) - falls, 0.0)
        rest = log_t(left, self.log_det, r - 1, s.freedom) - cost[:, None]
        best = s.tempering * rest.max(axis=0).transpose(1, 2, 0) + math.log(share)
        but_one = s.tempering * log_t(left.min(axis=0), self.log_det, r - 1, s.freedom).transpose(1, 2, 0)
        robust = np.maximum(plain, best) + np.log1p(np.exp(-np.abs(plain - best)))
        if many == 1:
            return plain[:, :, 0], robust[:, :, 0], but_one[:, :, 0]
        return log_sum(plain + logs, axis=2), log_sum(robust + logs, axis=2), log_sum(but_one + logs, axis=2)

    def exact(self, row: Indexes, node: Indexes) -> Likelihood:
        """Likelihood of some of them at some severities."""
        s, gain = self.scatter, self.gain[row]
        factors = np.ascontiguousarray(self.root[:, :, row, node].transpose(2, 0, 1)) @ gain
        precision = self.precision[row] + np.einsum("nmr,nmr->nr", factors, factors)
        alpha = self.alpha[row] + self.whitened[:, :, row, node].transpose(2, 1, 0) @ factors
        precision = precision[:, None]
        distance, log_det = self.distance[row, node], self.log_det[row, node, None]
        return mixed(densities(s, distance, log_det, alpha**2 / precision, np.log(precision)), logs_of(s.slips))


def moved_by(
    effects: Array, kinds: Array, off: Array, model_error: float, smear: Array, doubt: Array
) -> tuple[Moved, ...]:
    """The hypotheses that move few readings, by how many; effects (H, S, R), smear and doubt (H,), the rest as in
    `SheetScatter`."""
    moves = np.abs(effects).max(axis=1, initial=0.0) > 0
    many = moves.sum(axis=1)
    found, least = [], 0
    for size in SIZES:
        row = np.flatnonzero((many > least) & (many <= size))
        least = size
        if not len(row):
            continue
        row = row[np.argsort(-many[row], kind="stable")]
        m = int(many[row[0]])
        at = np.argsort(~moves[row], axis=1, kind="stable")[:, :m]
        idle = np.arange(m) >= many[row, None]
        effect = np.where(idle[:, None], 0.0, np.take_along_axis(effects[row], at[:, None], axis=2)).transpose(2, 0, 1)
        alike = (kinds @ kinds.T)[at[:, :, None], at[:, None]]
        felt = off[at] * doubt[row, None]
        share = alike * felt[:, :, None] * felt[:, None] + smear[row, None, None] ** 2
        share[:, range(m), range(m)] += model_error**2
        unsure = share.transpose(1, 2, 0)[..., None] * effect[:, None] * effect
        counts = tuple(int((many[row] > j).sum()) for j in range(m))
        found.append(Moved(row, counts, at, idle, np.ascontiguousarray(effect), unsure))
    return tuple(found)


def few_of(s: SheetScatter, moved: Sequence[Moved]) -> Iterator[Few]:
    """What the readings of a sheet say of hypotheses that move few of them."""
    deviations = np.stack([s.e, *(s.e + slip.by for slip in s.slips)])
    toward = deviations @ s.precision
    whole = (deviations * toward).sum(axis=1)
    for group in moved:
        at, idle = group.at, group.idle
        m = at.shape[1]
        # an idle reading has nothing to do with the others, scatters by 1, is off by nothing and not moved
        rows = s.precision[at]
        rows[idle] = 0.0
        inner: Array = s.precision[at[:, :, None], at[:, None]]
        inner[idle[:, :, None] | idle[:, None]] = 0.0
        inner[:, range(m), range(m)] += idle
        known: Array = np.asarray(np.linalg.inv(inner), dtype=np.float64)
        gain = known @ rows
        pulled = toward[:, at].transpose(1, 0, 2)
        pulled[np.broadcast_to(idle[:, None], pulled.shape)] = 0.0
        off = pulled @ known
        others = whole - (pulled * off).sum(axis=2)
        root, whitened, log_det = _eliminated(
            known.transpose(1, 2, 0)[..., None] + group.unsure,
            off.transpose(2, 1, 0)[..., None] - group.effect[:, None],
            group.counts,
        )
        yield Few(
            s,
            group,
            gain,
            root,
            whitened,
            s.precision.diagonal() - (gain * rows).sum(axis=1),
            toward - pulled @ gain,
            others[:, None] + (whitened**2).sum(axis=0).transpose(1, 2, 0),
            log_det + s.log_det + np.linalg.slogdet(inner)[1][:, None],
        )


def _eliminated(matrices: Array, right: Array, counts: Sequence[int]) -> tuple[Array, Array, Array]:
    """Inverse T of the lower root of symmetric positive definite matrices (m, m, N, S), T times the right sides
    (m, L, N, S), which is worked out in their place as in that of the matrices, and ln determinants (N, S).

    counts (m,): how many of the N, the first ones, have more than 0, 1, … rows that are no identity.
    """
    m = len(matrices)
    inverse = np.zeros_like(matrices)
    inverse[range(m), range(m)] = 1.0
    log_det = np.zeros(matrices.shape[2:])
    for j, count in enumerate(counts):
        scale = 1 / np.sqrt(matrices[j, j, :count])
        log_det[:count] -= 2 * np.log(scale)
        right[j, :, :count] *= scale
        inverse[j, : j + 1, :count] *= scale
        if j + 1 < m:
            more = counts[j + 1]
            column = matrices[j + 1 :, j, :more] * scale[:more]
            matrices[j + 1 :, j + 1 :, :more] -= column[:, None] * column
            right[j + 1 :, :, :more] -= column[:, None] * right[j, :, :more]
            inverse[j + 1 :, : j + 1, :more] -= column[:, None] * inverse[j, : j + 1, :more]
    return inverse, right, log_det
