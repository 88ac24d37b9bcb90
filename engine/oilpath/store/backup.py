"""Backup and restore: one file that holds the whole workshop at one moment, whichever database it came from.

The file is an SQLite database with our own tables, so a backup of either kind of database can be put back into either,
and anybody can open it. It leaves out what is made anew (answers, jobs) and what is not for keeping (who is signed in).
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final

import sqlalchemy as sql

from oilpath.documents.files import why_not
from oilpath.documents.writing import Disk
from oilpath.problems import Problem, UnusableInput
from oilpath.store import tables
from oilpath.store.checking import Checked, check
from oilpath.store.opening import Database, Store, open_store, unusable

_ROWS: Final = 200
_LEFT_OUT: Final = tuple(one for one in tables.metadata.sorted_tables if one not in tables.KEPT)
_NO_BACKUP: Final = "a file that oilpath store backup wrote"


def back_up(store: Store, path: str | Path, *, overwrite: bool = False) -> Checked:
    """Write the backup of a database that may be in use, looked through before it gets its name; what it holds.

    Raises UnusableInput: a file is there already and `overwrite` is not given, it cannot be written, or what was
    written is not whole, as where the database itself is damaged.
    """
    target, database = Path(path), store.database
    _refuse_same(target, database, "backup")
    if target.exists() and not overwrite:
        raise UnusableInput([Problem(str(target), 1, "-", "a file is there already", "another name, or --overwrite")])
    folder = target.parent
    partial = folder / f".oilpath-{os.urandom(8).hex()}.tmp"
    try:
        os.close(os.open(partial, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))  # it holds hashes of passwords
        (_copied_file if database.is_sqlite else _copied_rows)(database, partial)
        found = _looked_through(partial, str(target))
        disk = Disk()
        with open(partial, "rb+") as file:
            disk.sync(file)
        disk.rename(str(partial), str(target))
        disk.sync_folder(str(folder))
    except OSError as error:
        reason = (error.strerror or "an error").lower()
        wanted = "a file in a folder for writing"
        raise UnusableInput([Problem(str(target), 1, "-", f"cannot be written: {reason}", wanted)]) from None
    except sqlite3.Error as error:
        raise UnusableInput([Problem(str(target), 1, "-", f"cannot be written: {error}", "room on the disk")]) from None
    finally:
        for ending in ("", "-journal", "-wal", "-shm"):
            with suppress(OSError):
                os.unlink(f"{partial}{ending}")
    return found


def restore(store: Store, path: str | Path, *, overwrite: bool = False) -> Checked:
    """Put a backup in place of all that a database holds, in one transaction; what it holds.

    The backup is looked through first, and brought to today's tables in a copy. Whoever uses the database meanwhile
    sees it as it was before or as it is after. All must sign in again.

    Raises UnusableInput: there is no such file, it is no backup or not whole, or the database holds documents or
    accounts and `overwrite` is not given. Nothing is changed then.
    """
    source, database = Path(path), store.database
    _refuse_same(source, database, "restore from")
    if not overwrite:
        with database.reading() as connection:
            _refuse_full(connection, source)
    with _opened(source) as held:
        found = check(held, str(source))
        if found.damage:
            raise UnusableInput(found.damage)
        with held.reading() as rows, database.writing() as connection:
            if not database.is_sqlite:
                names = ", ".join(f'"{one.name}"' for one in tables.metadata.sorted_tables)
                connection.exec_driver_sql(f"LOCK TABLE {names} IN EXCLUSIVE MODE")
            if not overwrite:  # somebody else may have saved meanwhile
                _refuse_full(connection, source)
            for table in reversed(tables.metadata.sorted_tables):
                connection.execute(sql.delete(table))
            _copy(rows, connection)
            if not database.is_sqlite:
                _count_on(connection)
    return found


# --- writing --------------------------------------------------------------------------


def _copied_file(database: Database, target: Path) -> None:
    """SQLite's own online backup: a copy as of one moment, while others read and write."""
    with closing(sqlite3.connect(str(database.url.database))) as source, closing(sqlite3.connect(target)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it
        for table in _LEFT_OUT:
            copy.execute(f'DELETE FROM "{table.name}"')
        copy.commit()
        copy.execute("VACUUM")  # what was left out is not in the file any more


def _copied_rows(database: Database, target: Path) -> None:
    """The rows of another database as of one moment, in a file with the same tables."""
    made = open_store(target)
    try:
        with database.reading() as rows, made.database.writing() as connection:
            _copy(rows, connection)
    finally:
        made.close()
    with closing(sqlite3.connect(target)) as copy:
        copy.execute("PRAGMA journal_mode=DELETE")


def _looked_through(path: Path, shown: str) -> Checked:
    with _opened(path) as database:
        found = check(database, shown, contents=False)
    if found.damage:
        raise UnusableInput(found.damage)
    return found


# --- reading --------------------------------------------------------------------------


@contextmanager
def _opened(path: Path) -> Iterator[Database]:
    """A copy of a backup, brought to today's tables: the file itself is never changed."""
    log = Path(f"{path}-wal")
    if log.exists() and log.stat().st_size:
        message = "this is a database that somebody uses, and no backup"
        raise UnusableInput([Problem(str(path), 1, "-", message, _NO_BACKUP)])
    with tempfile.TemporaryDirectory(prefix="oilpath-", ignore_cleanup_errors=True) as folder:
        copy = Path(folder) / "backup.db"
        try:
            shutil.copyfile(path, copy)
            os.chmod(copy, 0o600)
        except OSError as error:
            raise UnusableInput([Problem(str(path), 1, "-", why_not(error), _NO_BACKUP)]) from None
        _refuse_other(copy, str(path))
        try:
            store = open_store(copy)
        except UnusableInput as error:
            problems = (Problem(str(path), 1, "-", one.message, _NO_BACKUP) for one in error.problems)
            raise UnusableInput(problems) from None
        try:
            yield store.database
        except sql.exc.DBAPIError as error:
            raise unusable(str(path), error) from None
        finally:
            store.close()


def _refuse_other(path: Path, shown: str) -> None:
    """Refuse an empty file, which would be made a database without anything in it, and a file of something else."""
    with path.open("rb") as file:
        begin = file.read(16)
    if begin != b"SQLite format 3\0":
        raise UnusableInput([Problem(shown, 1, "-", "this is no backup", _NO_BACKUP)])
    try:
        with closing(sqlite3.connect(path)) as connection:
            found = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'document'").fetchone()
    except sqlite3.Error as error:
        raise UnusableInput([Problem(shown, 1, "-", f"the file is damaged: {error}", _NO_BACKUP)]) from None
    if not found[0]:
        raise UnusableInput([Problem(shown, 1, "-", "this is no backup", _NO_BACKUP)])


def _refuse_same(path: Path, database: Database, what: str) -> None:
    if database.is_sqlite and path.exists() and os.path.samefile(path, str(database.url.database)):
        raise UnusableInput([Problem(str(path), 1, "-", f"this is the database itself, no file to {what}", _NO_BACKUP)])


# --- rows -----------------------------------------------------------------------------


def _copy(source: sql.Connection, target: sql.Connection) -> None:
    """All rows that are kept, in an order in which each finds what it belongs to."""
    for table in tables.KEPT:
        rows = source.execute(sql.select(table), execution_options={"yield_per": _ROWS})
        for some in rows.mappings().partitions():
            target.execute(sql.insert(table), [dict(one) for one in some])
        if _count(source, table) != _count(target, table):
            raise AssertionError(f"rows of {table.name} were lost")  # a fault of ours; the transaction ends undone


def _count(connection: sql.Connection, table: sql.Table) -> int:
    return connection.execute(sql.select(sql.func.count()).select_from(table)).scalar_one()


def _refuse_full(connection: sql.Connection, source: Path) -> None:
    if any(_count(connection, table) for table in (tables.document, tables.account)):
        message = "the database holds documents or accounts already"
        wanted = "an empty one, or --overwrite, which takes all that it holds away; a backup of it first"
        raise UnusableInput([Problem(str(source), 1, "-", message, wanted)])


def _count_on(connection: sql.Connection) -> None:
    """Let PostgreSQL number on after the rows that came with their numbers."""
    for table in tables.metadata.sorted_tables:
        if "id" in table.c:
            last = sql.select(sql.func.max(table.c.id)).scalar_subquery()
            following = sql.func.pg_get_serial_sequence(f'"{table.name}"', "id")
            connection.execute(sql.select(sql.func.setval(following, sql.func.coalesce(last, 0) + 1, False)))
