"""Change a YAML text at one path. Every other character stays. Whether it reads as meant is checked elsewhere.

Added lines take the indentation of their neighbours and the line ends of the text; added values stand on one line.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any, Final

from oilpath.documents.emit import emitted
from oilpath.documents.spans import BETWEEN, Span, after_line, blank_before, line_break, line_start, spans

KeyPath = Sequence[str | int]
_BRACKET: Final = re.compile(r"[\[{]")
_PROPERTY: Final = re.compile(r"[&!][^ \t\r\n]*")
_BLANKS: Final = re.compile(r"[ \t]*")
#: What may follow the last entry within brackets on its line.
_LINE_END: Final = re.compile(r"[ \t]*(,?)[ \t]*(?:(?<=[ \t,\[{])#[^\r\n]*)?(?:\r\n|\r|\n)")
_BLANK_LINE_END: Final = re.compile(r"[ \t]*(?:\r\n|\r|\n)")


class NoPlace(Exception):
    """The path leads through an alias, so a change would also change other places."""


class _Target:
    """The entry at a path, and the list or mapping that holds it. `value` is None if the entry does not exist."""

    def __init__(self, text: str, path: KeyPath) -> None:
        self.text, self.last = text, path[-1]
        self.holder_key: Span | None = None
        self.holder = spans(text)
        for step in path[:-1]:
            self.holder_key, self.holder = _entry(self.holder, step)
        if self.holder.kind == "alias":
            raise NoPlace
        self.key: Span | None = None
        self.value: Span | None = None
        if isinstance(self.last, int) or self.last in self.holder.entries:
            self.key, self.value = _entry(self.holder, self.last)
        self._json = _is_json(text)

    def emitted(self, value: Any) -> str:
        return emitted(value, as_json=self._json)

    def column(self, key: Span) -> str:
        """The blanks that bring a line below `key`."""
        return " " * (key.start - line_start(self.text, key.start))


def _is_json(text: str) -> bool:
    try:
        return text.lstrip().startswith("{") and isinstance(json.loads(text), dict)
    except ValueError:
        return False


def _entry(holder: Span, step: str | int) -> tuple[Span | None, Span]:
    if holder.kind == "alias":
        raise NoPlace
    return (None, holder.items[step]) if isinstance(step, int) else holder.entries[step]


# --- set ----------------------------------------------------------------------------


def with_value(text: str, path: KeyPath, value: Any) -> str:
    """Replace the value at `path`, or add its key at the end of the mapping."""
    target = _Target(text, path)
    if target.value is None:
        return _with_entry(target, target.emitted(value))
    return _replaced(text, target.key, target.value, target.emitted(value))


def _with_entry(target: _Target, value: str) -> str:
    text, holder = target.text, target.holder
    key = target.emitted(str(target.last))
    if holder.flow:
        return _into_brackets(text, holder, f"{key}: {value}")
    return _line_after(text, holder.end, f"{target.column(holder.children[0])}{key}: {value}")


def _replaced(text: str, key: Span | None, old: Span, new: str) -> str:
    start, end = old.start, old.end
    if old.empty:
        gap = "" if text[start - 1] in " \t" else " "
        return f"{text[:start]}{gap}{new}{text[end:]}"
    if text[end - 1] in "\r\n":  # a text of several lines is the last of it
        end = start + len(text[start:end].rstrip("\r\n"))
    if key is not None and old.kind in ("list", "mapping") and not old.flow:
        colon = text.index(":", key.end) + 1
        between = text[colon:start].rstrip(" \t\r\n")  # a comment behind the key stays on its line
        return f"{text[:colon]} {new}{between}{text[end:]}"
    return text[:start] + new + text[end:]


def _into_brackets(text: str, holder: Span, entry: str) -> str:
    at = holder.children[-1].end if holder.children else _opening(text, holder)
    if text[at - 1] != "\n" and (line := _LINE_END.match(text, at)) and line.end() < holder.end:
        return _own_line(text, holder, at, line, entry)
    if holder.children:  # a comma that follows becomes one behind the last value, which YAML allows
        return f"{text[:at]}, {entry}{text[at:]}"
    return text[:at] + entry + text[at:]


def _opening(text: str, holder: Span) -> int:
    found = _BRACKET.search(text, holder.start)
    assert found is not None
    return found.end()


def _own_line(text: str, holder: Span, at: int, line: re.Match[str], entry: str) -> str:
    """Within brackets over several lines, each entry on its own: `at` is the end of the last, or of the bracket."""
    before, after = text[: line.end()], text[line.end() :]
    if not holder.children:
        opened = line_start(text, at)
        indent = re.match(r"[ \t]*", text[opened:])
        assert indent is not None
        comma = "" if _is_json(text) else ","
        return f"{before}{indent.group()}  {entry}{comma}{line_break(text)}{after}"
    first = holder.children[0] if holder.items else holder.children[-2]
    start = line_start(text, first.start)
    blanks = re.match(r"[ \t]*", text[start:])
    assert blanks is not None
    # JSON takes no comma behind the last entry: where there was none, there is none.
    comma, last = ("", ",") if line.group(1) else (",", "")
    return f"{text[:at]}{comma}{text[at : line.end()]}{blanks.group()}{entry}{last}{line_break(text)}{after}"


def _line_after(text: str, end: int, line: str) -> str:
    """A new line below the one that holds the character before `end`."""
    at, ending = after_line(text, end), line_break(text)
    if text[at - 1] not in "\r\n":  # the text ends without a line end, and goes on doing so
        return text + ending + line
    return text[:at] + line + ending + text[at:]


# --- append -------------------------------------------------------------------------


def with_appended(text: str, path: KeyPath, value: Any) -> str:
    """Append `value` to the list at `path`; make the list if it is missing or empty."""
    target = _Target(text, path)
    item, old, holder = target.emitted(value), target.value, target.holder
    if old is None and holder.flow:
        return _with_entry(target, f"[{item}]")
    if old is None:
        indent = target.column(holder.children[0])
        line = f"{indent}{target.emitted(str(target.last))}:{line_break(text)}{indent}  - {item}"
        return _line_after(text, holder.end, line)
    if old.kind == "list" and not old.flow:
        dash = _dash(text, old, 0)
        return _line_after(text, old.end, " " * (dash - line_start(text, dash)) + f"- {item}")
    written = text[old.start : old.end]
    in_block = target.key is not None and not holder.flow and "\n" not in written and "\r" not in written
    if target.key is None or not in_block or old.items or written.startswith("&"):
        return _into_brackets(text, old, item) if old.kind == "list" else _replaced(text, None, old, f"[{item}]")
    # An empty list below its key: the brackets go, the items stand on lines of their own, a comment stays where it is.
    before = text[: old.start].rstrip(" \t")
    rest = text[old.end :]
    return _line_after(before + rest, len(before), f"{target.column(target.key)}  - {item}")


def _dash(text: str, holder: Span, number: int) -> int:
    """Where the `-` of an item of a block list stands."""
    at = holder.items[number - 1].end if number else holder.start
    while (found := _PROPERTY.match(text, at)) is not None:
        at = _between(text, found.end())
    return _between(text, at)


def _between(text: str, at: int) -> int:
    found = BETWEEN.match(text, at)
    assert found is not None
    return found.end()


# --- remove -------------------------------------------------------------------------


def without(text: str, path: KeyPath) -> str:
    """Remove the entry at `path`. Removing the last one leaves an empty list or mapping."""
    target = _Target(text, path)
    holder, value = target.holder, target.value
    assert value is not None
    start = target.key.start if target.key is not None else value.start
    if holder.flow:
        return _out_of_brackets(text, holder, start, value.end)
    if len(holder.items or holder.entries) == 1:
        return _replaced(text, target.holder_key, holder, "[]" if holder.items else "{}")
    if isinstance(target.last, int):
        start = _dash(text, holder, target.last)
    return _without_lines(text, start, value.end)


def _without_lines(text: str, start: int, end: int) -> str:
    stop = after_line(text, end)
    if not blank_before(text, start):  # behind the dash of a list: what follows moves up
        blanks = _BLANKS.match(text, stop)
        assert blanks is not None
        return text[:start] + text[blanks.end() :]
    return text[: line_start(text, start)] + text[stop:]


def _out_of_brackets(text: str, holder: Span, start: int, end: int) -> str:
    after = _between(text, end)
    if text[after] == ",":
        if "#" in text[end:after]:
            return text[:start] + text[end:after] + text[after + 1 :]
        return _cut(text, start, after + 1)
    before = [child.end for child in holder.children if child.end <= start]
    # In a mapping the last child before is the value of the entry before.
    if not before:
        return text[:start] + text[end:]
    comma = _between(text, before[-1])
    between = text[comma + 1 : start]
    return text[:comma] + (between if "#" in between else "") + text[end:]


def _cut(text: str, start: int, end: int) -> str:
    """Without an entry and its comma: with its line if it has one of its own, else with the blanks behind it."""
    rest = _BLANK_LINE_END.match(text, end)
    if rest is not None and blank_before(text, start):
        return text[: line_start(text, start)] + text[rest.end() :]
    blanks = _BLANKS.match(text, end)
    assert blanks is not None
    return text[:start] + text[blanks.end() :]
