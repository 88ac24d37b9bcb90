"""A database of an older oilpath is brought up with all that it holds; what is not ours is left alone."""

from __future__ import annotations

import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sql

from oilpath.documents.writing import digest
from oilpath.problems import UnusableInput
from oilpath.store.migrate import bring_up, configured
from oilpath.store.opening import HEAD, Database, Store, database_url, open_store
from oilpath.store.tables import metadata

SHEET = b"oilpath: sheet/1\nmachine: m.yaml\nhours: 10\nreadings: []\n"
MACHINE = b"oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\n"
DAY = "2026-05-14T07:30:00.000000Z"
FIRST: dict[str, list[dict[str, Any]]] = {
    "document": [
        {"id": 1, "name": "m.yaml", "kind": "machine", "head": 1, "removed": False},
        {"id": 2, "name": "s.yaml", "kind": "sheet", "head": 2, "removed": False},
    ],
    "version": [
        {"id": n, "document": d, "number": v, "parent": p, "author": "Ann", "saved_at": DAY, "digest": digest(c),
         "content": c}
        for n, d, v, p, c in ((1, 1, 1, None, MACHINE), (2, 2, 1, None, SHEET), (3, 2, 2, 1, SHEET + b"# more\n"))
    ],
    "machine": [{"document": 1, "title": "Invented", "circuit": "two-pump-excavator", "words": "m.yaml\ninvented"}],
    "sheet": [
        {"document": 2, "machine": "m.yaml", "machine_title": "Invented", "hours": 10.0, "readings": 0, "closed": False,
         "saved_at": DAY, "words": "s.yaml", "stale": False, "answered_by": "0/0", "usable": True}
    ],
    "answer": [{"document": 2, "answered_by": "0/0", "version": 3, "usable": True, "content": b"x"}],
    "answer_read": [{"document": 2, "name": "s.yaml", "version": 3}, {"document": 2, "name": "m.yaml", "version": 1}],
    "account": [{"id": 1, "name": "Ann", "role": "admin", "password": "x", "active": True, "made_at": DAY}],
    "draft": [{"key": "k", "author": "Ann", "sequence": 2, "kept_at": DAY, "content": "{}"}],
}  # fmt: skip
"""rows of a database at the first revision, in an order in which they can be put in"""


def at_first(address: str) -> None:
    """A database as the first oilpath made it, with rows in it."""
    from alembic import command

    database = Database(database_url(address))
    with database.writing() as connection:
        command.upgrade(configured(connection), "0001")
    with database.writing() as connection:
        found = sql.MetaData()
        found.reflect(connection)
        for name, rows in FIRST.items():
            for row in rows:
                # numbered by the database itself, which then counts on
                values = {key: value for key, value in row.items() if key != "id"}
                connection.execute(sql.insert(found.tables[name]), values)
    database.close()


def test_the_first_revision_is_brought_up_with_its_data(empty: str) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    at_first(empty)
    store = open_store(empty)
    try:
        with store.database.reading() as connection:
            context = MigrationContext.configure(connection, opts={"compare_type": True})
            assert context.get_current_revision() == HEAD
            assert compare_metadata(context, metadata) == []
            for name, rows in FIRST.items():
                table = metadata.tables[name]
                kept = connection.execute(sql.select(table).order_by(*table.primary_key)).mappings().all()
                assert [{key: row[key] for key in one} for row, one in zip(kept, rows, strict=True)] == sorted(
                    rows, key=lambda one: [one[column.name] for column in table.primary_key]
                ), name
        held = store.documents.latest("s.yaml")
        assert held is not None
        assert held.content == SHEET + b"# more\n"
        saved = store.documents.save("s.yaml", SHEET, base=2, author="Bob")
        assert [one.number for one in store.documents.versions("s.yaml")] == [3, 2, 1], saved
    finally:
        store.close()


def test_the_tables_are_those_that_the_migrations_make(empty: str) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    store = open_store(empty)
    with store.database.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection, opts={"compare_type": True}), metadata) == []
    store.close()


def test_many_that_open_an_empty_database_at_once_make_it_once(empty: str) -> None:
    def opened(number: int) -> int:
        store = open_store(empty)
        store.documents.save(f"{number}.yaml", "oilpath: sheet/1\nreadings: []\n", base=None, author="Ann")
        store.close()
        return number

    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(opened, range(4))) == [0, 1, 2, 3]
    store = open_store(empty)
    assert len(store.documents.names()) == 4
    store.close()


def test_a_fault_within_a_migration_leaves_the_database_as_it_was(empty: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from alembic import command

    at_first(empty)
    upgrade = command.upgrade

    def fails(*arguments: Any) -> None:
        upgrade(*arguments)
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "upgrade", fails)
    with pytest.raises(KeyboardInterrupt):
        open_store(empty)
    monkeypatch.undo()
    database = Database(database_url(empty))
    with database.reading() as connection:
        assert connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar() == "0001"
        assert not sql.inspect(connection).has_table("script")
    bring_up(database, "w")
    database.close()


@pytest.mark.parametrize(("statement", "said"), [
    ("UPDATE alembic_version SET version_num = '9999'", "needs a newer oilpath"),
    ("DROP TABLE alembic_version", "tables of something else"),
])  # fmt: skip
def test_what_is_not_ours_is_refused(ready_file: Path, tmp_path: Path, statement: str, said: str) -> None:
    path = shutil.copy(ready_file, tmp_path / "w.db")
    with closing(sqlite3.connect(path)) as file:
        file.execute(statement)
        file.commit()
    with pytest.raises(UnusableInput, match=said):
        open_store(path)


def test_a_file_of_something_else_is_refused_and_left(tmp_path: Path) -> None:
    path = tmp_path / "w.db"
    path.write_text("oilpath: sheet/1\n" * 100)
    before = path.read_bytes()
    with pytest.raises(UnusableInput, match="the database cannot be used"):
        open_store(path)
    assert path.read_bytes() == before


def test_a_database_is_durable_and_its_owners_alone(file_store: Store) -> None:
    with file_store.database.writing() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys")
        }
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}  # 2: FULL, as SQLite's manual says
    made = open_store(Path(file_store.database.shown).with_name("new.db"))
    assert Path(made.database.shown).stat().st_mode & 0o077 == 0
    made.close()
