"""What a remedy says that was tried: one that did not help speaks against the causes at its part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from oilpath.arrays import Array

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.documents.sheet import Remedy

_WHOLE = "exchanged"


def remedy_id(action: str, part: str) -> str:
    """What a remedy is called as evidence."""
    return f"remedy/{action}/{part}"


def tried(remedies: Sequence[Remedy], bench: Bench) -> dict[str, Array]:
    """ln P(helped or not | hypothesis) against the causes elsewhere, shape (H,), by id: `remedy/ACTION/PART`.

    What is exchanged as a whole goes with all that belongs to it; any other action is for the part alone. Remedies of
    which nobody knows yet whether they helped say nothing.
    """
    priors = bench.priors
    found: dict[str, Array] = {}
    for one in remedies:
        if one.helped is None or one.part not in bench.places.index or one.action not in priors.in_vain:
            continue
        inside = _inside(one.part, bench) if one.action == _WHOLE else {one.part}
        here = np.array([hypothesis.part in inside for hypothesis in bench.hypotheses], dtype=np.bool_)
        vain, chance = priors.in_vain[one.action], priors.by_chance
        ratio = (1 - vain) / chance if one.helped else vain / (1 - chance)
        found[remedy_id(one.action, one.part)] = np.where(here, math.log(ratio), 0.0)
    return found


def _inside(part: str, bench: Bench) -> set[str]:
    """A part with all that belongs to it, not what it belongs to."""
    graph = bench.circuit
    return {part, *graph.parts[part].members, *(name for name, one in graph.parts.items() if one.of == part)}
