"""The single causes at their severities, each row with its prior and its likelihood."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array
from oilpath.ranking.likelihood import Likelihood
from oilpath.records import dataclass


@dataclass(frozen=True, slots=True)
class Rows:
    """Evaluated rows of single causes: hypothesis, severity node, ln prior weight, likelihood."""

    hypothesis: np.ndarray
    node: np.ndarray
    prior: Array
    fit: Likelihood

    @property
    def joint(self) -> Array:
        """ln prior + ln likelihood of every row."""
        result: Array = self.prior + self.fit.robust
        return result
