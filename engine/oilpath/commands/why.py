"""`oilpath why [SHEET] TOPIC`: the reasons for one result or one cause; without a sheet what is known of it."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import click

from oilpath.commands import answers, completing, console, options, streams

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet
    from oilpath.knowledge.base import Knowledge
    from oilpath.problems import UnusableInput
    from oilpath.reports.words import Units


@options.command(
    "why",
    examples=(
        "oilpath why sheet.yaml cycle-time/boom-raise",
        "oilpath why sheet.yaml pump.worn@pump-1",
        'oilpath why "boom falls"',
    ),
)
@click.argument(
    "first", metavar="[SHEET]", required=False, type=options.file_name, shell_complete=completing.sheets_and_topics
)
@click.argument("second", metavar="TOPIC", required=False, shell_complete=completing.results_and_topics)
@options.units
def command(first: str | None, second: str | None, units: Units) -> None:
    """Explain the verdict on a result, or the rank of a cause; without a sheet, explain the cause or sign itself.

    SHEET is a filled-in test sheet; - reads standard input. TOPIC is a result, a cause, a part or a sign, by its id or
    its title, or CAUSE@PART. What the sheet says nothing about is explained in general, on its machine.
    """
    if first is None or (second is None and _is_file(first)):
        raise click.UsageError("TOPIC is missing")
    knowledge = console.read_knowledge()
    if second is None:
        from oilpath.commands.explore import explored, shown

        streams.page(shown(explored(first, None, None, knowledge), knowledge, "text", units))
        return
    _of_sheet(console.read_sheet(first, knowledge), second, knowledge, units)


def _is_file(name: str) -> bool:
    return name == console.STANDARD_INPUT or os.path.exists(name)


def _of_sheet(sheet: Sheet, topic: str, knowledge: Knowledge, units: Units) -> None:
    from oilpath.problems import UnusableInput
    from oilpath.reports.why import why

    answer, words = answers.diagnosed(sheet, knowledge), answers.words(sheet, knowledge, units)
    try:
        text = why(answer, topic, words, width=streams.width())
    except UnusableInput as error:
        text = _in_general(sheet, topic, knowledge, units, error)
    streams.write(text)


def _in_general(sheet: Sheet, topic: str, knowledge: Knowledge, units: Units, error: UnusableInput) -> str:
    """What is known of a topic that the answer does not hold. Raises the error where nothing is."""
    from oilpath.bench import bench_of
    from oilpath.commands.explore import shown
    from oilpath.explore.topics import NoTopic, find
    from oilpath.explore.views import fits, view
    from oilpath.reports.explore import IN_GENERAL

    bench = bench_of(sheet, knowledge)
    try:
        topics = [one for one in find(topic, knowledge) if fits(one, bench)]
    except NoTopic:
        topics = []
    if not topics:
        raise error
    return f"{IN_GENERAL}\n\n" + shown([(bench, view(one, bench)) for one in topics], knowledge, "text", units)
