"""What `kb check` finds in the closed jobs of a layer."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from oilpath.data import data_folder
from oilpath.kbcheck import review_layers
from oilpath.knowledge.compile import base_knowledge

JOB = "pit-07-2024-03-04-suction-restricted.yaml"


@pytest.fixture
def layer(tmp_path: Path) -> Path:
    shutil.copytree(data_folder("cases") / "machines", tmp_path / "my-kb/machines")
    (tmp_path / "my-kb/closed").mkdir()
    shutil.copy(data_folder("cases") / "closed" / JOB, tmp_path / "my-kb/closed" / JOB)
    return tmp_path / "my-kb"


def found(layer: Path) -> list[tuple[str, str]]:
    return [(one.file.rpartition("/")[2], one.message) for one in review_layers(base_knowledge(), [layer]).findings]


def test_a_job_that_can_be_read_is_in_order(layer: Path) -> None:
    assert found(layer) == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("suction.restricted", "suction.gone", "names the cause suction.gone, which does not exist"),
        ("part: suction, how", "part: funnel, how", "names the part funnel, which does not exist"),
        ("test: pilot-pressure", "test: pilot-presure", "pilot-presure"),
        ("trainer-22t.yaml", "trainer-99t.yaml", "trainer-99t.yaml"),
    ],
)
def test_what_no_longer_fits_is_found(layer: Path, old: str, new: str, said: str) -> None:
    path = layer / "closed" / JOB
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    assert any(file == JOB and said in message for file, message in found(layer))
