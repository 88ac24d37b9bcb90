"""The shipped cases: every sheet is read and answered, demos lead to their cause, sound machines blame nobody.

The causes are those that the sheets were simulated with (cases/README.md); that a sound machine must not be blamed, and
that a reading made under wrong conditions says nothing, is common practice.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from oilpath import diagnose, load_knowledge, load_machine, load_sheet
from oilpath.data import data_folder
from oilpath.flow import Diagnosis

CASES = data_folder("cases")
DEMOS = sorted((CASES / "demo").glob("*.yaml"))
SOUND = sorted((CASES / "sound").glob("*.yaml"))
MACHINES = sorted((CASES / "machines").glob("*.yaml"))

#: What is wrong in each demo.
TRUTH = {
    "pump-1-slow": [("pump.worn", "pump-1")],
    "boom-drift": [("holding-valve.leaking", "boom-holding-valve")],
    "arm-drift": [("cylinder.seal-leak", "arm-cylinder")],
    "one-track-slow": [("travel-motor.worn", "travel-left-motor")],
    "relief-low": [("main-relief.low", "main-relief")],
    "nothing-wrong": [("none", "machine")],
    "swing-one-way": [("swing-relief.leaking", "swing-left-relief")],
    "engine-low": [("engine.low-speed", "engine")],
    "compact-arm-slow": [("section-compensator.stuck", "arm-compensator")],
    "loader-lift-slow": [("priority-valve.holding-back", "priority-excess")],
    "rig-flow-short": [("pump.worn", "pump")],
    "rig-valve-late": [("switching-valve.slow", "switching-valve")],
    "two-causes": [("merge-valve.stuck-closed", "boom-merge-valve"), ("holding-valve.leaking", "arm-holding-valve")],
}


def _answer(path: Path) -> Diagnosis:
    return diagnose(load_sheet(path))


def _name(path: Path) -> str:
    return path.stem


def test_there_are_enough_cases_and_the_table_names_every_demo() -> None:
    assert {path.stem for path in DEMOS} == set(TRUTH)
    assert len(DEMOS) >= 7
    assert len(SOUND) >= 12
    assert len(MACHINES) >= 2


@pytest.mark.parametrize("path", MACHINES, ids=_name)
def test_machine_is_read_and_says_that_it_is_invented(path: Path) -> None:
    assert load_machine(path).limits
    assert "nvented" in path.read_text(encoding="utf-8").splitlines()[0]


@pytest.mark.parametrize("path", [*DEMOS, *SOUND], ids=_name)
def test_sheet_says_that_it_is_invented_and_holds_no_answer(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert "nvented" in text.splitlines()[0]
    assert "confirmed:" not in text  # closed jobs stand apart


@pytest.mark.parametrize("path", DEMOS, ids=_name)
def test_demo_leads_to_its_cause(path: Path) -> None:
    answer = _answer(path)
    true = TRUTH[path.stem]
    # as many groups lead as there are causes
    leading = {(answer.causes[i].cause, answer.causes[i].part) for g in answer.groups[: len(true)] for i in g.members}
    assert set(true) <= leading
    assert sum(group.probability for group in answer.groups[: len(true)]) > 0.5
    if true[0][0] == "none":
        assert not any(result.verdict == "fail" for result in answer.results)
    else:
        assert any(result.verdict == "fail" for result in answer.results)


@pytest.mark.parametrize("path", SOUND, ids=_name)
def test_sound_machine_blames_nobody(path: Path) -> None:
    answer = _answer(path)
    assert answer.causes[0].cause == "none"
    assert [c.title for c in answer.causes if c.present > 0.5 and c.cause not in ("none", "unknown")] == []
    assert answer.stop_use == ()


@pytest.mark.parametrize(
    ("name", "tests"),
    [
        ("cold-oil", {"cycle-time", "drift", "swing-time", "track-time", "travel-time", "stall-pressure"}),
        ("engine-too-fast", {"cycle-time", "swing-time", "track-time", "travel-time"}),
        ("hot-oil", {"drift"}),
        ("attachment-other", {"cycle-time", "swing-time"}),
        ("throttle-forgotten", {"track-time"}),
        ("quarry-short-holds", {"drift"}),
        ("rig-other-load", {"flow-at-load", "cooler-efficiency", "opening-pressure", "oil-given-back"}),
    ],
)
def test_readings_made_under_wrong_conditions_are_invalid(name: str, tests: set[str]) -> None:
    results = _answer(CASES / "sound" / f"{name}.yaml").results
    concerned = [result for result in results if result.test in tests]
    assert concerned
    assert {result.verdict for result in concerned} == {"invalid"}


def test_us_units_stand_for_the_same_quantities() -> None:
    sheet = load_sheet(CASES / "sound" / "quarry-1.yaml", load_knowledge())
    stall = next(reading for reading in sheet.readings if reading.test == "stall-pressure")
    # 1 psi is 6894.757 Pa (NIST SP 811, B.8)
    assert stall.values[0] == pytest.approx(5000 * 6894.757, rel=0.05)
    assert " MPa" not in (CASES / "sound" / "quarry-1.yaml").read_text(encoding="utf-8")


def test_the_developers_script_writes_a_readable_sheet() -> None:
    ran = subprocess.run(
        [
            sys.executable, "scripts/make_cases.py", "cases/machines/yard-12t.yaml", "--seed", "5", "--only", "drift/*",
            "--cause", "port-relief.leaking@boom-cap-port-relief/leaking=0.7",
        ],
        cwd=CASES.parent, capture_output=True, text=True, check=True, encoding="utf-8",
        env={**os.environ, "PYTHONUTF8": "1"},
    )  # fmt: skip
    sheet = load_sheet(CASES / "demo" / "new.yaml", text=ran.stdout)
    assert [reading.test for reading in sheet.readings] == ["drift"] * 3
    # this machine asks for a loaded attachment at the drift test
    assert {reading.conditions.attachment for reading in sheet.readings} == {"loaded"}
