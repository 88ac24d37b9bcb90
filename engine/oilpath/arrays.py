"""The array types that the engine names, and products of small matrices.

`numpy.typing` itself is only for type checkers (it takes 20 ms to import).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    """numbers"""
    Mask = NDArray[np.bool_]
    """true or false"""
    Indexes = NDArray[np.intp]
    """whole numbers that index"""
else:
    Array = Mask = Indexes = np.ndarray


_HELD = 8 << 20
"""bytes: the largest block of memory that is asked for again and again"""
# The GNU C library returns every large block to the system at once, and each new one costs a page fault for every
# 4 KiB: twice the time of working on it. After a block of this size was freed it keeps up to twice as much for the next
# ones (mallopt(3), M_MMAP_THRESHOLD: the threshold is adjusted). Nothing is written here, so no memory is taken.
np.empty(_HELD, dtype=np.uint8)

LOWEST = float(np.finfo(np.float64).min) / 4

PRODUCTS = 1 << 17
"""multiplications at once: below the size at which the linear algebra library starts threads, which cost more here than
they give and stall where the processor is busy"""


def small_product(rows: Array, matrix: Array) -> Array:
    """rows (N, K) @ matrix (K, M), block by block."""
    n, k = rows.shape
    many = matrix.shape[1]
    block = max(1, PRODUCTS // max(1, k * many))
    product = np.empty((n, many))
    for first in range(0, n, block):
        np.matmul(rows[first : first + block], matrix, out=product[first : first + block])
    return product


def inverse_roots(matrices: Array) -> tuple[Array, Array]:
    """Inverses (N, K, K) of the roots of Cholesky of symmetric positive definite matrices, and the logarithms of the
    determinants of the matrices (N,). The inverse of a matrix is Tᵀ·T with such a T."""
    k = matrices.shape[1]
    roots = np.asarray(np.linalg.cholesky(matrices), dtype=np.float64)
    log_det: Array = 2 * np.log(roots[:, range(k), range(k)]).sum(axis=1)
    return _inverses_of_lower(roots), log_det


def _inverses_of_lower(matrices: Array) -> Array:
    """Inverses of lower triangular matrices (N, K, K), by quarters: all of them together in few products, which takes
    a third of the time of inverting one small matrix after the other."""
    k = matrices.shape[1]
    result = np.zeros_like(matrices)
    if k <= 2:
        result[:, range(k), range(k)] = 1 / matrices[:, range(k), range(k)]
        if k == 2:
            result[:, 1, 0] = -matrices[:, 1, 0] * result[:, 0, 0] * result[:, 1, 1]
        return result
    half = k // 2
    first, last = _inverses_of_lower(matrices[:, :half, :half]), _inverses_of_lower(matrices[:, half:, half:])
    result[:, :half, :half], result[:, half:, half:] = first, last
    result[:, half:, :half] = -last @ (matrices[:, half:, :half] @ first)
    return result


def log_sum(logs: Array, axis: int) -> Array:
    """ln Σ exp along an axis; -inf where all are. (numpy's logaddexp takes them one by one: ten times as long.)"""
    top = logs.max(axis=axis, keepdims=True, initial=LOWEST)
    result: Array = np.log(np.exp(logs - top).sum(axis=axis)) + np.squeeze(top, axis)
    return result


def without(size: int, numbers: Indexes) -> Indexes:
    """0 … size − 1 without some numbers, in order. (numpy's own set functions import its masked arrays: 10 ms.)"""
    rest = np.ones(size, dtype=np.bool_)
    rest[numbers] = False
    return np.flatnonzero(rest)
