"""Sheets of a sound machine of the same kind: a weak reference where there is no limit."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from oilpath import diagnose, load_sheet
from oilpath.flow import Measured
from oilpath.problems import UnusableInput
from tests.saying import said

HEAD = "oilpath: sheet/1\nmachine: {name: Our own trainer, circuit: %s, engine-speed: 1900 rpm}\n"
USUAL = (
    "conditions: {oil-temperature: 54 °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off, "
    "working-setting: full}\n"
)
READINGS = """readings:
  - {test: cycle-time, function: boom-raise, times: [%s s]}
  - {test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 5 mm}
"""


def judged(tmp_path: Path, seconds: float, *, circuit: str = "two-pump-excavator") -> tuple[Mapping[str, Any], Any]:
    (tmp_path / "sister.yaml").write_text(HEAD % circuit + USUAL + READINGS % 4.2)
    sheet = tmp_path / "sheet.yaml"
    sheet.write_text(HEAD % "two-pump-excavator" + USUAL + "sister: [sister.yaml]\n" + READINGS % seconds)
    found = diagnose(load_sheet(sheet))
    return {one.id: one for one in found.results if isinstance(one, Measured)}, found


@pytest.mark.parametrize(("seconds", "verdict"), [(4.2, "pass"), (5.1, "near"), (7.5, "fail")])
def test_a_sister_is_a_weak_reference(tmp_path: Path, seconds: float, verdict: str) -> None:
    """A tenth or so between sound machines is common practice; only what lies far beyond it is out."""
    boom = judged(tmp_path, seconds)[0]["cycle-time/boom-raise"]
    assert (boom.verdict, boom.basis, boom.new) == (verdict, "sister", pytest.approx(4.2))
    assert "against a sister machine" in said(boom)
    assert boom.evidence.u > 0.05


def test_a_machine_of_another_kind_is_no_sister(tmp_path: Path) -> None:
    results, found = judged(tmp_path, 7.5, circuit="compact-excavator")
    assert results["cycle-time/boom-raise"].basis != "sister"
    assert any(one.id == "sister-of-another-kind" for one in found.warnings)


def test_a_sister_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.yaml"
    sheet.write_text(HEAD % "two-pump-excavator" + "sister: [nowhere.yaml]\n" + READINGS % 4)
    with pytest.raises(UnusableInput) as error:
        load_sheet(sheet)
    assert "nowhere.yaml" in str(error.value)
