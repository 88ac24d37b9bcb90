"""A database for each test, of both kinds: an SQLite file, and one in a PostgreSQL cluster of the tests' own.

PostgreSQL's programs come with Debian's package `postgresql`; where they are not found those tests are skipped.
"""

from __future__ import annotations

import datetime
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge

if TYPE_CHECKING:
    from oilpath.store.opening import Store

MISSING = [one for one in ("sqlalchemy", "alembic", "psycopg", "argon2") if find_spec(one) is None]
collect_ignore_glob = ["test_*.py"] if MISSING else []


def pytest_report_header() -> str | None:
    """Say why the tests of this folder are left out."""
    return (
        f"tests/store is left out, for the extra `page` is not installed: no {', '.join(MISSING)}" if MISSING else None
    )


NUMBERS = count(1)


class SetClock:
    """A clock that goes on by a second each time it is looked at."""

    def __init__(self) -> None:
        self.now = datetime.datetime(2026, 5, 14, 7, 30, tzinfo=datetime.UTC)

    def __call__(self) -> datetime.datetime:
        self.now += datetime.timedelta(seconds=1)
        return self.now


@pytest.fixture
def clock() -> SetClock:
    return SetClock()


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    return load_knowledge()


def _programs() -> Path | None:
    """The folder of PostgreSQL's programs."""
    found = shutil.which("initdb")
    if found is not None:
        return Path(found).parent
    return max(Path("/usr/lib/postgresql").glob("*/bin"), default=None, key=lambda path: int(path.parent.name))


_SERVER = '"$@" >log 2>&1 & read -r _; kill -INT $!; wait; rm -rf "$PWD"'
"""a shell that ends the server once nobody holds its standard input any more: the tests are over, or were killed"""


@pytest.fixture(scope="session")
def cluster() -> Iterator[str]:
    """The address of a PostgreSQL server of the tests' own, up to the name of the database."""
    programs = _programs()
    if programs is None or os.name != "posix":
        pytest.skip("needs PostgreSQL's programs: apt-get install postgresql")
    folder = Path(tempfile.mkdtemp(prefix="oilpath-pg-"))
    # Its server does not run as root.
    user: dict[str, Any] = {"user": "postgres", "group": "postgres", "extra_groups": ()} if os.geteuid() == 0 else {}
    if user:
        shutil.chown(folder, "postgres", "postgres")
    made = ["-D", "data", "-U", "oilpath", "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C"]
    subprocess.run([programs / "initdb", *made], cwd=folder, check=True, stdout=subprocess.DEVNULL, **user)
    settings = "fsync=off full_page_writes=off synchronous_commit=off listen_addresses= shared_buffers=16MB"
    run = [str(programs / "postgres"), "-D", "data", "-k", str(folder)]
    run += [one for setting in (*settings.split(), "max_connections=40") for one in ("-c", setting)]
    server = subprocess.Popen(["/bin/sh", "-c", _SERVER, "sh", *run], cwd=folder, stdin=subprocess.PIPE, **user)
    assert server.stdin is not None
    try:
        address = f"postgresql://oilpath@/{{}}?host={folder}"
        _await(address.format("postgres"), folder)
        yield address
    finally:
        server.stdin.close()
        server.wait(60)


_TRIES = 1200


def _await(address: str, folder: Path) -> None:
    """Wait until a server takes connections."""
    import psycopg

    for _ in range(_TRIES):
        try:
            psycopg.connect(address).close()
            return
        except psycopg.OperationalError:
            time.sleep(0.05)
    raise AssertionError((folder / "log").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def new_database(cluster: str) -> Callable[[], str]:
    """The address of an empty database on that server, another one at each call."""
    import psycopg

    def made() -> str:
        name = f"w{next(NUMBERS)}"
        with psycopg.connect(cluster.format("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}".encode())
        return cluster.format(name)

    return made


@pytest.fixture(params=["sqlite", "postgresql"])
def kind(request: pytest.FixtureRequest) -> str:
    """Both kinds of database."""
    return str(request.param)


@pytest.fixture
def empty(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty database is, of each kind: no table is made yet."""
    if kind == "sqlite":
        return str(tmp_path / "workshop.db")
    made: Callable[[], str] = request.getfixturevalue("new_database")
    return made()


@pytest.fixture(scope="session")
def ready_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An SQLite file with the tables made."""
    from oilpath.store.opening import open_store

    path = tmp_path_factory.mktemp("store") / "ready.db"
    open_store(path).close()
    return path


@pytest.fixture(scope="session")
def ready_server(new_database: Callable[[], str]) -> str:
    """A PostgreSQL database with the tables made, which the tests of one process share one after the other."""
    from oilpath.store.opening import open_store

    made = new_database()
    open_store(made).close()
    return made


@pytest.fixture
def address(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a database is, of each kind, with its tables and nothing in them."""
    if kind == "sqlite":
        return str(shutil.copy(request.getfixturevalue("ready_file"), tmp_path / "workshop.db"))
    import psycopg

    from oilpath.store.tables import metadata

    server: str = request.getfixturevalue("ready_server")
    with psycopg.connect(server) as connection:
        # Not by TRUNCATE, which makes each file anew.
        emptied = [f'DELETE FROM "{table.name}"' for table in reversed(metadata.sorted_tables)]
        numbered = [table.name for table in metadata.sorted_tables if table.c.get("id") is not None]
        emptied += [f"SELECT setval('{name}_id_seq', 1, false)" for name in numbered]
        connection.execute("; ".join(emptied).encode())
    return server


@pytest.fixture
def store(address: str, clock: SetClock) -> Iterator[Store]:
    """An open database of each kind, without documents."""
    from oilpath.store.opening import open_store

    opened = open_store(address, clock=clock)
    yield opened
    opened.close()


@pytest.fixture
def file_store(ready_file: Path, tmp_path: Path, clock: SetClock) -> Iterator[Store]:
    """An open SQLite file, for what is the same with any database."""
    from oilpath.store.opening import open_store

    opened = open_store(shutil.copy(ready_file, tmp_path / "file.db"), clock=clock)
    yield opened
    opened.close()
