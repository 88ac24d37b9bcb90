"""The answer as Markdown (CommonMark, with the pipe tables of GFM); other people's text is escaped."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from oilpath.flow import Diagnosis
from oilpath.reports.blocks import Block, Branch, Chart, Facts, Heading, Items, Para, Row, Step, Table, Title, Tree
from oilpath.reports.page import lay_out
from oilpath.reports.words import Words

_MARKS: Final = re.compile(r"([\\`*_{}\[\]<>#!|~$&])")
_START: Final = re.compile(r"^([-+=:]|\d+(?=[.)](?:\s|$)))")
_LINKS: Final = re.compile(r"(://|\bwww\.|@)")


def to_markdown(diagnosis: Diagnosis, words: Words, *, all_results: bool = False, short: bool = False) -> str:
    """The answer as Markdown."""
    return blocks_to_markdown(lay_out(diagnosis, words, all_results=all_results, short=short))


def blocks_to_markdown(blocks: Iterable[Block]) -> str:
    """Blocks as Markdown."""
    lines: list[str] = []
    for block in blocks:
        lines += [*_lines(block), ""]
    return "\n".join(lines[:-1]) + "\n"


def escape(text: str) -> str:
    """`text` so that Markdown shows it as it is: no markup, no HTML, no links made of bare addresses."""
    text = _MARKS.sub(r"\\\1", text)
    text = _LINKS.sub(lambda found: "".join(f"&#{ord(mark)};" if mark in ":.@" else mark for mark in found[0]), text)
    return _START.sub(
        lambda found: f"\\{found[1]}" if not found[1][0].isdigit() else f"&#{ord(found[1][0])};{found[1][1:]}", text
    )


def _lines(block: Block) -> Iterator[str]:
    match block:
        case Title(text):
            yield f"# {escape(text)}"
        case Heading(text):
            yield f"## {escape(text)}"
        case Para(text, tone, label):
            yield _para(escape(text), tone, label)
        case Facts(rows):
            yield from _facts(rows)
        case Items(texts, tone):
            mark = "**Caution:** " if tone == "caution" else ""
            yield from (f"- {mark}{escape(text)}" for text in texts)
        case Table():
            yield from _table(block)
        case Tree(root):
            yield from _tree(root, 0)
        case Step():
            yield from _step(block)
        case Chart(lines):
            yield from ("```text", *lines, "```")


def _para(text: str, tone: str, label: str) -> str:
    if tone == "stop":
        return f"> **{label}: {text}**"
    body = f"**{text}**" if tone == "lead" else text
    return f"**{label}:** {body}" if label else body


def _facts(rows: tuple[Para, ...]) -> Iterator[str]:
    """A quoted line for a reason to stop, an item for all else."""
    for number, row in enumerate(rows):
        text = escape(row.text)
        if row.tone == "stop":
            yield from (f"> **{row.label}: {text}**", "")
        else:
            yield f"- **{row.label}:** {f'**{text}**' if row.tone == 'lead' else text}"
            if number + 1 < len(rows) and rows[number + 1].tone == "stop":
                yield ""


def _table(table: Table) -> Iterator[str]:
    yield _row(table.columns)
    yield _row(tuple("---:" if number in table.right else "---" for number in range(len(table.columns))))
    yield from (_cells(row) for row in table.rows)


def _cells(row: Row) -> str:
    first, *rest = (escape(cell) for cell in row.cells)
    if row.tone in ("lead", "out"):
        cells = (
            [f"**{first}**", *rest]
            if row.tone == "lead"
            else [first, *rest[:-1], f"**{rest[-1]}**" if rest[-1] else ""]
        )
    else:
        cells = [f"{'– ' * row.level}{first}", *rest]
    return _row(tuple(cells))


def _row(cells: tuple[str, ...]) -> str:
    return f"| {' | '.join(cells)} |"


def _tree(branch: Branch, level: int) -> Iterator[str]:
    yield f"{'  ' * level}- {escape(branch.text)}"
    for child in branch.children:
        yield from _tree(child, level + 1)


def _step(step: Step) -> Iterator[str]:
    if step.cautions:
        yield from (
            f"> **Caution:** {escape(caution)}{chr(92) if not last else ''}" for last, caution in _lasts(step.cautions)
        )
        yield ""
    yield f"{step.number}. **{escape(step.title)}** ({escape(step.needs)})"
    if step.how:
        yield f"   {escape(step.how)}"
    if step.outcomes:
        yield ""
        yield from (f"   - {escape(outcome)}" for outcome in step.outcomes)


def _lasts(texts: tuple[str, ...]) -> Iterator[tuple[bool, str]]:
    return ((number == len(texts), text) for number, text in enumerate(texts, 1))
