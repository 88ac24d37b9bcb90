"""`oilpath store restore FILE`: a backup in place of what a database holds."""

from __future__ import annotations

import click

from oilpath.commands import completing, options, streams
from oilpath.commands.store import holds, opened


@options.command("restore", examples=("oilpath store restore workshop-2026-05-14.db --database new.db",))
@click.argument("file", metavar="FILE", type=options.file_name, shell_complete=completing.files)
@click.option("--overwrite", is_flag=True, help="Take away all that the database holds now.")
@options.database
def command(file: str, overwrite: bool, database: str | None) -> None:
    """Put a backup back: all of it or, where anything is wrong, nothing.

    FILE is what `oilpath store backup` wrote; it is looked through first. A database that holds something is refused
    without --overwrite. Everybody must sign in again.
    """
    from oilpath.store.backup import restore

    with opened(database, create=True) as store:
        found = restore(store, file, overwrite=overwrite)
        streams.write(f"{store.database.shown}: {holds(found)}.\n")
