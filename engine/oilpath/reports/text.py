"""The answer for a terminal, by rich; without colour or escapes if it is piped."""

from __future__ import annotations

from collections.abc import Iterable
from io import StringIO
from typing import TYPE_CHECKING, Final

from oilpath.flow import Diagnosis
from oilpath.reports.blocks import Block, Branch, Chart, Facts, Heading, Items, Para, Row, Step, Table, Title, Tree
from oilpath.reports.page import lay_out
from oilpath.reports.plain import columns, wrap
from oilpath.reports.words import Words

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.table import Table as RichTable
    from rich.text import Text
    from rich.tree import Tree as RichTree

WIDTH: Final = 80  # if it is piped
_WIDEST: Final = 100  # longer lines read badly
_NARROWEST: Final = 40

_STYLES: Final = {
    "plain": "",
    "lead": "bold",
    "stop": "bold white on red",
    "caution": "yellow",
    "out": "bold red",
    "near": "yellow",
    "good": "green",
    "dim": "dim",
}

_MARKED: Final = {"stop": _STYLES["stop"], "caution": _STYLES["caution"]}  # tones that colour the label too


def to_text(
    diagnosis: Diagnosis, words: Words, *, all_results: bool = False, short: bool = False, width: int = WIDTH
) -> str:
    """The answer as plain text in `width` columns, without any escape."""
    return blocks_to_text(lay_out(diagnosis, words, all_results=all_results, short=short), width=width)


def to_terminal(diagnosis: Diagnosis, words: Words, *, all_results: bool = False, short: bool = False) -> str:
    """The answer for the terminal on standard output, in its width and colours (none with NO_COLOR)."""
    return blocks_to_terminal(lay_out(diagnosis, words, all_results=all_results, short=short))


def blocks_to_text(blocks: Iterable[Block], *, width: int = WIDTH) -> str:
    """Blocks as plain text in `width` columns, without any escape."""
    from rich.console import Console

    console = Console(
        file=StringIO(), width=width, color_system=None, force_terminal=False, legacy_windows=False, _environ={}
    )
    return render(blocks, console)


def blocks_to_terminal(blocks: Iterable[Block]) -> str:
    """Blocks for the terminal on standard output."""
    from rich.console import Console

    console = Console(legacy_windows=False)
    console.width = max(_NARROWEST, min(console.width, _WIDEST))
    return render(blocks, console)


def render(blocks: Iterable[Block], console: Console) -> str:
    """What `console` would print, as one string."""
    with console.capture() as capture:
        for block in blocks:
            for renderable in _renderables(block, console.width):
                console.print(renderable, markup=False, highlight=False, emoji=False)
    lines = capture.get().split("\n")
    return "\n".join(line.rstrip(" ") for line in lines)


def _renderables(block: Block, width: int) -> list[RenderableType]:
    from rich.text import Text

    match block:
        case Title(text):
            return [Text(text, style="bold"), Text("━" * width, style="dim")]
        case Heading(text):
            return ["", Text(text.upper(), style="bold cyan")]
        case Para(text, tone, label):
            style = _STYLES[tone]
            if not label:
                return [*([""] if tone in ("lead", "dim") else []), Text(text, style=style)]
            return [_hung(f"{label}: ", text, width, style, f"bold {style}".strip())]
        case Facts(rows):
            wide = max((columns(row.label) for row in rows), default=0) + 1
            return [
                _hung(f"{row.label:<{wide}}", row.text, width, _STYLES[row.tone], f"bold {_MARKED.get(row.tone, '')}")
                for row in rows
            ]
        case Items(texts, tone):
            mark = "! " if tone == "caution" else "- "
            return [_hung(mark, text, width, _STYLES[tone]) for text in texts]
        case Table():
            return [_table(block)]
        case Tree(root):
            return [_tree(root)]
        case Step():
            return _step(block, width)
        case Chart(lines):
            return [Text("\n".join(lines), no_wrap=True)]


def _hung(mark: str, text: str, width: int, style: str = "", mark_style: str = "") -> Text:
    """A mark followed by its text; wrapped lines are indented to the text.

    Wrapped here, because a grid of rich takes ten times as long.
    """
    from rich.text import Text

    first, *rest = wrap(text, width, mark)
    shown = Text(no_wrap=True)  # a style of the whole would be one of the text as well
    shown.append(mark, style=mark_style)
    shown.append("\n".join([first[len(mark) :], *rest]), style=style)
    return shown


def _table(table: Table) -> RichTable:
    from rich.box import SIMPLE_HEAD
    from rich.table import Table as RichTable

    shown = RichTable(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1), show_edge=False, header_style="bold")
    for number, column in enumerate(table.columns):
        shown.add_column(
            column,
            justify="right" if number in table.right else "left",
            no_wrap=number in table.right,
            overflow="fold",
            ratio=None,
        )
    for row in table.rows:
        shown.add_row(*_cells(row))
    return shown


def _cells(row: Row) -> list[RenderableType]:
    from rich.padding import Padding
    from rich.text import Text

    style = _STYLES[row.tone]
    first, *rest = row.cells
    title = Text(first, style=style if row.tone == "lead" else "")
    indented: RenderableType = Padding(title, (0, 0, 0, 2 * row.level)) if row.level else title
    # colour on the last cell only: the verdict, not the measurement
    *middle, last = rest
    return [
        indented,
        *(Text(cell, style=style if row.tone == "lead" else "") for cell in middle),
        Text(last, style=style),
    ]


def _tree(root: Branch) -> RichTree:
    from rich.text import Text
    from rich.tree import Tree as RichTree

    tree = RichTree(Text(root.text, style=_STYLES[root.tone]), guide_style="dim", highlight=False)
    _grow(tree, root)
    return tree


def _grow(tree: RichTree, branch: Branch) -> None:
    from rich.text import Text

    for child in branch.children:
        _grow(tree.add(Text(child.text, style=_STYLES[child.tone])), child)


def _step(step: Step, width: int) -> list[RenderableType]:
    lines: list[RenderableType] = [""] if step.number > 1 else []
    lines += [_hung("   ! ", caution, width, "yellow", "yellow") for caution in step.cautions]
    lines.append(_hung(f"{step.number}. ", f"{step.title} ({step.needs})", width, "bold", "bold"))
    if step.how:
        lines.append(_hung("   ", step.how, width))
    lines += [_hung("   - ", outcome, width) for outcome in step.outcomes]
    return lines
