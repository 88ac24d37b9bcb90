"""Machines, sheets and circuits: every version is kept, the text is the file itself, byte for byte.

A version is saved with the one it was read from. Where somebody else has saved meanwhile, nothing is written and the
answer names both versions. A save that is sent twice, because its first confirmation was lost, is confirmed again.
"""

from __future__ import annotations

from typing import Any, Literal

import sqlalchemy as sql

from oilpath.documents.writing import digest
from oilpath.problems import Problem, UnusableInput
from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.columns import Indexed, indexed
from oilpath.store.names import document_name
from oilpath.store.opening import Database

Kind = Literal["sheet", "machine", "circuit"]


@dataclass(frozen=True, slots=True)
class Version:
    """One version of a document: its number from 1 on, the number of the one it was made from, who saved it and when
    (UTC, by the server's clock). removed: it takes the document away."""

    name: str
    kind: Kind
    number: int
    parent: int | None
    author: str
    saved_at: str
    digest: str
    removed: bool
    id: int


@dataclass(frozen=True, slots=True)
class Held:
    """A version with the bytes of the file."""

    version: Version
    content: bytes

    @property
    def text(self) -> str:
        """The file as text."""
        return self.content.decode("utf-8-sig")


@dataclass(frozen=True, slots=True)
class Saved:
    """The version is in the database. again: it was there already, nothing was added."""

    version: Version
    again: bool = False


@dataclass(frozen=True, slots=True)
class Conflict:
    """Nothing was written, for somebody else has saved. read: the version that was read from, None where it was said to
    be a new document or there is no such version; current: the latest one, None where there is no such document."""

    name: str
    read: Version | None
    current: Version | None


class Documents:
    """The documents of one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def save(self, name: str, content: bytes | str, *, base: int | None, author: str) -> Saved | Conflict:
        """Save a document, to the disk before this returns.

        Parameters
        ----------
        name : str, a path such as ``sheets/pit-07.yaml``, by which sheets name their machine
        content : bytes or str, the YAML text; it may still have problems, but must say what it is
        base : int or None, the number of the version that it was read from; None: a new document
        author : str, who saves

        Raises
        ------
        UnusableInput : it is no YAML, says not what it is or is another kind than before; no possible name
        """
        held = content.encode() if isinstance(content, str) else content
        found = indexed(document_name(name), held)
        with self._database.writing() as connection:
            return self.save_within(connection, name, held, found, base=base, author=author)

    def remove(self, name: str, *, base: int, author: str) -> Saved | Conflict:
        """Take a document away, by a version without content: those before are kept."""
        with self._database.writing() as connection:
            return self.save_within(connection, name, None, None, base=base, author=author)

    def latest(self, name: str) -> Held | None:
        """The latest version; None where there is no such document, or it was taken away."""
        held = self.version(name)
        return held if held is not None and not held.version.removed else None

    def version(self, name: str, number: int | None = None) -> Held | None:
        """One version with its content, the latest where no number is given; None where there is none."""
        wanted = tables.document.c.head if number is None else number
        with self._database.reading() as connection:
            row = connection.execute(
                _versions(tables.version.c.content).where(
                    tables.document.c.name == name, tables.version.c.number == wanted
                )
            ).first()
        return Held(_version(row), row.content or b"") if row is not None else None

    def versions(self, name: str) -> tuple[Version, ...]:
        """All versions, the latest first; empty where there is no such document."""
        with self._database.reading() as connection:
            rows = connection.execute(
                _versions().where(tables.document.c.name == name).order_by(tables.version.c.number.desc())
            ).all()
        return tuple(_version(row) for row in rows)

    def names(self, kind: Kind | None = None) -> tuple[str, ...]:
        """The names of all documents that are there, in alphabetical order."""
        query = sql.select(tables.document.c.name).where(~tables.document.c.removed)
        if kind is not None:
            query = query.where(tables.document.c.kind == kind)
        with self._database.reading() as connection:
            return tuple(sorted(connection.execute(query).scalars()))

    def state(self) -> tuple[Any, ...]:
        """What differs after every change of any document, for what is kept of several of them."""
        version = tables.version.c
        last = sql.select(sql.func.max(version.id)).scalar_subquery()
        query = sql.select(version.id, version.saved_at, version.digest).where(version.id == last)
        with self._database.reading() as connection:
            return tuple(connection.execute(query).first() or ())

    # --- within a transaction -------------------------------------------------------

    def save_within(
        self,
        connection: sql.Connection,
        name: str,
        content: bytes | None,
        found: Indexed | None,
        *,
        base: int | None,
        author: str,
    ) -> Saved | Conflict:
        """Save in the caller's transaction; `found` is what `indexed` says of the content, None takes it away."""
        row = self._locked(connection, name, found if base is None else None)
        if row is None:
            return Conflict(name, None, None)
        current = _numbered(connection, name, row.head)
        own = digest(content) if content is not None else ""
        if current is not None and current.digest == own and base in (current.number, current.parent):
            return Saved(current, again=True)
        fits = base == row.head or (base is None and (current is None or current.removed))
        if not fits:
            read = None if base is None else _numbered(connection, name, base)
            return Conflict(name, read, current)
        if found is not None and current is not None and found.kind != row.kind:
            message = f"this is a {found.kind}, and the document has been a {row.kind} so far"
            raise UnusableInput([Problem(name, 1, "oilpath", message, "a name of its own")])
        parent = None if current is None else current.number
        saved_at = self._database.now()
        added = sql.insert(tables.version).values(
            document=row.id, number=row.head + 1, parent=parent, author=author, saved_at=saved_at, digest=own,
            content=content,
        )  # fmt: skip
        number = connection.execute(added.returning(tables.version.c.id)).scalar_one()
        connection.execute(
            sql.update(tables.document)
            .where(tables.document.c.id == row.id)
            .values(head=row.head + 1, removed=content is None)
        )
        put_index(connection, row.id, name, found, saved_at, first=row.head == 0)
        removed = content is None
        return Saved(Version(name, row.kind, row.head + 1, parent, author, saved_at, own, removed, number))

    def _locked(self, connection: sql.Connection, name: str, new: Indexed | None) -> Any:
        """The row of the document, made where there is none, which nobody else writes until the transaction ends."""
        if new is not None:
            made = self._database.insert(tables.document).values(name=name, kind=new.kind, head=0, removed=False)
            connection.execute(made.on_conflict_do_nothing())
        query = sql.select(tables.document).where(tables.document.c.name == name).with_for_update()
        return connection.execute(query).first()


def put_index(
    connection: sql.Connection, document: int, name: str, found: Indexed | None, saved_at: str, *, first: bool = False
) -> None:
    """Write anew what a document is found by; None: it was taken away. Answers that it was read for become stale.

    first: it has not been found by anything so far.
    """
    if not first:
        for table in (tables.outcome, tables.confirmed, tables.machine):
            connection.execute(sql.delete(table).where(table.c.document == document))
    if found is None:
        connection.execute(sql.delete(tables.sheet).where(tables.sheet.c.document == document))
        for table in (tables.answer, tables.answer_read):
            connection.execute(sql.delete(table).where(table.c.document == document))
        connection.execute(sql.update(tables.sheet).where(tables.sheet.c.machine == name).values(machine_title=""))
    elif found.kind == "sheet":
        _put_sheet(connection, document, found, saved_at, first)
    elif found.kind == "machine":
        connection.execute(sql.insert(tables.machine).values(document=document, **found.row))
        connection.execute(
            sql.update(tables.sheet).where(tables.sheet.c.machine == name).values(machine_title=found.row["title"])
        )
    reads = sql.select(tables.answer_read.c.document).where(tables.answer_read.c.name == name)
    connection.execute(sql.update(tables.sheet).where(tables.sheet.c.document.in_(reads)).values(stale=True))


def _put_sheet(connection: sql.Connection, document: int, found: Indexed, saved_at: str, first: bool) -> None:
    row = dict(found.row)
    if row["machine"] is not None:
        title = connection.execute(
            sql.select(tables.machine.c.title)
            .join(tables.document)
            .where(tables.document.c.name == row["machine"], ~tables.document.c.removed)
        ).scalar()
        row["machine_title"] = title or ""
    row["saved_at"] = saved_at
    there = sql.update(tables.sheet).where(tables.sheet.c.document == document).values(**row)
    if first or not connection.execute(there).rowcount:
        connection.execute(sql.insert(tables.sheet).values(document=document, stale=False, **row))
    for table, rows in ((tables.outcome, found.outcomes), (tables.confirmed, found.confirmed)):
        if rows:
            connection.execute(sql.insert(table), [{"document": document, **one} for one in rows])


def _versions(*more: sql.Column[Any]) -> sql.Select[Any]:
    one, document = tables.version.c, tables.document.c
    removed = one.content.is_(None).label("removed")
    return sql.select(
        one.id, document.name, document.kind, one.number, one.parent, one.author, one.saved_at, one.digest, removed,
        *more,
    ).join_from(tables.version, tables.document)  # fmt: skip


def _numbered(connection: sql.Connection, name: str, number: int) -> Version | None:
    row = connection.execute(
        _versions().where(tables.document.c.name == name, tables.version.c.number == number)
    ).first()
    return _version(row) if row is not None else None


def _version(row: Any) -> Version:
    return Version(
        row.name, row.kind, row.number, row.parent, row.author, row.saved_at, row.digest, bool(row.removed), row.id
    )
