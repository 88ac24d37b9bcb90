"""`oilpath store import PATH…`: files into the workshop's database."""

from __future__ import annotations

from collections import Counter
from itertools import chain
from typing import Final

import click

from oilpath.commands import completing, console, options, streams
from oilpath.commands.store import counted, opened

_SAID: Final = {
    "added": "added", "changed": "changed", "same": "there already", "other": "of kinds that are not kept here",
    "refused": "refused",
}  # fmt: skip


@options.command("import", examples=("oilpath store import my-sheets",))
@click.argument(
    "paths", metavar="PATH...", nargs=-1, required=True, type=options.file_name, shell_complete=completing.files
)
@click.option("--replace", is_flag=True, help="Save what differs as the latest version; the earlier ones are kept.")
@click.option(
    "--author", metavar="NAME", default="import", show_default=True, help="Who is written down as having saved them."
)
@options.database
def command(paths: tuple[str, ...], replace: bool, author: str, database: str | None) -> None:
    """Put machine files, circuits and sheets into the workshop's database, byte for byte.

    PATH is a file or a folder. The files of a folder are called by their paths in it, a file by its path as typed, so
    that sheets find their machines. In a folder, closed jobs and the knowledge base's own files are left out. Where a
    file cannot be used, the rest is saved all the same.
    """
    from oilpath.store.moving import files_of, import_files, missing

    with opened(database, create=True) as store:
        files = list(chain.from_iterable(files_of(path) for path in paths))
        done: Counter[str] = Counter()
        named = []
        for number, one in enumerate(import_files(store, files, author=author, replace=replace), 1):
            streams.progress(number, one.file.shown, len(files))
            done[one.done or "refused"] += 1
            named += [one] if one.done is not None else []
            if one.wrong:
                streams.progress(0, "", len(files))
                streams.say("\n".join(str(problem) for problem in one.wrong))
        streams.progress(0, "", len(files))
        for problem in missing(store, named):
            streams.say(str(problem))
    said = [f"{done[what]} {words}" for what, words in _SAID.items() if done[what]]
    streams.write(f"{counted(len(files), 'file')}{': ' if said else ''}{', '.join(said)}.\n")
    if done["refused"]:
        raise click.exceptions.Exit(console.UNUSABLE)
