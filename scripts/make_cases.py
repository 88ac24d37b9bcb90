"""Write one simulated sheet to standard output, to be touched up by hand (complaint, history, notes, signs).

    .venv/bin/python scripts/make_cases.py cases/machines/trainer-22t.yaml --cause pump.worn@pump-1=0.5 --seed 7 \\
        > cases/demo/pump-1-slow.yaml

A developer's tool: nothing of the package needs it. The same arguments give the same sheet.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Any

from oilpath.documents.load import load_machine
from oilpath.knowledge.compile import load_knowledge
from oilpath.lab.simulation import simulate

HEADER = "# Invented, for demonstration: simulated readings of an invented machine, touched up by hand."


def main(arguments: list[str]) -> int:
    """Read the arguments, print the sheet."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("machine", type=Path)
    parser.add_argument("--cause", action="append", default=[], metavar="CAUSE@PART[/VARIANT]=SEVERITY")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", action="append", metavar="PATTERN", help="result ids that are measured")
    parser.add_argument("--units", choices=("metric", "us"), default="metric")
    parser.add_argument("--folder", type=Path, default=Path("cases/demo"), help="where the sheet will stand")
    given = parser.parse_args(arguments)
    knowledge = load_knowledge()
    machine = load_machine(given.machine, knowledge)
    path = os.path.relpath(given.machine, given.folder)
    causes = [_cause(text) for text in given.cause]
    sheet = simulate(machine, knowledge, causes, given.seed, only=given.only, units=given.units, path=path)
    sys.stdout.write(as_text(sheet))
    return 0


def _cause(text: str) -> tuple[tuple[str, str, str | None], float]:
    place, _, severity = text.partition("=")
    cause, _, part = place.partition("@")
    part, _, variant = part.partition("/")
    return (cause, part, variant or None), float(severity or 0.5)


def as_text(sheet: dict[str, Any]) -> str:
    """A sheet as YAML, one line for each reading."""
    lines = [HEADER]
    for key, value in sheet.items():
        if key == "readings":
            lines += ["readings:", *(f"  - {_flow(reading)}" for reading in value)]
        else:
            lines.append(f"{key}: {_flow(value)}")
    return "\n".join(lines) + "\n"


def _flow(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_flow(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(inner) for inner in value) + "]"
    return str(value)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
