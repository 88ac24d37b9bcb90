"""Bring a database to today's tables. Alembic is loaded only where there is something to do."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import sqlalchemy as sql

from oilpath.problems import Problem, UnusableInput
from oilpath.store.opening import HEAD, Database

_SCRIPTS = Path(__file__).with_name("migrations")
_STAMP = sql.table("alembic_version", sql.column("version_num"))


def bring_up(database: Database, shown: str) -> None:
    """Make the tables, or change those of an older oilpath. Raises UnusableInput for a database that is not ours."""
    now = _stamp(database, shown)
    if now == HEAD:
        return
    from alembic import command
    from alembic.script import ScriptDirectory

    config = configured(None)
    if now is not None and now not in {one.revision for one in ScriptDirectory.from_config(config).walk_revisions()}:
        raise UnusableInput([Problem(shown, 1, "-", "this database needs a newer oilpath", "a newer oilpath")])
    with database.writing() as connection:
        if not database.is_sqlite:  # two that start at once: the second waits, and finds all done
            connection.execute(sql.select(sql.func.pg_advisory_xact_lock(0x01170A74)))
        if _read(connection) != HEAD:
            command.upgrade(configured(connection), HEAD)


def configured(connection: sql.Connection | None) -> Any:
    """Alembic's own settings, without a file."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _stamp(database: Database, shown: str) -> str | None:
    """The migration that the database is at; None where it is empty."""
    with database.reading() as connection:
        found = _read(connection)
        if found is None and sql.inspect(connection).get_table_names():
            raise UnusableInput(
                [
                    Problem(
                        shown, 1, "-", "this database holds tables of something else", "an empty one, or oilpath's own"
                    )
                ]
            )
    return found


def _read(connection: sql.Connection) -> str | None:
    if not sql.inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(sql.select(_STAMP.c.version_num)).scalar()
