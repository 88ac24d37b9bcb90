"""`oilpath sheet fill SHEET-OR-MACHINE`: a sheet filled in by question and answer."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Final

import click

from oilpath.commands import console, options, streams
from oilpath.commands.sheet_new import beside

if TYPE_CHECKING:
    from oilpath.documents.edit import Document
    from oilpath.documents.writing import Disk
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.asking import Asking
    from oilpath.reports.words import Units
    from oilpath.session.entry import Entry, Given, Step, Unclear

_LONGEST: Final = 4096


@options.command("fill", example="oilpath sheet fill machine.yaml --output sheet.yaml")
@click.argument("name", metavar="SHEET-OR-MACHINE", type=options.file_name)
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
    shown = console.shown(str(document.path))
    talk = Terminal(entry, asking, shown)
    from oilpath.session.asking import ask_all

    streams.write(asking.start())
    again = f"oilpath sheet fill {quote(str(document.path))}"
    try:
        ask_all(entry, talk)
    except (EOFError, KeyboardInterrupt) as stop:
        streams.write(asking.stopped(shown, again))
        if isinstance(stop, KeyboardInterrupt):
            raise
        return
    if entry.step is not None:
        streams.write(asking.stopped(shown, again))


def entry_for(
    document: Document, knowledge: Knowledge, units: Units | None = None, disk: Disk | None = None
) -> tuple[Entry, Asking]:
    """The entry of a sheet and what says it; without `units`, in those that the machine's limits are written in.

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
    return entry, Asking(entry, plan, Words(knowledge, machine, units), _width())


def _width() -> int:
    import shutil

    return shutil.get_terminal_size((80, 24)).columns


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


class Terminal:
    """Questions to standard output, answers from standard input, a line at a time."""

    def __init__(self, entry: Entry, asking: Asking, shown: str) -> None:
        self._entry, self._asking, self._shown = entry, asking, shown

    def ask(self, step: Step) -> str:
        """A line for a step."""
        return self._line(self._asking.question(step))

    def ask_again(self, doubts: tuple[str, ...]) -> str:
        """A line for whether what was given is meant."""
        return self._line(self._asking.meant(doubts))

    def ask_end(self) -> str:
        """A line for what to do at the end; none if nothing is left."""
        text = self._asking.end(self._shown)
        if self._entry.left():
            return self._line(text + "> ")
        streams.write(text)
        return ""

    def take(self, given: Given) -> tuple[str, ...]:
        """Show what became of an answer; what looks wrong with it."""
        from oilpath.bench import bench_for
        from oilpath.judging import judge
        from oilpath.reports.notes import Sayer

        sheet = self._entry.sheet
        results = judge(sheet, bench_for(sheet.machine, self._entry.knowledge)) if given.id is not None else ()
        streams.write(self._asking.taken(given, results))
        return self._asking.doubts(given, results, Sayer(self._asking.words, results))

    def unclear(self, error: Unclear) -> None:
        """Show why an answer cannot be taken."""
        streams.write(self._asking.unclear(error))

    def failed(self, error: Exception) -> None:
        """Show why an answer could not be written."""
        from oilpath.problems import UnusableInput

        if isinstance(error, UnusableInput):
            reason = "; ".join(one.message for one in error.problems)
        else:
            reason = str(getattr(error, "strerror", None) or error).lower()
        streams.write(self._asking.not_saved(reason))

    def help(self, step: Step) -> None:
        """Show how a step is done."""
        streams.write(self._asking.how(step))

    def changed(self, what: str, value: str) -> None:
        """Show what was done that is not an answer."""
        said = {"note": "Noted with the last reading.", "removed": "Taken out.", "oil": f"Oil from now on: {value}."}
        streams.write(self._asking.noted(said[what]))

    def _line(self, prompt: str) -> str:
        streams.write(prompt)
        if sys.stdin is None:
            raise EOFError
        line = sys.stdin.buffer.readline(_LONGEST)
        if not line:
            raise EOFError
        return line.decode("utf-8", "replace").rstrip("\r\n")
