"""The command `oilpath`: parse, call, print. Answers go to standard output, problems and progress to standard error.

Exit status: 0 the answer was made, 2 unusable input or usage, 1 `kb check` with findings, 130 interrupted.
Libraries are imported inside the functions, so that `oilpath --version` and `--help` start at once.
"""

from __future__ import annotations

import gc
import os
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from oilpath.commands.console import STANDARD_INPUT, UNUSABLE
from oilpath.commands.console import NoOutput as _NoOutput
from oilpath.commands.console import check_output as _check_output
from oilpath.commands.console import problems as _problems
from oilpath.commands.console import progress as _progress
from oilpath.commands.console import read_knowledge as _knowledge
from oilpath.commands.console import read_sheet as _sheet
from oilpath.commands.console import say as _say
from oilpath.commands.console import shown as _shown
from oilpath.commands.console import unusable as _unusable
from oilpath.commands.console import write as _write
from oilpath.commands.console import write_file as _write_file
from oilpath.commands.prepare import prepare
from oilpath.commands.trend import trend

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet
    from oilpath.flow import Diagnosis
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.words import Words

FINDINGS: Final = 1
INTERRUPTED: Final = 130

_FIRST_DEMO: Final = "pump-1-slow"

# rich_markup_mode=None and no pretty exceptions: typer then never imports rich.
app = typer.Typer(
    help="Diagnoses hydraulic systems of excavators and other machines from measured performance tests.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
kb_app = typer.Typer(help="The knowledge base.", rich_markup_mode=None, no_args_is_help=True)
app.add_typer(kb_app, name="kb")

SheetName = Annotated[str, typer.Argument(metavar="SHEET", help="A filled-in test sheet; - is standard input.")]


class Format(StrEnum):
    """What `diagnose` can write."""

    text = "text"
    markdown = "markdown"
    json = "json"
    jsonl = "jsonl"


class Units(StrEnum):
    """Units of the figures that people read."""

    si = "si"
    us = "us"


UnitsOption = Annotated[
    Units, typer.Option("--units", help="Figures in SI units or US customary ones; JSON is always SI.")
]


def main() -> None:
    """The entry point: never a traceback (but with OILPATH_TRACEBACK=1), never a broken pipe's noise."""
    status: int | str | None
    gc.set_threshold(300_000, 50, 50)  # a short run makes much and throws away little: one search costs 30 ms
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small systems: threads cost more than they give
    try:
        app(prog_name="oilpath")
        status = 0
    except SystemExit as stop:
        status = stop.code
    except KeyboardInterrupt:
        status = INTERRUPTED
    except _NoOutput as lost:
        status = _lost(lost)
    except Exception as error:
        if os.environ.get("OILPATH_TRACEBACK") == "1":
            raise
        status = UNUSABLE
        _say(_internal(error))
    gc.freeze()  # or the interpreter searches all that is left for cycles at its end, for 80 ms
    sys.exit(status)


def _lost(lost: _NoOutput) -> int:
    # let nothing more be written, not even by the interpreter at its end
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if lost.args:
        _say(f"oilpath: the answer cannot be written: {lost.args[0]}")
        return UNUSABLE
    return 0


def _internal(error: Exception) -> str:
    import traceback

    from oilpath.data import DataNotFound
    from oilpath.problems import shorten

    if isinstance(error, DataNotFound):
        return f"oilpath: {error}"
    frame = traceback.extract_tb(error.__traceback__)[-1]
    what = shorten(f"{type(error).__name__}: {error}", 200)
    return (
        f"oilpath: internal error: {what} ({Path(frame.filename).name}:{frame.lineno}). Sorry, this is a mistake in"
        " oilpath: please report this line together with the sheet and its machine file."
    )


def _say_version(wanted: bool) -> None:
    if wanted:
        from oilpath._version import __version__

        _write(f"oilpath {__version__}\n")
        raise typer.Exit


@app.callback()
def _start(
    version: Annotated[
        bool, typer.Option("--version", is_eager=True, callback=_say_version, help="Show the version and stop.")
    ] = False,
) -> None:
    """Options before the command."""


# --- commands -------------------------------------------------------------------------


@app.command()
def demo(
    name: Annotated[str | None, typer.Argument(metavar="[CASE]", help="Which case; the first one if left out.")] = None,
    list_: Annotated[bool, typer.Option("--list", help="List the cases.")] = False,
    units: UnitsOption = Units.si,
) -> None:
    """Show the whole answer for a demo case that ships with oilpath."""
    from oilpath.data import data_folder

    folder = data_folder("cases") / "demo"
    cases = {path.stem: path for path in sorted(folder.glob("*.yaml")) if _is_sheet(path)}
    if list_:
        _write("".join(f"{case}\n" for case in cases))
        return
    chosen = name or (_FIRST_DEMO if _FIRST_DEMO in cases else next(iter(cases), ""))
    if chosen not in cases:
        raise typer.BadParameter(f"there is no demo case {_shown(chosen)}; there are {', '.join(cases)}")
    with _problems():
        knowledge = _knowledge()
        sheet = _sheet(str(cases[chosen]), knowledge)
        _write(_text(sheet, knowledge, f"demo case {chosen}", units))


app.command()(prepare)


@app.command()
def diagnose(
    sheets: Annotated[
        list[str], typer.Argument(metavar="SHEET...", help="Filled-in test sheets; - is standard input.")
    ],
    format_: Annotated[Format, typer.Option("--format", "-f", help="What to write.")] = Format.text,
    output: Annotated[Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write to this file.")] = None,
    fail_at: Annotated[float, typer.Option(help="Probability of being out from which a result fails.")] = 0.95,
    pass_at: Annotated[float, typer.Option(help="Probability of being out up to which a result passes.")] = 0.05,
    all_: Annotated[bool, typer.Option("--all", help="Show all results, also those that are in order.")] = False,
    units: UnitsOption = Units.si,
) -> None:
    """Judge the readings of sheets, rank the causes and plan the next checks."""
    if not 0 <= pass_at < fail_at <= 1:
        raise typer.BadParameter("--pass-at must be below --fail-at, both between 0 and 1")
    if sheets.count(STANDARD_INPUT) > 1:
        raise typer.BadParameter("- (standard input) can be read once only")
    if output is not None:
        _check_output(output, sheets)
    with _problems():
        knowledge = _knowledge()
    kept: list[str] = []
    send = _write if output is None else kept.append
    failed = False
    answers: list[dict[str, Any]] = []
    for number, name in enumerate(sheets, 1):
        _progress(number, name, len(sheets))
        try:
            sheet = _sheet(name, knowledge)
            answer = _diagnosed(sheet, knowledge, fail_at, pass_at)
        except _unusable() as error:
            _progress(0, "", len(sheets))
            _say(str(error))
            failed = True
            if format_ in (Format.json, Format.jsonl):
                from oilpath.reports.json_ import error_data

                answers.append(error_data(name, error.problems))
        else:
            words = _words(sheet, knowledge, units)
            if format_ in (Format.json, Format.jsonl):
                from oilpath.reports.json_ import to_data

                answers.append(to_data(answer, words))
            else:
                send(_separator(format_, kept, output, number) + _rendered(answer, words, format_, all_, output))
        if format_ is Format.jsonl:
            from oilpath.reports.json_ import to_jsonl

            send(to_jsonl(answers.pop()))
    _progress(0, "", len(sheets))
    if format_ is Format.json and (len(sheets) > 1 or not failed):
        from oilpath.reports.json_ import to_json

        send(to_json(answers if len(sheets) > 1 else answers[0]))
    if output is not None and kept:
        _write_file(output, "".join(kept))
    if failed:
        raise typer.Exit(UNUSABLE)


@app.command()
def why(
    sheet_name: SheetName,
    topic: Annotated[
        str, typer.Argument(metavar="RESULT-OR-CAUSE", help="A result's id, a cause, a part, or CAUSE@PART.")
    ],
    units: UnitsOption = Units.si,
) -> None:
    """Say why a result is judged as it is, or why a cause stands where it stands."""
    with _problems():
        knowledge = _knowledge()
        sheet = _sheet(sheet_name, knowledge)
        from oilpath.reports.why import why as explain

        _write(explain(_diagnosed(sheet, knowledge), topic, _words(sheet, knowledge, units)))


@app.command()
def order(sheet_name: SheetName, units: UnitsOption = Units.si) -> None:
    """Write plain text to paste into a repair order."""
    with _problems():
        knowledge = _knowledge()
        sheet = _sheet(sheet_name, knowledge)
        from oilpath.reports.order import to_order

        _write(to_order(_diagnosed(sheet, knowledge), _words(sheet, knowledge, units)))


app.command()(trend)


@kb_app.command("check")
def kb_check(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="A knowledge base; oilpath's own if left out.")
    ] = None,
) -> None:
    """Check the knowledge base: ids, sources, every rule on its cases, every cause on every kind of machine."""
    from oilpath.data import data_folder
    from oilpath.kbcheck import review
    from oilpath.kbcheck.text import review_text

    if folder is not None and not folder.is_dir():
        raise typer.BadParameter(f"{_shown(str(folder))} is no folder")
    with _problems():
        told = review(folder or data_folder("kb"))
    _write(review_text(told))
    if told.findings:
        raise typer.Exit(FINDINGS)


@kb_app.command("score")
def kb_score(
    sheets: Annotated[int, typer.Option(min=20, max=100_000, help="Sheets to simulate, half of them sound.")] = 3000,
    seed: Annotated[int, typer.Option(min=0, help="Another seed gives other sheets.")] = 1,
    unlike: Annotated[
        bool, typer.Option("--unlike", help="Machines unlike the model: more scatter, other effects, gross readings.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="The figures as JSON.")] = False,
) -> None:
    """Score the ranking on simulated sheets of the invented machines that ship with oilpath."""
    from oilpath.data import data_folder
    from oilpath.documents.load import load_machine
    from oilpath.lab.scoring import MACHINES, OWN, UNLIKE, score, score_json, score_text

    knowledge = _knowledge()
    with _problems():
        machines = [load_machine(str(data_folder("cases") / "machines" / name), knowledge) for name in MACHINES]
    told = score(machines, knowledge, sheets, seed, UNLIKE if unlike else OWN)
    _write((score_json(told) if as_json else score_text(told)) + "\n")


# --- from names to answers ------------------------------------------------------------


def _diagnosed(sheet: Sheet, knowledge: Knowledge, fail_at: float = 0.95, pass_at: float = 0.05) -> Diagnosis:
    from oilpath.diagnosis import diagnose as run

    return run(sheet, knowledge, fail_at=fail_at, pass_at=pass_at)


def _words(sheet: Sheet, knowledge: Knowledge, units: Units) -> Words:
    from oilpath.reports.words import Words

    return Words(knowledge, sheet.machine, units.value)


def _text(sheet: Sheet, knowledge: Knowledge, name: str, units: Units) -> str:
    from dataclasses import replace

    answer = replace(_diagnosed(sheet, knowledge), sheet=name)
    return _rendered(answer, _words(sheet, knowledge, units), Format.text, False, None)


def _rendered(answer: Diagnosis, words: Words, format_: Format, all_results: bool, output: Path | None) -> str:
    if format_ is Format.markdown:
        from oilpath.reports.markdown import to_markdown

        return to_markdown(answer, words, all_results=all_results)
    from oilpath.reports.text import to_terminal, to_text

    show = to_terminal if output is None and sys.stdout.isatty() else to_text
    return show(answer, words, all_results=all_results)


def _separator(format_: Format, kept: list[str], output: Path | None, number: int) -> str:
    """What stands between the answers of several sheets."""
    first = not kept if output is not None else number == 1
    if first:
        return ""
    return "\n---\n\n" if format_ is Format.markdown else "\n\n"


def _is_sheet(path: Path) -> bool:
    with path.open(encoding="utf-8") as file:
        return any(line.startswith("oilpath: sheet/") for line in file)
