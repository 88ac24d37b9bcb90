"""What an answer is laid out with: plain blocks that `text`, `markdown` and `html` show.

All strings of a block are safe to show on one line (`names.safe`), but not escaped for any markup.
"""

from __future__ import annotations

from dataclasses import field
from typing import Final, Literal

from oilpath.records import dataclass

Tone = Literal["plain", "lead", "stop", "caution", "out", "near", "good", "dim"]

DEFER: Final = (
    "This answer helps qualified people to decide; it does not replace them. The machine's own manual, its service"
    " information, and site and local rules come first."
)


@dataclass(frozen=True, slots=True)
class Title:
    """The title of the answer."""

    text: str


@dataclass(frozen=True, slots=True)
class Heading:
    """The title of a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Para:
    """One paragraph; `label` comes before it (`Complaint`)."""

    text: str
    tone: Tone = "plain"
    label: str = ""


@dataclass(frozen=True, slots=True)
class Items:
    """A list of short texts."""

    texts: tuple[str, ...]
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Bar:
    """A figure with its standard uncertainty and its accepted range, all in one unit, to be drawn."""

    value: float
    uncertainty: float
    low: float | None
    high: float | None
    new: float | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table; `level` 1 belongs to the row of level 0 before it. `bar` or `share` may be drawn with it."""

    cells: tuple[str, ...]
    tone: Tone = "plain"
    level: int = 0
    bar: Bar | None = None
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the columns named in `right` hold figures."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Branch:
    """A node of a tree."""

    text: str
    tone: Tone = "plain"
    children: tuple[Branch, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Tree:
    """A tree with one root."""

    root: Branch


@dataclass(frozen=True, slots=True)
class Step:
    """A check: its cautions come before it, `how` to do it and what each outcome would leave come after it."""

    number: int
    cautions: tuple[str, ...]
    title: str
    needs: str
    how: str
    outcomes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture made of characters, line by line."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """A few lines, each with a label; the labels form one column."""

    rows: tuple[Para, ...]


Block = Title | Heading | Para | Items | Table | Tree | Step | Chart | Facts
