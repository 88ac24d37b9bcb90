"""`oilpath demo`: the answer for a case that ships with the package."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from oilpath.commands import answers, console, options, streams

if TYPE_CHECKING:
    from oilpath.reports.words import Units

_FIRST: Final = "pump-1-slow"


@options.command("demo", example="oilpath demo pump-1-slow")
@click.argument("name", metavar="[CASE]", required=False)
@click.option("--list", "list_", is_flag=True, help="List the cases with what is complained of.")
@options.units
def command(name: str | None, list_: bool, units: Units) -> None:
    """Show the whole answer for an invented case that comes with oilpath.

    CASE is one of those that --list shows; the first one if left out.
    """
    from dataclasses import replace

    from oilpath.data import data_folder

    folder = data_folder("cases") / "demo"
    cases = {path.stem: path for path in sorted(folder.glob("*.yaml")) if _is_sheet(path)}
    if list_:
        wide = max(map(len, cases), default=0)
        streams.write("".join(f"{case:<{wide}}  {_title(path)}".rstrip() + "\n" for case, path in cases.items()))
        return
    chosen = name or (_FIRST if _FIRST in cases else next(iter(cases), ""))
    if chosen not in cases:
        raise click.UsageError(f"there is no demo case {console.shown(chosen)}; there are {', '.join(cases)}")
    knowledge = console.read_knowledge()
    sheet = console.read_sheet(str(cases[chosen]), knowledge)
    answer = replace(answers.diagnosed(sheet, knowledge), sheet=f"demo case {chosen}")
    streams.page(answers.rendered(answer, answers.words(sheet, knowledge, units)))


def _is_sheet(path: Path) -> bool:
    with path.open(encoding="utf-8") as file:
        return any(line.startswith("oilpath: sheet/") for line in file)


def _title(path: Path) -> str:
    """What is complained of, as the sheet has it; empty where it has nothing on one line."""
    with path.open(encoding="utf-8") as file:
        said = (line.partition(":")[2].strip().strip("\"'") for line in file if line.startswith("complaint:"))
        return next(said, "")
