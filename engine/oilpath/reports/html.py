"""The answer as one HTML file for phone and paper: no script, no request to any address, everything put in escaped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from oilpath.flow import Diagnosis
from oilpath.machine.graph import CircuitGraph
from oilpath.reports.blocks import Block, Facts, Heading, Row, Table, Title
from oilpath.reports.drawing import STYLE, bar_drawing, to_drawing
from oilpath.reports.page import lay_out
from oilpath.reports.pictures import circuit_picture
from oilpath.reports.words import Words

_BEFORE_CIRCUIT: Final = "Troubleshooting tree"
_LEGEND: Final = (
    "Boxes with a thick frame are suspected, each with its share; filled boxes are in the path of all that is out."
    " A dashed line leads from a part that lies beside the oil's path to where it acts."
)
_BARS: Final = (
    "In each bar the accepted range is shaded; the mark is what was measured, and the line through it is twice its"
    " standard uncertainty to both sides."
)


@dataclass(frozen=True, slots=True)
class Piece:
    """A block as the template shows it: the word for its kind, and what is drawn with it."""

    kind: str
    block: object
    drawings: tuple[str, ...] = ()
    text: str = ""


def to_html(diagnosis: Diagnosis, words: Words, circuit: CircuitGraph) -> str:
    """The whole answer as an HTML page."""
    from importlib.resources import files

    from jinja2 import Environment, StrictUndefined

    blocks = list(lay_out(diagnosis, words, all_rows=True))
    title = next((block.text for block in blocks if isinstance(block, Title)), "")
    text = files("oilpath.reports").joinpath("templates/handout.html").read_text(encoding="utf-8")
    host = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True
    )
    return host.from_string(text).render(
        title=title, pieces=list(_pieces(blocks, diagnosis, words, circuit)), drawing_style=STYLE
    )


def _pieces(blocks: list[Block], diagnosis: Diagnosis, words: Words, circuit: CircuitGraph) -> Iterator[Piece]:
    drawn = False
    for block in blocks:
        if isinstance(block, Heading) and block.text == _BEFORE_CIRCUIT and not drawn:
            drawn = True
            yield from _circuit(diagnosis, words, circuit)
        if isinstance(block, Facts):
            yield Piece("facts", block)
        elif isinstance(block, Table):
            bars = any(row.bar is not None for row in block.rows)
            yield Piece("table", block, tuple(_drawn(row) for row in block.rows), _BARS if bars else "")
        else:
            yield Piece(type(block).__name__.lower(), block)


def _drawn(row: Row) -> str:
    """The picture of a row: a bar with limits, or a share as a length; both repeat what the row says in words."""
    if row.bar is not None:
        return bar_drawing(row.bar, row.tone == "out")
    if row.share is not None:
        return (
            '<svg class="share" viewBox="0 0 100 10" width="100" height="10" aria-hidden="true">'
            f'<rect class="p-axis" fill="none" x="0.5" y="0.5" width="99" height="9"/>'
            f'<rect class="p-share" x="0" y="0" width="{100 * row.share:.1f}" height="10"/></svg>'
        )
    return ""


def _circuit(diagnosis: Diagnosis, words: Words, circuit: CircuitGraph) -> Iterator[Piece]:
    picture = circuit_picture(diagnosis, words, circuit)
    drawing = to_drawing(picture, name="way", style=False)
    if drawing:
        yield Piece("heading", Heading(picture.title))
        yield Piece("picture", None, (drawing,), _LEGEND)
