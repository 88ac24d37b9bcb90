"""Settings that were moved while a machine was tested, and the readings that depend on them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from oilpath.documents.sheet import Sheet, Work
from oilpath.flow import Result, evidence_in
from oilpath.flow.notes import Amount, Named, Note, note

if TYPE_CHECKING:
    from oilpath.bench import Bench

_SETTING: Final = "setting"
_NAMED: Final = 3
_TOLD: Final = 0.02
"""effect from which a reading depends on a part: ln ratio, or SI for offsets"""


def moved_settings(sheet: Sheet, results: Sequence[Result], bench: Bench) -> tuple[Note, ...]:
    """A warning for each setting that was moved: which readings belong to before or after, nobody can see."""
    moved = [one for one in sheet.work if one.what == _SETTING]
    if not moved:
        return ()
    evidence = evidence_in(results)
    table, _ = bench.model.predict(evidence)
    most = np.abs(table).max(axis=1) if table.size else np.zeros((len(table), len(evidence)))
    found = []
    for one in moved:
        here = [number for number, h in enumerate(bench.hypotheses) if h.part == one.part]
        told = most[here].max(axis=0, initial=0.0)
        order = [n for n in np.argsort(-np.round(told, 9), kind="stable").tolist() if told[n] >= _TOLD]
        names = tuple(Named("result", evidence[n].result) for n in order[:_NAMED])
        part, how = Named("part", one.part), _turned(one)
        if names:
            found.append(note("setting-moved", part=part, how=how, count=len(order), results=names))
        else:
            found.append(note("setting-moved-alone", part=part, how=how))
    return tuple(found)


def _turned(work: Work) -> Note:
    if not work.turns:
        return note("was-moved")
    if work.turns > 0:
        return note("was-turned-in", turns=Amount(work.turns))
    return note("was-turned-out", turns=Amount(-work.turns))
