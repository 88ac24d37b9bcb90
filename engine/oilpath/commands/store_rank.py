"""`oilpath store rank`: every sheet of the workshop's database ranked by today's knowledge."""

from __future__ import annotations

import click

from oilpath.commands import console, options, streams
from oilpath.commands.store import counted, opened


@options.command("rank", examples=("oilpath store rank --jobs 2",))
@click.option(
    "--jobs", type=options.whole_number(1, 64), metavar="NUMBER", default="1", show_default=True,
    help="Processes over which the sheets are spread.",
)  # fmt: skip
@options.database
def command(jobs: int, database: str | None) -> None:
    """Rank all sheets whose answer is not by today's knowledge, so that lists show the causes of today.

    It may be stopped at any moment; the same command goes on with what is left. The pages may be in use meanwhile.
    """
    from oilpath.store.work import rank_all

    with opened(database) as store:
        knowledge = console.read_knowledge()
        if not store.jobs.count_left(knowledge):
            streams.write("Every sheet is ranked by today's knowledge.\n")
            return
        try:
            for job in rank_all(store, knowledge, jobs):
                streams.progress(job.done or 1, f"{counted(job.unusable, 'sheet')} cannot be used", job.total)
        finally:
            streams.progress(0, "", 2)
        unusable = f", {job.unusable} of them cannot be used" if job.unusable else ""
        streams.write(f"{counted(job.done, 'sheet')} ranked{unusable}.\n")
