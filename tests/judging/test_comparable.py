"""Earlier readings count where they were made as this one was; under another load nothing can be said."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from oilpath.documents.load import load_sheet
from tests import shipped
from tests.saying import sentences
from tests.steps import judge

KIND = "flow-at-load"
NAME = f"{KIND}/pump-outlet/middle"
BELOW, ABOVE = 0.05, 0.02
"""shares by which the load may differ (kb/tests.yaml)"""


def judged(folder: Path, load: float, earlier: list[float], flow: float = 20.0) -> Any:
    """One flow of an invented rig under a load [bar], with earlier ones under theirs."""
    knowledge = shipped.knowledge()
    alike = knowledge.tests[KIND].alike["load"]
    assert (alike.below, alike.above) == (BELOW, ABOVE)

    def sheet(name: str, pressure: float, value: float, more: str = "") -> Path:
        path = folder / name
        path.write_text(
            f"oilpath: sheet/1\nmachine: machine.yaml\nconditions: {{oil-temperature: 45 °C}}\n{more}readings:\n"
            f"  - {{test: {KIND}, at: pump-outlet, step: middle, flow: {value} L/min, load: {pressure:.9g} bar}}\n",
            encoding="utf-8",
        )
        return path

    (folder / "machine.yaml").write_text(
        "oilpath: machine/1\nname: Invented rig\ncircuit: hydraulic-test-rig\n", encoding="utf-8"
    )
    names = [sheet(f"old-{n}.yaml", pressure, 20.0).name for n, pressure in enumerate(earlier)]
    now = sheet("now.yaml", load, flow, f"baseline: [{', '.join(names)}]\n")
    return next(result for result in judge(load_sheet(now, knowledge), knowledge) if result.id == NAME)


def says(result: Any) -> bool:
    return any("not comparable" in note for note in sentences(result.notes))


@given(st.floats(0.9, 1.1))
@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_load_may_differ_within_its_bounds(tmp_path: Path, ratio: float) -> None:
    """Wider below, for hotter oil lowers the pressure of a load (from memory)."""
    result = judged(tmp_path, 150 * ratio, [150.0])
    inside = 1 - BELOW <= ratio <= 1 + ABOVE
    assert (result.verdict == "invalid") == says(result) == (not inside)


def test_the_reason_names_both_loads(tmp_path: Path) -> None:
    result = judged(tmp_path, 180.0, [150.0])
    why = next(note for note in sentences(result.notes) if "not comparable" in note)
    assert "18 MPa" in why
    assert "15 MPa" in why
    assert result.evidence is None


@pytest.mark.parametrize("flow", [20.0, 12.0])
def test_the_flow_itself_decides_nothing(tmp_path: Path, flow: float) -> None:
    assert judged(tmp_path, 180.0, [150.0], flow).verdict == "invalid"
    assert judged(tmp_path, 150.0, [150.0], flow).verdict == ("pass" if flow == 20 else "fail")


def test_only_those_under_the_same_load_count(tmp_path: Path) -> None:
    result = judged(tmp_path, 150.0, [150.0, 151.0, 190.0])
    assert result.verdict == "pass"
    assert any("2 earlier readings" in note for note in sentences(result.notes))
