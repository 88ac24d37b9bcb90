"""Answers of sheets, kept with all that they were made from, so that each is worked out once.

An answer holds for a version of the sheet, for the versions of all documents that the sheet names (its machine, the
circuit, earlier sheets), and for a knowledge base. When one of them gets another version, the answer is stale, until
it is made anew or all content is again what the answer was made of.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sql

from oilpath._version import __version__
from oilpath.documents.load import load_machine, load_sheet
from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Sheet
from oilpath.documents.writing import digest
from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem, UnusableInput
from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.opening import Database
from oilpath.store.shelf import StoreShelf

if TYPE_CHECKING:
    from oilpath.flow import Diagnosis

_LEVEL = 1  # of zlib: a sixth of the JSON's size in a hundredth of the time that the answer took


@dataclass(frozen=True, slots=True)
class Material:
    """A sheet as read from the database: the id of its version, and of those of all documents that were looked at;
    None where there was none of that name. Where it cannot be used, `sheet` is None and `problems` says why.
    made_of: the hash of the content of all these."""

    name: str
    version: int
    reads: Mapping[str, int | None]
    made_of: str
    sheet: Sheet | None
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer as kept. data: what `diagnose --format json` writes (`diagnosis/1`, or `error/1` where not usable);
    version: the id of the sheet's version that it is of."""

    name: str
    version: int
    answered_by: str
    usable: bool
    data: dict[str, Any]


class Answers:
    """The answers of one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def read(self, name: str, knowledge: Knowledge, number: int | None = None) -> Material:
        """A sheet with all that it names, as they are in the database at this moment; a version of it, else the latest.

        Raises UnusableInput where there is no such sheet; a sheet with problems is given with them.
        """
        with self._database.reading() as connection:
            shelf, content = _opened(connection, name, number)
            found: tuple[Sheet | None, tuple[Problem, ...]]
            try:
                found = load_sheet(name, knowledge, text=content, shelf=shelf), ()
            except UnusableInput as error:
                found = None, error.problems
        version = shelf.reads[name]
        assert version is not None
        return Material(name, version, shelf.reads, _hash(shelf.reads, shelf.digests), *found)

    def try_sheet(self, name: str, text: str | bytes, knowledge: Knowledge) -> Sheet:
        """A sheet that is not saved yet, read as if it were under this name. Raises UnusableInput with its problems."""
        with self._database.reading() as connection:
            return load_sheet(name, knowledge, text=text, shelf=StoreShelf(connection))

    def sheets(self, names: Sequence[str], knowledge: Knowledge) -> Iterator[Sheet | UnusableInput]:
        """Several sheets as they are at one moment, or what is wrong with each, in the order of the names."""
        with self._database.reading() as connection:
            shelf = StoreShelf(connection)
            shelf.take(names)
            for name in names:
                try:
                    yield load_sheet(name, knowledge, text=shelf.content(Path(name), name), shelf=shelf)
                except UnusableInput as error:
                    yield error

    def machine(self, name: str, knowledge: Knowledge, *, text: str | bytes | None = None) -> Machine:
        """A machine of the database, or one that is not saved yet, read. Raises UnusableInput."""
        with self._database.reading() as connection:
            if text is not None:
                return load_machine(name, knowledge, text=text, shelf=StoreShelf(connection))
            shelf, content = _opened(connection, name)
            return load_machine(name, knowledge, text=content, shelf=shelf)

    def kept(self, name: str, knowledge: Knowledge) -> Answer | None:
        """The answer of a sheet's latest version by this knowledge base; None where it is not worked out, or stale."""
        answer, document = tables.answer.c, tables.document.c
        query = _of(tables.sheet, tables.sheet.c.document == document.id).where(
            document.name == name, answer.answered_by == answered_by(knowledge), ~tables.sheet.c.stale
        )
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else _answer(name, row)

    def fresh(self, name: str, knowledge: Knowledge) -> bool:
        """Whether lists show what the answer of the latest version by this knowledge base says."""
        sheet = tables.sheet.c
        query = (
            sql.select(sheet.document)
            .join_from(tables.sheet, tables.document)
            .where(tables.document.c.name == name, ~sheet.stale, sheet.answered_by == answered_by(knowledge))
        )
        with self._database.reading() as connection:
            return connection.execute(query).first() is not None

    def answer(self, name: str, knowledge: Knowledge) -> Answer:
        """The answer of a sheet's latest version, from what is kept or worked out and kept.

        Raises UnusableInput where there is no such sheet.
        """
        kept = self.kept(name, knowledge)
        if kept is not None:
            return kept
        material = self.read(name, knowledge)
        again = self._again(material, knowledge)
        if again is not None:
            return again
        made = worked_out(material, knowledge)
        self.keep(*made)
        return made[1]

    def _again(self, material: Material, knowledge: Knowledge) -> Answer | None:
        """The answer that is kept, where it was made of the same content: it holds again."""
        answer, document = tables.answer.c, tables.document.c
        query = _of().where(
            document.name == material.name, answer.answered_by == answered_by(knowledge),
            answer.made_of == material.made_of,
        )  # fmt: skip
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        if row is None:
            return None
        found = replace(_answer(material.name, row), version=material.version)
        self.keep(material, found)
        return found

    def keep(self, material: Material, answer: Answer) -> None:
        """Keep an answer, and what the lists show of it. One that is stale by now is kept as stale."""
        document = tables.document.c
        with self._database.writing() as connection:
            found = connection.execute(
                sql.select(document.id).where(document.name == material.name, ~document.removed).with_for_update()
            ).scalar()
            if found is None:
                return
            _put(self._database, connection, found, material, answer)


def answered_by(knowledge: Knowledge) -> str:
    """By which version of oilpath and which knowledge base an answer is made."""
    return f"{__version__}/{knowledge.version}"


def _of(*more: Any) -> sql.Select[Any]:
    """Answers with their documents, and another table by its condition."""
    found = sql.select(tables.answer).join_from(
        tables.answer, tables.document, tables.answer.c.document == tables.document.c.id
    )
    return found.join(*more) if more else found


def _hash(reads: Mapping[str, int | None], digests: Mapping[str, str]) -> str:
    lines = (f"{name}\n{digests.get(name, '-')}\n" for name in sorted(reads))
    return digest("".join(lines).encode("utf-8", "replace"))


def worked_out(material: Material, knowledge: Knowledge) -> tuple[Material, Answer]:
    """The answer of a sheet; of one that cannot be used its problems."""
    if material.sheet is None:
        from oilpath.reports.json_ import error_data

        data = error_data(material.name, material.problems)
        return material, Answer(material.name, material.version, answered_by(knowledge), False, data)
    from oilpath.diagnosis import diagnose

    return material, answer_of(material, material.sheet, diagnose(material.sheet, knowledge), knowledge)


def answer_of(material: Material, sheet: Sheet, diagnosis: Diagnosis, knowledge: Knowledge) -> Answer:
    """An answer as it is kept, from the diagnosis of the sheet."""
    from oilpath.reports.json_ import to_data
    from oilpath.reports.words import Words

    data = to_data(diagnosis, Words(knowledge, sheet.machine, "si"))
    return Answer(material.name, material.version, answered_by(knowledge), True, data)


def _put(database: Database, connection: sql.Connection, document: int, material: Material, answer: Answer) -> None:
    from oilpath.reports.json_ import to_jsonl

    content = zlib.compress(to_jsonl(answer.data).encode(), _LEVEL)
    row = {
        "answered_by": answer.answered_by, "version": answer.version, "usable": answer.usable, "content": content,
        "made_of": material.made_of,
    }  # fmt: skip
    put = database.insert(tables.answer).values(document=document, **row)
    connection.execute(put.on_conflict_do_update(index_elements=["document"], set_=row))
    reads = tables.answer_read
    connection.execute(sql.delete(reads).where(reads.c.document == document))
    rows = [{"document": document, "name": name, "version": found} for name, found in material.reads.items()]
    connection.execute(sql.insert(reads), rows)
    stale = dict(material.reads) != _now(connection, material.reads)
    connection.execute(
        sql.update(tables.sheet)
        .where(tables.sheet.c.document == document)
        .values(answered_by=answer.answered_by, stale=stale, usable=answer.usable, **_leading(answer.data))
    )


def _now(connection: sql.Connection, names: Mapping[str, int | None]) -> dict[str, int | None]:
    """The ids of the latest versions of some documents."""
    document, version = tables.document.c, tables.version.c
    query = (
        sql.select(document.name, version.id)
        .join_from(tables.version, tables.document)
        .where(document.name.in_(names), version.number == document.head, ~document.removed)
    )
    found = {row.name: row.id for row in connection.execute(query)}
    return {name: found.get(name) for name in names}


def _leading(data: Mapping[str, Any]) -> dict[str, Any]:
    """What lists show of an answer."""
    causes = data.get("causes") or [{}]
    first = causes[0]
    return {
        "leading_cause": first.get("cause"),
        "leading_part": first.get("part"),
        "leading_title": first.get("title"),
        "share": first.get("probability"),
        "stop_use": bool(data["stop-use"]) if "stop-use" in data else None,
    }


def _opened(connection: sql.Connection, name: str, number: int | None = None) -> tuple[StoreShelf, bytes]:
    shelf = StoreShelf(connection, {} if number is None else {name: number})
    return shelf, shelf.content(Path(name), name)


def _answer(name: str, row: Any) -> Answer:
    data = json.loads(zlib.decompress(row.content))
    return Answer(name, row.version, row.answered_by, bool(row.usable), data)
