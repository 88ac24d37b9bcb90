"""`oilpath why SHEET RESULT-OR-CAUSE`: the reasons for one result or one cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from oilpath.commands import answers, console, options, streams

if TYPE_CHECKING:
    from oilpath.reports.words import Units


@options.command("why", example="oilpath why sheet.yaml pump.worn")
@options.sheet
@click.argument("topic", metavar="RESULT-OR-CAUSE")
@options.units
def command(sheet_name: str, topic: str, units: Units) -> None:
    """Explain the verdict on a result, or the rank of a cause.

    SHEET is a filled-in test sheet; - reads standard input. RESULT-OR-CAUSE is the id of a result, a cause, a part,
    or CAUSE@PART.
    """
    knowledge = console.read_knowledge()
    sheet = console.read_sheet(sheet_name, knowledge)
    from oilpath.reports.why import why

    text = why(answers.diagnosed(sheet, knowledge), topic, answers.words(sheet, knowledge, units))
    streams.write(text)
