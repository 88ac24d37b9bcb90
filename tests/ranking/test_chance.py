"""A reading beyond a stated limit is seldom chance.

Makers set limits so that sound machines keep them (common practice).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from oilpath import diagnose, load_sheet
from oilpath.documents.load import load_machine
from oilpath.knowledge.base import Knowledge
from oilpath.ranking.chance import left_to_chance
from oilpath.ranking.evidence import Readings

MACHINE = "cases/machines/trainer-22t.yaml"


def readings_with(e: list[float], beyond: list[float]) -> Readings:
    none = np.zeros(len(e))
    out = np.array(beyond) > 0
    return Readings((), np.array(e), none, none[:, None], out, none, none, none, beyond=np.array(beyond))


@pytest.mark.parametrize(
    ("effects", "share"),
    [
        ([0.0, 0.0, 0.0], 1.0),  # moves nothing
        ([0.0, 0.0, 9.0], 1.0),  # moves what is in order
        ([-0.3, 0.0, 0.0], 1.0),  # moves it the other way
        ([0.15, 0.0, 0.0], 0.0),  # half of one of them
        ([0.075, 0.0, 0.0], 0.5),
        ([0.0, -0.4, 0.0], 0.0),
    ],
)
def test_what_moves_no_failing_reading_leaves_it_to_chance(
    knowledge: Knowledge, effects: list[float], share: float
) -> None:
    readings = readings_with([0.3, -0.4, 0.5], [1.0, 1.0, 0.0])
    factor = left_to_chance(np.array(effects), readings, knowledge.priors)
    assert factor == pytest.approx(share * math.log(knowledge.priors.out_by_chance))


def test_as_far_as_it_is_sure_to_be_beyond(knowledge: Knowledge) -> None:
    """P(seen) = P(within)·1 + P(beyond)·(share that there is), by the total probability."""
    share = knowledge.priors.out_by_chance
    factor = left_to_chance(np.array([[0.0, 0.0], [0.0, 0.4]]), readings_with([0.3, 0.4], [0.6, 0.2]), knowledge.priors)
    surest, other = math.log(0.4 + 0.6 * share), math.log(0.8 + 0.2 * share)
    assert factor == pytest.approx([surest, surest - other])


def test_where_nothing_fails_nothing_is_left_to_chance(knowledge: Knowledge) -> None:
    readings = readings_with([0.3, -0.4], [0.0, 0.0])
    assert (left_to_chance(np.zeros((3, 4, 2)), readings, knowledge.priors) == 0).all()


def test_nothing_wrong_is_told_from_a_reading_just_out_of_its_limit(knowledge: Knowledge) -> None:
    """Over a limit the odds of nothing wrong fall by more than the small step of the reading alone."""
    machine = load_machine(MACHINE, knowledge)
    limit = next(one for one in machine.limits if one.test == "cycle-time" and one.where["function"] == "bucket-curl")
    assert limit.max is not None

    def odds(seconds: float) -> float:
        text = (
            f"oilpath: sheet/1\nmachine: {MACHINE}\ncomplaint: Bucket slow\nreadings:\n"
            f"  - {{test: cycle-time, function: bucket-curl, times: {seconds:.2f} s}}\n"
        )
        answer = diagnose(load_sheet("sheet.yaml", knowledge, text=text), knowledge)
        none = next(cause.probability for cause in answer.causes if cause.cause == "none")
        return none / (1 - none)

    below, just_below, beyond, far = (odds(limit.max * share) for share in (0.93, 0.96, 1.08, 1.11))
    steps = [math.log(one / two) for one, two in ((below, just_below), (just_below, beyond), (beyond, far))]
    assert min(steps) >= 0
    assert steps[1] > steps[0] + steps[2] + 0.5
