"""Closed jobs: read with their sheet, in a layer and one by one; what is wrong is said by line."""

from pathlib import Path
from typing import Any

import pytest

from oilpath.data import data_folder
from oilpath.documents.closed import closed_files, closed_text, load_closed
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.problems import UnusableInput

JOB: dict[str, Any] = {
    "oilpath": "closed/1",
    "id": "pit-07-2026-05-14",
    "circuit": "two-pump-excavator",
    "found": [{"cause": "pump.worn", "part": "pump-1", "how": "Pump exchanged: ring scored"}],
    "grade": "torn-down",
    "minutes": 410,
    "pattern": {"cycle-time/bucket-curl": "slow", "pilot-pressure": "in-order"},
    "sheet": {
        "oilpath": "sheet/1",
        "machine": str(data_folder("cases") / "machines/trainer-22t.yaml"),
        "unit-number": "007",
        "date": "2026-05-14",
        "readings": [{"test": "pilot-pressure", "pressure": "3.85 MPa"}],
    },
}


@pytest.fixture
def layer(tmp_path: Path) -> Path:
    (tmp_path / "closed").mkdir()
    (tmp_path / "closed/one.yaml").write_text(closed_text(JOB), encoding="utf-8")
    return tmp_path


def test_what_is_written_is_what_is_read(layer: Path, knowledge: Knowledge) -> None:
    (path,) = closed_files(layer)
    found = load_closed(path, knowledge)
    assert found.job.model_dump(exclude_none=True)["sheet"] == JOB["sheet"]
    assert found.sheet.unit_number == "007"  # text as written, never the number 7
    assert [one.id for one in found.sheet.readings] == ["pilot-pressure"]
    assert found.after is None


def test_a_layer_brings_its_closed_jobs_in_order_of_their_ids(layer: Path, knowledge: Knowledge) -> None:
    (layer / "closed/first.yaml").write_text(closed_text({**JOB, "id": "a"}), encoding="utf-8")
    known = load_knowledge(layer)
    assert [job.id for job in known.closed] == ["a", "pit-07-2026-05-14"]
    assert knowledge.closed == ()
    assert known.version != knowledge.version


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"grade": "sure"}, "grade"),
        ({"found": []}, "found"),
        ({"oilpath": "sheet/1"}, "a closed job is expected"),
        ({"sheet": {**JOB["sheet"], "readings": [{"test": "pilot-pressure", "pressure": "3.9 MPx"}]}}, "`MPx`"),
    ],
)
def test_what_is_wrong_is_said_by_line(layer: Path, knowledge: Knowledge, change: dict[str, object], said: str) -> None:
    path = layer / "closed/one.yaml"
    path.write_text(closed_text({**JOB, **change}), encoding="utf-8")
    with pytest.raises(UnusableInput, match=said) as caught:
        load_closed(path, knowledge)
    assert all(problem.file == str(path) and problem.line > 1 for problem in caught.value.problems)
