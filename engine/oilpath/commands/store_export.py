"""`oilpath store export DIR`: the workshop's documents as files."""

from __future__ import annotations

import click

from oilpath.commands import completing, options, streams
from oilpath.commands.store import counted, opened


@options.command("export", examples=("oilpath store export my-sheets",))
@click.argument("folder", metavar="DIR", type=options.file_name, shell_complete=completing.folders)
@click.option("--overwrite", is_flag=True, help="Write over files that are there with other content.")
@options.database
def command(folder: str, overwrite: bool, database: str | None) -> None:
    """Write every machine file, circuit and sheet into a folder, with the bytes that were saved.

    DIR is made where there is none. It gets the latest versions; earlier ones, photos and accounts are in a backup.
    """
    from oilpath.store.moving import export_files

    with opened(database) as store:
        found = export_files(store, folder, overwrite=overwrite)
    there = f", {found.same} there already" if found.same else ""
    streams.write(f"{counted(found.written, 'file')} written{there}.\n")
