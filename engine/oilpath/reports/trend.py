"""The trend of a machine as blocks of a page: what crosses its limit when, every value, and charts."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from oilpath._version import __version__
from oilpath.flow import Measured
from oilpath.knowledge.applicability import cautions_on
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER, Block, Chart, Heading, Items, Para, Row, Table, Title, Tone
from oilpath.reports.chart import draw, frame_of
from oilpath.reports.names import counted, listed, safe
from oilpath.reports.notes import Sayer
from oilpath.reports.words import Words
from oilpath.session.history import LEAST, Outcome, Point, ResultTrend, Trend, is_open
from oilpath.units import figure

_HOURS, _DAYS = 1000.0, 365.25  # a rate is given per so many hours or days
_SURE: Final = "19 times in 20"  # trending.PROBABILITY
_FIRST: Final[tuple[Outcome, ...]] = ("past", "crosses", "far", "unlimited")
_TONES: Final[dict[Outcome, Tone]] = {"past": "out", "crosses": "near"}
_COUNTED: Final[dict[Outcome, tuple[str, str]]] = {
    "steady": ("no trend beyond its scatter", "no trend beyond their scatter"),
    "away": ("moves away from its limit", "move away from their limits"),
    "few": (f"too few readings that count ({LEAST} are needed)", f"too few readings that count ({LEAST} are needed)"),
}


def lay_out_trend(trend: Trend, words: Words, *, all_results: bool = False, columns: int = 3) -> Iterator[Block]:
    """The blocks of a trend; `columns` sheets at most in one table, side by side."""
    yield Title(" · ".join(heading(trend)))
    yield Para(verdict(trend, words), "lead")
    telling = [shown for outcome in _FIRST for shown in by_outcome(trend, outcome)]
    if telling:
        yield Heading("Toward the limit")
        rows = tuple(
            Row(
                (words.result(shown.last), rate(shown, trend, words), says(shown, trend, words)),
                _TONES.get(shown.outcome, "plain"),
            )
            for shown in telling
        )
        yield Table(("Result", "Rate", "Trend"), rows)
    counted = [_counted(trend, outcome, words) for outcome in _COUNTED if by_outcome(trend, outcome)]
    if counted:
        yield Items(tuple(counted))
    yield from _values(trend, words, columns)
    yield from _charts(trend, words, all_results)
    sayer = Sayer(words)
    notes = [f"{words.result(shown.last)}: {sayer.say(note)}" for shown in trend.results for note in shown.notes]
    yield Heading("How it is worked out")
    yield Items((*notes, *_method(trend)))
    yield Heading("Cautions")
    names = [*words.knowledge.always, *(name for shown in trend.results for name in _cautions(shown, words))]
    apply = cautions_on(names, words.knowledge, words.machine)
    yield Items(tuple(dict.fromkeys(words.caution(name) for name in apply)), "caution")
    yield Para(DEFER, "dim")
    yield Para(f"oilpath {__version__}, knowledge {words.knowledge.version[:19]}", "dim")


def _cautions(shown: ResultTrend, words: Words) -> tuple[str, ...]:
    kind = words.knowledge.tests.get(shown.last.test)
    return kind.cautions if kind is not None else ()


def heading(trend: Trend) -> list[str]:
    """Machine, unit, how many sheets and from when to when."""
    parts = [safe(trend.machine)]
    if trend.unit_number:
        parts.append("unit " + safe(trend.unit_number))
    ends = [place(trend.sheets[end].at, trend) for end in (0, -1)]
    return [
        *parts,
        counted(len(trend.sheets), "sheet"),
        ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}",
    ]


def by_outcome(trend: Trend, outcome: Outcome) -> list[ResultTrend]:
    """Results with one outcome; those that cross first come first."""
    found = [shown for shown in trend.results if shown.outcome == outcome]
    return sorted(found, key=lambda shown: shown.crossing.at if shown.crossing is not None else 0.0)


def verdict(trend: Trend, words: Words) -> str:
    """The answer in one or two sentences."""
    past, coming = by_outcome(trend, "past"), by_outcome(trend, "crosses")
    said: list[str] = []
    if past:
        names = listed([words.result(shown.last) for shown in past[:3]])
        more = f" and {len(past) - 3} more" if len(past) > 3 else ""
        said.append(f"Beyond the limit already: {names}{more}.")
    if coming:
        first = coming[0]
        said.append(f"At the present rate {words.result(first.last)} {says(first, trend, words)}.")
    elif not past:
        if all(shown.outcome in ("few", "noted") for shown in trend.results):
            said.append(f"Too few sheets for a trend: each result needs {LEAST} readings that count.")
        else:
            said.append("No result is on its way to its limit in the foreseeable future.")
    return " ".join(said)


def place(at: float, trend: Trend) -> str:
    """A place on the axis: `8450 h`, or a date."""
    if trend.axis == "hours":
        return f"{at:.0f} h"
    start = datetime.date.fromisoformat(trend.sheets[0].date or "").toordinal()
    day = start + round(at)
    if not 1 <= day <= datetime.date.max.toordinal():
        return "a date far off"
    return datetime.date.fromordinal(day).isoformat()


def _about(at: float, trend: Trend) -> str:
    return f"{figure(at, 3)} h" if trend.axis == "hours" else place(at, trend)


def rate(shown: ResultTrend, trend: Trend, words: Words) -> str:
    """The rate of a result with its uncertainty: `+0.21 ± 0.03 s in 1000 h`."""
    unit = words.unit(shown.last)
    if shown.line is None or unit is None:
        return ""
    span, name = (_HOURS, "1000 h") if trend.axis == "hours" else (_DAYS, "a year")
    slope, u = (say.difference(value * span, unit) for value in (shown.line.slope, shown.line.u_slope))
    return f"{'+' if slope > 0 else ''}{figure(slope, 2)} ± {figure(u, 1)} {unit} in {name}"


def says(shown: ResultTrend, trend: Trend, words: Words) -> str:
    """The conclusion from the trend of a result, in words."""
    limit = _limit(shown, words)
    match shown.outcome:
        case "past":
            return f"is beyond its limit ({limit})"
        case "crosses":
            return f"reaches its limit ({limit}) {_when(shown, trend)}"
        case "far":
            return f"moves toward its limit ({limit}){_not_before(shown, trend)}"
        case "unlimited":
            return "changes, and there is no limit to compare with"
        case "steady" | "away" | "few":
            return _COUNTED[shown.outcome][0]
        case _:
            return ""


def _limit(shown: ResultTrend, words: Words) -> str:
    side, last, kind = shown.side, shown.last, words.knowledge.tests.get(shown.last.test)
    if not isinstance(last, Measured):
        return ""
    limit = last.min if side == "min" else last.max
    if kind is not None and kind.more_is == "right" and limit is not None:  # the sign means a side
        return words.figure(last, limit)
    one_sided = replace(last, min=limit if side == "min" else None, max=limit if side == "max" else None)
    basis = "" if last.basis in (None, "limit") else f", {say.BASES[last.basis]}"
    return f"{words.limit(one_sided)}{basis}"


def _when(shown: ResultTrend, trend: Trend) -> str:
    found = shown.crossing
    assert found is not None
    first, last = trend.sheets[0].at, trend.sheets[-1].at
    if found.at <= last:
        return "about now"
    early = "now" if found.earliest is None or found.earliest <= last else _about(found.earliest, trend)
    open_end = found.latest is None or is_open(found, first, last)
    late = "much later" if open_end or found.latest is None else _about(found.latest, trend)
    left = f", {figure(found.at - last, 2)} h from the last sheet" if trend.axis == "hours" else ""
    return f"at about {_about(found.at, trend)}{left} (from {early} to {late}, {_SURE})"


def _not_before(shown: ResultTrend, trend: Trend) -> str:
    found, last = shown.crossing, trend.sheets[-1].at
    if found is None or found.earliest is None or found.earliest <= last:
        return "; these readings cannot say when"
    return f", not before {_about(found.earliest, trend)}; too far off to say when"


def _counted(trend: Trend, outcome: Outcome, words: Words) -> str:
    found = by_outcome(trend, outcome)
    one, many = _COUNTED[outcome]
    if len(found) <= 2:
        return f"{listed([words.result(shown.last) for shown in found])}: {one if len(found) == 1 else many}"
    return f"{len(found)} results: {many}"


# --- values and charts ------------------------------------------------------------------


def _values(trend: Trend, words: Words, columns: int) -> Iterator[Block]:
    for start in range(0, len(trend.sheets), columns):
        yield Heading("Every result" if start == 0 else "Every result, later sheets")
        numbers = range(start, min(start + columns, len(trend.sheets)))
        rows: list[Row] = []
        for shown in trend.results:
            points = {point.sheet: point for point in shown.points}
            if any(number in points for number in numbers):
                cells = [_value(points.get(number), shown, words) for number in numbers]
                limit = words.limit(shown.last) if isinstance(shown.last, Measured) else ""
                rows.append(Row((words.result(shown.last), *cells, limit)))
        head = ("Result", *(place(trend.sheets[number].at, trend) for number in numbers), "Limit")
        yield Table(head, tuple(rows), tuple(range(1, len(numbers) + 1)))
    if any(point.verdict == "invalid" for shown in trend.results for point in shown.points):
        yield Para("In brackets: not valid, taken outside the conditions the test requires; not counted.", "dim")


def _value(point: Point | None, shown: ResultTrend, words: Words) -> str:
    if point is None:
        return ""
    last = shown.last
    if point.value is not None and isinstance(last, Measured):
        text = words.figure(last, point.value)
    else:
        text = words.value(point.result)
    return f"({text})" if point.verdict == "invalid" else text


def _charts(trend: Trend, words: Words, all_results: bool) -> Iterator[Block]:
    wanted = [
        shown
        for shown in trend.results
        if len(shown.points) > 1 and (all_results or shown.outcome in _FIRST or shown.last.verdict in ("near", "fail"))
    ]
    drawn = [(shown, lines) for shown in wanted if (lines := _chart(shown, trend, words))]
    if not drawn:
        return
    yield Heading("Charts")
    yield Para("o reading, x reading that is not counted, ─ limit, . line through the readings", "plain")
    for shown, lines in drawn:
        yield Chart((words.result(shown.last), *lines, ""))


def _chart(shown: ResultTrend, trend: Trend, words: Words, width: int = 78) -> tuple[str, ...]:
    frame, last = frame_of(shown), shown.last
    if frame is None or not isinstance(last, Measured) or words.unit(last) is None:
        return ()
    top, bottom = (words.figure(last, value) for value in (frame.top, frame.bottom))
    first = max(frame.left, 0.0) if trend.axis == "hours" else frame.left
    return draw(shown, (top, bottom), (place(first, trend), place(frame.right, trend)), width)


def _method(trend: Trend) -> Iterator[str]:
    unit = "hours" if trend.axis == "hours" else "days, as not every sheet states hours"
    yield f"A straight line over {unit}, weighted by the uncertainty of each reading; invalid readings do not count"
    yield (
        "A time says when a reading will cross its limit at the present rate; in brackets, the interval that is right"
        f" {_SURE} if wear goes on at the same rate. It seldom does: measure again before then"
    )
    tried = sum(shown.line is not None for shown in trend.results)
    if tried > 5:
        yield f"{tried} results were examined: about one in 20 shows a trend by chance alone"
