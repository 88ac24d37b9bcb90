"""The causes of a machine that are ranked: each a kind at a part, with the hypotheses (variants) that stand for it."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array, Indexes
from oilpath.physics.predictions import Predictions
from oilpath.records import dataclass

NONE, UNKNOWN, MACHINE = "none", "unknown", "machine"

CauseKey = tuple[str, str]
"""kind and part"""


@dataclass(frozen=True, slots=True)
class CauseIndex:
    """C causes with H hypotheses, after them `none` and `unknown`.

    `keys` (C + 2), `owner` (H,) the cause of each hypothesis, `titles` (H,), `place` (C + 2,) each key's place in
    alphabetical order, by which causes with the same share are ordered.
    """

    keys: tuple[CauseKey, ...]
    owner: Indexes
    titles: tuple[str, ...]
    place: Indexes

    @property
    def causes(self) -> int:
        """C, without `none` and `unknown`."""
        return len(self.keys) - 2

    def gathered(self, of_hypotheses: Array) -> Array:
        """Sums over the hypotheses of each cause: (H,) → (C,)."""
        return np.asarray(np.bincount(self.owner, weights=of_hypotheses, minlength=self.causes), dtype=np.float64)

    def members(self, cause: int) -> Indexes:
        """The hypotheses of a cause, ascending."""
        return np.asarray(np.flatnonzero(self.owner == cause), dtype=np.intp)

    def most_probable(self, of_hypotheses: Array) -> Indexes:
        """The hypothesis of each cause with the largest value, the first of those that tie: (H,) → (C,)."""
        order = np.lexsort((-of_hypotheses, self.owner))
        return np.asarray(order[np.searchsorted(self.owner[order], np.arange(self.causes))], dtype=np.intp)


def cause_index(model: Predictions) -> CauseIndex:
    """The causes of a machine."""
    number: dict[CauseKey, int] = {}
    owner = [number.setdefault((h.cause.cause, h.part), len(number)) for h in model.hypotheses]
    titles = (h.title.replace("{part}", model.circuit.title(h.part)) for h in model.hypotheses)
    keys = [*number, (NONE, MACHINE), (UNKNOWN, MACHINE)]
    place = np.empty(len(keys), dtype=np.intp)
    place[sorted(range(len(keys)), key=keys.__getitem__)] = np.arange(len(keys))
    return CauseIndex(
        tuple(keys), np.array(owner, dtype=np.intp), tuple(title[0].upper() + title[1:] for title in titles), place
    )
