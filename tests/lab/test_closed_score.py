"""Closed jobs replayed one by one without themselves; the invented ones that ship are what their README says."""

from __future__ import annotations

import json

import pytest

from oilpath.data import data_folder
from oilpath.documents.closed import ClosedJob, closed_files, load_closed
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.lab.closed_score import closed_json_of, closed_text_of, figures, replay

FOLDER = data_folder("cases") / "closed"


@pytest.fixture(scope="module")
def known() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def jobs(known: Knowledge) -> list[ClosedJob]:
    return [load_closed(path, known) for path in closed_files(FOLDER)]


def test_the_shipped_jobs_are_what_their_readme_says(jobs: list[ClosedJob], known: Knowledge) -> None:
    causes = {cause.cause for cause in known.causes}
    assert len(jobs) == 43
    assert len({one.job.id for one in jobs}) == 43
    assert sum(len(one.job.found) > 1 for one in jobs) == 10
    assert sum(any(remedy.helped is False for remedy in one.sheet.remedies) for one in jobs) == 5
    units = [one.sheet.unit_number for one in jobs]
    assert len(set(units)) < len(units)
    for one in jobs:
        assert one.sheet.complaint
        assert (one.after is not None) == (one.job.grade == "retested")
        for found in one.job.found:
            assert found.how
            assert found.cause in causes or found.cause == "none"
            assert found.part in one.sheet.machine.circuit.parts


@pytest.mark.slow
def test_replayed_without_themselves(known: Knowledge) -> None:
    counted, alone = replay([FOLDER], known)
    assert len(counted) == len(alone) == 43
    assert 0.5 < figures(counted)["first-three"] <= 1  # type: ignore[operator]  # loose: they are simulated
    data = json.loads(closed_json_of(counted, alone))
    assert data["counted"] == figures(counted)
    assert "each left out in turn" in closed_text_of(counted, alone)
    own = {one.job: one for one in alone}
    moved = [one for one in counted if abs(one.probability - own[one.job].probability) > 1e-6]
    assert moved  # the others count
