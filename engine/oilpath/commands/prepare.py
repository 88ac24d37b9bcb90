"""`oilpath prepare MACHINE`: the plan for a day of testing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from oilpath.commands import console, options
from oilpath.commands.output import answer_to, form_of

if TYPE_CHECKING:
    from oilpath.reports.words import Units

_ENDINGS = {".md": "markdown", ".markdown": "markdown", ".txt": "text", ".html": "html", ".htm": "html"}


@options.command(
    "prepare",
    examples=(
        "oilpath prepare machine.yaml",
        "oilpath prepare machine.yaml --output plan.html",
    ),
)
@options.machine
@options.form_by_name("text", "markdown", "html")
@options.output
@options.have
@options.units
def command(machine_name: str, format_: str | None, output: Path | None, have: str | None, units: Units) -> None:
    """Plan a day of testing: tools, space to clear, conditions, order of the tests, cautions, limits.

    MACHINE is a machine file; - reads standard input. `--format html` draws how the machine stands for each test.
    """
    from oilpath.documents.have import load_have

    form = form_of(format_, output, _ENDINGS, "text")
    there = None if have is None else load_have(have)
    with answer_to(output, [machine_name]) as send:
        knowledge = console.read_knowledge()
        machine = console.read_machine(machine_name, knowledge)
        from oilpath.reports.prepare import lay_out_day
        from oilpath.reports.words import Words
        from oilpath.session.day import prepare

        plan, words = prepare(machine, knowledge, there), Words(knowledge, machine, units)
        if form == "html":
            from oilpath.reports.html import day_to_html

            send([day_to_html(plan, words, machine)])
            return
        blocks = lay_out_day(plan, words)
        send([console.page(blocks, form, to_file=output is not None)])
