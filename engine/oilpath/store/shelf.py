"""Documents of the database as the readers want their files, with a note of every one that was looked for."""

from __future__ import annotations

import posixpath
from collections.abc import Collection, Hashable, Mapping
from pathlib import Path, PurePath
from typing import Any, Final

import sqlalchemy as sql

from oilpath.problems import Problem, UnusableInput
from oilpath.store import tables


class StoreShelf:
    """The latest versions of all documents, in one transaction. Nothing of the disk can be named from here.

    `numbers`: documents of which another version is wanted than the latest, and its number.

    `reads`: each document that was looked for, with the id of its version; None where there is no such document.
    `digests`: those that are there, with the hashes of their bytes.
    """

    def __init__(self, connection: sql.Connection, numbers: Mapping[str, int] | None = None) -> None:
        self._connection, self._numbers = connection, numbers or {}
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

    def take(self, names: Collection[str]) -> None:
        """Look for some documents with one question instead of one for each."""
        wanted = sorted(set(names) - self.reads.keys())
        for start in range(0, len(wanted), _AT_ONCE):
            some = wanted[start : start + _AT_ONCE]
            self.reads |= dict.fromkeys(some)
            query = _VERSIONS.where(tables.document.c.name.in_(some), tables.version.c.number == tables.document.c.head)
            for row in self._connection.execute(query):
                self._put(row)

    def _found(self, name: Hashable) -> bytes | None:
        wanted = str(name)
        if wanted not in self.reads:
            self.reads[wanted] = None
            number: Any = self._numbers.get(wanted, tables.document.c.head)
            query = _VERSIONS.where(tables.document.c.name == wanted, tables.version.c.number == number)
            row = self._connection.execute(query).first()
            if row is not None:
                self._put(row)
        return self._contents.get(wanted)

    def _put(self, row: Any) -> None:
        if row.content is not None:
            self.reads[row.name] = row.id
            self.digests[row.name] = row.digest
            self._contents[row.name] = row.content


_AT_ONCE: Final = 200
_VERSIONS: Final = sql.select(
    tables.document.c.name, tables.version.c.id, tables.version.c.content, tables.version.c.digest
).join_from(tables.version, tables.document)
