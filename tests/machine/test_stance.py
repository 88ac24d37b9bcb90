"""How a machine stands: plane trigonometry of an open chain, and where the tool is to be."""

from __future__ import annotations

import math

import pytest

from oilpath.knowledge.outline import Body, Link, Outline, Spot
from oilpath.knowledge.stance import Pose, Posture
from oilpath.machine.stance import Stance, stance

SQUARE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
OUTLINE = Outline(
    bodies=(Body(body="base", shape=SQUARE, tone="dark", slews=False),),
    links=(
        Link(link="one", foot=(0.0, 2.0), length=3.0, shape=((0.0, 0.0), (3.0, 0.0), (0.0, 0.1))),
        Link(link="two", on="one", length=2.0, shape=((0.0, 0.0), (2.0, 0.0), (0.0, 0.1))),
    ),
    tool="two", seat=(0.0, 1.5), wide=3.0, run=0.5, long=3.0, spots={"here": Spot(link="two", at=(1.0, 0.0))},
)  # fmt: skip


def standing(tool: str, *, one: float = 30.0, two: float = -60.0, **posture: object) -> Stance:
    pose = Pose(title="a pose", links={"one": one, "two": two}, tool=tool)  # type: ignore[arg-type]
    return stance(OUTLINE, pose, Posture(pose="a", **posture))  # type: ignore[arg-type]


def test_links_stand_at_their_angles() -> None:
    """x = Σ l·cos θ, y = Σ l·sin θ, with angles against the horizontal: plane trigonometry."""
    found = standing("raised")
    assert found.tip[0] == pytest.approx(3 * math.cos(math.radians(30)) + 2 * math.cos(math.radians(60)))
    assert found.tip[1] == pytest.approx(2 + 3 * math.sin(math.radians(30)) - 2 * math.sin(math.radians(60)))
    middle = found.spots["here"]
    assert middle[0] == pytest.approx(found.tip[0] - math.cos(math.radians(60)))


@pytest.mark.parametrize("one", [-20.0, 10.0, 50.0])
def test_a_tool_on_the_ground_touches_it(one: float) -> None:
    assert standing("on-ground", one=one).lowest[1] == pytest.approx(0, abs=1e-6)


def test_a_tool_that_is_raised_is_clear_of_the_ground() -> None:
    assert standing("raised", one=-50.0).lowest[1] == pytest.approx(0.3)


def test_a_tool_above_its_stand_does_not_touch_it() -> None:
    assert standing("just-above", stand=True).lowest[1] > standing("just-above").lowest[1] > 0


def test_one_raised_track_leaves_the_ground_and_the_other_stays() -> None:
    tracks = [one for one in standing("on-ground", slew=90, tracks="one-raised").shapes if one.name == "track"]
    least = sorted(min(y for _, y in one.points) for one in tracks)
    assert least[0] == pytest.approx(0, abs=1e-9)
    assert least[1] > 0.1
