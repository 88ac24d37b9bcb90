"""`oilpath machine new CIRCUIT`: a blank machine file."""

from __future__ import annotations

import os
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING

import click

from oilpath.commands import completing, console, options
from oilpath.commands.output import answer_to

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.words import Units


@options.command(
    "new",
    examples=(
        "oilpath machine new two-pump-excavator --output mine.yaml",
        "oilpath machine new two-pump-excavator --ask --output mine.yaml",
    ),
)
@click.argument("circuit_name", metavar="CIRCUIT", shell_complete=completing.circuits)
@click.option("--ask", is_flag=True, help="Ask for one thing after the other; goes on with a file that is there.")
@options.output
@options.units
def command(circuit_name: str, ask: bool, output: Path | None, units: Units) -> None:
    """Write a blank machine file for a kind of machine, with room for its parts and limits.

    CIRCUIT is one of the knowledge base: two-pump-excavator, compact-excavator, wheel-loader … No file is written over.
    """
    from oilpath.problems import nearest

    if ask and output is None:
        raise click.UsageError("--ask writes each answer at once; say --output MACHINE, the file to begin")
    if not ask and output is not None and os.path.exists(output):
        raise click.UsageError(f"--output {console.shown(str(output))} is there already; nothing was written")
    knowledge = console.read_knowledge()
    circuit = knowledge.circuits.get(circuit_name)
    if circuit is None:
        near = nearest(circuit_name, knowledge.circuits)
        hint = f"did you mean {near}?" if near else f"one of {', '.join(knowledge.circuits)}"
        raise click.UsageError(f"CIRCUIT: there is no circuit {console.shown(circuit_name)}; {hint}")
    if ask and output is not None:
        _ask(circuit_name, output, knowledge, units)
        return
    with answer_to(output, []) as send:
        from oilpath.reports.blank import blank_machine
        from oilpath.reports.words import Words

        send([blank_machine(circuit, knowledge, Words(knowledge, None, units))])


def _ask(circuit: str, output: Path, knowledge: Knowledge, units: Units) -> None:
    from oilpath.commands.talking import Terminal, converse, width
    from oilpath.documents.edit import Document, open_document
    from oilpath.problems import clean
    from oilpath.reports.asking_machine import AskingMachine
    from oilpath.reports.words import Words
    from oilpath.session.machine_entry import UNNAMED, MachineEntry
    from oilpath.units import CUSTOMARY, QUANTITIES

    if os.path.exists(output):
        document = open_document(output)
    elif output.parent.is_dir():
        text = f"oilpath: machine/1\nname: {UNNAMED}\ncircuit: {circuit}\n"
        document = Document(str(output), text, output, None).save()
    else:
        raise click.UsageError(f"--output {console.shown(str(output))}: there is no such folder")
    usual = {} if units == "si" else {key: CUSTOMARY.get(one.unit, one.unit) for key, one in QUANTITIES.items()}
    entry = MachineEntry(document, knowledge, usual)
    machine = console.read_machine(str(output), knowledge)
    asking = AskingMachine(entry, Words(knowledge, machine, units), width())
    again = f"oilpath machine new {circuit} --ask --output {quote(str(output))}"
    converse(entry, Terminal(entry, asking, clean(str(output))), again)
