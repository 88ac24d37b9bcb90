"""The veer of a straight run: offset from the direction at the start of the measured stretch, positive to the right."""

from __future__ import annotations

import math

from oilpath.documents.machine import Machine
from oilpath.documents.sheet import InstrumentData, Reading, Sheet
from oilpath.flow import Computed
from oilpath.flow.ids import placed_by, result_id
from oilpath.flow.notes import Amount, Note, note
from oilpath.judging.conditions import ConditionCheck
from oilpath.judging.limits import Standard, choose
from oilpath.judging.measured import Case, instrument_of, resolution, systematic
from oilpath.knowledge.testkind import TestKind
from oilpath.physics.formulas.travel import speed_difference, veer_offset
from oilpath.uncertainty import combine, rectangular

# Tracks of a sound machine may differ by this share of their speed before it shows as more than soil; from memory.
_TRACKS_DIFFER = 0.015
_USUAL_RUN_UP = 5.0  # [m] common practice; only for the uncertainty where a run-up line was used and none is stated


def veer_reading(reading: Reading, test: str, kind: TestKind) -> Reading:
    """The veer of a travel reading as a reading of its own, under the veer's test."""
    assert reading.veer is not None
    identity = result_id(test, placed_by(reading.kind.id, reading.keys), reading.variant, reading.together_with)
    return Reading(
        identity, test, kind, reading.keys, (reading.veer.offset,), reading.figures, reading.flags,
        variant=reading.variant, together_with=reading.together_with, conditions=reading.conditions, veer=reading.veer,
        line=reading.line,
    )  # fmt: skip


def measure_veer(sheet: Sheet, reading: Reading, check: ConditionCheck) -> tuple[Case, tuple[Note, ...]]:
    """The offset from the starting direction, and what is to be said of how it was found."""
    assert reading.veer is not None
    kind, offset = reading.kind, reading.veer.offset
    distance, run_up = reading.figures.get("distance", 0.0), reading.figures.get("run-up")
    factor, spread, notes = _to_start_line(reading.veer.reference, distance, run_up, offset)
    assumed = kind.instrument
    named: InstrumentData | None = instrument_of(sheet, kind) or sheet.instruments.get("length")
    u = combine(assumed.scatter if assumed else 0.0, systematic(assumed, named, offset)) * factor
    value = offset * factor
    case = Case(
        reading, kind, None, check, offset, value, combine(u, abs(value) * spread), 1, resolution(assumed, named)
    )  # fmt: skip
    if kind.censored_at is not None and abs(value) > kind.censored_at:
        notes.append(note("offset-only-says-much", most=Amount(kind.censored_at, "distance")))
    return case, tuple(notes)


def _to_start_line(
    reference: str, distance: float, run_up: float | None, offset: float
) -> tuple[float, float, list[Note]]:
    """Factor to the offset from the starting direction, the uncertainty it adds as a share, and a note.

    The track gauge cancels out.
    """
    if reference == "start-line" or not distance:
        return 1.0, 0.0, []
    known = run_up or 0.0
    difference = speed_difference(1.0, distance, 1.0, known, "chord" if reference == "chord" else "run-up-line")
    factor = veer_offset(difference, distance, 1.0)
    spread = 0.0
    if reference == "run-up-line" and run_up is None:
        spread = rectangular(1 - distance / (distance + 2 * _USUAL_RUN_UP))
    measured, found = Amount(abs(offset), "distance"), Amount(abs(offset) * factor, "distance")
    if reference == "chord":
        says = note("offset-from-chord", measured=measured, found=found)
    else:
        says = note("offset-from-unknown-run-up" if spread else "offset-from-run-up", measured=measured, found=found)
    return factor, spread, [says]


def veer_standard(reading: Reading, travel: Reading, machine: Machine) -> Standard | None:
    """Limits to both sides, scaled with the square of the distance; without one the two tracks are compared."""
    limit = choose(travel.test, travel.kind, reading, machine, lambda one: one.max_veer is not None)
    if limit is None or limit.max_veer is None:
        return _tracks_compared(reading, machine)
    own = reading.figures.get(travel.kind.limits.per or "")
    factor = 1.0
    notes: tuple[Note, ...] = ()
    if own is not None and limit.per is not None and not math.isclose(own, limit.per, rel_tol=1e-9):
        factor = (own / limit.per) ** 2
        notes = (note("veer-limit-scaled", limit=Amount(limit.per, "distance"), made=Amount(own, "distance")),)
    most = limit.max_veer * factor
    return Standard("limit", 0.0, -most, most, reference=0.0, notes=notes)


def _tracks_compared(reading: Reading, machine: Machine) -> Standard:
    """How far a machine veers whose tracks differ by as much as sound ones may."""
    distance, known = reading.figures.get("distance"), machine.track_gauge
    if not distance or known is None:
        return Standard(None, 0.0, reference=0.0, notes=(note("no-limit"),))
    gauge, spread = known
    most = veer_offset(_TRACKS_DIFFER, distance, gauge)
    share, offset = Amount(_TRACKS_DIFFER, "ratio"), Amount(most, "distance")
    says = note("tracks-compared-gauge-not-stated" if spread else "tracks-compared", share=share, offset=offset)
    return Standard("twin", 0.0, -most, most, u=most * spread / gauge, reference=0.0, notes=(says,))


def veer_computed(case: Case, machine: Machine) -> dict[str, Computed]:
    """The speed difference of the tracks, (left − right)/mean, where the gauge is known.

    An offset that only says "much" gives what it is at least: the operator corrects or stops.
    """
    gauge, distance, most = machine.dimensions.track_gauge, case.reading.figures.get("distance"), case.kind.censored_at
    if gauge is None or not distance:
        return {}
    much = most is not None and abs(case.value) > most
    return {
        "speed-difference-at-least" if much else "speed-difference": Computed(
            speed_difference(case.value, distance, gauge), "ratio", speed_difference(case.u, distance, gauge)
        )
    }


def veer_figures(machine: Machine) -> dict[str, float]:
    """Figures that a model needs for a veer beside those of the reading."""
    gauge = machine.dimensions.track_gauge
    return {"track-gauge": gauge} if gauge is not None else {}
