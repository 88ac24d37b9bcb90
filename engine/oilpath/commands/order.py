"""`oilpath order SHEET`: the text for a repair order."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from oilpath.commands import answers, console, options
from oilpath.commands.output import answer_to, form_of

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet
    from oilpath.flow import Diagnosis
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.order import Closed
    from oilpath.reports.words import Units, Words

_ENDINGS = {".md": "markdown", ".markdown": "markdown", ".txt": "text"}


@options.command(
    "order",
    examples=(
        "oilpath order sheet.yaml",
        "oilpath order sheet.yaml --for customer",
        "oilpath order sheet.yaml --parts",
    ),
)
@options.sheet
@click.option("--short", is_flag=True, help="Less than 600 characters.")
@click.option("--full", is_flag=True, help="With all results and how each step is made.")
@click.option(
    "--for",
    "reader",
    type=click.Choice(["workshop", "customer"]),
    default="workshop",
    show_default=True,
    help="Who reads it; the customer's has no percentages.",
)
@click.option("--parts", is_flag=True, help="What to order, and whether now or only after a check.")
@options.form_by_name("text", "markdown")
@options.output
@options.units
def command(
    sheet_name: str,
    short: bool,
    full: bool,
    reader: Any,
    parts: bool,
    format_: str | None,
    output: Path | None,
    units: Units,
) -> None:
    """Write the text for a repair order: complaint, findings, cause, correction.

    SHEET is a filled-in test sheet; - reads standard input. A template of your own (templates/order.txt or order.md
    in a folder of --kb) takes the place of the usual order.
    """
    if short and (full or parts):
        raise click.UsageError("--short goes without --full and --parts")
    form: Any = form_of(format_, output, _ENDINGS, "text")
    with answer_to(output, [sheet_name]) as send:
        knowledge = console.read_knowledge()
        sheet = console.read_sheet(sheet_name, knowledge)
        words, answer = answers.words(sheet, knowledge, units), answers.diagnosed(sheet, knowledge)
        closed = tuple(_closed(sheet, knowledge, answer, words))
        from oilpath.reports.order import order_of
        from oilpath.reports.order_page import to_order
        from oilpath.reports.order_template import by_template, own_template

        own = own_template(((layer.folder, layer.shown) for layer in knowledge.layers), form)
        if own is not None and not (short or full or parts) and reader == "workshop":
            send([by_template(order_of(answer, words, closed=closed), *own)])
            return
        length: Any = "short" if short else "full" if full else "usual"
        send([to_order(answer, words, length=length, reader=reader, parts=parts, form=form, closed=closed)])


def _closed(sheet: Sheet, knowledge: Knowledge, answer: Diagnosis, words: Words) -> Iterator[Closed]:
    """The confirmed causes of a closed job, with the readings of the sheet that came after the repair."""
    from oilpath.reports.order import closed_job

    for one in sheet.confirmed:
        after = _after(sheet, one.after, knowledge) if one.after else ()
        title = next((words.cause(c) for c in answer.causes if (c.cause, c.part) == (one.cause, one.part)), None)
        yield closed_job(title or f"{one.cause}, {words.part(one.part)}", one, answer.results, after, words)


def _after(sheet: Sheet, name: str, knowledge: Knowledge) -> Any:
    """The results of the sheet made after the repair, named relative to the closed one."""
    from oilpath.bench import bench_for
    from oilpath.judging import judge

    folder = Path() if sheet.name == console.STANDARD_INPUT else Path(sheet.name).parent
    later = console.read_sheet(str(folder / name), knowledge)
    return judge(later, bench_for(later.machine, knowledge))
