"""`oilpath close SHEET`: the confirmed cause with its proof, kept in the workshop's layer."""

from __future__ import annotations

import os
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any, Final

import click

from oilpath.commands import answers, completing, console, options, streams
from oilpath.commands.kb import OWN_FOLDER

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet
    from oilpath.knowledge.base import Knowledge
    from oilpath.knowledge.closed import Closed
    from oilpath.reports.words import Units
    from oilpath.session.closing import Ending, FoundHere, Proof

_GRADES: Final = ("torn-down", "retested", "symptom-gone", "unknown")


@options.command(
    "close",
    examples=("oilpath close sheet.yaml --cause pump.worn --part pump-1 --how Exchanged --grade torn-down",),
)
@options.sheet
@click.option(
    "--cause",
    "causes",
    multiple=True,
    required=True,
    metavar="CAUSE",
    shell_complete=completing.causes,
    help="What was wrong, by id or title.",
)
@click.option(
    "--part",
    "parts",
    multiple=True,
    metavar="PART",
    shell_complete=completing.parts,
    help="Where; not needed where there is one place.",
)
@click.option("--how", "hows", multiple=True, required=True, metavar="TEXT", help="What was found and done.")
@click.option("--grade", type=click.Choice(_GRADES), required=True, help="How it is known that this was the cause.")
@click.option(
    "--after",
    metavar="SHEET",
    shell_complete=completing.sheets,
    help="The sheet of the tests made again after the repair.",
)
@click.option("--minutes", type=options.whole_number(0, 100_000), metavar="NUMBER", help="What the whole job took.")
@click.option("--again", is_flag=True, help="Write over what this sheet was closed as before.")
@options.units
def command(
    sheet_name: str,
    causes: tuple[str, ...],
    parts: tuple[str, ...],
    hows: tuple[str, ...],
    grade: str,
    after: str | None,
    minutes: int | None,
    again: bool,
    units: Units,
) -> None:
    """Close a job: keep its confirmed cause, so that later answers count it and name it where it looks alike.

    It goes into the folder of --kb, else of OILPATH_KB, else my-kb, and the sheet is marked. For two faults give
    --cause, --part and --how twice, in the same order. A job never counts for its own sheet.
    """
    if sheet_name == console.STANDARD_INPUT:
        raise click.UsageError("standard input cannot be marked as closed; name a file")
    if len(hows) != len(causes) or (parts and len(parts) != len(causes)):
        raise click.UsageError("--cause, --part and --how belong together: give each as often as the others")
    layers = console.layers() or (OWN_FOLDER,)
    if _ships(layers[-1]):
        raise click.UsageError(f"--kb {console.shown(layers[-1])} ships with oilpath; name a folder of your own")
    knowledge = _known(layers)
    sheet = console.read_sheet(sheet_name, knowledge)
    after = after or next((one.after for one in reversed(sheet.remedies) if one.after), None)
    if grade == "retested" and after is None:
        raise click.UsageError("--grade retested: --after names the sheet of the tests that were made again")
    named = zip(causes, parts or (None,) * len(causes), hows, strict=True)
    found = tuple(_found(sheet, knowledge, *one) for one in named)
    proof = None if after is None else _proof(after, sheet, sheet_name, knowledge)
    from oilpath.reports.work import minutes_of
    from oilpath.session.closing import Ending

    spent = float(minutes) if minutes is not None else minutes_of(sheet.work)
    ending = Ending(found, grade, spent, proof)
    path = _keep(sheet, sheet_name, ending, Path(layers[-1]), knowledge, again)
    _mark(sheet_name, ending, after)
    _say(path, sheet, sheet_name, ending, _known(layers), units)


def _ships(layer: str) -> bool:
    """Whether a folder is that of the knowledge which ships, or in it: that is never written to."""
    from oilpath.data import data_folder

    own = os.path.realpath(data_folder("kb"))
    return os.path.commonpath((own, os.path.realpath(layer))) == own


def _known(layers: tuple[str, ...]) -> Knowledge:
    """The knowledge with those layers that hold something already."""
    from oilpath.knowledge.compile import load_knowledge

    return load_knowledge(*(name for name in layers if os.path.isdir(name) and os.listdir(name)))


def _found(sheet: Sheet, knowledge: Knowledge, cause: str, part: str | None, how: str) -> FoundHere:
    from oilpath.bench import bench_for
    from oilpath.reports.closing import not_there
    from oilpath.session.closing import NotThere, found_here

    try:
        return found_here(cause, part, how, bench_for(sheet.machine, knowledge))
    except NotThere as error:
        raise click.UsageError(not_there(error)) from None


def _proof(name: str, sheet: Sheet, sheet_name: str, knowledge: Knowledge) -> Proof:
    """The sheet made after the repair: as typed, or beside the closed sheet, as a sheet names it."""
    from oilpath.bench import bench_for
    from oilpath.documents.edit import open_document
    from oilpath.judging import judge
    from oilpath.session.closing import Proof

    beside = Path(sheet_name).parent / name
    path = Path(name) if os.path.isfile(name) or not beside.is_file() else beside
    if path.is_file() and os.path.samefile(path, sheet_name):
        raise click.UsageError("--after is the sheet itself; the tests made again have a sheet of their own")
    later = console.read_sheet(str(path), knowledge)
    other = None not in (later.unit_number, sheet.unit_number) and later.unit_number != sheet.unit_number
    if other or later.machine.circuit.id != sheet.machine.circuit.id:
        raise click.UsageError(f"--after {console.shown(name)} is a sheet of another machine")
    return Proof(open_document(path).as_read, judge(later, bench_for(later.machine, knowledge)), path.parent)


def _keep(sheet: Sheet, sheet_name: str, ending: Ending, layer: Path, knowledge: Knowledge, again: bool) -> Path:
    """Write the job into the layer. Raises click.UsageError where it must not, OSError where it cannot be."""
    from oilpath.bench import bench_for
    from oilpath.documents.closed import FOLDER, closed_text, load_closed
    from oilpath.documents.edit import open_document
    from oilpath.documents.writing import write_whole
    from oilpath.judging import judge
    from oilpath.session.closing import earlier_close, job_data, job_id

    before = earlier_close(sheet, knowledge.closed, job_id(sheet, ending.found))
    if before is not None and not again:
        raise click.UsageError(f"this sheet is closed already, as {before.id}; --again writes over that")
    results = judge(sheet, bench_for(sheet.machine, knowledge))
    folder = Path(sheet_name).parent
    job = job_data(sheet, open_document(sheet_name).as_read, results, ending, folder, layer)
    path = layer / FOLDER / f"{job['id']}.yaml"
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, closed_text(job).encode("utf-8"))
    load_closed(path, knowledge)
    if before is not None and before.id != job["id"]:
        (layer / FOLDER / f"{before.id}.yaml").unlink(missing_ok=True)
    return path


def _mark(sheet_name: str, ending: Ending, after: str | None) -> None:
    """The sheet's `confirmed`: what it held before gives way."""
    from oilpath.documents.edit import open_document

    folder = Path(sheet_name).parent
    more: dict[str, Any] = {"grade": ending.grade}
    if after is not None:
        named = after if (folder / after).is_file() else os.path.relpath(after, folder)
        more["after"] = Path(named).as_posix()
    if ending.minutes is not None:
        more["minutes"] = round(ending.minutes)
    document = open_document(sheet_name)
    while document.as_read.get("confirmed"):
        document = document.remove(("confirmed", 0))
    for one in ending.found:
        entry = {"cause": one.cause, "part": one.part, "how": one.how, **more}
        document = document.append(("confirmed",), entry)
    document.save()


def _say(path: Path, sheet: Sheet, sheet_name: str, ending: Ending, known: Knowledge, units: Units) -> None:
    """What was kept, its proof, and what counts now."""
    from oilpath.bench import bench_for
    from oilpath.judging import judge
    from oilpath.reports.closing import lay_out_closed

    bench = bench_for(sheet.machine, known)
    job: Closed = next(job for job in known.closed if job.id == path.stem)
    proof = () if ending.proof is None else ending.proof.results
    words = answers.words(sheet, known, units)
    blocks = lay_out_closed(job, sheet.work, judge(sheet, bench), proof, bench.learned, words)
    said = console.page(blocks, "text")
    streams.write(f"{said}Kept in {path}; the sheet is marked.\nFor the order: oilpath order {quote(sheet_name)}\n")
