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


BLOCK = 16
"""rows multiplied at once: below the size at which the linear algebra library would start threads, which cost more here
than they give and stall where the processor is busy"""


def small_product(rows: Array, matrix: Array) -> Array:
    """rows (N, K) @ matrix (K, M), block by block."""
    n, k = rows.shape
    padded = np.zeros((-(-n // BLOCK) * BLOCK, k))
    padded[:n] = rows
    product: Array = (padded.reshape(-1, BLOCK, k) @ matrix).reshape(len(padded), matrix.shape[1])[:n]
    return product
