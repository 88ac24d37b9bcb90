"""What of a drift can be cooling of the oil, and the leakage behind the rest.

The leakage is that out of the loaded end; past a cylinder's own seal it is less, as only the rod's volume leaves.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oilpath.documents.machine import Machine
from oilpath.flow import Computed
from oilpath.flow.notes import Amount, Note, note
from oilpath.judging.estimates import FALL_USUAL, area_at
from oilpath.judging.measured import Case
from oilpath.physics.formulas.holding import cooling_shrinkage, cooling_shrinkage_uncertainty, leakage_from_drift
from oilpath.records import dataclass
from oilpath.uncertainty import combine

if TYPE_CHECKING:
    from oilpath.bench import Bench

# The tank's oil is not the cylinder's: its fall says the cylinder's within half, never better than 1.5 K; from memory.
_FALL_SHARE, _FALL_LEAST = 0.5, 1.5
MOST_FALL = 40.0
"""[K] by which the oil of a machine at test temperature can cool during a hold, at the very most; from memory"""


@dataclass(frozen=True, slots=True)
class Drift:
    """Cooling part [m] with its standard uncertainty, where it could be computed, and what is shown of the drift."""

    cooling: float | None
    u: float
    beyond: float
    """cooling part beyond the usual fall, which a limit for values as measured already holds [m]"""
    computed: dict[str, Computed]
    notes: tuple[Note, ...]


def drift(case: Case, bench: Bench) -> Drift | None:
    """The cooling part of a drift and the leakage; None for tests that know no cooling."""
    keys = case.kind.cooling
    if keys is None:
        return None
    figures, name = case.reading.figures, case.reading.keys.get("cylinder", "")
    start, end = figures.get(keys.start), figures.get(keys.end)
    cooling, u, beyond, notes = None, 0.0, 0.0, []
    if start is None or end is None:
        notes.append(note("cooling-not-stated"))
    elif start == end:
        cooling = 0.0
        column = _column(name, figures.get(keys.column), bench.machine)
        u = cooling_shrinkage_uncertainty(column[0], 0.0, _FALL_LEAST) if column is not None else 0.0
        notes.append(note("oil-did-not-cool"))
    else:
        column = _column(name, figures.get(keys.column), bench.machine)
        fall = start - end
        if column is None or abs(fall) > 100:
            notes.append(note("cooling-not-known", fall=Amount(fall, "temperature-difference")))
        else:
            length, spread = column
            cooling = cooling_shrinkage(length, fall)
            u = combine(
                cooling_shrinkage_uncertainty(length, fall, max(_FALL_SHARE * abs(fall), _FALL_LEAST)),
                abs(cooling) * spread / length,
            )
            beyond = cooling - math.copysign(min(abs(cooling), cooling_shrinkage(length, FALL_USUAL)), cooling)
            notes.append(_says(cooling, u, case.raw, fall))
    computed = {} if cooling is None else {"cooling": Computed(cooling, "length", u)}
    column = _column(name, figures.get(keys.column), bench.machine) if cooling is None else None
    if column is not None:
        # however far the oil cooled, to the air around it
        computed["cooling-at-most"] = Computed(cooling_shrinkage(column[0] + column[1], MOST_FALL), "length")
    held = bench.machine.circuit.holds.get(name)
    area = area_at(name, held.loaded, bench) if held is not None else None
    hold = figures.get(case.kind.limits.per or "")
    if area is not None and hold:
        if cooling is not None:
            shrunk = leakage_from_drift(area, cooling, hold)
            computed["cooling-flow"] = Computed(shrunk, "flow", leakage_from_drift(area, u, hold))
        moved = max(case.raw - (cooling or 0.0), 0.0)
        leak = leakage_from_drift(area, moved, hold)
        computed["leakage"] = Computed(leak, "flow", leakage_from_drift(area, combine(case.u, u), hold))
    return Drift(cooling, u, beyond, computed, tuple(notes))


def _says(cooling: float, u: float, moved: float, fall: float) -> Note:
    if cooling < 0:
        by = Amount(-fall, "temperature-difference")
        return note("warming-hides-drift", by=by, hidden=Amount(-cooling, "length"))
    by, length, spread = Amount(fall, "temperature-difference"), Amount(cooling, "length"), Amount(u, "length")
    share = cooling / moved if moved > 0 else math.inf
    if share >= 1:
        return note("cooling-is-all", by=by, length=length, spread=spread)
    return note("cooling-is-a-part", by=by, length=length, spread=spread, share=Amount(share, "ratio"))


def _column(name: str, extension: float | None, machine: Machine) -> tuple[float, float] | None:
    """Oil column [m] on the loaded side with its standard uncertainty; half the stroke where not measured."""
    held, data = machine.circuit.holds.get(name), machine.parts.get(name)
    if held is None:
        return None
    stroke = data.stroke if data is not None else None
    if extension is not None and held.loaded == "cap":
        return extension, 0.05 * extension
    if extension is not None and stroke is not None and stroke > extension:
        return stroke - extension, 0.05 * stroke
    return (stroke / 2, stroke / math.sqrt(12)) if stroke is not None else None
