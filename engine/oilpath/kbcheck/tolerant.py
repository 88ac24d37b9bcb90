"""Read a folder of knowledge as far as possible, so that one mistake does not hide the others.

What is wrong in a file is noted and replaced by a stand-in, as long as one is known, else the entry is left out. Names
and simulation can then be tried with all the rest. `spoilt` says which keys of an entry are stand-ins.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field, replace
from pathlib import Path
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError

from oilpath.documents.files import file_bytes
from oilpath.documents.nodes import read_file
from oilpath.documents.validate import data_of, line_of, model_from_data
from oilpath.kbcheck.entries import missing
from oilpath.knowledge.base import Caution, Knowledge, SharedScatter
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.check import Check, Sign
from oilpath.knowledge.fields import ID_PATTERN, kebab
from oilpath.knowledge.files import SECTIONS, WHOLE, Entry, FolderContent, entries_of, file_names
from oilpath.knowledge.rule import FACTS, NOT_STATED, read_term
from oilpath.knowledge.testkind import Phase, TestKind, TestVariant
from oilpath.knowledge.words import Names, Said
from oilpath.problems import Problem, Problems, UnusableInput, key_text
from oilpath.records import dataclass

KeyPath = tuple[str | int, ...]
_ROUNDS: Final = 12
STAND_INS: Final[Mapping[str, Any]] = {
    "title": "-", "look": "-", "mechanism": "-", "signature": "-", "remedy": "-", "because": "-", "how": ["-"],
    "tools": ["-"], "says": "-", "against": "-", "stop-use": "-", "trap": "-", "warn": "-",
    "source": "common practice", "frequency": "rare", "minutes": 1, "wait": 0, "intrusiveness": 0, "cautions": [],
    "hazard": "general", "hazards": [], "checks": [], "readings": [], "likelihood": 2, "variants": "none",
    "disturbs": {"parameter": "none"}, "fires": [{"says": "-", "results": {}}],
    "silent": [{"says": "-", "results": {}}],
}  # fmt: skip
"""what a key holds in place of something that is missing or wrong"""


ENTRIES: Final[Mapping[str, type[BaseModel]]] = {
    "test": TestKind, "phase": Phase, "variant": TestVariant, "sign": Sign, "caution": Caution, "cause": Cause,
    "check": Check, "scatter": SharedScatter, "word": Said, "name": Names,
}  # fmt: skip
"""models of the entries that are read one by one"""
_ID: Final = re.compile(ID_PATTERN)


@dataclass(frozen=True, slots=True)
class Dropped:
    """An entry of which too little makes sense: where it is, its id, what is written there."""

    file: str
    line: int
    key: str
    data: Mapping[str, Any]


@dataclass(slots=True)
class Read:
    """What could be read of a folder: its content with the stand-ins, and what must not be taken at its word."""

    content: FolderContent
    spoilt: dict[tuple[str, str], frozenset[str]] = field(default_factory=dict)
    """(kind, id) of entries that hold stand-ins, with the keys"""
    dropped: list[Dropped] = field(default_factory=list)
    unread: str = ""
    """text of the files that could not be read at all"""

    def claimed(self, word: str) -> bool:
        """Whether something that could not be read seems to define a word."""
        return any(word == one.key for one in self.dropped) or word in self.unread


def read_tolerantly(folder: Path, shown: str, problems: Problems) -> Read:
    """Every file of a folder, with all that is wrong noted."""
    read = Read(FolderContent(folder, shown, {}, ()))
    files: dict[str, BaseModel] = {}
    entries: list[Entry] = []
    for name, model in file_names(folder):
        file = read.content.shown_name(name)
        try:
            data, where = data_of(read_file(folder / name, file))
        except UnusableInput as error:
            problems.extend(error.problems)
            read.unread += _text(folder / name)
            continue
        found: BaseModel | None
        try:
            found = model.model_validate(data)
            entries += entries_of(found, where, file, shown)
        except ValidationError:
            found = _file(_Source(data, where, file, shown, problems), model, read, entries)
        if found is not None:
            files[name] = found
    read.content = replace(read.content, files=files, entries=tuple(entries))
    return read


def _text(path: Path) -> str:
    try:
        return file_bytes(path, str(path)).decode("utf-8", "replace")
    except UnusableInput:  # no regular file
        return ""


@dataclass(frozen=True, slots=True)
class _Source:
    data: Any
    where: Mapping[KeyPath, tuple[int, int]]
    file: str
    layer: str
    problems: Problems


def _file(source: _Source, model: type[BaseModel], read: Read, entries: list[Entry]) -> BaseModel | None:
    """A file in which something is wrong: its entries one by one, then what is around them."""
    if model in WHOLE:
        return _entry(source, (), str(_at(source.data, ("id",)) or "-"), WHOLE[model], model, read, entries)
    around = copy.deepcopy(source.data)
    for section, kind in SECTIONS[model]:
        path = tuple(section.split("."))
        inside = _at(source.data, path)
        if kind not in ENTRIES or not isinstance(inside, list | dict):
            continue
        for step, value in inside.items() if isinstance(inside, dict) else enumerate(inside):
            if isinstance(step, str) and not _ID.fullmatch(step):
                line, key = line_of(source.where, (*path, step)), key_text((*path, step))
                source.problems.add(source.file, line, key, "is not an id", "lower-case letters, digits and hyphens")
            own = (_at(value, (word,)) for word in ("cause", "check", "phase", "id"))
            name = step if isinstance(step, str) else next((word for word in own if isinstance(word, str)), "-")
            _entry(source, (*path, step), name, kind, ENTRIES[kind], read, entries)
        _at(around, path[:-1])[path[-1]] = type(inside)()
    mended, _ = _mended(around, source, model, ())
    return mended


def _entry(
    source: _Source, at: KeyPath, name: str, kind: str, model: type[BaseModel], read: Read, entries: list[Entry]
) -> BaseModel | None:
    value = _at(source.data, at)
    line = line_of(source.where, at)
    found, spoilt = _mended(copy.deepcopy(value), source, model, at)
    if found is not None:
        entries.append(Entry(source.file, line, name, found, kind, source.layer))
        if spoilt:
            read.spoilt[kind, name] = spoilt
    elif isinstance(value, dict):
        read.dropped.append(Dropped(source.file, line, name, value))
    return found


# --- stand-ins ------------------------------------------------------------------------


def _mended(data: Any, source: _Source, model: type[BaseModel], at: KeyPath) -> tuple[BaseModel | None, frozenset[str]]:
    """Data at a path as a model, with stand-ins for what is wrong (and their keys); None if there is none for it."""
    spoilt: set[str] = set()
    for _ in range(_ROUNDS):
        noted = Problems()
        found = model_from_data(data, source.where, model, source.file, noted, at)
        hidden = [key_text((*at, key)) for key in spoilt]
        source.problems.extend(one for one in _once(noted) if not any(_within(one.key, key) for key in hidden))
        if found is not None:
            return found, frozenset(spoilt)
        if not _mend(data, model, spoilt):
            break
    return None, frozenset(spoilt)


def _once(noted: Problems) -> Iterator[Problem]:
    """Without those that say too few of a list in which one entry is wrong."""
    for one in noted:
        if one.message != "has too few entries" or not any(other.key.startswith(f"{one.key}[") for other in noted):
            yield one


def _within(key: str, top: str) -> bool:
    return key == top or key.startswith((f"{top}.", f"{top}["))


def _mend(data: Any, model: type[BaseModel], spoilt: set[str]) -> bool:
    """Replace all that is wrong; whether that could be done."""
    try:
        model.model_validate(data)
    except ValidationError as error:
        wrong = {_steps(one["loc"], data): one["type"] for one in error.errors(include_url=False)}
        for path in [path for path, kind in wrong.items() if kind == "too_short"]:
            if any(other[: len(path)] == path for other in wrong if other != path):
                del wrong[path]  # too few because one of them is wrong
        deepest_first = sorted(wrong.items(), key=lambda one: -len(one[0]))
        done = [_replace(data, model, path, kind, spoilt) for path, kind in deepest_first]
        return all(done)
    return True


def _replace(data: Any, model: type[BaseModel], path: KeyPath, kind: str, spoilt: set[str]) -> bool:
    if not path or not isinstance(data, dict):
        return False
    owner = _at(data, path[:-1])
    if path == ("oilpath",):
        data["oilpath"] = get_args(model.model_fields["oilpath"].annotation)[0]
        return True
    if kind == "extra_forbidden" and isinstance(owner, dict):
        owner.pop(path[-1], None)
        return True
    if path[0] in ("when", "suspect") and _slots_left_out(path, _at(data, path)):
        spoilt.add(str(path[0]))
        return True
    for length in range(len(path), 0, -1):  # the innermost key for which there is a stand-in
        name, owner = path[length - 1], _at(data, path[: length - 1])
        if isinstance(name, str) and name in STAND_INS and isinstance(owner, dict):
            owner[name] = copy.deepcopy(STAND_INS[name])
            spoilt.add(str(path[0]))
            return True
    return False


def _slots_left_out(path: KeyPath, value: Any) -> bool:
    """Leave out the slots of a condition, or of a place in a rule, that hold no word for them."""
    fact = _at(value, ("fact",)) if path[0] == "when" else "part"
    if not isinstance(value, dict) or fact not in FACTS:
        return False
    bad = [slot for slot, text in value.items() if slot != "fact" and not _fits(str(fact), slot, text)]
    for slot in bad:
        del value[slot]
    return bool(bad)


def _fits(fact: str, slot: str, text: object) -> bool:
    if slot not in FACTS[fact] or not isinstance(text, str):
        return False
    try:
        words = read_term(text).words
    except ValueError:
        return False
    return not FACTS[fact][slot] or all(word in (*FACTS[fact][slot], NOT_STATED) for word in words)


def _steps(loc: Iterable[str | int], data: Any) -> KeyPath:
    """A pydantic location as a path in the data; its last step may be a key that is missing there."""
    path: list[str | int] = []
    for step in loc:
        if isinstance(data, dict) and isinstance(step, str):
            name = step if step in data else kebab(step)
            path.append(name)
            data = data.get(name)
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            path.append(step)
            data = data[step]
    return tuple(path)


def _at(data: Any, path: KeyPath) -> Any:
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


# --- names in entries that could not be read ------------------------------------------


def names_in_dropped(read: Read, known: Knowledge) -> Iterator[Problem]:
    """Names that do not exist in entries of which too little could be read for the other checks."""
    classes = {part.class_ for circuit in known.circuits.values() for part in circuit.parts.values()}
    parts = {name for circuit in known.circuits.values() for name in circuit.parts}
    causes = {cause.cause for cause in known.causes}
    checks = {check.check for check in known.checks}
    for one in read.dropped:
        entry, data = Entry(one.file, one.line, one.key, one.data), one.data
        place = data.get("at")
        suspects = [suspect.get("cause") for suspect in _dicts(data.get("suspect"))]
        declared = [word for tells in _dicts(data.get("tells")) for word in _words(tells.get("causes"))]
        for what, words, there in (
            ("part class", _words(_at(place, ("class",))), classes),
            ("part", _words(_at(place, ("parts",))), parts),
            ("check", _words(data.get("checks")), checks),
            ("caution", _words(data.get("cautions")), set(known.cautions)),
            ("cause", [*_words(suspects), *declared], causes),
        ):
            for word in words:
                family = word.endswith(".*") and any(cause.startswith(word[:-1]) for cause in causes)
                if word not in there and not family:
                    yield missing(entry, what, word, there)


def _dicts(value: object) -> list[dict[str, Any]]:
    many = value if isinstance(value, list) else [value]
    return [one for one in many if isinstance(one, dict)]


def _words(value: object) -> list[str]:
    many = value if isinstance(value, list) else [value]
    return [one for one in many if isinstance(one, str)]
