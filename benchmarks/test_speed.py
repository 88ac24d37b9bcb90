"""How long a person waits: the bare start, one diagnosis from the shell, one in Python with everything loaded."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilpath.data import data_folder

COMMAND = """
import sys
from oilpath.cli import main
sys.argv[0] = "oilpath"
try:
    main()
except SystemExit as stop:
    assert not stop.code, stop.code
"""
LIBRARIES = "import numpy, pydantic, networkx, durable.engine, rich.console"

Compare = Callable[..., tuple[float, float]]


def python(code: str, *arguments: str) -> Callable[[], None]:
    """A new interpreter that runs this code."""

    def run() -> None:
        subprocess.run([sys.executable, "-c", code, *arguments], check=True, stdout=subprocess.DEVNULL, timeout=60)

    return run


@pytest.fixture(scope="module")
def sheet_file() -> Path:
    """The first demo sheet by name."""
    files = sorted((data_folder("cases") / "demo").rglob("*.yaml"))
    return next(file for file in files if file.read_text(encoding="utf-8").startswith("oilpath: sheet/"))


def test_version_costs_little_more_than_importing_the_command_library(compare: Compare) -> None:
    ours, peer = compare("oilpath --version", python(COMMAND, "--version"), "import typer", python("import typer"))
    assert ours <= peer + 0.060


def test_one_diagnosis_from_the_shell(compare: Compare, sheet_file: Path) -> None:
    """The libraries' own import is the floor; the knowledge base is compiled by the warm-up round."""
    ours, peer = compare(
        "oilpath diagnose", python(COMMAND, "diagnose", str(sheet_file)), "importing its libraries", python(LIBRARIES)
    )
    assert ours <= 2.5 * peer


def test_one_diagnosis_in_python(benchmark: Any, sheet_file: Path) -> None:
    from oilpath import diagnose, load_sheet

    sheet = load_sheet(sheet_file)
    benchmark.pedantic(diagnose, args=(sheet,), rounds=50, warmup_rounds=3)
    assert benchmark.stats.stats.median <= 0.025
