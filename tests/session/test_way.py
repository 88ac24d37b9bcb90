"""Whole ways, from a demo sheet to the part at fault: each outcome is the one that its check most likely has."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from oilpath.bench import bench_for
from oilpath.commands.next import Walk
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.outcomes import likelihoods

CASES = Path(__file__).parents[2] / "cases"
MOST_STEPS = 9


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


#: Sheets of our own invention with a fault that could have made them. A way that ends at another part would send a
#: technician to the wrong place, whatever it cost.
@pytest.mark.parametrize(
    ("case", "cause", "part"),
    [
        ("boom-drift", "holding-valve.leaking", "boom-holding-valve"),
        ("boom-drift", "cylinder.seal-leak", "boom-cylinder-left"),
        ("one-track-slow", "travel-motor.worn", "travel-left-motor"),
        ("one-track-slow", "swivel.cross-leak", "swivel-joint"),
        ("pump-1-slow", "pump.worn", "pump-1"),
        ("swing-one-way", "swing-relief.leaking", "swing-left-relief"),
    ],
)
def test_the_way_ends_at_the_part_at_fault(
    case: str, cause: str, part: str, tmp_path: Path, knowledge: Knowledge
) -> None:
    shutil.copytree(CASES / "machines", tmp_path / "machines")
    (tmp_path / "demo").mkdir()
    sheet = Path(shutil.copy(CASES / f"demo/{case}.yaml", tmp_path / "demo"))
    walk = Walk(str(sheet), knowledge, "si")
    bench = bench_for(walk.sheet.machine, knowledge)
    kinds = {check.check: check for check in knowledge.checks}
    made = 0
    for _ in range(MOST_STEPS):
        shown = walk.shown()
        if shown.standing.kind == "proved" or not shown.steps:
            break
        check = shown.steps[0].check
        if check is None:  # a reading: nobody is there to make it
            reading = shown.steps[0].reading
            assert reading is not None
            walk.passed.add(reading.slot.id)
            continue
        chance = likelihoods(kinds[check.check], check.part, bench, [(cause, part)])[:, 0]
        passed = set(walk.passed)
        outcome = kinds[check.check].outcomes[int(chance.argmax())].outcome
        walk.record("outcome", f"{check.check}@{check.part}={outcome}")
        walk.passed |= passed
        made += 1
    shown = walk.shown()
    assert shown.standing.kind in ("one-part", "proved")
    assert shown.standing.causes[0].part == part
    assert made == sheet.read_text("utf-8").count("test: check,") - (CASES / f"demo/{case}.yaml").read_text(
        "utf-8"
    ).count("test: check,")
