"""`oilpath trend SHEET…`: the same machine over its hours."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from oilpath.commands import console, options, streams
from oilpath.commands.output import answer_to, form_of

if TYPE_CHECKING:
    from oilpath.reports.words import Units, Words
    from oilpath.session.history import Trend

_TEXT_COLUMNS: Final = 3  # sheets side by side in a table
_ALL_COLUMNS: Final = 100
_ENDINGS: Final = {".md": "markdown", ".markdown": "markdown", ".txt": "text", ".svg": "svg"}


@options.command(
    "trend",
    examples=(
        "oilpath trend 2024.yaml 2025.yaml 2026.yaml",
        "oilpath trend 2024.yaml 2025.yaml 2026.yaml --output trend.svg",
    ),
)
@options.sheets
@options.form_by_name("text", "markdown", "svg")
@options.output
@options.show_all("Draw all results, also those without a trend.")
@options.units
def command(sheet_names: tuple[str, ...], format_: str | None, output: Path | None, all_: bool, units: Units) -> None:
    """Show how the results of one machine change over the hours, and when each will reach its limit.

    SHEET is a filled-in test sheet of that machine; give several, in any order. - reads standard input.
    """
    form = form_of(format_, output, _ENDINGS, "text")
    console.check_names(sheet_names)
    files = [_file(name) for name in sheet_names]
    twice = [name for number, name in enumerate(sheet_names) if files[number] in files[:number]]
    if twice:
        raise click.UsageError(f"{console.shown(twice[0])} is given twice; each sheet counts once")
    with answer_to(output, sheet_names) as send:
        knowledge = console.read_knowledge()
        read = console.Worked(sheet_names, lambda name, text: console.read_sheet(name, knowledge, text))
        from oilpath.problems import UnusableInput

        sheets = [sheet for _, sheet in read if not isinstance(sheet, UnusableInput)]
        if not sheets:
            raise click.exceptions.Exit(console.UNUSABLE)
        from oilpath.reports.words import Words
        from oilpath.session.history import placed, trend

        ordered, axis, found = placed(sheets)
        for problem in found:
            streams.say(str(problem))
        if ordered:
            over_time = trend(ordered, axis, knowledge)
            words = Words(knowledge, ordered[-1].machine, units)
            send([_text(over_time, words, form, all_results=all_, to_file=output is not None)])
    if read.failed or found:
        raise click.exceptions.Exit(console.UNUSABLE)


def _file(name: str) -> object:
    """The same for all names of one file."""
    try:
        found = os.stat(name)
    except OSError:
        return name
    return found.st_dev, found.st_ino


def _text(over_time: Trend, words: Words, format_: str, *, all_results: bool, to_file: bool) -> str:
    if format_ == "svg":
        from oilpath.reports.trend_svg import to_svg

        return to_svg(over_time, words)
    from oilpath.reports.trend import lay_out_trend

    columns = _ALL_COLUMNS if format_ == "markdown" else _TEXT_COLUMNS
    blocks = lay_out_trend(over_time, words, all_results=all_results, columns=columns)
    return console.page(blocks, format_, to_file=to_file)
