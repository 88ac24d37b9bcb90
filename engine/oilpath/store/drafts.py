"""Drafts of entry: what is being typed and is no version yet, under a key that the browser made."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sql

from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.opening import Database


@dataclass(frozen=True, slots=True)
class Draft:
    """What is being typed. content: JSON of the page's own making; name: the document that it will be, if that is known
    yet; base: the version that it started from; sequence: counts up in the browser with every change."""

    key: str
    author: str
    content: str
    sequence: int
    name: str | None
    base: int | None
    kept_at: str


class Drafts:
    """The drafts of one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(
        self, key: str, content: str, *, author: str, sequence: int, name: str | None = None, base: int | None = None
    ) -> Draft | None:
        """Keep a draft, to the disk before this returns; what is given back is kept now.

        One with a lower `sequence` than the draft that is kept came late and changes nothing. None, and nothing is
        kept, where the key is another author's.
        """
        row = {
            "author": author, "content": content, "sequence": sequence, "name": name, "base": base,
            "kept_at": self._database.now(),
        }  # fmt: skip
        here = tables.draft.c
        put = self._database.insert(tables.draft).values(key=key, **row)
        put = put.on_conflict_do_update(
            index_elements=["key"], set_=row, where=(here.author == author) & (here.sequence <= sequence)
        )
        with self._database.writing() as connection:
            connection.execute(put)
            kept = connection.execute(sql.select(tables.draft).where(here.key == key, here.author == author)).first()
        return None if kept is None else _draft(kept)

    def get(self, key: str) -> Draft | None:
        """One draft."""
        with self._database.reading() as connection:
            row = connection.execute(sql.select(tables.draft).where(tables.draft.c.key == key)).first()
        return None if row is None else _draft(row)

    def of(self, author: str) -> tuple[Draft, ...]:
        """Somebody's drafts, the latest first."""
        query = sql.select(tables.draft).where(tables.draft.c.author == author)
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(tables.draft.c.kept_at.desc(), tables.draft.c.key)).all()
        return tuple(_draft(row) for row in rows)

    def drop(self, key: str, *, author: str) -> bool:
        """Throw a draft away, once its version is saved; whether there was one of this author."""
        here = tables.draft.c
        with self._database.writing() as connection:
            done = connection.execute(sql.delete(tables.draft).where(here.key == key, here.author == author))
        return bool(done.rowcount)


def _draft(row: Any) -> Draft:
    return Draft(row.key, row.author, row.content, row.sequence, row.name, row.base, row.kept_at)
