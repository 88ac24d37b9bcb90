"""`oilpath trend SHEET…`: the same machine over its hours."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from oilpath.commands import console

_TEXT_COLUMNS, _ALL_COLUMNS = 3, 100  # sheets beside each other in a table


class TrendFormat(StrEnum):
    """What `trend` can write."""

    text = "text"
    markdown = "markdown"
    svg = "svg"


def trend(
    sheet_names: Annotated[
        list[str], typer.Argument(metavar="SHEET...", help="Sheets of one machine, in any order; - is standard input.")
    ],
    format_: Annotated[TrendFormat, typer.Option("--format", "-f", help="What to write.")] = TrendFormat.text,
    output: Annotated[Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write to this file.")] = None,
    all_: Annotated[bool, typer.Option("--all", help="Draw all results, also those without a trend.")] = False,
) -> None:
    """Show every result over the hours, and when it will cross its limit at the present rate."""
    if sheet_names.count(console.STANDARD_INPUT) > 1:
        raise typer.BadParameter("- (standard input) can be read once only")
    files = [name if name == console.STANDARD_INPUT else str(Path(name).resolve()) for name in sheet_names]
    twice = [name for number, name in enumerate(sheet_names) if files[number] in files[:number]]
    if twice:
        raise typer.BadParameter(f"{console.shown(twice[0])} is given twice; each sheet counts once")
    if output is not None:
        console.check_output(output, sheet_names)
    with console.problems():
        knowledge = console.read_knowledge()
    sheets = []
    failed = False
    for number, name in enumerate(sheet_names, 1):
        console.progress(number, name, len(sheet_names))
        try:
            sheets.append(console.read_sheet(name, knowledge))
        except console.unusable() as error:
            console.progress(0, "", len(sheet_names))
            console.say(str(error))
            failed = True
    console.progress(0, "", len(sheet_names))
    if not sheets:
        raise typer.Exit(console.UNUSABLE)
    from oilpath.reports.words import Words
    from oilpath.session.history import placed
    from oilpath.session.history import trend as over_time

    ordered, axis, found = placed(sheets)
    for problem in found:
        console.say(str(problem))
    if ordered:
        told = over_time(ordered, axis, knowledge)
        words = Words(knowledge, ordered[-1].machine)
        if format_ is TrendFormat.svg:
            from oilpath.reports.trend_svg import to_svg

            text = to_svg(told, words)
        else:
            from oilpath.reports.trend import lay_out_trend

            columns = _ALL_COLUMNS if format_ is TrendFormat.markdown else _TEXT_COLUMNS
            blocks = lay_out_trend(told, words, all_results=all_, columns=columns)
            text = console.page(blocks, format_, piped=output is not None)
        console.send(text, output)
    if failed or found:
        raise typer.Exit(console.UNUSABLE)
