"""The tables of the database. A change here needs a migration beside it (`migrations/versions`); a test compares both.

A document is a file by its name in the workshop's folder, such as ``sheets/pit-07.yaml``. Its versions are only ever
added. What is searched for stands in `machine` and `sheet`, one row a document, made from its latest version.
Times are UTC as text, ``2026-05-14T07:31:02.123456Z``: both databases sort them alike.
"""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _text(name: str, **more: Any) -> Column[str]:
    return Column(name, Text, nullable=False, **more)


def _known(name: str, kind: type[Any] = Text) -> Column[Any]:
    """A column that may be empty: the document does not say."""
    return Column(name, kind, nullable=True)


def _of(name: str, target: str, **more: Any) -> Column[int]:
    return Column(name, Integer, ForeignKey(target, ondelete="CASCADE"), nullable=False, **more)


# --- documents ------------------------------------------------------------------------

document = Table(
    "document",
    metadata,
    Column("id", Integer, primary_key=True),
    _text("name", unique=True),
    _text("kind"),
    Column("head", Integer, nullable=False),
    Column("removed", Boolean, nullable=False),
)
"""head: the number of the latest version, 0 before the first; removed: that version takes the document away"""

version = Table(
    "version",
    metadata,
    Column("id", Integer, primary_key=True),
    _of("document", "document.id"),
    Column("number", Integer, nullable=False),
    _known("parent", Integer),
    _text("author"),
    _text("saved_at"),
    _text("digest"),
    Column("content", LargeBinary, nullable=True),
    UniqueConstraint("document", "number"),
)
"""parent: the number of the version it was made from; content: the bytes of the file, NULL where it was taken away"""

machine = Table(
    "machine",
    metadata,
    _of("document", "document.id", primary_key=True, autoincrement=False),
    _text("title"),
    _known("circuit"),
    _text("words"),
)

sheet = Table(
    "sheet",
    metadata,
    _of("document", "document.id", primary_key=True, autoincrement=False),
    _known("machine"),
    _text("machine_title"),
    _known("unit_number"),
    _known("order_number"),
    _known("serial_number"),
    _known("hours", Float),
    _known("date"),
    _known("complaint"),
    Column("readings", Integer, nullable=False),
    Column("closed", Boolean, nullable=False),
    _text("saved_at"),
    _text("words"),
    # from its latest answer
    _known("answered_by"),
    Column("stale", Boolean, nullable=False),
    _known("usable", Boolean),
    _known("leading_cause"),
    _known("leading_part"),
    _known("leading_title"),
    _known("share", Float),
    _known("stop_use", Boolean),
)
"""machine: the name of its document. answered_by: version and knowledge of its answer; stale: that answer, if there is
one, was made from versions that are no longer the latest"""
Index(None, sheet.c.machine, sheet.c.unit_number, sheet.c.hours)
Index(None, sheet.c.machine_title, sheet.c.unit_number)
Index(None, sheet.c.date)
Index(None, sheet.c.saved_at)
Index(None, sheet.c.stale, sheet.c.answered_by)
Index(None, sheet.c.leading_cause)

outcome = Table(
    "outcome",
    metadata,
    Column("id", Integer, primary_key=True),
    _of("document", "document.id", index=True),
    _text("check"),
    _known("part"),
    _text("outcome"),
)
"""outcomes of checks, as the sheets record them"""

confirmed = Table(
    "confirmed",
    metadata,
    Column("id", Integer, primary_key=True),
    _of("document", "document.id", index=True),
    _text("cause", index=True),
    _known("part"),
    _known("how"),
    _known("after"),
)
"""confirmed causes of closed cases, as the sheets record them"""

photo = Table(
    "photo",
    metadata,
    Column("id", Integer, primary_key=True),
    _of("document", "document.id"),
    _text("reading"),
    _text("caption"),
    _text("media_type"),
    Column("width", Integer, nullable=False),
    Column("height", Integer, nullable=False),
    _text("author"),
    _text("added_at"),
    _text("digest"),
    Column("content", LargeBinary, nullable=False),
    UniqueConstraint("document", "reading", "digest"),
)

# --- answers --------------------------------------------------------------------------

answer = Table(
    "answer",
    metadata,
    _of("document", "document.id", primary_key=True, autoincrement=False),
    _text("answered_by"),
    _of("version", "version.id"),
    Column("usable", Boolean, nullable=False),
    Column("content", LargeBinary, nullable=False),
    _known("made_of"),
)
"""The latest answer of a sheet, JSON as zlib packs it; where the sheet cannot be used, its problems. made_of: the hash
of the content of all documents that it was made from"""

answer_read = Table(
    "answer_read",
    metadata,
    _of("document", "document.id", primary_key=True, autoincrement=False),
    _text("name", primary_key=True, index=True),
    _known("version", Integer),
)
"""All documents that the answer of a sheet was made from, and their versions; NULL: there was none of that name"""

job = Table(
    "job",
    metadata,
    Column("id", Integer, primary_key=True),
    _text("kind"),
    _text("answered_by"),
    _text("state"),
    _text("begun_at"),
    _text("seen_at"),
    Column("total", Integer, nullable=False),
    Column("done", Integer, nullable=False),
    Column("unusable", Integer, nullable=False),
)
"""seen_at: when whoever does the job last wrote down how far it is"""

# --- people ---------------------------------------------------------------------------

draft = Table(
    "draft",
    metadata,
    _text("key", primary_key=True),
    _text("author", index=True),
    _known("name"),
    _known("base", Integer),
    Column("sequence", Integer, nullable=False),
    _text("kept_at"),
    _text("content"),
)
"""What is being typed, under a key of the browser's making: base is the version it started from"""

account = Table(
    "account",
    metadata,
    Column("id", Integer, primary_key=True),
    _text("name", unique=True),
    _text("role"),
    _text("password"),
    Column("active", Boolean, nullable=False),
    _text("made_at"),
)
"""password: its argon2 hash"""

session = Table(
    "session",
    metadata,
    _text("digest", primary_key=True),
    Column("account", Integer, ForeignKey("account.id", ondelete="CASCADE"), nullable=True, index=True),
    _text("author"),
    _text("role"),
    _text("made_at"),
    _text("ends_at"),
)
"""digest: of the token that the browser holds; without an account where a device was paired"""

pairing = Table(
    "pairing",
    metadata,
    _text("digest", primary_key=True),
    _text("role"),
    _text("ends_at"),
    _known("used_at"),
)
"""one-time tokens that let a device in"""

script = Table(
    "script",
    metadata,
    _text("digest", primary_key=True),
    _text("name", unique=True),
    _text("role"),
    _text("made_at"),
    _text("ends_at"),
)
"""tokens for programs; digest: of the token that the program holds"""

KEPT: Final = (document, version, machine, sheet, outcome, confirmed, photo, answer_read, draft, account)
"""What a backup holds, in the order in which it can be put back. Answers are made anew when they are wanted, though
what lists show of them is kept, with what they were made from; jobs and tokens are not for keeping."""
