"""How many rows of published check values the tests of this folder cover; the row is the first word of a test's id.

A row is one published example, table or fact (letter and number: C cylinder, P pump, M motor, R relief, L leakage,
O oil, U uncertainty, D trouble code, S safety). A test without parameters begins its docstring with it.
"""

import importlib.util
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

ROW = re.compile(r"[CPMRLOUDS][0-9]+[a-z]?")
LEAST = 69
HERE = Path(__file__).parent


def _module(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"rows_of_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    try:
        spec.loader.exec_module(module)
    finally:
        del sys.modules[spec.name]
    return module


def _rows(module: ModuleType) -> Iterator[str]:
    for name, test in vars(module).items():
        if not name.startswith("test_"):
            continue
        marks = getattr(test, "pytestmark", ())
        ids = [str(i) for mark in marks if mark.name == "parametrize" for i in (mark.kwargs.get("ids") or ())]
        said = re.match(rf"({ROW.pattern})(?=:)", test.__doc__ or "")
        yield from (word for i in ids if ROW.fullmatch(word := i.split()[0]))
        if said:
            yield said.group(1)


def covered() -> dict[str, set[str]]:
    """Row → files that test it."""
    rows: dict[str, set[str]] = {}
    for path in sorted(HERE.glob("test_*.py")):
        if path != Path(__file__):
            for row in _rows(_module(path)):
                rows.setdefault(row, set()).add(path.name)
    return rows


def test_no_published_row_is_lost() -> None:
    rows = covered()
    assert len(rows) >= LEAST, sorted(rows)


def test_every_kind_of_row_is_covered() -> None:
    assert {row[0] for row in covered()} == set("CPMRLOUDS")
