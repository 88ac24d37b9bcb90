"""The trend of a machine as one picture (SVG 1.1): a panel for each result, with limits, the line and its uncertainty.

Made without a library: lines, circles and text. It loads nothing from elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final
from xml.sax.saxutils import escape

from oilpath.flow import Measured
from oilpath.reports.blocks import DEFER
from oilpath.reports.chart import Frame, frame_of
from oilpath.reports.plain import wrap
from oilpath.reports.trend import heading, place, says, verdict
from oilpath.reports.words import Words
from oilpath.session.history import ResultTrend, Trend
from oilpath.units import figure

_PANEL, _HIGH, _HEAD = 480, 236, 64
_LEFT, _RIGHT, _TOP, _BOTTOM = 78, 16, 60, 26  # room around the plot of a panel
_LETTERS, _LETTERS_SLIM = 76, 58  # of a line below the title of a panel
_APART: Final = 60  # between two labels
_FINE: Final = 48  # steps of the band
_BAND: Final = 2.0  # standard uncertainties on each side of the line
_SLIM: Final = "text{font-size:16px}.d{font-size:15px}"
"""larger letters, since a picture of one panel is shown on what is small"""
_STYLE: Final = (
    "text{font-family:sans-serif;font-size:12px;fill:#222}.t{font-size:18px;font-weight:bold}.h{font-weight:bold}"
    ".d{fill:#666;font-size:11px}.a{stroke:#888;fill:none}.l{stroke:#b00020;stroke-dasharray:6 4;fill:none}"
    ".f{stroke:#1f5fa8;fill:none}.b{fill:#1f5fa8;fill-opacity:.12}.p{fill:#1f5fa8}.u{stroke:#1f5fa8}"
    ".x{fill:none;stroke:#888}"
)


def to_svg(trend: Trend, words: Words, *, slim: bool = False) -> str:
    """The picture; results without a figure have no panel.

    slim: one panel below the other in larger letters, without the heading and the closing words, for a page that has
    these itself and may be shown on a phone.
    """
    shown = [
        (result, result.last)
        for result in trend.results
        if isinstance(result.last, Measured) and frame_of(result) is not None and words.unit(result.last) is not None
    ]
    across = 1 if slim else 2
    rows = -(-len(shown) // across)
    said, defer = ([], []) if slim else (wrap(verdict(trend, words), 130), wrap(DEFER, 150))
    top = 0 if slim else _HEAD + 16 * (len(said) - 1)
    wide, high = across * _PANEL, top + rows * _HIGH + 16 * len(defer) + 16
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}"'
        ' role="img">',
        f"<title>{escape(' · '.join(heading(trend)))}</title>",
        f"<desc>{escape(verdict(trend, words))}</desc>",
        f"<style>{_STYLE}{_SLIM if slim else ''}</style>",
        f'<rect width="{wide}" height="{high}" fill="#fff"/>',
        *([] if slim else [_text(16, 26, " · ".join(heading(trend)), "t")]),
        *(_text(16, 48 + 16 * number, line) for number, line in enumerate(said)),
    ]
    for number, (result, last) in enumerate(shown):
        x, y = (number % across) * _PANEL, top + (number // across) * _HIGH
        told = wrap(says(result, trend, words), _LETTERS_SLIM if slim else _LETTERS)[:2]
        lines += [f'<g transform="translate({x} {y})">', *_panel(result, last, told, trend, words), "</g>"]
    for number, line in enumerate(defer):
        lines.append(_text(16, top + rows * _HIGH + 16 * (number + 1), line, "d"))
    return "\n".join([*lines, "</svg>", ""])


def _text(x: float, y: float, text: str, style: str = "", anchor: str = "") -> str:
    kind = f' class="{style}"' if style else ""
    end = f' text-anchor="{anchor}"' if anchor else ""
    return f'<text x="{_n(x)}" y="{_n(y)}"{kind}{end}>{escape(text)}</text>'


def _n(value: float) -> str:
    return figure(round(value, 1), None)


class _Scale:
    """From h or days and SI to places in a panel."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame

    def x(self, at: float) -> float:
        return _LEFT + (at - self.frame.left) / (self.frame.right - self.frame.left) * (_PANEL - _LEFT - _RIGHT)

    def y(self, value: float) -> float:
        share = (value - self.frame.bottom) / (self.frame.top - self.frame.bottom)
        return _HIGH - _BOTTOM - min(max(share, 0.0), 1.0) * (_HIGH - _TOP - _BOTTOM)


def _panel(result: ResultTrend, last: Measured, told: list[str], trend: Trend, words: Words) -> Iterator[str]:
    frame = frame_of(result)
    assert frame is not None
    scale = _Scale(frame)
    left, right, top, bottom = _LEFT, _PANEL - _RIGHT, _TOP, _HIGH - _BOTTOM
    yield _text(16, 18, words.result(last), "h")
    for number, said in enumerate(told):
        yield _text(16, 34 + 14 * number, said, "d")
    yield f'<path class="a" d="M{left} {top}V{bottom}H{right}"/>'
    for value, style in _labels(last, frame):
        yield _text(left - 6, scale.y(value) + 4, words.figure(last, value), style, "end")
    yield from (_text(scale.x(at), bottom + 16, place(at, trend), "d", "middle") for at in _named(result, scale))
    for limit in (last.min, last.max):
        if limit is not None:
            yield f'<path class="l" d="M{left} {_n(scale.y(limit))}H{right}"/>'
    yield from _line(result, frame, scale)
    for point in result.points:
        if point.value is not None:
            x, y = scale.x(point.at), scale.y(point.value)
            if point.u:
                yield (
                    f'<path class="u" d="M{_n(x)} {_n(scale.y(point.value - point.u))}'
                    f'V{_n(scale.y(point.value + point.u))}"/>'
                )
            yield f'<circle class="{"p" if point.used else "x"}" cx="{_n(x)}" cy="{_n(y)}" r="4"/>'


def _named(result: ResultTrend, scale: _Scale) -> Iterator[float]:
    """Places named at the x axis: the first reading, the crossing and, where there is room, the last reading."""
    first, last = result.points[0].at, result.points[-1].at
    ends = [first] if result.outcome != "crosses" or result.crossing is None else [first, result.crossing.at]
    yield from ends
    if all(abs(scale.x(last) - scale.x(end)) > _APART for end in ends):
        yield last


def _labels(last: Measured, frame: Frame) -> Iterator[tuple[float, str]]:
    """Values named at the y axis: the limits, and an end where no limit stands near it."""
    limits = [limit for limit in (last.min, last.max) if limit is not None]
    near = 0.12 * (frame.top - frame.bottom)
    for end in (frame.top, frame.bottom):
        if all(abs(limit - end) > near for limit in limits):
            yield end, "d"
    yield from ((limit, "") for limit in limits)


def _line(result: ResultTrend, frame: Frame, scale: _Scale) -> Iterator[str]:
    """The line and two of its standard uncertainties on each side."""
    line = result.line
    if line is None:
        return
    places = [frame.left + step / _FINE * (frame.right - frame.left) for step in range(_FINE + 1)]
    upper = [f"{_n(scale.x(x))} {_n(scale.y(line.value(x) + _BAND * line.uncertainty(x)))}" for x in places]
    lower = [f"{_n(scale.x(x))} {_n(scale.y(line.value(x) - _BAND * line.uncertainty(x)))}" for x in reversed(places)]
    yield f'<path class="b" d="M{"L".join([*upper, *lower])}Z"/>'
    inside = [x for x in places if frame.bottom <= line.value(x) <= frame.top]
    if inside:
        way = "L".join(f"{_n(scale.x(x))} {_n(scale.y(line.value(x)))}" for x in (inside[0], inside[-1]))
        yield f'<path class="f" d="M{way}"/>'
