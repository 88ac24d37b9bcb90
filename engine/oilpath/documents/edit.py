"""A sheet or machine file changed by path: comments, order and quotes stay, all else keeps its bytes.

The text itself is edited, at the places that the YAML parser gives. A library that reads YAML with its comments and
writes it again (ruamel.yaml 0.19) changed blanks, widths or line ends in 204 of our 208 files without any edit.
Whatever a change makes is read again before it is handed out, and must be the old data with that one change.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, Literal

from oilpath.documents.characters import decoded
from oilpath.documents.files import file_bytes
from oilpath.documents.nodes import plain, read_nodes
from oilpath.documents.patch import KeyPath, NoPlace, with_appended, with_value, without
from oilpath.documents.writing import Disk, digest, write_whole
from oilpath.documents.yaml_data import value_of
from oilpath.problems import Problem, UnusableInput, key_text
from oilpath.records import dataclass

_Change = Literal["set", "append", "remove"]
_BOM: Final = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Document:
    """The text of a file on its way from reading to writing; every change gives a new one.

    path: None if it stands in no file. shown: what problems call it. read: hash of the file as it was read.
    """

    shown: str
    text: str
    path: Path | None = None
    read: str | None = None
    marked: bool = False
    """whether the file starts with a byte-order mark"""

    @property
    def data(self) -> Any:
        """What the text says, as plain data. Raises UnusableInput."""
        return plain(read_nodes(self.text, self.shown)).data

    @property
    def as_read(self) -> Any:
        """What the text says, as the readers of sheets and machines take it: text as written where a text belongs."""
        return value_of(read_nodes(self.text, self.shown))

    @property
    def content(self) -> bytes:
        """The bytes of the file."""
        return (_BOM if self.marked else b"") + self.text.encode("utf-8")

    def set(self, path: KeyPath, value: Any) -> Document:
        """The value at `path` replaced; a last key that its mapping lacks is added at its end.

        Raises LookupError if there is no such place, UnusableInput where the change cannot be made in place.
        """
        return self._changed("set", path, value)

    def append(self, path: KeyPath, value: Any) -> Document:
        """`value` added to the list at `path`; a list that is not there yet is made. Raises as `set`."""
        return self._changed("append", path, value)

    def remove(self, path: KeyPath) -> Document:
        """The entry at `path` taken out, with the comment on its last line. Raises as `set`."""
        return self._changed("remove", path)

    def save(self, disk: Disk | None = None) -> Document:
        """Write the file, unless somebody else has changed it since it was read; gives the document as it is now read.

        Raises UnusableInput if it was changed or is gone, OSError where it cannot be written.
        """
        if self.path is None:
            raise ValueError("a document without a path has no file to be saved in")
        write_whole(self.path, self.content, read=self.read, disk=disk)
        return replace(self, read=digest(self.content))

    def _changed(self, change: _Change, path: KeyPath, value: Any = None) -> Document:
        if not path:
            raise LookupError("the whole file is not an entry of it")
        expected = _expected(self.data, change, tuple(path), value)
        reason = "what stands there is written for other places too, or closely around it"
        try:
            made = replace(self, text=_patched(self.text, change, path, value))
            if json.dumps(made.data) == json.dumps(expected):
                return made
        except UnusableInput as error:  # too large, too deep, or no YAML any more
            reason = error.problems[0].message
        except NoPlace:
            pass
        message = f"cannot be changed here: {reason}"
        raise UnusableInput([Problem(self.shown, self._line(path), key_text(path), message, "an edit by hand")])

    def _line(self, path: KeyPath) -> int:
        where = plain(read_nodes(self.text, self.shown)).where
        known = tuple(path)
        while known not in where:
            known = known[:-1]
        return where[known][0]


def _patched(text: str, change: _Change, path: KeyPath, value: Any) -> str:
    if change == "remove":
        return without(text, path)
    return (with_value if change == "set" else with_appended)(text, path, value)


def open_document(path: str | Path) -> Document:
    """A file for editing. Raises UnusableInput if it is not readable YAML."""
    shown = str(path)
    content = file_bytes(Path(path), shown)
    text = decoded(content, shown)
    read_nodes(text, shown)
    return Document(shown, text, Path(path), digest(content), content.startswith(_BOM))


# --- what a sheet gets --------------------------------------------------------------


def add_reading(document: Document, reading: Mapping[str, Any]) -> Document:
    """A reading at the end of a sheet's readings, as it would be written: `{"test": "pilot-pressure", …}`."""
    return document.append(("readings",), reading)


def add_outcome(document: Document, check: str, outcome: str, part: str | None = None) -> Document:
    """The outcome of a check as a reading of its own."""
    where = {} if part is None else {"part": part}
    return add_reading(document, {"test": "check", "check": check, **where, "outcome": outcome})


def set_note(document: Document, number: int, note: str) -> Document:
    """The note of reading `number` (from 0)."""
    return document.set(("readings", number, "note"), note)


# --- data ---------------------------------------------------------------------------


def _expected(data: Any, change: _Change, path: tuple[str | int, ...], value: Any) -> Any:
    """The old data with the one change. Raises LookupError if there is no such place."""
    holder, last = data, path[-1]
    for step in path[:-1]:
        holder = _inside(holder, step)
    new = isinstance(holder, dict) and isinstance(last, str) and last not in holder
    old = None if new and change != "remove" else _inside(holder, last)
    if change == "remove":
        del holder[last]
    elif change == "set":
        holder[last] = value
    elif isinstance(old, list | None):
        holder[last] = [*(old or ()), value]
    else:
        raise LookupError(f"{key_text(path)} is not a list")
    return data


def _inside(data: Any, step: str | int) -> Any:
    fits = (isinstance(data, dict) and step in data) or (
        isinstance(data, list) and isinstance(step, int) and 0 <= step < len(data)
    )
    if not fits:
        raise LookupError(f"there is no {key_text([step])}")
    return data[step]
