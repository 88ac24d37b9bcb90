"""A result over the hours, drawn with characters: readings, the line through them, its limits."""

from __future__ import annotations

import math
from typing import Final

from oilpath.flow import Measured
from oilpath.records import dataclass
from oilpath.session.history import ResultTrend

ROWS: Final = 9
_POINT, _NOT_COUNTED, _FIT, _LIMIT = "o", "x", ".", "─"


@dataclass(frozen=True, slots=True)
class Frame:
    """What a picture of a trend shows: ranges of x (h or days) and y (SI)."""

    left: float
    right: float
    bottom: float
    top: float


def frame_of(shown: ResultTrend) -> Frame | None:
    """Ranges wide enough for the readings, the limits and a crossing; None if there is no figure to draw."""
    points = [point for point in shown.points if point.value is not None]
    if not points or not isinstance(shown.last, Measured):
        return None
    x = [point.at for point in points]
    if shown.outcome == "crosses" and shown.crossing is not None:
        x.append(shown.crossing.at)
    y = [float(point.value or 0.0) for point in points]
    y += [limit for limit in (shown.last.min, shown.last.max) if limit is not None]
    left, right = min(x), max(x)
    bottom, top = min(y), max(y)
    room_x = (right - left) * 0.05 or max(abs(right) * 0.05, 1.0)
    room_y = (top - bottom) * 0.1 or max(abs(top) * 0.1, 1e-12)
    return Frame(left - room_x, right + room_x, bottom - room_y, top + room_y)


def draw(
    shown: ResultTrend, labels: tuple[str, str], ends: tuple[str, str], width: int, rows: int = ROWS
) -> tuple[str, ...]:
    """The lines of the chart, `width` columns at most.

    labels: of the top and the bottom of the y axis; ends: of the left and the right of the x axis.
    """
    frame = frame_of(shown)
    if frame is None or not isinstance(shown.last, Measured):
        return ()
    margin = max(len(label) for label in labels)
    columns = width - margin - 2
    grid = [[" "] * columns for _ in range(rows)]

    def row(y: float) -> int:
        return rows - 1 - min(rows - 1, max(0, int((y - frame.bottom) / (frame.top - frame.bottom) * rows)))

    def column(x: float) -> int:
        return min(columns - 1, max(0, int((x - frame.left) / (frame.right - frame.left) * columns)))

    for limit in (shown.last.min, shown.last.max):
        if limit is not None:
            grid[row(limit)] = [_LIMIT] * columns
    if shown.line is not None:
        for place in range(columns):
            y = shown.line.value(frame.left + (place + 0.5) / columns * (frame.right - frame.left))
            if frame.bottom <= y <= frame.top:
                grid[row(y)][place] = _FIT
    for point in shown.points:
        if point.value is not None and math.isfinite(point.value):
            grid[row(point.value)][column(point.at)] = _POINT if point.used else _NOT_COUNTED
    names = {0: labels[0], rows - 1: labels[1]}
    lines = [f"{names.get(number, ''):>{margin}} │{''.join(signs)}".rstrip() for number, signs in enumerate(grid)]
    axis = f"{'':{margin}} └{'─' * columns}"
    gap = columns - len(ends[0]) - len(ends[1])
    return (*lines, axis, f"{'':{margin + 2}}{ends[0]}{' ' * max(gap, 1)}{ends[1]}".rstrip())
