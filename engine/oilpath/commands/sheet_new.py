"""`oilpath sheet new MACHINE`: a blank sheet for one machine."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from oilpath.commands import console, options
from oilpath.commands.output import answer_to

if TYPE_CHECKING:
    from oilpath.reports.words import Units


@options.command("new", examples=("oilpath sheet new machine.yaml --output blank.yaml",))
@options.machine
@options.output
@options.units
def command(machine_name: str, output: Path | None, units: Units) -> None:
    """Write a blank test sheet for a machine: its tests in the order of the day, with their limits.

    MACHINE is a machine file. No sheet that is there is written over.
    """
    if machine_name == console.STANDARD_INPUT:
        raise click.UsageError("MACHINE: a sheet names the file of its machine, so - will not do")
    if output is not None and os.path.exists(output):
        raise click.UsageError(f"--output {console.shown(str(output))} is there already; nothing was written")
    with answer_to(output, [machine_name]) as send:
        knowledge = console.read_knowledge()
        machine = console.read_machine(machine_name, knowledge)
        from oilpath.reports.blank import blank_sheet
        from oilpath.reports.words import Words
        from oilpath.session.day import prepare

        named = beside(machine_name, output)
        send([blank_sheet(prepare(machine, knowledge), machine, named, Words(knowledge, machine, units))])


def beside(name: str, output: Path | None) -> str:
    """What a sheet that goes to `output` calls a file: its path from there; a machine of a layer keeps its name."""
    if output is None or os.path.isabs(name) or not os.path.exists(name):
        return name
    return Path(os.path.relpath(name, output.parent)).as_posix()
