"""The start and end of every value in a YAML text. Edits use them to change nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import field
from typing import Any, Final, cast

import yaml

from oilpath.documents.characters import Marked
from oilpath.records import dataclass

#: What may stand between two values: blanks, line ends, comments.
BETWEEN: Final = re.compile(r"(?:[ \t\r\n]+|#[^\r\n]*)*")
_BREAK: Final = re.compile(r"\r\n|\r|\n")
_BLANKS: Final = re.compile(r"[ \t]*")


@dataclass(slots=True)
class Span:
    """One value: text[start:end]. A block list or mapping ends with its last value, a block text with its line end.

    items: those of a list. entries: key → span of the key, span of its value. flow: written in brackets.
    """

    kind: str
    """`scalar`, `list`, `mapping` or `alias`"""
    start: int
    end: int
    flow: bool = False
    items: list[Span] = field(default_factory=list)
    entries: dict[str, tuple[Span, Span]] = field(default_factory=dict)

    @property
    def empty(self) -> bool:
        """Whether nothing is written, which reads as null."""
        return self.kind == "scalar" and self.start == self.end

    @property
    def children(self) -> list[Span]:
        """The values of a list, or the keys of a mapping with their values, in order of the text."""
        return self.items or [one for pair in self.entries.values() for one in pair]


def spans(text: str) -> Span:
    """The spans of a text that `read_nodes` has read without a problem."""
    marks = Marked(text)
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    events = (event for event in yaml.parse(marks.text, Loader=loader) if isinstance(event, yaml.NodeEvent | _End))
    return _one(events, next(events), marks)


_End = yaml.CollectionEndEvent


def _one(events: Iterator[yaml.Event], event: yaml.Event, marks: Marked) -> Span:
    start, end = cast("Any", event.start_mark).index, cast("Any", event.end_mark).index
    if isinstance(event, yaml.AliasEvent):
        return Span("alias", start, end)
    if isinstance(event, yaml.ScalarEvent):
        return Span("scalar", start, end)
    made = Span("mapping" if isinstance(event, yaml.MappingStartEvent) else "list", start, end)
    made.flow = bool(cast("Any", event).flow_style)
    for inner in events:
        if isinstance(inner, _End):
            if made.flow:
                made.end = cast("Any", inner.end_mark).index
            break
        child = _one(events, inner, marks)
        made.end = max(made.end, child.end)
        if made.kind == "list":
            made.items.append(child)
        else:
            key = marks.undone(cast("Any", inner).value, cast("Any", inner).style == '"')[0]
            value = _one(events, next(events), marks)
            made.end = max(made.end, value.end)
            made.entries[key] = (child, value)
    return made


# --- lines --------------------------------------------------------------------------


def line_start(text: str, at: int) -> int:
    """Where the line starts that holds the character `at`."""
    return max(text.rfind("\n", 0, at), text.rfind("\r", 0, at)) + 1


def after_line(text: str, at: int) -> int:
    """Where the next line starts, or the text ends; `at` itself where a line starts there (behind a block text)."""
    if at and text[at - 1] in "\r\n":
        return at
    found = _BREAK.search(text, at)
    return found.end() if found else len(text)


def line_break(text: str) -> str:
    """The line ending used by the text; the usual one if it has only one line."""
    found = _BREAK.search(text)
    return found.group() if found else "\n"


def blank_before(text: str, at: int) -> bool:
    """Whether the line has only blanks before `at`."""
    start = line_start(text, at)
    return cast("re.Match[str]", _BLANKS.match(text, start)).end() >= at
