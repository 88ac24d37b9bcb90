"""A folder with an invented machine and sheets of it; nothing in them is of a real machine."""

from __future__ import annotations

from pathlib import Path

import pytest

MACHINE = """oilpath: machine/1
name: Invented
circuit: circuit.yaml
engine-speed: 1900 rpm
limits:
  - {test: cycle-time, function: bucket-curl, new: 3.4 s, max: 4.0 s}
"""
SHEET = """oilpath: sheet/1
machine: machine.yaml
unit-number: T-1
hours: %s
%sreadings:
  - {test: cycle-time, function: bucket-curl, times: [%s s]}
"""


def fill(folder: Path) -> Path:
    """Write machine.yaml with circuit.yaml, early.yaml, and sheet.yaml that names early.yaml as its baseline."""
    from oilpath.data import data_folder

    circuit = (data_folder("kb") / "circuits/two-pump-excavator.yaml").read_text(encoding="utf-8")
    (folder / "circuit.yaml").write_text(circuit, encoding="utf-8")
    (folder / "machine.yaml").write_text(MACHINE, encoding="utf-8")
    (folder / "early.yaml").write_text(SHEET % (1000, "", 3.4), encoding="utf-8")
    (folder / "sheet.yaml").write_text(SHEET % (9000, "baseline: [early.yaml]\n", 4.9), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files of `fill`, for tests that leave them as they are."""
    return fill(tmp_path_factory.mktemp("sheets"))


@pytest.fixture
def own_folder(tmp_path: Path) -> Path:
    """The files of `fill`, for one test alone."""
    return fill(tmp_path)
