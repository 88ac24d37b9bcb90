"""Change a sheet or machine file at a path. Comments, order, quotes and all other bytes stay as they are.

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
    """The text of a file between reading and writing. Every change returns a new document.

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
        """The data of the text, as readers of sheets and machines see it. Texts that look like numbers stay texts."""
        return value_of(read_nodes(self.text, self.shown))

    @property
    def content(self) -> bytes:
        """The bytes of the file."""
        return (_BOM if self.marked else b"") + self.text.encode("utf-8")

    def set(self, path: KeyPath, value: Any) -> Document:
        """Replace the value at `path`. If the last key is new, it is added at the end of its mapping.

        Raises LookupError if there is no such place, UnusableInput where the change cannot be made in place.
        """
        return self._changed("set", path, value)

    def append(self, path: KeyPath, value: Any) -> Document:
        """Append `value` to the list at `path`; make the list if it is missing. Raises as `set`."""
        return self._changed("append", path, value)

    def remove(self, path: KeyPath) -> Document:
        """Remove the entry at `path` and the comment on its last line. Raises as `set`."""
        return self._changed("remove", path)

    def save(self, disk: Disk | None = None) -> Document:
        """Write the file, unless somebody else has changed it since it was read. Returns the saved document.

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
    """Append a reading to a sheet's readings: `{"test": "pilot-pressure", …}`."""
    return document.append(("readings",), reading)


def add_outcome(document: Document, check: str, outcome: str, part: str | None = None) -> Document:
    """Append the outcome of a check, as a reading."""
    where = {} if part is None else {"part": part}
    return add_reading(document, {"test": "check", "check": check, **where, "outcome": outcome})


def set_note(document: Document, number: int, note: str) -> Document:
    """Set the note of reading `number` (from 0)."""
    return document.set(("readings", number, "note"), note)


# --- data ---------------------------------------------------------------------------


def _expected(data: Any, change: _Change, path: tuple[str | int, ...], value: Any) -> Any:
    """The data as it should be after the change. Raises LookupError if there is no such place."""
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
