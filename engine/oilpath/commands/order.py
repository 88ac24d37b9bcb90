"""`oilpath order SHEET`: plain text for a repair order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from oilpath.commands import answers, console, options, streams

if TYPE_CHECKING:
    from oilpath.reports.words import Units


@options.command("order", example="oilpath order sheet.yaml")
@options.sheet
@options.units
def command(sheet_name: str, units: Units) -> None:
    """Write plain text to paste into a repair order.

    SHEET is a filled-in test sheet; - reads standard input.
    """
    knowledge = console.read_knowledge()
    sheet = console.read_sheet(sheet_name, knowledge)
    from oilpath.reports.order import to_order

    text = to_order(answers.diagnosed(sheet, knowledge), answers.words(sheet, knowledge, units))
    streams.write(text)
