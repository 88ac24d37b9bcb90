"""Readings that are out by chance: makers set limits so that sound machines keep them.

The scatter alone lets more sound machines be out than there are: its tails are wide for the sake of machines that the
model does not fit. So what moves no reading that is beyond its limit, nothing wrong among them, counts less.
"""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array
from oilpath.knowledge.base import Priors
from oilpath.ranking.evidence import Readings

MOVED = 0.5
"""share of how far a reading is off, from which an effect moves it"""


def left_to_chance(effects: Array, readings: Readings, priors: Priors) -> Array:
    """ln factor on what predicts the effects (…, R), shape (…,): 0 where it moves the reading that is surest beyond its
    limit, in full where it moves none that may be, in proportion between."""
    if not readings.beyond.any():
        return np.zeros(effects.shape[:-1])
    may = (readings.beyond > 0) & (readings.e != 0)
    if not may.any():
        return np.zeros(effects.shape[:-1])
    weight = -np.log(1 - readings.beyond[may] * (1 - priors.out_by_chance))
    moved = np.clip(effects[..., may] / (MOVED * readings.e[may]), 0.0, 1.0)
    result: Array = (moved * weight).max(axis=-1) - weight.max()
    return result
