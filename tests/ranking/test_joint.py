"""Readings weighed together, on the demo sheets of our own invention."""

from __future__ import annotations

from pathlib import Path

import pytest

from oilpath import Diagnosis, diagnose, load_sheet
from oilpath.data import data_folder

DEMO = data_folder("cases") / "demo"


@pytest.fixture(scope="module")
def track() -> Diagnosis:
    return diagnose(load_sheet(DEMO / "one-track-slow.yaml"))


def test_redundant_readings_speak_together(track: Diagnosis) -> None:
    """Four times of a slow track repeat each other: together they say more than any of them does alone."""
    lead = track.causes[0]
    alone = {one.result: one.weight for one in lead.speaks_for}
    best = lead.together[0]
    assert len(best.results) > 1
    assert best.weight > max(alone.get(result, 0.0) for result in best.results)


def test_groups_are_of_one_test_and_hold_a_reading_that_is_out(track: Diagnosis) -> None:
    out = {one.id for one in track.results if one.verdict in ("fail", "near")}
    groups = [one.results for one in track.causes[0].together]
    assert groups
    for group in groups:
        assert len({result.partition("/")[0] for result in group}) == 1
        assert out.intersection(group)


@pytest.mark.parametrize("path", sorted(DEMO.glob("*.yaml")), ids=lambda path: path.stem)
def test_a_cause_that_leads_never_stands_without_its_reasons(path: Path) -> None:
    found = diagnose(load_sheet(path))
    lead = found.causes[0]
    if lead.cause not in ("none", "unknown"):
        assert max([*(one.weight for one in lead.speaks_for), *(one.weight for one in lead.together)]) > 0.5
