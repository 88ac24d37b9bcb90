"""Photos to a sheet, or to one of its readings: the bytes as they are given; who gives them has looked into them."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sql

from oilpath.documents.writing import digest
from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.opening import Database


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo without its bytes. reading: the id of the reading that it shows, empty where it shows the machine."""

    id: int
    name: str
    reading: str
    caption: str
    media_type: str
    width: int
    height: int
    author: str
    added_at: str
    digest: str


class Photos:
    """The photos of one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self,
        name: str,
        content: bytes,
        *,
        media_type: str,
        width: int,
        height: int,
        author: str,
        reading: str = "",
        caption: str = "",
    ) -> Photo | None:
        """Keep a photo to the sheet `name`; None where there is no such sheet. Sent twice, it is kept once."""
        row = {
            "media_type": media_type, "width": width, "height": height, "author": author, "reading": reading,
            "caption": caption, "content": content, "digest": digest(content), "added_at": self._database.now(),
        }  # fmt: skip
        document, photo = tables.document.c, tables.photo.c
        with self._database.writing() as connection:
            there = sql.select(document.id).where(document.name == name, ~document.removed)
            found = connection.execute(there).scalar()
            if found is None:
                return None
            put = self._database.insert(tables.photo).values(document=found, **row).on_conflict_do_nothing()
            connection.execute(put)
            kept = connection.execute(
                _photos().where(photo.document == found, photo.reading == reading, photo.digest == row["digest"])
            ).one()
        return _photo(kept)

    def of(self, name: str) -> tuple[Photo, ...]:
        """The photos to a sheet, in the order in which they were added."""
        query = _photos().where(tables.document.c.name == name).order_by(tables.photo.c.id)
        with self._database.reading() as connection:
            return tuple(_photo(row) for row in connection.execute(query))

    def get(self, number: int) -> tuple[Photo, bytes] | None:
        """A photo and its bytes."""
        query = _photos(tables.photo.c.content).where(tables.photo.c.id == number)
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else (_photo(row), row.content)

    def remove(self, number: int) -> bool:
        """Throw a photo away; whether there was one."""
        with self._database.writing() as connection:
            return bool(connection.execute(sql.delete(tables.photo).where(tables.photo.c.id == number)).rowcount)


def _photos(*more: sql.Column[Any]) -> sql.Select[Any]:
    photo = tables.photo.c
    return sql.select(
        photo.id, tables.document.c.name, photo.reading, photo.caption, photo.media_type, photo.width, photo.height,
        photo.author, photo.added_at, photo.digest, *more,
    ).join_from(tables.photo, tables.document)  # fmt: skip


def _photo(row: Any) -> Photo:
    return Photo(
        row.id, row.name, row.reading, row.caption, row.media_type, row.width, row.height, row.author, row.added_at,
        row.digest,
    )  # fmt: skip
