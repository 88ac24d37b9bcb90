"""`oilpath kb check` and `oilpath kb score`: the knowledge base's own checks, and how well it ranks."""

from __future__ import annotations

from pathlib import Path

import click

from oilpath.commands import console, options, streams

command = options.Group("kb", help="Check and score the knowledge base.")


@options.command("check", example="oilpath kb check", group=command)
@click.argument("folder", metavar="[FOLDER]", required=False, type=click.Path(path_type=Path))
def check(folder: Path | None) -> None:
    """Check the knowledge base: ids, sources, every rule on its cases, every cause on every kind of machine.

    FOLDER is a knowledge base; oilpath's own if left out.
    """
    from oilpath.data import data_folder
    from oilpath.kbcheck import review
    from oilpath.kbcheck.text import review_text

    if folder is not None and not folder.is_dir():
        raise click.UsageError(f"{console.shown(str(folder))} is no folder")
    found = review(folder or data_folder("kb"))
    streams.write(review_text(found))
    if found.findings:
        raise click.exceptions.Exit(console.FINDINGS)


@options.command("score", example="oilpath kb score --sheets 1000", group=command)
@click.option(
    "--sheets",
    type=options.whole_number(20, 100_000),
    metavar="NUMBER",
    default=3000,
    show_default=True,
    help="Sheets to simulate, half of them sound.",
)
@click.option(
    "--seed",
    type=options.whole_number(0, 2**32 - 1),
    metavar="NUMBER",
    default=1,
    show_default=True,
    help="Another seed gives other sheets.",
)
@click.option("--unlike", is_flag=True, help="Machines unlike the model: more scatter, other effects, gross readings.")
@click.option("--json", "as_json", is_flag=True, help="The figures as JSON.")
def score(sheets: int, seed: int, unlike: bool, as_json: bool) -> None:
    """Score the ranking on simulated sheets of the invented machines that ship with oilpath."""
    from oilpath.data import data_folder
    from oilpath.documents.load import load_machine
    from oilpath.lab.scoring import MACHINES, OWN, UNLIKE, score_json, score_text
    from oilpath.lab.scoring import score as run

    knowledge = console.read_knowledge()
    machines = [load_machine(str(data_folder("cases") / "machines" / name), knowledge) for name in MACHINES]
    scored = run(machines, knowledge, sheets, seed, UNLIKE if unlike else OWN)
    streams.write((score_json(scored) if as_json else score_text(scored)) + "\n")
