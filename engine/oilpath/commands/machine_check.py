"""`oilpath machine check MACHINE…`: what is wrong with a machine file, and what it lacks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from oilpath.commands import completing, console, options
from oilpath.commands.sheet_check import show
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.check import Looked
    from oilpath.reports.words import Units


@options.command("check", examples=("oilpath machine check machine.yaml",))
@click.argument(
    "machine_names",
    metavar="MACHINE...",
    nargs=-1,
    required=True,
    type=options.file_name,
    shell_complete=completing.machines,
)
@options.format_of("text", "json")
@options.units
def command(machine_names: tuple[str, ...], format_: str, units: Units) -> None:
    """Look a machine file over: what is wrong in it, and which readings it has no limit for.

    MACHINE is a machine file; - reads standard input.
    """
    console.check_names(machine_names)
    show(console.Worked(machine_names, LookingAtMachine(console.read_knowledge(), units)), format_)


@dataclass(frozen=True)
class LookingAtMachine:
    """How each machine file is looked over."""

    knowledge: Knowledge
    units: Units

    def __call__(self, name: str, text: bytes | None) -> Looked:
        """What was found. Raises UnusableInput."""
        from oilpath.bench import bench_for
        from oilpath.documents.load import load_machine
        from oilpath.reports.check import look_over_machine
        from oilpath.reports.words import Words
        from oilpath.session.day import prepare
        from oilpath.session.slots import slots

        machine = load_machine(name, self.knowledge, text=text) if text is not None else (
            console.read_machine(name, self.knowledge)
        )  # fmt: skip
        plan = prepare(machine, self.knowledge)
        room = slots(plan, machine, self.knowledge)
        words = Words(self.knowledge, machine, self.units)
        return look_over_machine(plan, room, bench_for(machine, self.knowledge), words)
