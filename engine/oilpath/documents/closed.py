"""Closed jobs, `oilpath: closed/1`: read whole with the sheet they hold, and written into a layer.

A job holds its sheet as plain data, so that nothing is lost when the sheet itself is. Its machine is the path of a
file, or the whole machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from oilpath.documents.emit import emitted
from oilpath.documents.nodes import read_file
from oilpath.documents.paths import is_kind
from oilpath.documents.sheet import Sheet
from oilpath.documents.sheet_reader import read_sheet
from oilpath.documents.validate import model_from
from oilpath.documents.yaml_data import top_of
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.closed import Closed
from oilpath.problems import Problems
from oilpath.records import dataclass

FOLDER: Final = "closed"
"""folder of a layer that holds its closed jobs"""
HEADER: Final = "# A closed job, as `oilpath close` writes it. Correct it here, or take it out by removing the file.\n"


@dataclass(frozen=True, slots=True)
class ClosedJob:
    """A closed job with its sheets as they are read."""

    job: Closed
    sheet: Sheet
    after: Sheet | None = None
    """of the tests made again after the repair"""


def load_closed(path: str | Path, knowledge: Knowledge) -> ClosedJob:
    """Read a closed job with its sheets and their machine. Raises UnusableInput with every problem."""
    shown, problems = str(path), Problems()
    node = read_file(Path(path), shown)
    location = top_of(node, shown, Path(path).parent, problems, Path(path))
    job = model_from(node, Closed, shown, problems) if is_kind(location, "closed") else None
    problems.raise_if_any()
    assert job is not None
    sheet = read_sheet(location.below("sheet"), shown, knowledge)
    after = read_sheet(location.below("after"), shown, knowledge) if job.after is not None else None
    problems.raise_if_any()
    assert sheet is not None
    return ClosedJob(job, sheet, after)


def closed_files(folder: str | Path) -> tuple[Path, ...]:
    """The files of the closed jobs in a layer, or in a folder of closed jobs; sorted by name."""
    inside = Path(folder) / FOLDER
    return tuple(sorted((inside if inside.is_dir() else Path(folder)).glob("*.yaml")))


def closed_text(data: Mapping[str, Any]) -> str:
    """The YAML of a closed job: a key a line, a result of the pattern a line, a reading a line."""
    lines: list[str] = []
    for key, value in data.items():
        if value is None:
            continue
        if key in ("sheet", "after"):
            lines += [f"{key}:", *_sheet_lines(value)]
        elif key in ("found", "pattern", "values") and value:
            lines.append(f"{key}:")
            items = value.items() if isinstance(value, Mapping) else ((None, one) for one in value)
            lines += [f"  {'-' if name is None else f'{emitted(name)}:'} {emitted(one)}" for name, one in items]
        else:
            lines.append(f"{emitted(key)}: {emitted(value)}")
    return HEADER + "\n".join(lines) + "\n"


def _sheet_lines(data: Mapping[str, Any]) -> list[str]:
    lines = [f"  {emitted(key)}: {emitted(value)}" for key, value in data.items() if key != "readings"]
    readings = data.get("readings") or []
    lines.append("  readings:" if readings else "  readings: []")
    return [*lines, *(f"    - {emitted(reading)}" for reading in readings)]
