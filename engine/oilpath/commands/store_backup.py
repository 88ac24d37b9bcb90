"""`oilpath store backup FILE`: the whole workshop in one file."""

from __future__ import annotations

import click

from oilpath.commands import completing, options, streams
from oilpath.commands.store import holds, opened


@options.command("backup", examples=("oilpath store backup workshop-2026-05-14.db",))
@click.argument("file", metavar="FILE", type=options.file_name, shell_complete=completing.files)
@click.option("--overwrite", is_flag=True, help="Write over a file that is there.")
@options.database
def command(file: str, overwrite: bool, database: str | None) -> None:
    """Write the whole database as of one moment to a file: all versions, photos, drafts and accounts.

    FILE is written whole, after it was looked through. The pages may be in use meanwhile. A backup of an SQLite file
    can be put back into PostgreSQL, and the other way round.
    """
    from oilpath.store.backup import back_up

    with opened(database) as store:
        found = back_up(store, file, overwrite=overwrite)
    streams.write(f"{file}: {holds(found)}.\n")
