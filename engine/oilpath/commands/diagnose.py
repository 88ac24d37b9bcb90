"""`oilpath diagnose SHEET…`: results, ranked causes, next checks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from oilpath.commands import answers, console, options, streams
from oilpath.commands.output import answer_to, form_of, to_folder
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.documents.have import HaveDraft
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.words import Units

    Done = console.Worked[Any]

FORMATS: Final = ("text", "markdown", "html", "json", "jsonl", "svg", "dot")
ENDINGS: Final = {
    ".md": "markdown", ".markdown": "markdown", ".txt": "text", ".html": "html", ".htm": "html", ".json": "json",
    ".jsonl": "jsonl", ".svg": "svg", ".dot": "dot", ".gv": "dot",
}  # fmt: skip
_ONE_EACH: Final = ("html", "svg", "dot")  # a file for each sheet
PICTURES: Final = ("circuit", "causes", "plan", "results")
_BETWEEN: Final = {"text": "\n\n", "markdown": "\n---\n\n"}  # what stands between the answers of several sheets


@options.command(
    "diagnose",
    examples=(
        "oilpath diagnose sheet.yaml",
        "oilpath diagnose sheet.yaml --short",
        "oilpath diagnose sheet.yaml --output answer.html",
    ),
)
@options.sheets
@options.form_by_name(*FORMATS)
@click.option(
    "--picture",
    type=click.Choice(PICTURES),
    help="What svg and dot show.  [default: circuit]",
)
@options.output
@click.option(
    "--fail-at",
    type=options.probability,
    metavar="NUMBER",
    default=0.95,
    show_default=True,
    help="Probability of being out from which a result fails.",
)
@click.option(
    "--pass-at",
    type=options.probability,
    metavar="NUMBER",
    default=0.05,
    show_default=True,
    help="Probability of being out up to which a result passes.",
)
@click.option("--short", is_flag=True, help="Show the first screen only.")
@options.show_all("Show all results, also those that are in order.")
@options.have
@options.units
@click.option(
    "--jobs",
    type=click.IntRange(1, 64),
    metavar="NUMBER",
    default=1,
    show_default=True,
    help="Processes over which several sheets are spread; the answer is the same.",
)
def command(
    sheet_names: tuple[str, ...],
    format_: str | None,
    picture: str | None,
    output: Path | None,
    fail_at: float,
    pass_at: float,
    short: bool,
    all_: bool,
    have: str | None,
    units: Units,
    jobs: int,
) -> None:
    """Judge the readings of test sheets, rank the probable causes and plan the next checks.

    SHEET is a filled-in test sheet; - reads standard input. JSON is always in SI units.
    """
    if pass_at >= fail_at:
        raise click.UsageError("--pass-at must be below --fail-at")
    console.check_names(sheet_names)
    format_ = form_of(format_, output, ENDINGS, "text")
    _check_picture(format_, picture)
    if short and format_ not in ("text", "markdown"):
        raise click.UsageError(f"--short is for text and markdown, not for {format_}")
    there = None if have is None else _have(have)
    to_file = output is not None
    answering = Answering(fail_at, pass_at, units, format_, all_, short, picture or "circuit", to_file, have=there)
    if format_ in _ONE_EACH and len(sheet_names) > 1:
        failed = _folder(sheet_names, answering, jobs, output)
    else:
        failed = _answer(sheet_names, answering, jobs, output)
    if failed:
        raise click.exceptions.Exit(console.UNUSABLE)


def _have(name: str) -> HaveDraft:
    from oilpath.documents.have import load_have

    return load_have(name)


def _check_picture(format_: str, picture: str | None) -> None:
    if picture is not None and format_ not in ("svg", "dot"):
        raise click.UsageError("--picture goes with --format svg or dot")
    if picture == "results" and format_ == "dot":
        raise click.UsageError("--picture results is no graph; --format svg draws it")


def _folder(sheet_names: tuple[str, ...], answering: Answering, jobs: int, output: Path | None) -> bool:
    """A file for each sheet in the folder `output`; whether any sheet could not be used."""
    if output is None:
        raise click.UsageError(f"--format {answering.format_} with several sheets needs --output with a folder")
    if output.suffix.lower() in ENDINGS and not output.is_dir():
        raise click.UsageError(
            f"--output {console.shown(str(output))} names one file; for several sheets name a folder, with --format"
        )
    with to_folder(output) as send:
        done: Done = console.Worked(sheet_names, replace(answering, knowledge=console.read_knowledge()), jobs)
        send([(name, text) for name, text in done if isinstance(text, str)], f".{answering.format_}")
    return done.failed


def _answer(sheet_names: tuple[str, ...], answering: Answering, jobs: int, output: Path | None) -> bool:
    """All answers to standard output or one file; whether any sheet could not be used."""
    with answer_to(output, sheet_names) as send:
        done: Done = console.Worked(sheet_names, replace(answering, knowledge=console.read_knowledge()), jobs)
        if answering.format_ in ("json", "jsonl"):
            send(_json(done, answering.format_))
        elif answering.format_ == "text" and output is None and len(sheet_names) == 1 and not answering.short:
            streams.page("".join(_texts(done, "")))
        else:
            send(_texts(done, _BETWEEN.get(answering.format_, "")))
    return done.failed


@dataclass(frozen=True)
class Answering:
    """How each sheet is answered; can be sent to another process."""

    fail_at: float
    pass_at: float
    units: Units
    format_: str
    all_results: bool
    short: bool
    picture: str
    to_file: bool
    knowledge: Knowledge | None = None
    have: HaveDraft | None = None

    def __call__(self, name: str, text: bytes | None) -> Any:
        """The answer for one sheet: plain data for `json`, else as it is written. Raises UnusableInput."""
        knowledge = self.knowledge or console.read_knowledge()
        sheet = console.read_sheet(name, knowledge, text)
        answer = answers.diagnosed(sheet, knowledge, self.fail_at, self.pass_at)
        words = answers.words(sheet, knowledge, self.units)
        if self.have is not None:
            answer = answers.with_what_is_there(answer, sheet, knowledge, self.have)
        if self.format_ in _ONE_EACH:
            return answers.drawn(answer, words, sheet, knowledge, self.format_, self.picture)
        if self.format_ not in ("json", "jsonl"):
            return answers.rendered(
                answer, words, self.format_, all_results=self.all_results, short=self.short, to_file=self.to_file
            )
        from oilpath.reports.json_ import to_data, to_jsonl

        data = to_data(answer, words)
        return to_jsonl(data) if self.format_ == "jsonl" else data


def _texts(done: Done, between: str) -> Iterator[str]:
    """The answers of the sheets that have one, one by one."""
    first = True
    for _, found in done:
        if isinstance(found, str):
            yield found if first else between + found
            first = False


def _json(done: Done, format_: str) -> Iterator[str]:
    """A line for each sheet, or one JSON text: of a single sheet its answer, of several an array of them."""
    from oilpath.problems import UnusableInput
    from oilpath.reports.json_ import error_data, to_json, to_jsonl

    kept: list[dict[str, Any]] = []
    for name, found in done:
        data: Any = error_data(name, found.problems) if isinstance(found, UnusableInput) else found
        if format_ == "jsonl":
            yield to_jsonl(data) if isinstance(found, UnusableInput) else data
        elif not isinstance(found, UnusableInput) or len(done) > 1:
            kept.append(data)
    if kept:
        yield to_json(kept if len(done) > 1 else kept[0])
