"""Is a database whole: what its own checks say, every byte against its hash, every list against the documents."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any, Final

import sqlalchemy as sql

from oilpath.documents.writing import digest
from oilpath.problems import Problem, UnusableInput
from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.columns import Indexed, indexed, references
from oilpath.store.documents import put_index
from oilpath.store.names import is_file
from oilpath.store.opening import Database

_TOGETHER: Final = 200
_BACKUP: Final = "a backup, put back with oilpath store restore"
_MEND: Final = "oilpath store check --mend"


@dataclass(frozen=True, slots=True)
class Checked:
    """What a database holds, and what is wrong with it.

    damage: what only a backup brings back; lists: what is found otherwise than its document says, which can be made
    anew; missing: documents that others name and that are not there.
    """

    machines: int
    sheets: int
    circuits: int
    versions: int
    photos: int
    damage: tuple[Problem, ...]
    lists: tuple[Problem, ...]
    missing: tuple[Problem, ...]


def check(database: Database, shown: str, *, contents: bool = True) -> Checked:
    """Look through a whole database as it is at one moment; without `contents` no document is read anew."""
    with database.reading() as connection:
        damage = [*_sound(database, connection, shown), *_versions(connection), *_photos(connection)]
        found = list(_contents(connection)) if contents else []
        kinds = Counter(
            connection.execute(sql.select(tables.document.c.kind).where(~tables.document.c.removed)).scalars()
        )
        versions, photos = (
            connection.execute(sql.select(sql.func.count()).select_from(table)).scalar_one()
            for table in (tables.version, tables.photo)
        )
    return Checked(
        kinds["machine"], kinds["sheet"], kinds["circuit"], versions, photos, tuple(damage),
        tuple(one for kind, one in found if kind == "list"), tuple(one for kind, one in found if kind == "missing"),
    )  # fmt: skip


def mend(database: Database) -> int:
    """Make the lists anew from the documents where they differ; how many documents that were."""
    mended = 0
    with database.writing() as connection:
        for row, found in list(_differing(connection)):
            put_index(connection, row.id, row.name, found, row.saved_at)
            mended += 1
    return mended


# --- the database's own checks --------------------------------------------------------


def _sound(database: Database, connection: sql.Connection, shown: str) -> Iterator[Problem]:
    """What SQLite says of its file; PostgreSQL sees to its own, and holds foreign keys at every change."""
    if not database.is_sqlite:
        return
    for row in connection.exec_driver_sql("PRAGMA integrity_check").fetchmany(20):
        if row[0] != "ok":
            yield Problem(shown, 1, "-", f"the file is damaged: {row[0].splitlines()[0]}", _BACKUP)
    for row in connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(20):
        yield Problem(shown, 1, "-", f"a row of {row[0]} belongs to none of {row[2]}", _BACKUP)


# --- versions and photos --------------------------------------------------------------


def _versions(connection: sql.Connection) -> Iterator[Problem]:
    """Each version against its hash; numbers from 1 to the latest, each made from the one before."""
    document, version = tables.document.c, tables.version.c
    query = (
        sql.select(
            document.name, document.head, document.removed, version.number, version.parent, version.digest,
            version.content,
        )
        .outerjoin_from(tables.document, tables.version)
        .order_by(document.id, version.number)
    )  # fmt: skip
    before: Any = None
    for row in connection.execute(query, execution_options={"yield_per": _TOGETHER}):
        if before is not None and before.name != row.name:
            yield from _ended(before)
        number = before.number if before is not None and before.name == row.name else 0
        if row.number is not None and (row.number != number + 1 or row.parent != (number or None)):
            yield Problem(row.name, 1, "-", f"version {number + 1} is missing", _BACKUP)
        if row.number is not None and row.digest != ("" if row.content is None else digest(row.content)):
            yield Problem(row.name, 1, "-", f"version {row.number} is not what was saved", _BACKUP)
        before = row
    if before is not None:
        yield from _ended(before)


def _ended(last: Any) -> Iterator[Problem]:
    """What is wrong with the latest version of a document."""
    if (last.number or 0) != last.head:
        yield Problem(last.name, 1, "-", f"version {last.head}, the latest, is missing", _BACKUP)
    elif bool(last.removed) != (last.content is None):
        yield Problem(last.name, 1, "-", "is there and taken away at once", _BACKUP)


def _photos(connection: sql.Connection) -> Iterator[Problem]:
    photo = tables.photo.c
    query = sql.select(tables.document.c.name, photo.id, photo.digest, photo.content).join_from(
        tables.photo, tables.document
    )
    for row in connection.execute(query, execution_options={"yield_per": 20}):
        if row.digest != digest(row.content):
            yield Problem(row.name, 1, "-", f"photo {row.id} is not what was saved", _BACKUP)


# --- lists ----------------------------------------------------------------------------


def _contents(connection: sql.Connection) -> Iterator[tuple[str, Problem]]:
    names = set(connection.execute(sql.select(tables.document.c.name).where(~tables.document.c.removed)).scalars())
    for row, found in _differing(connection, all_=True):
        if found is None:
            yield "list", Problem(row.name, 1, "-", "can no longer be read as a document", "a version that can")
            continue
        if row.differs:
            yield "list", Problem(row.name, 1, "-", "is listed otherwise than it says", _MEND)
        for other in sorted({one for one in references(row.name, row.content) if is_file(one)} - names):
            message = f"names {other}, which is not in the database"
            yield "missing", Problem(row.name, 1, "-", message, "that file, imported too")


@dataclass(frozen=True, slots=True)
class _Row:
    """A document as it is there, and whether what it is found by differs from what it says."""

    id: int
    name: str
    saved_at: str
    content: bytes
    differs: bool


def _differing(connection: sql.Connection, *, all_: bool = False) -> Iterator[tuple[_Row, Indexed | None]]:
    """Documents that are found otherwise than their latest version says, or all; None: it can no longer be read."""
    listed = _listed(connection)
    document, version = tables.document.c, tables.version.c
    query = (
        sql.select(document.id, document.name, document.kind, version.saved_at, version.content)
        .join_from(tables.version, tables.document)
        .where(version.number == document.head, ~document.removed, version.content.is_not(None))
        .order_by(document.name)
    )
    for row in connection.execute(query, execution_options={"yield_per": _TOGETHER}):
        try:
            found = indexed(row.name, row.content)
        except UnusableInput:
            yield _Row(row.id, row.name, row.saved_at, row.content, True), None
            continue
        differs = found.kind != row.kind or listed.get(row.id) != _as_listed(found, row.saved_at, listed)
        if differs or all_:
            yield _Row(row.id, row.name, row.saved_at, row.content, differs), found


def _listed(connection: sql.Connection) -> dict[Any, Any]:
    """What each document is found by, as the tables have it; titles of machines by the names of their documents."""
    found: dict[Any, Any] = {}
    for table, columns in _LISTS.items():
        query = sql.select(table.c.document, *(table.c[name] for name in columns))
        for number, *row in connection.execute(query):
            found.setdefault(number, {}).setdefault(table.name, []).append(tuple(row))
    titles = sql.select(tables.document.c.name, tables.machine.c.title).join_from(tables.machine, tables.document)
    found["titles"] = {row.name: row.title for row in connection.execute(titles)}
    return {key: _sorted(value) if key != "titles" else value for key, value in found.items()}


def _as_listed(found: Indexed, saved_at: str, listed: Mapping[Any, Any]) -> Any:
    """What a document should be found by, in the shape of `_listed`; None: by nothing."""
    if found.kind == "circuit":
        return None
    row = dict(found.row)
    if found.kind == "sheet":
        row["saved_at"] = saved_at
        if row["machine"] is not None:
            row["machine_title"] = listed["titles"].get(row["machine"], "")
    held = {found.kind: [row], "outcome": list(found.outcomes), "confirmed": list(found.confirmed)}
    columns = {table.name: names for table, names in _LISTS.items()}
    return _sorted({
        name: [tuple(one[column] for column in columns[name]) for one in rows] for name, rows in held.items() if rows
    })  # fmt: skip


def _sorted(lists: Mapping[str, list[Any]]) -> dict[str, list[Any]]:
    return {name: sorted(rows, key=repr) for name, rows in lists.items()}


_LISTS: Final = {
    tables.machine: ("title", "circuit", "words"),
    tables.sheet: (
        "machine", "machine_title", "unit_number", "order_number", "serial_number", "hours", "date", "complaint",
        "readings", "closed", "saved_at", "words",
    ),
    tables.outcome: ("check", "part", "outcome"),
    tables.confirmed: ("cause", "part", "how", "after"),
}  # fmt: skip
"""what comes from the document itself; the rest of `sheet` comes from its answer"""
