"""The answer as one HTML file for phone and paper: no script, no request to any address, everything put in escaped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from oilpath.documents.machine import Machine
from oilpath.flow import Diagnosis
from oilpath.machine.graph import CircuitGraph
from oilpath.reports.blocks import Block, Heading, Row, Table, Title
from oilpath.reports.conclusions import next_checks
from oilpath.reports.drawing import STYLE, bar_drawing, to_drawing
from oilpath.reports.how import How, how_drawing, how_lines, how_of_check, how_of_test
from oilpath.reports.page import lay_out
from oilpath.reports.pictures import circuit_picture
from oilpath.reports.prepare import lay_out_day
from oilpath.reports.words import Words
from oilpath.session.day import DayPlan

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
    """A block as the template shows it: the word for its kind, what is drawn with it, and what goes next to that."""

    kind: str
    block: object
    drawings: tuple[str, ...] = ()
    text: str = ""
    texts: tuple[str, ...] = ()


def to_html(diagnosis: Diagnosis, words: Words, circuit: CircuitGraph, machine: Machine | None = None) -> str:
    """The whole answer as an HTML page; with the machine also a picture of how each check is done."""
    blocks = list(lay_out(diagnosis, words, all_rows=True))
    steps = [
        None if machine is None else how_of_check(check.check, check.part, machine, words)
        for check in next_checks(diagnosis)
    ]
    return _page(blocks, _shown(answer_pieces(blocks, diagnosis, words, circuit), steps))


def day_to_html(plan: DayPlan, words: Words, machine: Machine) -> str:
    """The plan for a day of testing as an HTML page, with a picture of how each test is done."""
    blocks = list(lay_out_day(plan, words))
    pieces = (piece_of(block) for block in blocks)
    return _page(blocks, _shown(pieces, [how_of_test(test, machine, words) for test in plan.tests]))


def _page(blocks: list[Block], pieces: Iterable[Piece]) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    title = next((block.text for block in blocks if isinstance(block, Title)), "")
    host = Environment(
        loader=PackageLoader("oilpath.reports"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, keep_trailing_newline=True,
    )  # fmt: skip
    return host.get_template("handout.html").render(title=title, pieces=list(pieces), drawing_style=STYLE)


def answer_pieces(
    blocks: Iterable[Block], diagnosis: Diagnosis, words: Words, circuit: CircuitGraph
) -> Iterator[Piece]:
    """The blocks of an answer as the template shows them, with the drawing of the circuit before its tree."""
    drawn = False
    for block in blocks:
        if isinstance(block, Heading) and block.text == _BEFORE_CIRCUIT and not drawn:
            drawn = True
            yield from _circuit(diagnosis, words, circuit)
        yield piece_of(block)


def piece_of(block: Block) -> Piece:
    """A block as the template shows it."""
    if isinstance(block, Table):
        bars = any(row.bar is not None for row in block.rows)
        return Piece("table", block, tuple(_drawn(row) for row in block.rows), _BARS if bars else "")
    return Piece(type(block).__name__.lower(), block)


def _shown(pieces: Iterable[Piece], steps: Sequence[How | None]) -> Iterator[Piece]:
    """The pieces, each step with its picture of how."""
    waiting = iter(enumerate(steps, 1))
    for piece in pieces:
        number, how = next(waiting, (0, None)) if piece.kind == "step" else (0, None)
        if how is None:
            yield piece
        else:
            drawing = how_drawing(how, f"how-{number}", written=False)
            yield replace(piece, drawings=(drawing,), texts=how_lines(how))


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
