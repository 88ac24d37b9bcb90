"""Documents of the database as the readers want their files, with a note of every one that was looked for."""

from __future__ import annotations

import posixpath
from collections.abc import Hashable
from pathlib import Path, PurePath

import sqlalchemy as sql

from oilpath.problems import Problem, UnusableInput
from oilpath.store import tables


class StoreShelf:
    """The latest versions of all documents, in one transaction. Nothing of the disk can be named from here.

    `reads`: each document that was looked for, with the id of its version; None where there is no such document.
    `digests`: those that are there, with the hashes of their bytes.
    """

    def __init__(self, connection: sql.Connection) -> None:
        self._connection = connection
        self._contents: dict[str, bytes] = {}
        self.reads: dict[str, int | None] = {}
        self.digests: dict[str, str] = {}

    def lacking(self, path: Path) -> str | None:
        return None if self._found(self.key(path)) is not None else "is not a document that is there"

    def content(self, path: Path, shown: str) -> bytes:
        found = self._found(self.key(path))
        if found is None:
            raise UnusableInput(
                [Problem(shown, 1, "-", "there is no such document", "one of the workshop's documents")]
            )
        return found

    def same(self, one: Path, two: Path) -> bool:
        return self.key(one) == self.key(two)

    def key(self, path: PurePath) -> Hashable:
        return posixpath.normpath(path.as_posix())

    def _found(self, name: Hashable) -> bytes | None:
        wanted = str(name)
        if wanted not in self.reads:
            document, version = tables.document.c, tables.version.c
            row = self._connection.execute(
                sql.select(version.id, version.content, version.digest)
                .join_from(tables.version, tables.document)
                .where(document.name == wanted, version.number == document.head)
            ).first()
            if row is None or row.content is None:
                self.reads[wanted] = None
            else:
                self.reads[wanted] = row.id
                self.digests[wanted] = row.digest
                self._contents[wanted] = row.content
        return self._contents.get(wanted)
