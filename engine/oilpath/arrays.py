"""The array types that the engine names; `numpy.typing` itself is only for type checkers (it takes 20 ms to import)."""

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
