"""A file as its reader walks it: every value with its place, so that each problem names line and key.

Nothing here knows what a sheet or a machine is. A reader function takes a :class:`Location`, gives the
value in SI, or None after it has noted what is wrong; so one pass finds all problems.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal, cast

from oilpath.documents.nodes import Node
from oilpath.problems import Problems, key_text, nearest, shorten
from oilpath.units import QUANTITIES, QuantityError, bounds, parse

Sign = Literal["positive", "nonnegative", "any"]

#: Conditions that are said in words, on a sheet and in what a machine demands.
CONDITION_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "attachment": ("empty", "loaded", "other"),
    "auto-idle": ("on", "off"),
    "working-setting": ("full", "reduced"),
}
MAX_NUMBER: Final = 1000.0
MAX_ENTRIES: Final = 1000
MAX_TEXT: Final = 2000
_MAX_LIST: Final = 24
_MAX_HINTS: Final = 50  # a guess costs a comparison with every known word
_CONTROL: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f]")
_DATE: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One file that is being read: `shown` as problems call it, the folder that its paths start from."""

    shown: str
    folder: Path
    problems: Problems
    path: Path | None = None


@dataclass(frozen=True, slots=True)
class Location:
    """One value of a file: its node, path and line (that of its key)."""

    file: SourceFile
    node: Node
    path: tuple[str | int, ...] = ()
    line: int = 1

    @property
    def value(self) -> object:
        """The value as the YAML core schema reads it; nodes inside lists and mappings."""
        return self.node.value

    def wrong(self, message: str, accepted: str = "") -> None:
        """Note a problem with this value."""
        self.file.problems.add(self.file.shown, self.line, key_text(self.path), message, accepted)

    def fields(self, what: str) -> Fields | None:
        """The mapping that must stand here; `what` names it (`a reading`)."""
        if isinstance(self.value, dict):
            return Fields(self, what)
        self.wrong(f"{_nature(self.value)} stands where {what} is wanted", "a mapping of keys and values")
        return None

    def items(self, what: str) -> list[Location] | None:
        """The list that must stand here."""
        if not isinstance(self.value, list):
            self.wrong(
                f"{_nature(self.value)} stands where {what} is wanted", "a list in [ ] or lines that start with -"
            )
            return None
        if len(self.value) > MAX_ENTRIES:
            self.wrong(f"{len(self.value):,} entries are too many", f"at most {MAX_ENTRIES:,}")
            return None
        return [self._item(index, node) for index, node in enumerate(cast("list[Node]", self.value))]

    def one_or_many(self, what: str) -> list[Location] | None:
        """A list, or one value alone."""
        return self.items(what) if isinstance(self.value, list) else [self]

    def _item(self, index: int, node: Node) -> Location:
        return Location(self.file, node, (*self.path, index), node.line)


class Fields:
    """A mapping that is being read. A key whose value is null counts as not stated."""

    def __init__(self, location: Location, what: str) -> None:
        self.location, self.what = location, what
        self._entries = cast("dict[str, Node]", location.value)

    def get(self, key: str) -> Location | None:
        """The value of a key, None where it is not stated."""
        node = self._entries.get(key)
        return None if node is None or node.value is None else self._at(key, node)

    def need(self, key: str, accepted: str) -> Location | None:
        """The value of a key that must be stated."""
        found = self.get(key)
        if found is None:
            line = self.location.node.key_lines.get(key, self.location.line)
            place = Location(self.location.file, self.location.node, (*self.location.path, key), line)
            place.wrong(f"is missing in {self.what}", accepted)
        return found

    def all(self) -> Iterator[tuple[str, Location]]:
        """Every key that is stated, with its value."""
        for key, node in self._entries.items():
            if node.value is not None:
                yield key, self._at(key, node)

    def close(self, known: Collection[str]) -> None:
        """Note every key that is not known, with the nearest one that is."""
        for key, node in self._entries.items():
            if key not in known:
                self._at(key, node).wrong(f"is no key of {self.what}", hint(key, known, self.location.file.problems))

    def _at(self, key: str, node: Node) -> Location:
        return Location(self.location.file, node, (*self.location.path, key), self.location.node.key_lines[key])


def hint(word: str, known: Collection[str], problems: Problems, otherwise: str | None = None) -> str:
    """What is accepted instead of an unknown word: the nearest known one, else the list or `otherwise`."""
    near = nearest(word, known) if len(problems) < _MAX_HINTS else None
    if near is not None:
        return f"did you mean {near}?"
    if otherwise is not None:
        return otherwise
    return "one of " + ", ".join(known) if known else "nothing is known here"


def _nature(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, int | float):
        return "a number"
    if isinstance(value, str):
        return "a text"
    return "a list" if isinstance(value, list) else "a mapping"


# --- single values ------------------------------------------------------------------


def text(location: Location) -> str | None:
    """Text exactly as written, also where it looks like a number."""
    found = location.node.raw
    if found is None:
        location.wrong(f"{_nature(location.value)} stands where a text is wanted", "one text")
    elif not found.strip():
        location.wrong("is empty", "some text, or leave the key out")
    elif len(found) > MAX_TEXT:
        location.wrong(f"a text of {len(found):,} characters is too long", f"at most {MAX_TEXT:,} characters")
    elif _CONTROL.search(found):
        location.wrong("holds a control character", "printable text")
    else:
        return found
    return None


def texts(location: Location, what: str) -> tuple[str, ...]:
    """One text or a list of texts."""
    read = [text(item) for item in location.one_or_many(what) or ()]
    return tuple(one for one in read if one is not None)


def word(location: Location, words: Collection[str], what: str) -> str | None:
    """One of a closed list of words. true and false stand for on and off where these are among them."""
    value = location.value
    if isinstance(value, bool) and {"on", "off"} <= set(words):
        return "on" if value else "off"
    if not isinstance(value, str):
        location.wrong(f"{_nature(value)} stands where {what} is wanted", "one of " + ", ".join(words))
        return None
    if value not in words:
        otherwise = None if len(words) <= _MAX_LIST else what
        location.wrong(f"`{shorten(value)}` is not {what}", hint(value, words, location.file.problems, otherwise))
        return None
    return value


def flag(location: Location) -> bool | None:
    """true or false."""
    if isinstance(location.value, bool):
        return location.value
    location.wrong("is neither true nor false", "true or false")
    return None


def number(
    location: Location, sign: Sign = "positive", *, least: float = 0.001, most: float = MAX_NUMBER
) -> float | None:
    """A plain number without a unit."""
    value = location.value
    if isinstance(value, bool) or not isinstance(value, int | float):
        location.wrong(f"{_nature(value)} stands where a plain number is wanted", "a number without a unit, such as 3")
        return None
    if not _signed(location, value, sign):
        return None
    return _bounded(location, value, least, f"{least:g}", most, f"{most:,.10g}")


def whole(location: Location, most: int) -> int | None:
    """A whole number from 0 to `most`."""
    value = location.value
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= most:
        return value
    location.wrong("is not such a whole number", f"0 to {most}, without a unit")
    return None


def quantity(location: Location, name: str, sign: Sign = "any") -> float | None:
    """A quantity in SI, within what can be meant."""
    try:
        value = parse(location.value, name)
    except QuantityError as error:
        location.wrong(error.message, error.accepted)
        return None
    kind, limits = QUANTITIES[name], bounds(name)
    if name == "temperature" and kind.bounds is not None and limits is not None:
        if limits[0] <= value <= limits[1]:
            return value
        location.wrong("is out of range", f"{kind.words} from {kind.bounds[0]} to {kind.bounds[1]}")
        return None
    if not _signed(location, value, sign):
        return None
    if kind.bounds is None or limits is None:
        return value
    return _bounded(location, value, limits[0], kind.bounds[0], limits[1], kind.bounds[1])


def _signed(location: Location, value: float, sign: Sign) -> bool:
    if sign == "positive" and value <= 0:
        location.wrong("must be more than zero", "a positive value")
    elif sign == "nonnegative" and value < 0:
        location.wrong("must not be negative", "zero or more")
    else:
        return True
    return False


def _bounded(location: Location, value: float, low: float, low_text: str, high: float, high_text: str) -> float | None:
    # The bounds are read from text as well; a hair's breadth keeps `24 h` and `1440 min` both in.
    if abs(value) > high * (1 + 1e-9):
        location.wrong("is too large to be meant", f"at most {high_text}")
        return None
    if value != 0 and abs(value) < low * (1 - 1e-9):
        location.wrong("is too small to be meant", f"at least {low_text}")
        return None
    return float(value)


def date(location: Location) -> str | None:
    """A day of the calendar, as YYYY-MM-DD."""
    import datetime

    value = location.value
    if not isinstance(value, str) or not _DATE.fullmatch(value):
        location.wrong("is not a date", "YYYY-MM-DD, such as 2026-05-14")
        return None
    try:
        datetime.date.fromisoformat(value)
    except ValueError:
        location.wrong("is no day of the calendar", "YYYY-MM-DD, such as 2026-05-14")
        return None
    return value
