"""YAML text to nodes with lines: the core schema of YAML 1.2 and nothing more.

The parser's events are read one by one into :class:`Node`, never recursively and
never further than the bounds, so that no file can hang or crash the reader. What
a plain scalar means is decided here by own rules: YAML 1.1 words such as ``off``
and dates stay text.

No message holds text of the file, and a key is named only in a file that has the
top key ``oilpath``: a path that points at some other file must show nothing of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import field
from pathlib import Path
from typing import Any, Final, cast

import yaml

from oilpath.documents.characters import MAX_BYTES, Marked, decoded, line_at, refuse_odd_characters
from oilpath.documents.files import file_bytes
from oilpath.documents.scalars import SURROGATE, BadScalar, resolved
from oilpath.documents.yaml_errors import in_plain_words
from oilpath.problems import Problem, UnusableInput, key_text
from oilpath.records import dataclass

__all__ = ["MAX_BYTES", "MAX_DEPTH", "MAX_NODES", "OWN_KEY", "Node", "Plain", "plain", "read_file", "read_nodes"]

MAX_DEPTH: Final = 64
MAX_NODES: Final = 10_000
OWN_KEY: Final = "oilpath"

KeyPath = tuple[str | int, ...]


@dataclass(slots=True)
class Node:
    """One value of a file and where it is (line and column from 1).

    value: None, bool, int, float, str, list of nodes, or mapping of text to nodes.
    raw: a scalar as written (quotes and escapes undone), None for lists and mappings.
    key_lines, key_columns: where each key of a mapping stands.
    """

    value: object
    line: int
    column: int
    raw: str | None = None
    key_lines: dict[str, int] = field(default_factory=dict)
    key_columns: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Plain:
    """Plain data of a node, with what is needed to speak about it.

    data: dict, list and scalars. where: path to (line, column); for an entry of a
    mapping that of its key. raw: path to the text of each unquoted number, true or
    false, for fields that are text exactly as written (nulls are not in it).
    """

    data: Any
    where: dict[KeyPath, tuple[int, int]]
    raw: dict[KeyPath, str]


def read_file(path: Path, shown: str) -> Node:
    """Read the file at `path`; problems call it `shown`.

    Raises UnusableInput: not a regular file, unreadable, too large, or as `read_nodes`.
    """

    return read_nodes(file_bytes(path, shown), shown)


def read_nodes(text: bytes | str, file: str) -> Node:
    """The top mapping of a YAML or JSON text.

    Raises UnusableInput with every problem found before the text stops making sense.
    """
    text = decoded(text, file)
    refuse_odd_characters(text, file)
    marks = Marked(text)
    return _Reader(marks, file).read()


# --- structure ----------------------------------------------------------------------

_KEY_WANTED: Final = "text as a key; in quotes where it looks like a number, true, false or null"
_TAG: Final = ("a tag (a word that starts with !)", "leave it out, or quote the text")
_NO_KEYS: Final[dict[str, int]] = {}  # of all single values
_DIRECTIVE: Final = re.compile(r"(?:[ \t]*(?:#[^\r\n]*)?(?:\r\n|\r|\n))*%")
_ENDING: Final = re.compile(r"(?:[ \t]*(?:\.\.\.[ \t]*)?(?:#[^\r\n]*)?(?:\r\n|\r|\n|\Z))*")


@dataclass(slots=True)
class _Anchor:
    node: Node
    size: int
    height: int


@dataclass(slots=True)
class _Open:
    """A list or mapping that is being read."""

    node: Node
    anchor: str | None
    count_before: int
    height: int = 1
    items: list[Node] | None = None
    entries: dict[str, Node] | None = None
    at_key: bool = True
    key: str | None = None


class _Stop(Exception):
    """Nothing behind this point can be read."""


class _Reader:
    def __init__(self, marks: Marked, file: str) -> None:
        self._marks = marks
        self._file = file
        self._found: list[tuple[int, str, str, str]] = []
        self._stack: list[_Open] = []
        self._anchors: dict[str, _Anchor | None] = {}
        self._count = 0
        self._root: Node | None = None
        self._ours = False

    def read(self) -> Node:
        directive = _DIRECTIVE.match(self._marks.text)
        try:
            if directive:
                line = line_at(directive.group())
                self._problem(line, "a directive (a line that starts with %)", "leave it out")
                raise _Stop
            for event in self._events():
                self._take(event)
                if isinstance(event, yaml.DocumentEndEvent):
                    self._check_ending(event.end_mark)
                    break
            if self._root is None:
                self._problem(1, "the file is empty", "a mapping of keys and values")
        except _Stop:
            pass
        if self._found or self._root is None:
            raise UnusableInput(
                Problem(self._file, line, key if self._ours else "-", message, accepted)
                for line, key, message, accepted in sorted(self._found, key=lambda one: one[0])
            )
        return self._root

    def _problem(self, line: int, message: str, accepted: str = "") -> None:
        self._found.append((line, key_text(self._path()), message, accepted))

    def _path(self) -> KeyPath:
        path: list[str | int] = []
        for frame in self._stack:
            if frame.items is not None:
                path.append(len(frame.items))
            elif frame.key is not None:
                path.append(frame.key)
        return tuple(path)

    def _events(self) -> Iterator[yaml.Event]:
        try:
            loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)(self._marks.text)
            while (event := loader.get_event()) is not None:
                yield event
        except yaml.MarkedYAMLError as error:
            line, message, accepted = in_plain_words(error, self._marks.text)
            self._problem(line, message, accepted)
            raise _Stop from None
        except (yaml.YAMLError, ValueError, OverflowError):
            # ValueError: the pure-Python parser on escapes that name no character.
            self._problem(1, "the text cannot be read as YAML", "YAML or JSON text in UTF-8")
            raise _Stop from None

    def _take(self, event: yaml.Event) -> None:
        if type(event) is yaml.ScalarEvent:  # nine of ten
            self._take_scalar(event)
            return
        if not isinstance(event, yaml.NodeEvent):
            if isinstance(event, yaml.CollectionEndEvent):
                self._close()
            return
        mark: Any = event.start_mark  # typed as optional, never None for a parsed node
        line, column = mark.line + 1, mark.column + 1
        if isinstance(event, yaml.AliasEvent):
            self._alias(event.anchor, line, column)
            return
        if getattr(event, "tag", None) is not None:
            self._problem(line, *_TAG)
        self._open(event, line, column)

    def _take_scalar(self, event: yaml.ScalarEvent) -> None:
        mark: Any = event.start_mark
        line = mark.line + 1
        if event.tag is not None:
            self._problem(line, *_TAG)
        node = self._scalar(event, line, mark.column + 1)
        self._grow(1, line)
        if event.anchor:
            self._anchors[event.anchor] = _Anchor(node, 1, 0)
        self._attach(node, 0, plain=event.style in (None, ""))

    def _grow(self, nodes: int, line: int) -> None:
        self._count += nodes
        if self._count > MAX_NODES:
            self._problem(line, f"more than {MAX_NODES:,} values, aliases counted in full", "a smaller file")
            raise _Stop

    def _deep(self, height: int, line: int) -> None:
        if len(self._stack) + height > MAX_DEPTH:
            self._problem(line, f"nested more than {MAX_DEPTH} levels deep", "fewer levels")
            raise _Stop

    def _scalar(self, event: yaml.ScalarEvent, line: int, column: int) -> Node:
        text, lone = event.value, False
        if self._marks.breaks or self._marks.halves:
            text, lone = self._marks.undone(text, event.style == '"')
        # The pure-Python parser lets "\\U0000d800" through.
        if lone or (event.style == '"' and not text.isascii() and SURROGATE.search(text)):
            self._problem(line, "half a character (a lone surrogate escape such as \\ud800)", "both halves")
        value: object = text
        if event.style in (None, ""):
            try:
                value = resolved(text)
            except BadScalar as error:
                self._problem(line, *error.args)
                value = None
        return Node(value, line, column, text, _NO_KEYS, _NO_KEYS)

    def _open(self, event: yaml.NodeEvent, line: int, column: int) -> None:
        mapping = isinstance(event, yaml.MappingStartEvent)
        if not self._stack and not mapping:
            self._not_a_mapping("a list", line)
        self._deep(1, line)
        self._grow(1, line)
        frame = _Open(Node(None, line, column), event.anchor, self._count - 1)
        if mapping:
            frame.entries = {}
            frame.node.value = frame.entries
        else:
            frame.items = []
            frame.node.value = frame.items
        if event.anchor:
            self._anchors[event.anchor] = None
        self._stack.append(frame)

    def _not_a_mapping(self, what: str, line: int) -> None:
        self._problem(line, f"the file holds {what}", "a mapping: lines of `key: value`")
        raise _Stop

    def _close(self) -> None:
        frame = self._stack.pop()
        if frame.anchor:
            size = self._count - frame.count_before
            self._anchors[frame.anchor] = _Anchor(frame.node, size, frame.height)
        self._attach(frame.node, frame.height, plain=False)

    def _alias(self, name: str | None, line: int, column: int) -> None:
        anchor = self._anchors.get(name or "")
        node = Node(None, line, column)
        if anchor is None:
            if name in self._anchors:
                self._problem(line, "an alias (*name) inside what it stands for", "no cycles")
            else:
                self._problem(line, "an alias (*name) of nothing before it", "an anchor (&name) first")
            self._grow(1, line)
            self._attach(node, 0, plain=False, known=False)
            return
        self._deep(anchor.height, line)
        self._grow(anchor.size, line)
        known = anchor.node
        node = Node(known.value, line, column, known.raw, known.key_lines, known.key_columns)
        self._attach(node, anchor.height, plain=False)

    def _attach(self, node: Node, height: int, *, plain: bool, known: bool = True) -> None:
        if not self._stack:
            if not isinstance(node.value, dict):
                if node.raw == "" or node.value is None:
                    self._problem(1, "the file is empty", "a mapping of keys and values")
                    raise _Stop
                self._not_a_mapping("a single value", node.line)
            self._root = node
            return
        frame = self._stack[-1]
        frame.height = max(frame.height, height + 1)
        if frame.items is not None:
            frame.items.append(node)
        elif frame.at_key:
            frame.at_key = False
            frame.key = self._checked_key(frame, node, plain) if known else None
        else:
            entries = cast("dict[str, Node]", frame.entries)
            if frame.key is not None:
                entries[frame.key] = node
            frame.at_key, frame.key = True, None

    def _checked_key(self, frame: _Open, node: Node, plain: bool) -> str | None:
        key = node.value
        if not isinstance(key, str):
            kind = "a list or mapping" if isinstance(key, dict | list) else "not text"
            self._problem(node.line, f"a key that is {kind}", _KEY_WANTED)
            return None
        if plain and key == "<<":
            self._problem(node.line, "a merge key (<<)", "write the keys out")
            return None
        first = frame.node.key_lines.get(key)
        if first is not None:
            frame.key = key
            self._problem(node.line, f"the same key as on line {first}", "each key once")
            return None
        if len(self._stack) == 1 and key == OWN_KEY:
            self._ours = True
        frame.node.key_lines[key] = node.line
        frame.node.key_columns[key] = node.column
        return key

    def _check_ending(self, mark: Any) -> None:
        text, index = self._marks.text, mark.index
        end = cast("re.Match[str]", _ENDING.match(text, index)).end()
        if end < len(text):
            line = line_at(text[:end])
            if text.startswith(("---", "%"), end):
                self._problem(line, "a second document", "one document in a file")
            else:
                self._problem(line, "text behind the end of the mapping", "one mapping in a file")


# --- plain data ---------------------------------------------------------------------


def plain(node: Node) -> Plain:
    """Plain data of `node`, where each value stands, and unquoted numbers as written."""
    where: dict[KeyPath, tuple[int, int]] = {(): (node.line, node.column)}
    raw: dict[KeyPath, str] = {}
    top: list[Any] = [None]
    # Depth first without recursion; each entry: node, its path, container and slot to fill.
    waiting: list[tuple[Node, KeyPath, Any, str | int]] = [(node, (), top, 0)]
    while waiting:
        one, path, container, slot = waiting.pop()
        value = one.value
        if isinstance(value, dict):
            entries = cast("dict[str, Node]", value)
            container[slot] = made = dict.fromkeys(entries)
            for key, child in entries.items():
                where[*path, key] = (one.key_lines[key], one.key_columns[key])
                waiting.append((child, (*path, key), made, key))
        elif isinstance(value, list):
            items = cast("list[Node]", value)
            container[slot] = row = [None] * len(items)
            for index, child in enumerate(items):
                where[*path, index] = (child.line, child.column)
                waiting.append((child, (*path, index), row, index))
        else:
            container[slot] = value
            if one.raw is not None and isinstance(value, bool | int | float):
                raw[path] = one.raw
    return Plain(top[0], where, raw)
