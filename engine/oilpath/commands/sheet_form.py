"""`oilpath sheet form MACHINE`: a test sheet to print and fill in by hand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from oilpath.commands import console, options
from oilpath.commands.output import answer_to, form_of

if TYPE_CHECKING:
    from oilpath.reports.form import Paper
    from oilpath.reports.words import Units


_ENDINGS = {".html": "html", ".htm": "html", ".pdf": "pdf"}


@options.command(
    "form",
    examples=(
        "oilpath sheet form machine.yaml --output form.html",
        "oilpath sheet form machine.yaml --paper letter --output form.html",
    ),
)
@options.machine
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the paper."
)
@click.option(
    "--format",
    "-f",
    "format_",
    type=click.Choice(["html", "pdf"]),
    help="Form of the file; by default as its name ends, else html.",
)
@options.output
@options.units
def command(machine_name: str, paper: Paper, format_: str | None, output: Path | None, units: Units) -> None:
    """Write a test sheet to print: room for three repeats, limits, cautions, signs to tick.

    MACHINE is a machine file; - reads standard input. The page prints from any browser; PDF needs the extra `pdf`.
    """
    form = form_of(format_, output, _ENDINGS, "html")
    if form == "pdf" and output is None:
        raise click.UsageError("a PDF goes to a file: --output form.pdf")
    with answer_to(output, [machine_name]) as send:
        knowledge = console.read_knowledge()
        machine = console.read_machine(machine_name, knowledge)
        from oilpath.reports import form as page
        from oilpath.reports.words import Words
        from oilpath.session.day import prepare

        html = page.to_html(page.form_of(prepare(machine, knowledge), machine, Words(knowledge, machine, units), paper))
        send([html if form == "html" else _pdf(html)])


def _pdf(html: str) -> bytes:
    from oilpath.reports.form import to_pdf

    try:
        return to_pdf(html)
    except ImportError:
        instead = "pip install 'oilpath[pdf]'; or print the HTML from a browser"
        raise click.UsageError(f"PDF needs the extra pdf: {instead}") from None
    except OSError:
        raise click.UsageError(
            "PDF needs the Pango library of the system (Debian: libpango-1.0-0, libpangoft2-1.0-0); or print the HTML"
            " from a browser"
        ) from None
