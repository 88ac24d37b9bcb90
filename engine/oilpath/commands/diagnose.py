"""`oilpath diagnose SHEET…`: results, ranked causes, next checks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from oilpath.commands import answers, console, options
from oilpath.commands.output import answer_to

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet
    from oilpath.flow import Diagnosis
    from oilpath.reports.words import Units, Words

    Done = console.Worked[tuple[Sheet, Diagnosis]]

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
@options.show_all("Show all results, also those that are in order.")
@options.units
def command(
    sheet_names: tuple[str, ...],
    format_: str,
    output: Path | None,
    fail_at: float,
    pass_at: float,
    all_: bool,
    units: Units,
) -> None:
    """Judge the readings of test sheets, rank the probable causes and plan the next checks.

    SHEET is a filled-in test sheet; - reads standard input. JSON is always in SI units.
    """
    if pass_at >= fail_at:
        raise click.UsageError("--pass-at must be below --fail-at")
    console.check_names(sheet_names)
    with answer_to(output, sheet_names) as send:
        knowledge = console.read_knowledge()

        def work(name: str) -> tuple[Sheet, Diagnosis]:
            sheet = console.read_sheet(name, knowledge)
            return sheet, answers.diagnosed(sheet, knowledge, fail_at, pass_at)

        def words(sheet: Sheet) -> Words:
            return answers.words(sheet, knowledge, units)

        def text(sheet: Sheet, answer: Diagnosis) -> str:
            return answers.rendered(answer, words(sheet), format_, all_results=all_, to_file=output is not None)

        done = console.Worked(sheet_names, work)
        send(_json(done, words, format_) if format_ in ("json", "jsonl") else _texts(done, text, _BETWEEN[format_]))
    if done.failed:
        raise click.exceptions.Exit(console.UNUSABLE)


def _texts(done: Done, text: Callable[[Sheet, Diagnosis], str], between: str) -> Iterator[str]:
    """The answers of the sheets that have one, one by one."""
    first = True
    for _, found in done:
        if isinstance(found, tuple):
            yield text(*found) if first else between + text(*found)
            first = False


def _json(done: Done, words: Callable[[Sheet], Words], format_: str) -> Iterator[str]:
    """A line for each sheet, or one JSON text: of a single sheet its answer, of several an array of them."""
    from oilpath.reports.json_ import error_data, to_data, to_json, to_jsonl

    kept: list[dict[str, Any]] = []
    for name, found in done:
        data = to_data(found[1], words(found[0])) if isinstance(found, tuple) else error_data(name, found.problems)
        if format_ == "jsonl":
            yield to_jsonl(data)
        elif isinstance(found, tuple) or len(done) > 1:
            kept.append(data)
    if kept:
        yield to_json(kept if len(done) > 1 else kept[0])
