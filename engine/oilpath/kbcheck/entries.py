"""Every entry of every file of a knowledge base, with the file and line where it stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from operator import attrgetter
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from oilpath.documents.nodes import read_file
from oilpath.documents.validate import data_of, line_of
from oilpath.knowledge.base import CautionFile
from oilpath.knowledge.cause import CauseFile
from oilpath.knowledge.check import CheckFile, SignFile
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.rule import Rule
from oilpath.knowledge.testkind import TestFile
from oilpath.problems import Problem, nearest


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a file: where it stands and what it is."""

    file: str
    line: int
    key: str
    value: Any


def read_entries(kb_dir: Path) -> Iterator[Entry]:
    """Every entry of every file, as its model."""
    files: tuple[tuple[str, type[BaseModel], str], ...]
    files = (
        ("tests.yaml", TestFile, "tests"),
        ("tests.yaml", TestFile, "day.phases"),
        ("tests.yaml", TestFile, "variants"),
        ("tests.yaml", TestFile, "asked-of"),
        ("signs.yaml", SignFile, "signs"),
        ("cautions.yaml", CautionFile, "cautions"),
    )
    for name, model, key in files:
        yield from _of_file(kb_dir / name, name, model, key)
    folders: tuple[tuple[str, type[BaseModel], str | None], ...]
    folders = (
        ("causes", CauseFile, "causes"),
        ("checks", CheckFile, "checks"),
        ("rules", Rule, None),
        ("circuits", Circuit, None),
    )
    for folder, inside, key_ in folders:
        for path in sorted((kb_dir / folder).glob("*.yaml")):
            yield from _of_file(path, f"{folder}/{path.name}", inside, key_)


def _of_file(path: Path, shown: str, model: type[BaseModel], key: str | None) -> Iterator[Entry]:
    data, where = data_of(read_file(path, shown))
    read = model.model_validate(data)
    if key is None:
        yield Entry(shown, 1, str(getattr(read, "id", "-")), read)
        return
    inside = attrgetter(key.replace("-", "_"))(read)
    steps: Iterable[tuple[str | int, Any]] = inside.items() if isinstance(inside, Mapping) else enumerate(inside)
    for step, value in steps:
        own = (getattr(value, word, None) for word in ("cause", "check", "phase"))
        name = step if isinstance(step, str) else next((word for word in own if word), str(step))
        yield Entry(shown, line_of(where, (*key.split("."), step)), name, value)


def missing(entry: Entry, what: str, word: str, known: Iterable[str]) -> Problem:
    like = nearest(word, list(known))
    message = f"names the {what} {word}, which does not exist"
    return Problem(entry.file, entry.line, entry.key, message, f"did you mean {like}?" if like else "")
