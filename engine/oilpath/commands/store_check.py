"""`oilpath store check`: is the workshop's database whole."""

from __future__ import annotations

import click

from oilpath.commands import console, options, streams
from oilpath.commands.store import counted, holds, opened


@options.command("check", examples=("oilpath store check",))
@click.option("--mend", is_flag=True, help="Make lists anew where they differ from the documents.")
@options.database
def command(mend: bool, database: str | None) -> None:
    """Look through the whole database: the file itself, every byte of every version and photo, the lists.

    What only a backup brings back, and lists that differ from their documents, are errors; documents that a sheet names
    and that are not there are told as well.
    """
    from oilpath.store import checking

    with opened(database) as store:
        found = checking.check(store.database, store.database.shown)
        if mend and not found.damage and found.lists:
            streams.say(f"{counted(checking.mend(store.database), 'document')} listed anew.")
            found = checking.check(store.database, store.database.shown)
        for problem in (*found.damage, *found.lists, *found.missing):
            streams.say(str(problem))
        wrong = len(found.damage) + len(found.lists)
        verdict = f"{counted(wrong, 'problem')}" if wrong else "nothing is damaged"
        streams.write(f"{store.database.shown}: {holds(found)}; {verdict}.\n")
    if wrong:
        raise click.exceptions.Exit(console.UNUSABLE)
