"""`oilpath prepare MACHINE`: the plan for a day of testing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from oilpath.commands import console


def prepare(
    machine_name: Annotated[str, typer.Argument(metavar="MACHINE", help="A machine file; - is standard input.")],
    format_: Annotated[
        console.PageFormat, typer.Option("--format", "-f", help="What to write.")
    ] = console.PageFormat.text,
    output: Annotated[Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write to this file.")] = None,
) -> None:
    """Plan the day: tools, room to clear, conditions, order of the tests, cautions, the machine's limits."""
    if output is not None:
        console.check_output(output, [machine_name])
    with console.problems():
        knowledge = console.read_knowledge()
        machine = console.read_machine(machine_name, knowledge)
    from oilpath.reports.prepare import lay_out_day
    from oilpath.reports.words import Words
    from oilpath.session.day import prepare as plan

    blocks = lay_out_day(plan(machine, knowledge), Words(knowledge, machine))
    console.send(console.page(blocks, format_, piped=output is not None), output)
