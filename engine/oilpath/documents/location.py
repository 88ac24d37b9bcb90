"""Plain data of a file, a table or a form, each value with its place, so that a problem names file, line and key.

Nothing here knows YAML: who reads a file gives its data and says where a path stands (:class:`Places`). A reader takes
a :class:`Location`, gives the value, or None after it has noted what is wrong; so one pass finds all problems.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from pathlib import Path
from typing import Any, Final, Protocol, TypeVar

from pydantic_core import PydanticCustomError

from oilpath.documents.shelves import DISK, Shelf
from oilpath.knowledge.fields import (
    flag_value,
    hint,
    nature,
    number_value,
    quantity_value,
    text_value,
    whole_value,
    word_value,
)
from oilpath.problems import Problems, key_text
from oilpath.records import dataclass

KeyPath = tuple[str | int, ...]
T = TypeVar("T")

MAX_ENTRIES: Final = 1000
MAX_HINTS: Final = 50  # a guess costs a comparison with every known word


class Places(Protocol):
    """Where the values of a document stand."""

    def line(self, path: KeyPath) -> int:
        """Line or row (from 1) of the value at `path`, or of the nearest one above it that there is."""

    def key(self, path: KeyPath) -> str:
        """What problems call the place."""


@dataclass(frozen=True, slots=True)
class TablePlaces:
    """Places of a table or form: rows by path, of which the nearest above counts, and names for paths."""

    rows: Mapping[KeyPath, int]
    names: Mapping[KeyPath, str]

    def line(self, path: KeyPath) -> int:
        return next((self.rows[path[:n]] for n in range(len(path), -1, -1) if path[:n] in self.rows), 1)

    def key(self, path: KeyPath) -> str:
        return self.names.get(path) or key_text(path)


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One document that is being read: `shown` as problems call it, the folder that its paths start from, and where
    the files stand that it names."""

    shown: str
    folder: Path
    problems: Problems
    places: Places
    path: Path | None = None
    shelf: Shelf = DISK


@dataclass(frozen=True, slots=True)
class Location:
    """One value of a document and its path; lists and mappings hold plain data."""

    file: SourceFile
    value: Any
    path: KeyPath = ()

    @property
    def line(self) -> int:
        """The line of the value, of its key if it has one."""
        return self.file.places.line(self.path)

    def wrong(self, message: str, accepted: str = "") -> None:
        """Note a problem with this value."""
        self.file.problems.add(self.file.shown, self.line, self.file.places.key(self.path), message, accepted)

    def below(self, *steps: str | int) -> Location:
        """The value at some steps below; None if there is none."""
        value = self.value
        for step in steps:
            if isinstance(step, str):
                value = value.get(step) if isinstance(value, Mapping) else None
            else:
                value = value[step] if isinstance(value, list) and step < len(value) else None
        return Location(self.file, value, (*self.path, *steps))

    # --- mappings and lists: null counts as not stated ------------------------------

    def mapping(self, what: str) -> bool:
        """Whether a mapping stands here; `what` names it (`a reading`)."""
        if isinstance(self.value, Mapping):
            return True
        self.wrong(f"{nature(self.value)} where {what} is expected", "a mapping of keys and values")
        return False

    def get(self, key: str) -> Location | None:
        """The value of a key, None if it is not stated."""
        value = self.value.get(key)
        return None if value is None else Location(self.file, value, (*self.path, key))

    def need(self, key: str, what: str, accepted: str) -> Location | None:
        """The value of a key that must be stated in `what`."""
        found = self.get(key)
        if found is None:
            self.below(key).wrong(f"is missing in {what}", accepted)
        return found

    def all(self) -> Iterator[tuple[str, Location]]:
        """Every key that is stated, with its value."""
        for key, value in self.value.items():
            if value is not None:
                yield key, Location(self.file, value, (*self.path, key))

    def named(self, key: str) -> Location:
        """The key itself, as a value at its place."""
        return Location(self.file, key, (*self.path, key))

    def close(self, known: Collection[str], what: str) -> None:
        """Note every key that is not known, with the nearest one that is."""
        for key in self.value:
            if key not in known:
                near = len(self.file.problems) < MAX_HINTS
                self.below(key).wrong(f"is not a key of {what}", hint(key, known, near=near))

    def items(self, what: str) -> list[Location] | None:
        """The values of the list that must stand here."""
        if not isinstance(self.value, list):
            accepted = "a list in [ ] or lines that start with -"
            self.wrong(f"{nature(self.value)} where {what} is expected", accepted)
            return None
        if len(self.value) > MAX_ENTRIES:
            self.wrong(f"{len(self.value):,} entries are too many", f"at most {MAX_ENTRIES:,}")
            return None
        return [Location(self.file, value, (*self.path, index)) for index, value in enumerate(self.value)]

    def one_or_many(self, what: str) -> list[Location] | None:
        """The values of a list, or one value alone."""
        return self.items(what) if isinstance(self.value, list) else [self]

    # --- single values --------------------------------------------------------------

    def take(self, read: Callable[..., T], *given: Any, **named: Any) -> T | None:
        """What a rule of `fields` makes of the value; None after noting why it makes nothing of it."""
        try:
            return read(self.value, *given, **named)
        except PydanticCustomError as error:
            context = error.context or {}
            self.wrong(str(context.get("message", error)), str(context.get("accepted", "")))
            return None

    def text(self) -> str | None:
        return self.take(text_value)

    def flag(self) -> bool | None:
        return self.take(flag_value)

    def number(self, sign: Any = "positive", *, least: float = 0.001, most: float = 1000.0) -> float | None:
        return self.take(number_value, sign, least=least, most=most)

    def whole(self, most: int) -> int | None:
        return self.take(whole_value, most)

    def quantity(self, name: str, sign: Any = "any") -> float | None:
        return self.take(quantity_value, name, sign)

    def word(self, words: Collection[str], what: str) -> str | None:
        return self.take(word_value, words, what, hints=len(self.file.problems) < MAX_HINTS)
