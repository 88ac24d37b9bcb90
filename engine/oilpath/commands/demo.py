"""`oilpath demo`: the answer for a case that ships with the package."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from oilpath.commands import answers, completing, console, options, streams

if TYPE_CHECKING:
    from oilpath.reports.words import Units

_FIRST: Final = "pump-1-slow"


@options.command(
    "demo",
    examples=(
        "oilpath demo",
        "oilpath demo --list",
        "oilpath demo boom-drift",
    ),
)
@click.argument("name", metavar="[CASE]", required=False, shell_complete=completing.demos)
@click.option("--list", "list_", is_flag=True, help="List the cases with what is complained of.")
@options.units
def command(name: str | None, list_: bool, units: Units) -> None:
    """Show the whole answer for an invented case that comes with oilpath.

    CASE is one of those that --list shows; the first one if left out.
    """
    from dataclasses import replace

    from oilpath.data import data_folder

    known = cases()
    if list_:
        wide = max(map(len, known), default=0)
        streams.write("".join(f"{case:<{wide}}  {said}".rstrip() + "\n" for case, said in known.items()))
        return
    chosen = name or (_FIRST if _FIRST in known else next(iter(known), ""))
    if chosen not in known:
        raise click.UsageError(f"there is no demo case {console.shown(chosen)}; there are {', '.join(known)}")
    knowledge = console.read_knowledge()
    sheet = console.read_sheet(str(data_folder("cases") / "demo" / f"{chosen}.yaml"), knowledge)
    answer = replace(answers.diagnosed(sheet, knowledge), sheet=f"demo case {chosen}")
    streams.page(answers.rendered(answer, answers.words(sheet, knowledge, units)))


def cases() -> dict[str, str]:
    """The demo cases by name, each with what is complained of."""
    from oilpath.data import data_folder

    paths = sorted((data_folder("cases") / "demo").glob("*.yaml"))
    return {path.stem: _title(path) for path in paths if _is_sheet(path)}


def _is_sheet(path: Path) -> bool:
    with path.open(encoding="utf-8") as file:
        return any(line.startswith("oilpath: sheet/") for line in file)


def _title(path: Path) -> str:
    """What is complained of, as the sheet has it; empty where it has nothing on one line."""
    with path.open(encoding="utf-8") as file:
        said = (line.partition(":")[2].strip().strip("\"'") for line in file if line.startswith("complaint:"))
        return next(said, "")
