"""`oilpath prepare MACHINE`: the plan for a day of testing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from oilpath.commands import desk


def prepare(
    machine_name: Annotated[str, typer.Argument(metavar="MACHINE", help="A machine file; - is standard input.")],
    format_: Annotated[desk.PageFormat, typer.Option("--format", "-f", help="What to write.")] = desk.PageFormat.text,
    output: Annotated[Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write to this file.")] = None,
) -> None:
    """Plan the day: tools, room to clear, conditions, order of the tests, cautions, the machine's limits."""
    if output is not None:
        desk.check_output(output, [machine_name])
    with desk.problems():
        knowledge = desk.read_knowledge()
        machine = desk.read_machine(machine_name, knowledge)
    from oilpath.preparing import prepare as plan
    from oilpath.reports.prepare import lay_out_day
    from oilpath.reports.words import Words

    blocks = lay_out_day(plan(machine, knowledge), Words(knowledge, machine))
    desk.send(desk.page(blocks, format_, piped=output is not None), output)
