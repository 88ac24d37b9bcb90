"""A backup holds the whole workshop at one moment, from either kind of database into either; a bad one is refused."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sql

from oilpath.problems import UnusableInput
from oilpath.store import tables
from oilpath.store.backup import back_up, restore
from oilpath.store.checking import check, mend
from oilpath.store.documents import Saved
from oilpath.store.opening import Store, open_store
from tests.store.test_moving import FILES, SHEET


def fill(store: Store) -> None:
    """Documents with versions, one taken away; a photo, a draft, an account, somebody signed in."""
    for name, content in FILES.items():
        store.documents.save(name, content, base=None, author="Ann")
    store.documents.save("sheets/a.yaml", SHEET + b"# more\n", base=1, author="Bob")
    store.documents.remove("c.json", base=1, author="Bob")
    found = {"media_type": "image/jpeg", "width": 2, "height": 1, "author": "Ann"}
    store.photos.add("sheets/a.yaml", b"a picture", reading="pilot-pressure", **found)  # type: ignore[arg-type]
    store.drafts.keep("k", "{}", author="Ann", sequence=3)
    store.accounts.add("Ann", "twelve or more", "admin")
    store.accounts.begin(author="Ann", role="admin", hours=1)
    store.accounts.invite("write", minutes=10)


def rows(store: Store) -> dict[str, list[Any]]:
    """All that is kept, by table."""
    with store.database.reading() as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(sql.select(table))), key=repr)
            for table in tables.KEPT
        }


@pytest.fixture
def full(store: Store) -> Store:
    fill(store)
    return store


@pytest.fixture
def file_full(file_store: Store) -> Store:
    fill(file_store)
    return file_store


@pytest.fixture(params=["sqlite", "postgresql"])
def other(request: pytest.FixtureRequest, ready_file: Path, tmp_path: Path) -> Iterator[Store]:
    """An empty database of each kind beside the one that is tested."""
    if request.param == "sqlite":
        made = open_store(shutil.copy(ready_file, tmp_path / "other.db"))
    else:
        new: Callable[[], str] = request.getfixturevalue("new_database")
        made = open_store(new())
    yield made
    made.close()


def test_all_that_is_kept_comes_back_in_either_kind(full: Store, other: Store, tmp_path: Path) -> None:
    made = back_up(full, tmp_path / "backup.db")
    assert (made.machines, made.sheets, made.versions, made.photos) == (1, 3, 7, 1)
    assert [path.name for path in tmp_path.glob("*backup*")] == ["backup.db"]  # one file, nothing beside it
    assert restore(other, tmp_path / "backup.db").damage == ()
    assert rows(other) == rows(full)
    assert other.accounts.check("Ann", "twelve or more") is not None
    found = check(other.database, "other")
    assert found.damage + found.lists + found.missing == ()
    # numbers go on after those that came
    saved = other.documents.save("sheets/new.yaml", SHEET, base=None, author="Ann")
    assert isinstance(saved, Saved)
    assert other.accounts.add("Bob", "twelve or more still", "read").id > 1


def test_no_sign_in_and_no_answer_is_in_a_backup(file_full: Store, tmp_path: Path) -> None:
    back_up(file_full, tmp_path / "backup.db")
    assert (tmp_path / "backup.db").stat().st_mode & 0o077 == 0
    with closing(sqlite3.connect(tmp_path / "backup.db")) as file:
        for table in ("session", "pairing", "answer", "job"):
            assert file.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)


def test_a_backup_is_of_one_moment_while_others_write(full: Store, tmp_path: Path) -> None:
    """Two sheets that are always saved one after the other: a backup never holds the second without the first."""
    stop = threading.Event()

    def write() -> None:
        number = 1
        while not stop.is_set():
            for name in ("one.yaml", "two.yaml"):
                content = SHEET + b"# %d\n" % number
                full.documents.save(name, content, base=number - 1 or None, author="Ann")
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(3):
            back_up(full, tmp_path / f"{number}.db")
    finally:
        stop.set()
        writer.join()
    for number in range(3):
        with closing(sqlite3.connect(tmp_path / f"{number}.db")) as file:
            heads = dict(file.execute("SELECT name, head FROM document WHERE name IN ('one.yaml', 'two.yaml')"))
        assert 0 <= heads.get("one.yaml", 0) - heads.get("two.yaml", 0) <= 1


def test_nothing_is_written_over_unless_asked(full: Store, tmp_path: Path) -> None:
    back_up(full, tmp_path / "b.db")
    before = (tmp_path / "b.db").read_bytes()
    with pytest.raises(UnusableInput, match="a file is there already"):
        back_up(full, tmp_path / "b.db")
    assert (tmp_path / "b.db").read_bytes() == before
    full.documents.save("sheets/new.yaml", SHEET, base=None, author="Ann")
    with pytest.raises(UnusableInput, match="holds documents or accounts already"):
        restore(full, tmp_path / "b.db")
    assert "sheets/new.yaml" in full.documents.names()
    restore(full, tmp_path / "b.db", overwrite=True)
    assert "sheets/new.yaml" not in full.documents.names()
    back_up(full, tmp_path / "b.db", overwrite=True)


@pytest.mark.parametrize("damage", ["nothing", "text", "empty", "cut", "bytes", "another", "newer", "folder", "in-use"])
def test_a_bad_backup_changes_nothing(file_full: Store, tmp_path: Path, damage: str) -> None:
    path = tmp_path / "bad.db"
    back_up(file_full, path)
    content = path.read_bytes()
    match damage:
        case "nothing":
            path.unlink()
        case "text":
            path.write_text("oilpath: sheet/1\n")
        case "empty":
            path.write_bytes(b"")
        case "cut":
            path.write_bytes(content[: len(content) // 2])
        case "bytes":  # one letter of a sheet
            where = content.index(b"8450")
            path.write_bytes(content[:where] + b"8451" + content[where + 4 :])
        case "another":
            path.unlink()
            with closing(sqlite3.connect(path)) as file:
                file.execute("CREATE TABLE thing (id INTEGER)")
        case "newer":
            with closing(sqlite3.connect(path)) as file:
                file.execute("UPDATE alembic_version SET version_num = '9999'")
                file.commit()
        case "folder":
            path.unlink()
            path.mkdir()
        case "in-use":
            path.with_name("bad.db-wal").write_bytes(b"log")
    before = rows(file_full)
    with pytest.raises(UnusableInput) as error:
        restore(file_full, path, overwrite=True)
    assert all(one.message for one in error.value.problems)
    assert rows(file_full) == before


def test_a_fault_while_rows_are_put_back_changes_nothing(
    full: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from oilpath.store import backup

    back_up(full, tmp_path / "b.db")
    before = rows(full)
    copied = backup._copy

    def half(source: Any, target: Any) -> None:
        copied(source, target)
        raise OSError("the disk is full")

    monkeypatch.setattr(backup, "_copy", half)
    with pytest.raises(OSError, match="full"):
        restore(full, tmp_path / "b.db", overwrite=True)
    assert rows(full) == before


def test_the_database_itself_is_no_backup_of_itself(file_full: Store, tmp_path: Path) -> None:
    own = str(file_full.database.url.database)
    for call in (back_up, restore):
        with pytest.raises(UnusableInput, match="the database itself"):
            call(file_full, own, overwrite=True)
    with pytest.raises(UnusableInput, match="cannot be written"):
        back_up(file_full, tmp_path / "nowhere" / "b.db")


# --- check ----------------------------------------------------------------------------


def changed(store: Store, statement: str) -> None:
    with store.database.writing() as connection:
        connection.exec_driver_sql(statement)


@pytest.mark.parametrize(("statement", "said"), [
    ("UPDATE version SET digest = 'x' WHERE number = 2 AND author = 'Bob' AND content IS NOT NULL",
     "sheets/a.yaml:1: -: version 2 is not what was saved"),
    ("DELETE FROM version WHERE number = 1 AND digest IN (SELECT digest FROM version v WHERE v.author = 'Ann')",
     "version 1 is missing"),
    ("UPDATE document SET head = 5 WHERE name = 'sheets/a.yaml'", "version 5, the latest, is missing"),
    ("UPDATE document SET removed = true WHERE name = 'sheets/a.yaml'", "there and taken away at once"),
    ("UPDATE photo SET width = 1, digest = 'x'", "photo 1 is not what was saved"),
])  # fmt: skip
def test_what_was_lost_is_told(file_full: Store, statement: str, said: str) -> None:
    assert check(file_full.database, "w").damage == ()
    changed(file_full, statement)
    found = check(file_full.database, "w")
    assert said in "\n".join(map(str, found.damage))


@pytest.mark.parametrize("statement", [
    "UPDATE sheet SET hours = 1", "DELETE FROM machine", "UPDATE sheet SET machine_title = 'other'",
    "INSERT INTO outcome (document, \"check\", outcome) SELECT id, 'c', 'o' FROM document WHERE name = 'sheets/a.yaml'",
])  # fmt: skip
def test_lists_that_differ_are_told_and_made_anew(file_full: Store, statement: str) -> None:
    before = rows(file_full)
    changed(file_full, statement)
    found = check(file_full.database, "w")
    assert "is listed otherwise than it says" in str(found.lists[0])
    assert found.damage == ()
    assert mend(file_full.database) == len(found.lists)
    assert check(file_full.database, "w").lists == ()
    assert rows(file_full) == before


def test_a_server_is_looked_through_as_well(full: Store) -> None:
    before = rows(full)
    changed(full, "UPDATE sheet SET hours = 1")
    changed(full, "UPDATE photo SET digest = 'x'")
    found = check(full.database, "w")
    assert (len(found.damage), len(found.lists)) == (1, 3)
    mend(full.database)
    assert rows(full)["sheet"] == before["sheet"]


def test_a_damaged_file_is_told(file_full: Store) -> None:
    path = Path(str(file_full.database.url.database))
    file_full.close()
    with closing(sqlite3.connect(path)) as file:
        file.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        size = file.execute("PRAGMA page_size").fetchone()[0]
        page = file.execute("SELECT rootpage FROM sqlite_master WHERE name = 'ix_sheet_saved_at'").fetchone()[0]
    content = path.read_bytes()
    index = content[(page - 1) * size : page * size]
    assert b"2026-05-14" in index
    damaged = index.replace(b"2026-05-14", b"2026-05-15", 1)
    path.write_bytes(content[: (page - 1) * size] + damaged + content[page * size :])
    store = open_store(path)
    found = check(store.database, "w.db", contents=False).damage
    with pytest.raises(UnusableInput, match="the file is damaged"):
        back_up(store, path.with_name("b.db"))
    store.close()
    assert "w.db:1: -: the file is damaged" in str(found[0])
    assert not path.with_name("b.db").exists()


def test_a_document_that_is_named_and_not_there_is_told(file_full: Store) -> None:
    file_full.documents.remove("machines/m.yaml", base=1, author="Ann")
    found = check(file_full.database, "w")
    assert {str(one) for one in found.missing} == {
        f"{name}:1: -: names machines/m.yaml, which is not in the database; that file, imported too"
        for name in ("sheets/a.yaml", "sheets/b.yml", "sheets/d.yaml")
    }
    assert found.damage + found.lists == ()
