"""One machine over its hours: every result of its sheets, with its limit, its rate, and when it will cross that limit.

A straight line is fitted to the valid readings by weighted least squares. When a reading will cross the limit is said
only where the line rises or falls beyond its own uncertainty, toward the limit, and not far beyond what was observed;
else it is said why nothing can be said. Wear seldom goes straight: the rate is that of the hours that were observed.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import median
from typing import Literal

from oilpath.bench import bench_for
from oilpath.documents.sheet import Reading, Sheet
from oilpath.flow import Measured, Result, Verdict
from oilpath.flow.ids import placed_by, result_id
from oilpath.flow.notes import Note, note
from oilpath.judging import judge
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKind
from oilpath.problems import Problem
from oilpath.records import dataclass
from oilpath.session.regression import Crossing, Line, crossing, fit_line, scatter_of, student_quantile

Axis = Literal["hours", "days"]
Outcome = Literal["crosses", "far", "past", "steady", "away", "few", "unlimited", "noted"]
"""crosses: within sight; far: toward its limit, but too far off or too unsure to say when; past: beyond its limit
already; steady: no trend beyond the scatter; away: it moves away from its limit; few: too few readings; unlimited: a
trend, and no limit; noted: no figure"""

LEAST = 3  # readings for a line that shows its scatter
PROBABILITY = 0.95  # of the interval of a crossing, and for a slope to count as one
OPEN = 10.0  # times the stretch that was observed; an interval that reaches further has no end, from memory
REACH = 3.0  # times the stretch that was observed; beyond it a straight line says nothing, from memory


@dataclass(frozen=True, slots=True)
class SheetAt:
    """One sheet of the trend: where it is on the axis (h, or days since the first sheet)."""

    name: str
    at: float
    hours: float | None
    date: str | None


@dataclass(frozen=True, slots=True)
class Point:
    """One reading. value: its figure, SI, brought to the hold, distance or turns of the last sheet; None for a sign, a
    code or a check. `used`: it counts for the line."""

    sheet: int
    at: float
    result: Result
    value: float | None
    u: float | None
    used: bool

    @property
    def verdict(self) -> Verdict:
        """That of the result."""
        return self.result.verdict


@dataclass(frozen=True, slots=True)
class ResultTrend:
    """One result over the sheets. `last` is that of the last sheet that has it, with its limit; side is the one that is
    crossed or neared, rate is per hour or per day (SI)."""

    id: str
    last: Result
    points: tuple[Point, ...]
    line: Line | None
    outcome: Outcome
    side: Literal["min", "max"] | None = None
    crossing: Crossing | None = None
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True)
class Trend:
    """All results of a machine over its sheets, in the order of the axis."""

    machine: str
    unit_number: str | None
    axis: Axis
    sheets: tuple[SheetAt, ...]
    results: tuple[ResultTrend, ...]


def placed(sheets: Sequence[Sheet]) -> tuple[tuple[Sheet, ...], Axis, tuple[Problem, ...]]:
    """Sheets in order, the axis, and problems of sheets that do not fit: no hours or date, or another machine.

    By hours where all state them, else by date where all do. A sheet with a problem is left out. What the others are
    compared with is the first one.
    """
    problems: list[Problem] = []
    kept: list[Sheet] = []
    for sheet in sheets:
        other = _another(sheets[0], sheet)
        if other is not None:
            problems.append(other)
        elif sheet.hours is None and sheet.date is None:
            problems.append(
                Problem(
                    sheet.name,
                    1,
                    "hours",
                    "is missing, and so is the date",
                    "hours (or date) on every sheet of a trend",
                )
            )
        else:
            kept.append(sheet)
    axis: Axis = "hours" if all(sheet.hours is not None for sheet in kept) else "days"
    if axis == "days":
        lacking = [sheet for sheet in kept if sheet.date is None]
        problems += [
            Problem(
                sheet.name,
                1,
                "date",
                "is missing, while other sheets lack hours",
                "hours on all sheets, or a date on all",
            )
            for sheet in lacking
        ]
        kept = [sheet for sheet in kept if sheet.date is not None]
    return tuple(sorted(kept, key=lambda sheet: _at(sheet, axis, 0))), axis, tuple(problems)


def _another(first: Sheet, sheet: Sheet) -> Problem | None:
    pairs = (
        ("machine", first.machine.name, sheet.machine.name),
        ("unit-number", first.unit_number, sheet.unit_number),
        ("serial-number", first.serial_number, sheet.serial_number),
    )
    for key, mine, theirs in pairs:
        if mine is not None and theirs is not None and mine.strip() != theirs.strip():
            return Problem(sheet.name, 1, key, f"differs from that of {first.name}", "sheets of one machine")
    return None


def _at(sheet: Sheet, axis: Axis, start: int) -> float:
    if axis == "hours":
        return sheet.hours or 0.0
    return float(datetime.date.fromisoformat(sheet.date or "").toordinal() - start)


def trend(
    sheets: Sequence[Sheet], axis: Axis, knowledge: Knowledge, *, fail_at: float = 0.95, pass_at: float = 0.05
) -> Trend:
    """The trend of sheets as `placed` gives them.

    Parameters
    ----------
    sheets : sequence of Sheet, at least one, all of one machine, in the order of the axis
    axis : ``hours`` or ``days``
    knowledge : Knowledge
    fail_at, pass_at : floats, as for `judge`

    Returns
    -------
    Trend : results in the order in which the sheets bring them

    Raises
    ------
    ValueError : no sheets, or thresholds out of order

    Source
    ------
    [1] Weighted least squares and Student's t as in `regression`; interval of a crossing by Fieller's theorem.
    """
    if not sheets:
        raise ValueError("a trend needs a sheet")
    start = 0 if axis == "hours" else int(_at(sheets[0], axis, 0))
    places = tuple(SheetAt(sheet.name, _at(sheet, axis, start), sheet.hours, sheet.date) for sheet in sheets)
    judged = [
        {one.id: one for one in judge(s, bench_for(s.machine, knowledge), fail_at=fail_at, pass_at=pass_at)}
        for s in sheets
    ]
    read = [_readings(sheet, knowledge) for sheet in sheets]
    names = dict.fromkeys(
        name for results, known in zip(judged, read, strict=True) for name in results if name in known
    )
    results = tuple(_trend(name, judged, read, places) for name in names)
    return Trend(sheets[0].machine.name, _stated(sheets), axis, places, results)


def _stated(sheets: Sequence[Sheet]) -> str | None:
    return next((sheet.unit_number for sheet in reversed(sheets) if sheet.unit_number is not None), None)


def _readings(sheet: Sheet, knowledge: Knowledge) -> Mapping[str, tuple[Reading, TestKind, int]]:
    """By result id the reading behind it, its test kind and the power with which it goes with the amount."""
    found: dict[str, tuple[Reading, TestKind, int]] = {}
    for reading in sheet.readings:
        found[reading.id] = (reading, reading.kind, 1)
        veer = reading.kind.veer_as
        if reading.veer is not None and veer is not None and veer in knowledge.tests:
            steps = placed_by(reading.kind.id, reading.keys)
            own = result_id(veer, steps, reading.variant, reading.together_with)
            found[own] = (reading, knowledge.tests[veer], 2)  # a veer grows with the square of the distance
    return found


def _trend(
    name: str,
    judged: Sequence[Mapping[str, Result]],
    read: Sequence[Mapping[str, tuple[Reading, TestKind, int]]],
    places: Sequence[SheetAt],
) -> ResultTrend:
    having = [number for number, results in enumerate(judged) if name in results]
    last = judged[having[-1]][name]
    reading = read[having[-1]][name][0]
    points: list[Point] = []
    unscaled = False
    for number in having:
        result = judged[number][name]
        factor = _factor(reading, *read[number][name])
        unscaled = unscaled or factor is None
        points.append(_point(number, places[number].at, result, factor))
    notes = (note("other-stretches-not-counted"),)
    shown = ResultTrend(name, last, tuple(points), None, "noted", notes=notes if unscaled else ())
    return _concluded(shown, last) if isinstance(last, Measured) else shown


def _factor(last: Reading, reading: Reading, kind: TestKind, power: int) -> float | None:
    """Factor that converts a value to the hold, distance or turns of the last reading; None if that cannot be done."""
    rules = reading.kind.limits
    own, theirs = last.figures.get(rules.per or ""), reading.figures.get(rules.per or "")
    if own is None or theirs is None or math.isclose(own, theirs, rel_tol=1e-9):
        return 1.0
    if any(r.keys.get(key) == word for key, word in rules.unscaled.items() for r in (last, reading)):
        return None
    if rules.scaling == "none" and power == 1:
        return None
    return (own / theirs) ** power


def _point(sheet: int, at: float, result: Result, factor: float | None) -> Point:
    if not isinstance(result, Measured):
        return Point(sheet, at, result, None, None, False)
    scale = 1.0 if factor is None else factor
    u = None if result.uncertainty is None else result.uncertainty * scale
    used = factor is not None and result.verdict != "invalid" and u is not None and u > 0
    return Point(sheet, at, result, result.value * scale, u, used)


# --- what can be said -------------------------------------------------------------------


def _concluded(shown: ResultTrend, last: Measured) -> ResultTrend:
    """Fit the line through the readings that count, and conclude from it."""
    used = [point for point in shown.points if point.used]
    beyond = _beyond(last)
    if len(used) < LEAST or len({point.at for point in used}) < 2:
        return replace(shown, outcome="past" if beyond else "few", side=beyond)
    values = [float(point.value or 0.0) for point in used]
    stated = fit_line([point.at for point in used], values, [point.u or 1.0 for point in used])
    scatter, freedom = scatter_of(stated)
    line = stated.widened(scatter)
    shown = replace(shown, line=line)
    factor = student_quantile(PROBABILITY, freedom)
    if beyond:
        return replace(shown, outcome="past", side=beyond)
    if abs(line.slope) <= factor * line.u_slope:
        return replace(shown, outcome="steady")
    if last.min is None and last.max is None:
        return replace(shown, outcome="unlimited")
    side: Literal["min", "max"] = "max" if line.slope > 0 else "min"
    limit = last.max if side == "max" else last.min
    if limit is None:
        return replace(shown, outcome="away")
    found = crossing(line, limit, factor, scatter * median(point.u or 0.0 for point in used))
    start, end = used[0].at, used[-1].at
    return replace(shown, outcome="crosses" if _in_sight(found, start, end) else "far", side=side, crossing=found)


def _in_sight(found: Crossing | None, start: float, end: float) -> bool:
    """Whether a crossing is near enough, and its interval ends on one side at least."""
    if found is None or found.at > end + REACH * (end - start):
        return False
    return (found.earliest is not None and found.earliest > end) or not is_open(found, start, end)


def is_open(found: Crossing, start: float, end: float) -> bool:
    """Whether the interval of a crossing reaches so far beyond what was observed that its end says nothing."""
    return found.latest is None or found.latest > end + OPEN * (end - start)


def _beyond(last: Measured) -> Literal["min", "max"] | None:
    """The limit that the last reading has already passed, as judged."""
    if last.verdict != "fail":
        return None
    if last.max is not None and last.value > last.max:
        return "max"
    return "min" if last.min is not None and last.value < last.min else None
