"""Our own drawing of a picture as SVG, layer by layer, for pages: no program is needed, the same bytes everywhere.

A box stands one layer below the lowest box that leads to it. Colours come from the page's style sheet where there is
one; frames and dashes say the same without colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from textwrap import wrap
from typing import Final

from oilpath.flow import Measured, Result
from oilpath.reports.blocks import Bar
from oilpath.reports.pictures import Box, Edge, Picture
from oilpath.reports.words import Words

_WIDE, _GAP, _ROW, _PAD, _DOWN = 168, 18, 15, 8, 30
_LETTERS: Final = 23  # of a line in a box

STYLE: Final = """
.p-box{fill:#ffffff;stroke:#5b6770;stroke-width:1.2}
.p-way{fill:#dfe9f2;stroke:#1f4e79;stroke-width:1.8}
.p-suspect{fill:#f6d9b8;stroke:#7a3b00;stroke-width:3}
.p-text{fill:#111111;font:12px sans-serif}
.p-line{fill:none;stroke:#333333;stroke-width:1.5}
.p-beside{stroke-dasharray:5 4}
.p-tip{fill:#333333}
.p-ok{fill:#cfe0c3;stroke:#33691e}
.p-value{stroke:#111111;stroke-width:2.5}
.p-out{stroke:#a01010}
.p-axis{stroke:#5b6770}
"""


def to_drawing(picture: Picture, *, name: str = "p", style: bool = True) -> str:
    """The picture as SVG text with a title for those who do not see it; empty where there is nothing to draw."""
    if not picture.boxes:
        return ""
    layers = _layers(picture)
    high = [max(_height(box) for box in layer) for layer in layers]
    across = max(len(layer) for layer in layers)
    width = across * (_WIDE + _GAP) + _GAP
    top = [_GAP + sum(high[:number]) + number * _DOWN for number in range(len(layers))]
    at: dict[str, tuple[float, float, int]] = {}
    for number, layer in enumerate(layers):
        indent = (width - len(layer) * (_WIDE + _GAP) + _GAP) / 2
        for place, box in enumerate(layer):
            at[box.id] = (indent + place * (_WIDE + _GAP), top[number], _height(box))
    height = top[-1] + high[-1] + _GAP
    said = "; ".join(" ".join(box.lines) for box in picture.boxes)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height:g}" width="{width}" height="{height:g}"'
        f' role="img" aria-labelledby="{name}-t {name}-d">',
        f'<title id="{name}-t">{escape(picture.title)}</title><desc id="{name}-d">{escape(said)}</desc>',
        f"<style>{STYLE}</style>" if style else "",
        f'<defs><marker id="{name}-tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" markerHeight="7"'
        ' orient="auto"><path class="p-tip" d="M0 0L8 4L0 8z"/></marker></defs>',
        *(_line(edge, at, name) for edge in picture.edges),
        *(_box(box, at[box.id]) for box in picture.boxes),
        "</svg>",
    ]
    return "\n".join(part for part in parts if part) + "\n"


def _rows(box: Box) -> list[str]:
    return [row for line in box.lines for row in wrap(line, _LETTERS) or [""]]


def _height(box: Box) -> int:
    return len(_rows(box)) * _ROW + 2 * _PAD


def _layers(picture: Picture) -> list[list[Box]]:
    """Boxes by layer: one below all that lead to it; in each layer near what leads to it."""
    depth = {box.id: 0 for box in picture.boxes}
    for _ in range(len(depth)):  # a cycle stops here at the latest
        moved = False
        for edge in picture.edges:
            if not edge.beside and depth[edge.head] < depth[edge.tail] + 1 <= len(depth):
                depth[edge.head], moved = depth[edge.tail] + 1, True
        if not moved:
            break
    for edge in picture.edges:  # what lies beside the path goes one layer above where it acts
        if edge.beside:
            depth[edge.tail] = max(0, depth[edge.head] - 1)
    layers: list[list[Box]] = [[] for _ in range(max(depth.values()) + 1)]
    for box in picture.boxes:
        layers[depth[box.id]].append(box)
    layers = [layer for layer in layers if layer]
    place: dict[str, float] = {}
    for layer in layers:
        order = {box.id: _middle(box, picture.edges, place, number) for number, box in enumerate(layer)}
        layer.sort(key=lambda box: order[box.id])
        place.update({box.id: number - len(layer) / 2 for number, box in enumerate(layer)})
    return layers


def _middle(box: Box, edges: Iterable[Edge], place: Mapping[str, float], number: int) -> float:
    above = [place[edge.tail] for edge in edges if edge.head == box.id and edge.tail in place]
    return sum(above) / len(above) if above else float(number)


def _line(edge: Edge, at: Mapping[str, tuple[float, float, int]], name: str) -> str:
    x, y, high = at[edge.tail]
    to_x, to_y, _ = at[edge.head]
    x, to_x, y = x + _WIDE / 2, to_x + _WIDE / 2, y + high
    bend = max(12.0, (to_y - y) / 2)
    way = f"M{x:g} {y:g}C{x:g} {y + bend:g} {to_x:g} {to_y - bend:g} {to_x:g} {to_y:g}"
    tip = "" if edge.beside else f' marker-end="url(#{name}-tip)"'
    return f'<path class="p-line{" p-beside" if edge.beside else ""}" d="{way}"{tip}/>'


def _box(box: Box, at: tuple[float, float, int]) -> str:
    x, y, high = at
    kind = {"way": "p-box p-way", "suspect": "p-box p-suspect"}.get(box.kind, "p-box")
    rows = "".join(
        f'<tspan x="{x + _WIDE / 2:g}" y="{y + _PAD + 11 + _ROW * number:g}">{escape(row)}</tspan>'
        for number, row in enumerate(_rows(box))
    )
    return (
        f'<rect class="{kind}" x="{x:g}" y="{y:g}" width="{_WIDE}" height="{high}" rx="6"/>'
        f'<text class="p-text" text-anchor="middle">{rows}</text>'
    )


# --- results as bars ------------------------------------------------------------------

_LONG, _TALL = 220, 22


def bar_drawing(bar: Bar, out: bool) -> str:
    """The accepted range shaded, the value as a mark with twice its standard uncertainty to both sides."""
    points = [bar.value, *(one for one in (bar.low, bar.high, bar.new) if one is not None)]
    spread = max(points) - min(points) or abs(bar.value) or 1.0
    least, most = min(points) - 0.25 * spread, max(points) + 0.25 * spread

    def x(value: float) -> float:
        return round((min(max(value, least), most) - least) / (most - least) * _LONG, 1)

    low, high = x(least if bar.low is None else bar.low), x(most if bar.high is None else bar.high)
    from_, to = x(bar.value - 2 * bar.uncertainty), x(bar.value + 2 * bar.uncertainty)
    mark = "p-value p-out" if out else "p-value"
    return (
        f'<svg class="bar" viewBox="-4 0 {_LONG + 8} {_TALL}" width="{_LONG + 8}" height="{_TALL}" aria-hidden="true">'
        f'<line class="p-axis" x1="0" x2="{_LONG}" y1="{_TALL / 2:g}" y2="{_TALL / 2:g}"/>'
        f'<rect class="p-ok" x="{low:g}" y="5" width="{max(1.0, high - low):g}" height="{_TALL - 10}"/>'
        f'<line class="{mark}" x1="{from_:g}" x2="{to:g}" y1="{_TALL / 2:g}" y2="{_TALL / 2:g}"/>'
        f'<line class="{mark}" x1="{x(bar.value):g}" x2="{x(bar.value):g}" y1="2" y2="{_TALL - 2}"/></svg>'
    )


def results_drawing(words: Words, bars: Sequence[tuple[Result, Bar]]) -> str:
    """Results with a limit as one SVG: title, bar, value and limit."""
    high = 40
    wide = 800
    rows = []
    for number, (result, bar) in enumerate(bars):
        y = 30 + number * high
        limit = words.limit(result) if isinstance(result, Measured) else ""
        text = f"{words.value(result)} ({limit})"
        inner = bar_drawing(bar, result.verdict == "fail").replace("<svg ", f'<svg x="300" y="{y - 14}" ', 1)
        rows.append(
            f'<text class="p-text" x="10" y="{y}">{escape(words.result(result))}</text>{inner}'
            f'<text class="p-text" x="540" y="{y}">{escape(text)}</text>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {30 + high * len(rows)}" width="{wide}"'
        f' height="{30 + high * len(rows)}" role="img"><title>Results with their limits</title>\n<style>{STYLE}</style>'
        f'<rect width="100%" height="100%" fill="#ffffff"/>\n' + "\n".join(rows) + "\n</svg>\n"
    )
