"""`oilpath kb check` and `oilpath kb score`: the knowledge base's own checks, and how well it ranks."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from shlex import quote
from typing import Final

import click

from oilpath.commands import completing, console, options, streams

command = options.Group(
    "kb",
    help="Check, add to and score the knowledge base.",
    examples=("oilpath kb new cause hose.chafed --kb my-kb", "oilpath kb check --kb my-kb"),
)
OWN_FOLDER: Final = "my-kb"
"""where skeletons go when no folder is named"""


@options.command("check", examples=("oilpath kb check", "oilpath kb check --kb my-kb"), group=command)
@click.argument("folder", metavar="[FOLDER]", required=False, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Findings and notes as JSON.")
def check(folder: Path | None, as_json: bool) -> None:
    """Check the knowledge base: ids, sources, every rule on its cases, every cause on every kind of machine.

    With --kb it reports on that folder alone: what is wrong in it, what it replaces, what it takes away.
    FOLDER is a whole knowledge base; oilpath's own if left out.
    """
    from oilpath import kbcheck
    from oilpath.data import data_folder
    from oilpath.kbcheck.text import review_json, review_text
    from oilpath.knowledge.compile import base_knowledge, load_knowledge

    if folder is not None and not os.path.isdir(folder):
        raise click.UsageError(f"{console.shown(str(folder))} is not a folder")
    wanted = console.layers(options=True) or console.layers()
    if folder is not None and console.layers(options=True):
        raise click.UsageError("FOLDER is a whole knowledge base, --kb a layer over oilpath's own; one of the two")
    if folder is None and wanted:
        beneath = [name for name in console.layers() if name not in wanted]
        found = kbcheck.review_layers(load_knowledge(*beneath) if beneath else base_knowledge(), wanted)
        subject = ", ".join(console.shown(name) for name in wanted)
    else:
        found, subject = kbcheck.review(folder or data_folder("kb")), "The knowledge base"
    streams.write(review_json(found) if as_json else review_text(found, subject))
    if found.findings:
        raise click.exceptions.Exit(console.FINDINGS)


@options.command("new", examples=("oilpath kb new cause hose.chafed --kb my-kb",), group=command)
@click.argument("kind", metavar="KIND", shell_complete=completing.kinds_of_entry)
@click.argument("name", metavar="[ID]", required=False)
@click.option("--like", metavar="ID", help="Start from this entry, as it stands.")
def new(kind: str, name: str | None, like: str | None) -> None:
    """Write a commented skeleton for a cause, rule, check or sign of your own.

    KIND is cause, rule, check or sign; ID its name, for a rule also that of the sign that it is to be about. It goes
    into the folder of --kb, else of OILPATH_KB, else my-kb. No file is ever written over.
    """
    from oilpath.kbcheck import as_far_as_read
    from oilpath.knowledge import skeletons
    from oilpath.knowledge.compile import base_knowledge

    found = skeletons.kind_of(kind)
    if found is None:
        raise click.UsageError(f"KIND: there is no kind {console.shown(kind)}; one of {', '.join(skeletons.KINDS)}")
    wanted = name if name is not None else skeletons.USUAL_ID[found]
    if wrong := skeletons.wrong_id(found, wanted):
        raise click.UsageError(f"ID: {console.shown(wanted)} {wrong}")
    layers = console.layers() or (OWN_FOLDER,)
    known = as_far_as_read(base_knowledge(), layers)
    if like is not None and (near := skeletons.absent(found, like, known)) is not None:
        raise click.UsageError(f"--like: there is no {found} {console.shown(like)}{near}")
    path = skeletons.write_skeleton(Path(layers[-1]), found, wanted, known, like)
    ships = skeletons.absent(found, wanted, known) is None
    streams.write(
        f"Wrote {path}. Fill it in, then look at it and use it:\n\n"
        f"  oilpath kb check --kb {quote(layers[-1])}\n  oilpath diagnose --kb {quote(layers[-1])} SHEET\n"
        + (f"\nThe {found} {wanted} ships with oilpath; yours stands in its place.\n" if ships else "")
    )


@options.command("score", examples=("oilpath kb score --sheets 100",), group=command)
@click.option(
    "--sheets",
    type=options.whole_number(20, 100_000),
    metavar="NUMBER",
    help="Sheets to simulate, half of them sound (3000 if left out); with --family of each kind (200).",
)
@click.option(
    "--seed",
    "seeds",
    type=options.whole_number(0, 2**32 - 1),
    metavar="NUMBER",
    default=(1,),
    multiple=True,
    help="Another seed gives other sheets (1 if left out); with --family several may be given.",
)
@click.option("--unlike", is_flag=True, help="Machines unlike the model: more scatter, other effects, gross readings.")
@click.option("--family", is_flag=True, help="Machines apart from the model, drawn from a family of their own.")
@click.option(
    "--closed", metavar="[FOLDER]", is_flag=False, flag_value="", help="Replay closed jobs, each without itself."
)
@click.option("--kind", "kinds", metavar="KIND", multiple=True, help="With --family: this kind of machine only.")
@click.option(
    "--jobs",
    type=options.whole_number(1, 64),
    metavar="NUMBER",
    default=1,
    show_default=True,
    help="With --family: processes that share the work.",
)
@click.option("--json", "as_json", is_flag=True, help="The figures as JSON.")
def score(
    sheets: int | None, seeds: tuple[int, ...], unlike: bool, family: bool, closed: str | None, kinds: tuple[str, ...],
    jobs: int, as_json: bool,
) -> None:  # fmt: skip
    """Score the ranking on simulated sheets of the invented machines that ship with oilpath, or of a family apart."""
    if closed is not None:
        if family or unlike or sheets or kinds:
            raise click.UsageError("--closed goes alone, or with --json")
        _score_closed(closed, as_json)
        return
    if family:
        if unlike:
            raise click.UsageError("--unlike is for oilpath's own machines, not for --family")
        _score_family(sheets or 200, seeds, kinds, jobs, as_json)
        return
    if kinds or jobs > 1 or len(seeds) > 1:
        raise click.UsageError("--kind, --jobs and several seeds go with --family")
    from oilpath.data import data_folder
    from oilpath.documents.load import load_machine
    from oilpath.lab.scoring import MACHINES, OWN, UNLIKE, score_json, score_text
    from oilpath.lab.scoring import score as run

    knowledge = console.read_knowledge()
    machines = [load_machine(str(data_folder("cases") / "machines" / name), knowledge) for name in MACHINES]
    with _watching() as watch:
        scored = run(machines, knowledge, sheets or 3000, seeds[0], UNLIKE if unlike else OWN, watch=watch)
    streams.write((score_json(scored) if as_json else score_text(scored)) + "\n")


@contextmanager
def _watching() -> Iterator[Callable[[int, int], None]]:
    """Show on a terminal how many sheets are done, and wipe that at the end."""
    try:
        yield lambda number, total: streams.progress(number, "sheets scored", total)
    finally:
        streams.progress(0, "", 2)


def _score_closed(folder: str, as_json: bool) -> None:
    """Replay the closed jobs of the layers, or of a folder."""
    from oilpath.documents.closed import closed_files
    from oilpath.lab.closed_score import closed_json_of, closed_text_of, replay

    folders = (folder,) if folder else console.layers()
    if not any(closed_files(one) for one in folders):
        raise click.UsageError("there is no closed job; --closed FOLDER or --kb DIR names where they are")
    counted, alone = replay(folders, console.read_knowledge())
    streams.write((closed_json_of(counted, alone) if as_json else closed_text_of(counted, alone)) + "\n")


def _score_family(sheets: int, seeds: tuple[int, ...], kinds: tuple[str, ...], jobs: int, as_json: bool) -> None:
    """Score the ranking on the family: so many sheets of each kind, for each seed and kind of machine."""
    from oilpath.lab.family import KINDS
    from oilpath.lab.family_score import family_json, family_text, run

    unknown = [kind for kind in kinds if kind not in KINDS]
    if unknown:
        known = ", ".join(KINDS)
        raise click.BadParameter(f"{unknown[0]!r} is not a kind of the family: {known}", param_hint="--kind")
    knowledge = console.read_knowledge()
    with _watching() as watch:
        outcomes = run(sheets, seeds=seeds, kinds=kinds or KINDS, jobs=jobs, knowledge=knowledge, watch=watch)
    streams.write((family_json(outcomes) if as_json else family_text(outcomes)) + "\n")
