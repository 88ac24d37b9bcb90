"""`oilpath sheet export SHEET-OR-MACHINE`: a sheet as a CSV file or a workbook, or a blank one for a machine."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from oilpath.commands import completing, console, options
from oilpath.commands.output import answer_to
from oilpath.commands.sheet_new import beside

if TYPE_CHECKING:
    from oilpath.documents.grid import Grid
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.words import Units


@options.command(
    "export",
    examples=(
        "oilpath sheet export sheet.yaml --output readings.xlsx",
        "oilpath sheet export machine.yaml --output blank.csv",
    ),
)
@click.argument(
    "name", metavar="SHEET-OR-MACHINE", type=options.file_name, shell_complete=completing.sheets_and_machines
)
@click.option(
    "--format",
    "-f",
    "format_",
    type=click.Choice(["csv", "xlsx"]),
    help="Form of the table; by default as the name of the file ends.",
)
@options.output
@options.units
def command(name: str, format_: str | None, output: Path | None, units: Units) -> None:
    """Write a sheet as a table: CSV, or a workbook (.xlsx).

    SHEET-OR-MACHINE is a sheet, or a machine file, for which the table is blank, to be filled in. Its columns have
    words for names; `oilpath sheet import` reads the table back.
    """
    from oilpath.documents.grid_files import csv_text, form_of, xlsx_bytes

    form = format_ or (form_of(str(output)) if output is not None else "csv")
    if form is None:
        raise click.UsageError(f"--output {console.shown(str(output))} ends in neither .csv nor .xlsx; say --format")
    if form == "xlsx" and output is None:
        raise click.UsageError("a workbook goes to a file: --output readings.xlsx")
    with answer_to(output, [name]) as send:
        knowledge = console.read_knowledge()
        grid = _grid(name, knowledge, output, units)
        if form == "xlsx":
            send([xlsx_bytes(grid)])
        else:  # the mark tells a spreadsheet that the file is UTF-8
            send([csv_text(grid) if output is None else "\ufeff" + csv_text(grid)])


def _grid(name: str, knowledge: Knowledge, output: Path | None, units: Units) -> Grid:
    from oilpath.documents.edit import Document, open_document
    from oilpath.documents.grid import NoName, grid_of
    from oilpath.documents.load import load_sheet
    from oilpath.documents.sheet_text import from_folder
    from oilpath.problems import Problem, UnusableInput

    from_input = name == console.STANDARD_INPUT
    text = console.standard_input() if from_input else None
    data: Any = None
    if from_input or Path(name).exists():
        document = open_document(name) if text is None else Document(name, text.decode("utf-8-sig", "replace"))
        data = document.data
    if data is None or str(data.get("oilpath", "")).startswith("machine/"):
        return _template(name, knowledge, output, units)
    load_sheet(name, knowledge, text=text)
    moved = from_folder(
        document.as_read, Path() if from_input else Path(name).parent, output.parent if output else Path()
    )
    try:
        return grid_of(moved if output is not None else document.as_read, knowledge)
    except NoName as error:
        problem = Problem(name, 1, str(error), "has no place in a table", "keys of letters, digits and hyphens")
        raise UnusableInput([problem]) from None


def _template(name: str, knowledge: Knowledge, output: Path | None, units: Units) -> Grid:
    if name == console.STANDARD_INPUT:
        raise click.UsageError("a table names the file of its machine, so - will not do for a machine")
    machine = console.read_machine(name, knowledge)
    from oilpath.reports.limits import limit_beside
    from oilpath.reports.words import Words
    from oilpath.session.day import prepare
    from oilpath.session.slots import slots
    from oilpath.session.template import template

    words = Words(knowledge, machine, units)
    plan = prepare(machine, knowledge)
    return template(
        plan, slots(plan, machine, knowledge), beside(name, output), knowledge,
        lambda slot: limit_beside(slot, words), lambda slot: words.written_unit(slot.test),
    )  # fmt: skip
