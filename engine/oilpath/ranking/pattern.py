"""What follows from which readings a sheet holds, whatever their values: kept for the next sheet with the same ones."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from oilpath.arrays import Array, Indexes, Mask
from oilpath.latest import Latest
from oilpath.physics.predictions import reading_key
from oilpath.ranking.evidence import Sources, censor, sources_of
from oilpath.ranking.few import Moved, moved_by
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.flow import Evidence
    from oilpath.ranking.likelihood import SheetScatter

KEPT: Latest[Hashable, Pattern] = Latest(16)
"""the latest patterns of all machines, some 2 MB each"""


@dataclass(frozen=True, slots=True)
class Pattern:
    """The effects of H hypotheses at S severities on R readings.

    `known` which of all readings of the sheet the model knows, R in number. `effects` (H, S, R) as these can show them
    (veers censored), `shown` which hypotheses have any, `smear` (H,) by what share the effects of a severity differ
    from those half way to its neighbours, `moved` the hypotheses that move few readings, numbered as in `shown`, and
    `sources` what scatters the readings.
    """

    known: Mask
    effects: Array
    shown: Indexes
    smear: Array
    moved: tuple[Moved, ...]
    sources: Sources | None


def pattern_for(evidence: Sequence[Evidence], bench: Bench) -> Pattern:
    """The pattern of the readings of a sheet."""
    key = bench.model.token, tuple(map(reading_key, evidence))
    return KEPT.get(key, lambda: _made(evidence, bench))


def _made(evidence: Sequence[Evidence], bench: Bench) -> Pattern:
    model, knowledge = bench.model, bench.knowledge
    table, known = model.predict(evidence)
    seen = [x for x, ok in zip(evidence, known, strict=True) if ok]
    s = sources_of(seen, bench.circuit, knowledge)
    effects = censor(table if known.all() else table[:, :, known], s.censored)
    return _pattern(known, s, effects, s.kinds, s.off, bench.priors.model_error, model.steps, model.doubt)


def pattern_of(effects: Array, s: SheetScatter, steps: Array, doubt: Array) -> Pattern:
    """The pattern of effects (H, S, R) that are not kept; steps and doubt (H,) as in `Predictions`."""
    return _pattern(np.ones(len(s.e), dtype=np.bool_), None, effects, s.kinds, s.off, s.model_error, steps, doubt)


def _pattern(
    known: Mask,
    sources: Sources | None,
    effects: Array,
    kinds: Array,
    off: Array,
    model_error: float,
    steps: Array,
    doubt: Array,
) -> Pattern:
    smear = steps / math.sqrt(12)
    shown = np.flatnonzero(np.abs(effects).max(axis=(1, 2), initial=0.0) > 1e-9)
    moved = moved_by(effects[shown], kinds, off, model_error, smear[shown], doubt[shown])
    return Pattern(known, effects, shown, smear, moved, sources)
