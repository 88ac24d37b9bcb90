"""Files into the database and out of it, byte for byte, under the names that they call each other by."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Final, Literal

import sqlalchemy as sql

from oilpath.documents.files import file_bytes, why_not
from oilpath.documents.writing import digest, write_whole
from oilpath.problems import Problem, UnusableInput
from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.columns import Indexed, OtherKind, indexed, references
from oilpath.store.documents import Conflict
from oilpath.store.names import ENDINGS, document_name, is_file
from oilpath.store.opening import Store

Done = Literal["added", "changed", "same", "other"]
"""other: a file in a folder that is of another kind than those that are kept, such as a closed job"""

_TOGETHER: Final = 100
"""files that are saved in one transaction: what was said to be there is there"""


@dataclass(frozen=True, slots=True)
class File:
    """A file that is to be a document: where it is, as typed, and the name that it gets; found: in a folder."""

    path: Path
    shown: str
    name: str
    found: bool = False


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of a file. wrong: why nothing was saved of it; names: the documents that it names."""

    file: File
    done: Done | None
    wrong: tuple[Problem, ...] = ()
    names: frozenset[str] = frozenset()


# --- in -------------------------------------------------------------------------------


def files_of(path: str) -> Iterator[File]:
    """The files of a folder, by their paths in it, or one file, by its path as typed if that has no way out.

    Hidden files and folders are left out. Raises UnusableInput: there is nothing of that name.
    """
    folder = Path(path)
    if not folder.is_dir():
        inside = not folder.is_absolute() and ".." not in folder.parts
        yield File(folder, path, Path(os.path.normpath(folder)).as_posix() if inside else folder.name)
        return

    def failed(error: OSError) -> None:
        raise UnusableInput([Problem(str(error.filename), 1, "-", why_not(error, "folder"), "a folder to read")])

    for where, folders, names in os.walk(folder, onerror=failed):
        folders[:] = sorted(one for one in folders if not one.startswith("."))
        for name in sorted(names):
            if name.lower().endswith(ENDINGS) and not name.startswith("."):
                found = Path(where) / name
                yield File(found, str(found), found.relative_to(folder).as_posix(), True)


def import_files(store: Store, files: Iterable[File], *, author: str, replace: bool = False) -> Iterator[Imported]:
    """Save files as documents; each is given when it is on the disk, or why it is not.

    A document that is there with the same bytes is left as it is. One with other bytes gets another version only with
    `replace`: it may have been changed in the database since the file was written.
    """
    waiting = iter(files)
    while some := list(islice(waiting, _TOGETHER)):
        read = [_read(one) for one in some]
        with store.database.writing() as connection:
            found = [
                one if isinstance(one, Imported) else _saved(store, connection, *one, author, replace) for one in read
            ]
        yield from found


def _read(file: File) -> Imported | tuple[File, bytes, Indexed]:
    try:
        content = file_bytes(file.path, file.shown)
        return file, content, indexed(document_name(file.name), content)
    except UnusableInput as error:
        if file.found and isinstance(error, OtherKind):
            return Imported(file, "other")
        problems = (Problem(file.shown, one.line, one.key, one.message, one.accepted) for one in error.problems)
        return Imported(file, None, tuple(problems))


def _saved(
    store: Store, connection: sql.Connection, file: File, content: bytes, found: Indexed, author: str, replace: bool
) -> Imported:
    document, version = tables.document.c, tables.version.c
    latest = connection.execute(
        sql.select(version.number, version.digest, version.author, version.saved_at, document.kind)
        .join_from(tables.version, tables.document)
        .where(document.name == file.name, version.number == document.head, ~document.removed)
        .with_for_update()
    ).first()
    named = frozenset(references(file.name, content))
    if latest is not None and latest.digest == digest(content):
        return Imported(file, "same", names=named)
    if latest is not None and not replace:
        by = f" by {latest.author}" if latest.author else ""
        message = f"the database holds another version of {file.name}, saved {latest.saved_at[:16]}{by}"
        accepted = "--replace saves this file as the latest version and keeps the earlier ones"
        return Imported(file, None, (Problem(file.shown, 1, "-", message, accepted),))
    try:
        base = None if latest is None else latest.number
        done = store.documents.save_within(connection, file.name, content, found, base=base, author=author)
    except UnusableInput as error:
        return Imported(file, None, error.problems)
    assert not isinstance(done, Conflict)  # nobody else writes in this transaction
    return Imported(file, "added" if latest is None else "changed", names=named)


def missing(store: Store, imported: Iterable[Imported]) -> tuple[Problem, ...]:
    """What imported files name and the database does not hold."""
    there = set(store.documents.names())
    return tuple(
        Problem(one.file.shown, 1, "-", f"names {other}, which is not in the database", "that file, imported too")
        for one in imported
        for other in sorted(one.names - there)
        if is_file(other)
    )


# --- out ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Exported:
    """How many files were written, and how many were there already with the same bytes."""

    written: int
    same: int


def export_files(store: Store, folder: str | Path, *, overwrite: bool = False) -> Exported:
    """Write the latest version of every document into a folder, each file whole, with the bytes that were saved.

    Raises UnusableInput before anything is written: files that are there with other bytes, unless `overwrite`; names
    that are one and the same where capitals make no difference.
    """
    base = Path(folder)
    with store.database.reading() as connection:
        names = [name for name, _ in _latest(connection)]
        problems = [*_alike(names)]
        if not overwrite:
            problems += [_other(base / name) for name, held in _latest(connection) if _there(base / name, held) is None]
        if problems:
            raise UnusableInput(problems)
        written = 0
        for name, held in _latest(connection):
            if not _there(base / name, held):
                _write(base / name, held)
                written += 1
    return Exported(written, len(names) - written)


def _latest(connection: sql.Connection) -> Iterator[tuple[str, bytes]]:
    """Every document that is there, with its bytes, by its name."""
    document, version = tables.document.c, tables.version.c
    query = (
        sql.select(document.name, version.content)
        .join_from(tables.version, tables.document)
        .where(version.number == document.head, ~document.removed)
        .order_by(document.name)
    )
    for row in connection.execute(query, execution_options={"yield_per": _TOGETHER}):
        yield row.name, row.content


def _there(path: Path, content: bytes) -> bool | None:
    """Whether the file is there with these bytes; None: with others."""
    try:
        return True if path.read_bytes() == content else None
    except FileNotFoundError:
        return False
    except OSError as error:
        raise _unwritten(path, error) from None


def _write(path: Path, content: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)
    except OSError as error:
        raise _unwritten(path, error) from None


def _unwritten(path: Path, error: OSError) -> UnusableInput:
    reason = (error.strerror or "an error").lower()
    return UnusableInput([Problem(str(path), 1, "-", f"cannot be written: {reason}", "a folder for writing")])


def _other(path: Path) -> Problem:
    return Problem(str(path), 1, "-", "a file with other content is there", "another folder, or --overwrite")


def _alike(names: Sequence[str]) -> Iterator[Problem]:
    """Names that would be one file on many systems."""
    seen: dict[str, str] = {}
    for name in names:
        first = seen.setdefault(name.casefold(), name)
        if first != name:
            message = f"differs from {first} by capitals alone: many systems would take both for one file"
            yield Problem(name, 1, "name", message, "one of them under another name")
