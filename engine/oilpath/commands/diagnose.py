"""`oilpath diagnose SHEET…`: results, ranked causes, next checks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from oilpath.commands import answers, console, options, streams
from oilpath.commands.output import answer_to
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.words import Units

    Done = console.Worked[Any]

_BETWEEN: Final = {"text": "\n\n", "markdown": "\n---\n\n"}  # what stands between the answers of several sheets


@options.command("diagnose", example="oilpath diagnose sheet.yaml --format markdown --output answer.md")
@options.sheets
@options.format_of("text", "markdown", "json", "jsonl")
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
    format_: str,
    output: Path | None,
    fail_at: float,
    pass_at: float,
    short: bool,
    all_: bool,
    units: Units,
    jobs: int,
) -> None:
    """Judge the readings of test sheets, rank the probable causes and plan the next checks.

    SHEET is a filled-in test sheet; - reads standard input. JSON is always in SI units.
    """
    if pass_at >= fail_at:
        raise click.UsageError("--pass-at must be below --fail-at")
    console.check_names(sheet_names)
    with answer_to(output, sheet_names) as send:
        answering = Answering(
            console.read_knowledge(), fail_at, pass_at, units, format_, all_, short, output is not None
        )
        if jobs > 1:  # read once, before the processes part
            pass
        done: Done = console.Worked(sheet_names, answering, jobs)
        if format_ in ("json", "jsonl"):
            send(_json(done, format_))
        elif format_ == "text" and output is None and len(sheet_names) == 1 and not short:
            streams.page("".join(_texts(done, "")))
        else:
            send(_texts(done, _BETWEEN[format_]))
    if done.failed:
        raise click.exceptions.Exit(console.UNUSABLE)


@dataclass(frozen=True)
class Answering:
    """How each sheet is answered; can be sent to another process."""

    knowledge: Knowledge
    fail_at: float
    pass_at: float
    units: Units
    format_: str
    all_results: bool
    short: bool
    to_file: bool

    def __call__(self, name: str, text: bytes | None) -> Any:
        """The answer for one sheet: plain data for `json`, else as it is written. Raises UnusableInput."""
        sheet = console.read_sheet(name, self.knowledge, text)
        answer = answers.diagnosed(sheet, self.knowledge, self.fail_at, self.pass_at)
        words = answers.words(sheet, self.knowledge, self.units)
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
