"""`oilpath next SHEET`: the best next step, its outcome into the sheet, and on."""

from __future__ import annotations

import sys
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any, Final

import click

from oilpath.commands import answers, completing, console, options, streams

if TYPE_CHECKING:
    from oilpath.documents.edit import Document
    from oilpath.flow import Diagnosis
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.way import Shown
    from oilpath.reports.words import Units, Words
    from oilpath.session.way import Way

_LONGEST: Final = 4096
_QUIT, _UNDO, _SKIP = ("q", "quit"), ("u", "undo"), ("", "s", "skip")


@options.command(
    "next",
    examples=(
        "oilpath next sheet.yaml",
        "oilpath next sheet.yaml --outcome case-drain@pump-1=high",
        'oilpath next machine.yaml --complaint "Slow to dig" --output job.yaml',
    ),
)
@click.argument(
    "sheet_name", metavar="SHEET-OR-MACHINE", type=options.file_name, shell_complete=completing.sheets_and_machines
)
@click.option(
    "--complaint", metavar="TEXT", help="For a machine file: begin from this complaint, with nothing measured."
)
@click.option(
    "--output", "-o", metavar="SHEET", type=click.Path(path_type=Path), help="With --complaint: the sheet to begin."
)
@click.option("--outcome", metavar="CHECK[@PART]=OUTCOME", help="Write the outcome of a check into the sheet first.")
@click.option("--reading", metavar="ID=VALUE", help="Write a reading into the sheet first; several values by commas.")
@click.option("--undo", is_flag=True, help="Take the last reading or outcome out of the sheet.")
@click.option(
    "--put-back",
    "back",
    metavar="PART",
    shell_complete=completing.parts,
    help="Note that what was moved, plugged or fitted there is back.",
)
@click.option("--minutes", type=options.whole_number(1, 10_000), metavar="NUMBER", help="Propose nothing longer.")
@options.have
@options.format_of("text", "markdown", "json")
@options.units
def command(
    sheet_name: str,
    complaint: str | None,
    output: Path | None,
    outcome: str | None,
    reading: str | None,
    undo: bool,
    back: str | None,
    minutes: int | None,
    have: str | None,
    format_: str,
    units: Units,
) -> None:
    """Name the best next step: a check, or a further reading; take its outcome and go on.

    SHEET-OR-MACHINE is a filled-in test sheet (- reads standard input), or with --complaint a machine file: then the
    first looks and tests for that complaint are named, and --output begins a sheet to go on with. On a terminal each
    step is asked about, and every answer is written into the sheet at once.
    """
    if sum((outcome is not None, reading is not None, undo, back is not None)) > 1:
        raise click.UsageError("one of --outcome, --reading, --undo and --put-back at a time")
    knowledge = console.read_knowledge()
    text = None
    if complaint is not None:
        sheet_name, text = _begun(sheet_name, complaint, output, knowledge)
    elif output is not None:
        raise click.UsageError("--output is for the sheet that --complaint begins")
    walk = Walk(sheet_name, knowledge, units, minutes, have, text)
    if outcome is not None:
        walk.record("outcome", outcome)
    elif reading is not None:
        walk.record("reading", reading)
    elif undo:
        walk.undo()
    elif back is not None:
        walk.put_back(back)
    elif format_ == "text" and walk.document is not None and streams.is_terminal() and _asked_at_terminal():
        _converse(walk)
        return
    shown = walk.shown()
    if format_ == "json":
        from oilpath.reports.json_ import to_json
        from oilpath.reports.way import to_way_data

        streams.write(to_json(to_way_data(shown, walk.words)))
        return
    from oilpath.reports.way import lay_out_way

    streams.write(console.page(lay_out_way(shown, walk.words), format_))


def _begun(name: str, complaint: str, output: Path | None, knowledge: Knowledge) -> tuple[str, str | None]:
    """A sheet with a complaint and nothing measured: its name, and its text where it is not written."""
    from oilpath.commands.sheet_new import beside
    from oilpath.documents.edit import Document
    from oilpath.documents.emit import emitted

    if name == console.STANDARD_INPUT:
        raise click.UsageError("--complaint goes with the name of a machine file")
    console.read_machine(name, knowledge)
    place = output if output is not None else Path("sheet.yaml")
    text = f"oilpath: sheet/1\nmachine: {emitted(beside(name, place))}\ncomplaint: {emitted(complaint)}\nreadings: []\n"
    if output is None:
        return str(place), text
    if output.exists():
        raise click.UsageError(
            f"--output {console.shown(str(output))} is there already; go on with: oilpath next {output}"
        )
    if not output.parent.is_dir():
        raise click.UsageError(f"--output {console.shown(str(output))}: there is no such folder")
    Document(str(output), text, output, None).save()
    return str(output), None


def _asked_at_terminal() -> bool:
    return sys.stdin is not None and sys.stdin.isatty()


class Walk:
    """One sheet and its progress: its document, its answer now and before the last change."""

    def __init__(
        self,
        name: str,
        knowledge: Knowledge,
        units: Units,
        minutes: int | None = None,
        have: str | None = None,
        text: str | None = None,
    ) -> None:
        from oilpath.documents.have import load_have

        self.minutes, self.have = minutes, None if have is None else load_have(have)
        self.name, self.knowledge, self.units = name, knowledge, units
        self.document: Document | None = None
        self.before: Diagnosis | None = None
        self.done: str | None = None
        self.undone = False
        self.passed: set[str] = set()
        if text is not None:
            self._read(console.read_sheet(name, knowledge, text.encode()))
        elif name == console.STANDARD_INPUT:
            self._read(console.read_sheet(name, knowledge))
        else:
            from oilpath.documents.edit import open_document

            self._read(console.read_sheet(name, knowledge))
            self.document = open_document(name)

    def _read(self, sheet: Any) -> None:
        self.sheet = sheet
        self.answer = answers.diagnosed(sheet, self.knowledge)
        self.words: Words = answers.words(sheet, self.knowledge, self.units)

    def record(self, kind: str, text: str) -> None:
        """Write an outcome or a reading. Raises click.UsageError, UnusableInput, OSError; then nothing is written."""
        from oilpath.bench import bench_of
        from oilpath.documents.edit import add_reading
        from oilpath.documents.emit import emitted
        from oilpath.reports.way import refused
        from oilpath.session.way import NotRecorded, outcome_of, reading_of, work_of

        bench = bench_of(self.sheet, self.knowledge)
        try:
            line = outcome_of(text, self.answer, bench) if kind == "outcome" else reading_of(text, bench)
        except NotRecorded as error:
            raise click.UsageError(f"--{kind}: {refused(error)}") from None
        document = add_reading(self._own(), line)
        for entry in work_of(line["check"], line["part"], bench) if kind == "outcome" else ():
            document = document.append(("work",), entry)
        self._change(document, emitted(line), undone=False)

    def undo(self) -> None:
        """Take the last reading out of the sheet."""
        from oilpath.documents.emit import emitted
        from oilpath.session.way import last_recorded, without_work_of

        document = self._own()
        found = last_recorded(document)
        if found is None:
            raise click.UsageError("--undo: the sheet has no reading")
        number, reading = found
        document = without_work_of(document.remove(("readings", number)), reading)
        self._change(document, emitted(reading), undone=True)

    def put_back(self, part: str) -> None:
        """Note on the sheet that what was moved at a part is put back."""
        from oilpath.reports.way import refused
        from oilpath.session.way import NotRecorded, put_back

        open_ = {one.part: self.words.part(one.part) for one in self.sheet.work if one.open}
        named = next((name for name, title in open_.items() if part.lower() in (name, title.lower())), part)
        try:
            document = put_back(self._own(), named, tuple(open_))
        except NotRecorded as error:
            raise click.UsageError(f"--put-back: {refused(error)}") from None
        self._change(document, f"{named}: undo: false", undone=False)

    def _own(self) -> Document:
        if self.document is None:
            raise click.UsageError("nothing can be written to standard input; name a file")
        return self.document

    def _change(self, document: Document, line: str, *, undone: bool) -> None:
        """The changed sheet, read and judged as a whole before it is saved."""
        from oilpath.documents.load import load_sheet

        sheet = load_sheet(self.name, self.knowledge, text=document.text)
        before = self.answer
        self.document = document.save()
        self._read(sheet)
        self.before, self.done, self.undone = before, line, undone
        self.passed.clear()

    def retest(self) -> tuple[str, Any] | None:
        """The sheet made after a remedy that helped, with its results; None if there is none. Raises UnusableInput."""
        after = next((one.after for one in reversed(self.sheet.remedies) if one.helped and one.after), None)
        if after is None:
            return None
        from oilpath.bench import bench_for
        from oilpath.judging import judge

        folder = Path() if self.name == console.STANDARD_INPUT else Path(self.name).parent
        later = console.read_sheet(str(folder / after), self.knowledge)
        return after, judge(later, bench_for(later.machine, self.knowledge))

    def shown(self, asked: int | None = None) -> Shown:
        """What is shown now; `asked`: how many pages were shown before where the outcome is asked for at once."""
        from oilpath.bench import bench_of
        from oilpath.planning.remedies import remedy_first
        from oilpath.reports.way import Shown
        from oilpath.session.fits import at_hand, with_what_is_there
        from oilpath.session.way import bundled, proving_first, standing, unmeasured, ways

        bench = bench_of(self.sheet, self.knowledge)
        hand = at_hand(self.have, self.minutes, bench)
        answer, left_out = with_what_is_there(self.answer, bench, hand)
        steps = ways(answer, bench, self.passed, hand)
        stands = standing(answer, steps, bench)
        steps = bundled(proving_first(steps, stands, bench), bench, hand)
        own = None if self.document is None else self.name
        remedy = remedy_first(answer, bench) if stands.kind == "open" and not unmeasured(answer) else None
        return Shown(
            answer, stands, steps, own, before=self.before, done=self.done, undone=self.undone,
            remedies=self.sheet.remedies, retest=self.retest(), left_out=left_out,
            remedy=remedy, asked=asked,
        )  # fmt: skip


# --- at a terminal ----------------------------------------------------------------------


def _converse(walk: Walk) -> None:
    """Step by step, until nothing is left, `q`, or the end of what is typed."""
    from itertools import count

    from oilpath.reports.way import lay_out_way

    for number in count():
        shown = walk.shown(number)
        streams.write(console.page(lay_out_way(shown, walk.words), "text"))
        if not shown.steps:
            return
        try:
            if _answered(walk, shown.steps[0]):
                continue
        except KeyboardInterrupt:
            streams.write(_go_on(walk))
            raise
        streams.write(_go_on(walk))
        return


def _go_on(walk: Walk) -> str:
    return f"\nAll that was answered is in {console.shown(walk.name)}. To go on: oilpath next {quote(walk.name)}\n"


def _answered(walk: Walk, way: Way) -> bool:
    """Ask until an answer is taken; False where the conversation ends."""
    from oilpath.problems import UnusableInput

    while True:
        line = _line(way)
        if line is None or line.lower() in _QUIT:
            return False
        try:
            if line.lower() in _UNDO:
                walk.undo()
            elif line.lower() in _SKIP:
                walk.passed.add(_id(way))
            else:
                _take(walk, way, line)
        except click.UsageError as error:
            streams.write(f"{error.message}\n")
        except UnusableInput as error:
            streams.write(f"{error}\n")
        else:
            return True


def _id(way: Way) -> str:
    from oilpath.session.way import check_id

    if way.check is not None:
        return check_id(way.check.check, way.check.part)
    assert way.reading is not None
    return way.reading.slot.id


def _take(walk: Walk, way: Way, line: str) -> None:
    """An outcome by its number or word; a value; or `ID=VALUE` of any other reading."""
    if way.check is None:
        assert way.reading is not None
        walk.record("reading", line if "=" in line else f"{way.reading.slot.id}={line}")
        return
    words = [one.outcome for one in way.check.outcomes]
    if line.isdecimal() and 1 <= int(line) <= len(words):
        line = words[int(line) - 1]
    walk.record("outcome", line if "=" in line else f"{way.check.check}@{way.check.part}={line}")


def _line(way: Way) -> str | None:
    if way.check is not None:
        choices = "  ".join(f"{n} {one.outcome}" for n, one in enumerate(way.check.outcomes, 1))
        streams.write(f"\nOutcome: {choices}\n")
    else:
        others = "".join(f"; or {one.slot.id}=…" for one in way.beside)
        streams.write(f"\nValue with its unit, several by commas{others}\n")
    streams.write("Enter: another step, u: undo, q: stop > ")
    if sys.stdin is None:
        return None
    text = sys.stdin.buffer.readline(_LONGEST)
    return text.decode("utf-8", "replace").strip() if text else None
