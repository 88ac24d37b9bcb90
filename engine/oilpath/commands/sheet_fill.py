"""`oilpath sheet fill SHEET-OR-MACHINE`: a sheet filled in by question and answer."""

from __future__ import annotations

import os
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING

import click

from oilpath.commands import completing, console, options, streams
from oilpath.commands.sheet_new import beside
from oilpath.commands.talking import Terminal, converse, width

if TYPE_CHECKING:
    from oilpath.documents.edit import Document
    from oilpath.documents.writing import Disk
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.asking import Asking
    from oilpath.reports.words import Units
    from oilpath.session.entry import Entry, Given


@options.command(
    "fill",
    examples=(
        "oilpath sheet fill machine.yaml --output today.yaml",
        "oilpath sheet fill today.yaml",
    ),
)
@click.argument(
    "name", metavar="SHEET-OR-MACHINE", type=options.file_name, shell_complete=completing.sheets_and_machines
)
@click.option(
    "--output",
    "-o",
    metavar="SHEET",
    type=click.Path(path_type=Path),
    help="The sheet to write; for a sheet, it is written where it is.",
)
@options.units
def command(name: str, output: Path | None, units: Units) -> None:
    """Fill in a sheet by question and answer: one reading at a time, judged at once, each answer saved as it is typed.

    SHEET-OR-MACHINE is a sheet, or a machine file, for which a sheet is begun at --output, or gone on with where it is
    there. The same command goes on after Ctrl-C, a closed terminal or a power cut.
    """
    knowledge = console.read_knowledge()
    document = _document(name, output, knowledge)
    source = click.get_current_context().get_parameter_source("units")
    chosen = None if source is click.core.ParameterSource.DEFAULT else units
    entry, asking = entry_for(document, knowledge, chosen)
    from oilpath.problems import clean

    shown = clean(str(document.path))
    converse(entry, SheetTerminal(entry, asking, shown), f"oilpath sheet fill {quote(str(document.path))}")


def entry_for(
    document: Document, knowledge: Knowledge, units: Units | None = None, disk: Disk | None = None
) -> tuple[Entry, Asking]:
    """The entry of a sheet and its texts. Without `units`, those of the machine's limits are used.

    Raises UnusableInput where the sheet cannot be used.
    """
    from oilpath.documents.load import load_sheet
    from oilpath.reports.asking import Asking
    from oilpath.reports.words import Words
    from oilpath.session.day import prepare
    from oilpath.session.entry import Entry, steps_of
    from oilpath.session.habits import limits_as_written, units_of_limits
    from oilpath.session.slots import slots
    from oilpath.units import CUSTOMARY, QUANTITIES

    machine = load_sheet(document.path or document.shown, knowledge, text=document.text).machine
    plan = prepare(machine, knowledge)
    tests = [test for test in plan.tests if test.variant is None]
    asked: dict[str, tuple[str, ...]] = {"oil-temperature": ()} if plan.oil_temperature else {}
    if plan.engine_speed is not None:
        asked["engine-speed"] = ()
    words = {
        "attachment": ("empty", "loaded", "other"),
        "auto-idle": ("off", "on"),
        "working-setting": ("full", "reduced"),
    }
    asked |= {key: words[key] for key in words if any(key in test.demands.words for test in tests)}
    noted = [test.test for test in tests if knowledge.tests[test.test].value is None]
    steps = steps_of(slots(plan, machine, knowledge), noted, asked, knowledge)
    habits = units_of_limits(limits_as_written(document, machine), knowledge) if units is None else {}
    if units is None:
        units = "us" if set(habits.values()) & set(CUSTOMARY.values()) else "si"
    usual = {} if units == "si" else {key: CUSTOMARY.get(one.unit, one.unit) for key, one in QUANTITIES.items()}
    entry = Entry(document, steps, knowledge, {**usual, **habits}, disk)
    return entry, Asking(entry, plan, Words(knowledge, machine, units), width())


def _document(name: str, output: Path | None, knowledge: Knowledge) -> Document:
    """The sheet to fill in: the one named, or one for a machine, begun where it is not there."""
    from oilpath.documents.edit import Document, open_document
    from oilpath.documents.emit import emitted

    if name == console.STANDARD_INPUT:
        raise click.UsageError("a sheet that is filled in is a file, so - will not do")
    if os.path.exists(name):
        document = open_document(name)
        if not str(document.data.get("oilpath", "")).startswith("machine/"):
            if output is not None and not os.path.exists(output):
                raise click.UsageError("--output is for a machine file; a sheet is written where it is")
            return document
    machine = console.read_machine(name, knowledge)
    if output is None:
        raise click.UsageError(f"{console.shown(name)} is a machine file; say --output SHEET, the sheet to begin")
    if os.path.exists(output):
        return open_document(output)
    if not output.parent.is_dir():
        raise click.UsageError(f"--output {console.shown(str(output))}: there is no such folder")
    text = (
        f"# {machine.name.splitlines()[0]}\noilpath: sheet/1\nmachine: {emitted(beside(name, output))}\nreadings: []\n"
    )
    return Document(str(output), text, output, None).save()


class SheetTerminal(Terminal):
    """Judges each answer at once."""

    def __init__(self, entry: Entry, asking: Asking, shown: str) -> None:
        super().__init__(entry, asking, shown)
        self._sheet, self._asking_sheet = entry, asking

    def take(self, given: Given) -> tuple[str, ...]:
        """Show what became of an answer; what looks wrong with it."""
        from oilpath.bench import bench_for
        from oilpath.judging import judge
        from oilpath.reports.notes import Sayer

        sheet = self._sheet.sheet
        results = judge(sheet, bench_for(sheet.machine, self._sheet.knowledge)) if given.id is not None else ()
        streams.write(self._asking_sheet.taken(given, results))
        return self._asking_sheet.doubts(given, results, Sayer(self._asking_sheet.words, results))
