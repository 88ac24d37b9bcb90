"""`oilpath machine new CIRCUIT`: a blank machine file."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from oilpath.commands import console, options
from oilpath.commands.output import answer_to

if TYPE_CHECKING:
    from oilpath.reports.words import Units


@options.command("new", example="oilpath machine new two-pump-excavator --output machine.yaml")
@click.argument("circuit_name", metavar="CIRCUIT")
@options.output
@options.units
def command(circuit_name: str, output: Path | None, units: Units) -> None:
    """Write a blank machine file for a kind of machine, with room for its parts and limits.

    CIRCUIT is one of the knowledge base: two-pump-excavator, compact-excavator, wheel-loader … No file is written over.
    """
    from oilpath.problems import nearest

    if output is not None and os.path.exists(output):
        raise click.UsageError(f"--output {console.shown(str(output))} is there already; nothing was written")
    knowledge = console.read_knowledge()
    circuit = knowledge.circuits.get(circuit_name)
    if circuit is None:
        near = nearest(circuit_name, knowledge.circuits)
        hint = f"did you mean {near}?" if near else f"one of {', '.join(knowledge.circuits)}"
        raise click.UsageError(f"CIRCUIT: there is no circuit {console.shown(circuit_name)}; {hint}")
    with answer_to(output, []) as send:
        from oilpath.reports.blank import blank_machine
        from oilpath.reports.words import Words

        send([blank_machine(circuit, knowledge, Words(knowledge, None, units))])
