"""Several sheets over several processes: the same bytes, order, errors and status as one after the other."""

import shutil
from pathlib import Path

import pytest

from oilpath.data import data_folder
from tests.running import as_process

CASES = data_folder("cases")


@pytest.fixture
def sheets(tmp_path: Path) -> list[str]:
    """Four sheets of two machines, one that cannot be read, one that is not there."""
    for folder in ("demo", "machines"):
        shutil.copytree(CASES / folder, tmp_path / folder)
    names = sorted(path.name for path in (tmp_path / "demo").glob("*.yaml"))[:4]
    (tmp_path / "demo" / "broken.yaml").write_text("oilpath: sheet/1\nreadings: [\n", encoding="utf-8")
    return [str(tmp_path / "demo" / name) for name in (*names, "broken.yaml", "missing.yaml")]


@pytest.mark.parametrize("format_", ["text", "markdown", "json", "jsonl"])
def test_answers_errors_order_and_status_are_the_same(sheets: list[str], format_: str) -> None:
    alone = as_process("diagnose", "--format", format_, *sheets)
    spread = as_process("diagnose", "--format", format_, "--jobs", "3", *sheets)
    assert alone.status == 2
    assert alone.out
    assert spread == alone


def test_standard_input_is_read_by_the_process_that_has_it(sheets: list[str]) -> None:
    place = f"machine: {Path(sheets[1]).parents[1]}/"
    text = Path(sheets[1]).read_text(encoding="utf-8").replace("machine: ../", place)
    names = [sheets[0], "-", sheets[2]]
    alone, spread = (as_process("diagnose", "--jobs", jobs, *names, input=text.encode()) for jobs in ("1", "2"))
    assert alone.status == 0
    assert spread == alone


@pytest.mark.parametrize("jobs", ["0", "65", "two"])
def test_a_number_of_processes_that_makes_no_sense(sheets: list[str], jobs: str) -> None:
    refused = as_process("diagnose", "--jobs", jobs, *sheets)
    assert refused.status == 2
    assert "--jobs" in refused.err
    assert not refused.out
