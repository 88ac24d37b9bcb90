"""Start-up: `import oilpath` and `oilpath --version` load none of the heavy libraries."""

import ast
import os
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path

import pytest

import oilpath

HEAVY = (
    "numpy",
    "pydantic",
    "networkx",
    "durable",
    "yaml",
    "pint",
    "graphviz",
    "rich",
    "sqlalchemy",
    "alembic",
    "starlette",
    "uvicorn",
)

LOADED = f"""
import sys
HEAVY = {HEAVY!r}
{{code}}
print("loaded:", *sorted(name for name in HEAVY if name in sys.modules))
"""

VERSION = """
import oilpath.cli
assert oilpath.cli.run(["--version"]) == 0
"""


def run_fresh(code: str) -> str:
    """The standard output of a new interpreter that runs this code."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(Path(oilpath.__file__).parents[1])},  # the same oilpath as in this test
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_importing_the_package_loads_nothing_heavy() -> None:
    assert run_fresh(LOADED.format(code="import oilpath")).split() == ["loaded:"]


def test_version_says_the_version_and_loads_nothing_heavy() -> None:
    said, loaded = run_fresh(LOADED.format(code=VERSION)).strip().splitlines()
    assert oilpath.__version__ in said
    assert loaded.split() == ["loaded:"]


def test_the_command_is_installed_under_its_name() -> None:
    (command,) = entry_points(group="console_scripts", name="oilpath")
    assert command.value == "oilpath.cli:main"
    assert command.load() is oilpath.cli.main  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", oilpath.__all__)
def test_every_export_is_there(name: str) -> None:
    assert getattr(oilpath, name) is not None
    assert name in dir(oilpath)


def test_every_export_is_what_type_checkers_are_told() -> None:
    """The TYPE_CHECKING block and the table that loads the names say the same."""
    tree = ast.parse(Path(oilpath.__file__).read_text(encoding="utf-8"))
    told = {
        alias.name: node.module
        for block in tree.body
        if isinstance(block, ast.If)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert told == oilpath._HOME_OF


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nothing_like_it'"):
        oilpath.nothing_like_it  # noqa: B018
