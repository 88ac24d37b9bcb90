"""`oilpath sheet import FILE`: a sheet from a CSV file or a workbook."""

from __future__ import annotations

import os
from pathlib import Path

import click

from oilpath.commands import completing, console, options, streams
from oilpath.commands.output import answer_to


@options.command("import", examples=("oilpath sheet import readings.csv --output sheet.yaml",))
@click.argument("table_name", metavar="FILE", type=options.file_name, shell_complete=completing.files)
@click.option(
    "--machine",
    "machine_name",
    metavar="MACHINE",
    shell_complete=completing.machines,
    help="The machine file, where the table names none.",
)
@options.output
def command(table_name: str, machine_name: str | None, output: Path | None) -> None:
    """Make a test sheet of a table: CSV, or a workbook (.xlsx).

    FILE has columns whose names are words, as `oilpath sheet export` writes them. Formulas are not computed.
    """
    if Path(table_name).suffix.lower() in (".yaml", ".yml"):
        raise click.UsageError(f"{console.shown(table_name)} is YAML, not a table; a CSV file or a workbook (.xlsx)")
    if output is not None and os.path.exists(output):
        raise click.UsageError(f"--output {console.shown(str(output))} is there already; nothing was written")
    with answer_to(output, [table_name]) as send:
        knowledge = console.read_knowledge()
        from oilpath.documents.load import load_grid
        from oilpath.documents.sheet_text import from_folder, sheet_text

        old = Path() if table_name == console.STANDARD_INPUT else Path(table_name).parent
        named = None if machine_name is None else _from(machine_name, old)
        content = console.standard_input() if table_name == console.STANDARD_INPUT else None
        _, data, empty = load_grid(table_name, knowledge, content=content, machine=named)
        if empty:
            streams.say(f"{console.shown(table_name)}: {empty} rows without a reading are left out")
        send([sheet_text(from_folder(data, old, Path() if output is None else output.parent))])


def _from(name: str, folder: Path) -> str:
    """A file as typed, by its path from the folder of the table; the name of a layer's machine as it is."""
    if os.path.isabs(name) or not os.path.exists(name):
        return name
    return Path(os.path.relpath(name, folder)).as_posix()
