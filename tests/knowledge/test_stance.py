"""How machines stand for tests and checks: data that is whole, and what people may do alone."""

import pytest
from pydantic import ValidationError

from oilpath.knowledge.compile import load_knowledge
from oilpath.knowledge.stance import Place, Port, Pose


def test_every_check_and_every_test_that_people_make_says_how_the_machine_stands() -> None:
    known = load_knowledge()
    assert [one.check for one in known.checks if one.posture is None or one.place is None] == []
    made = {name: test for name, test in known.tests.items() if not test.derived and name != "check"}
    rig = {"flow-at-load", "mean-flow", "cooler-efficiency", "opening-pressure", "oil-given-back"}
    assert {name for name, test in made.items() if test.posture is None} == rig


def test_nobody_is_under_or_beside_what_moves() -> None:
    """29 CFR 1926.600 (read in summary) and common practice: nobody but the operator is within reach while it moves."""
    known = load_knowledge()
    checks = [(one.title, one.posture, one.place) for one in known.checks]
    tests = [(one.title, one.posture, one.place) for one in known.tests.values()]
    moving = [(title, p, at) for title, p, at in (*checks, *tests) if p is not None and p.moves != "nothing"]
    assert len(moving) > 30
    for title, posture, place in moving:
        assert place is not None
        near = [person for person in place.people if person.at not in ("seat", "away")]
        assert not near or posture.moves == "function", title
        assert place.clear != "around", title


def test_a_held_load_is_tested_over_a_stand() -> None:
    """Common practice: drift is measured with a load-rated stand under the tool."""
    known = load_knowledge()
    drift = known.tests["drift"]
    assert drift.posture is not None
    assert drift.posture.stand
    assert known.poses[drift.posture.pose].tool == "just-above"
    for check in known.checks:
        if "stand-under-tool" in check.cautions or "load-on-stand" in check.cautions:
            assert check.posture is not None
            assert check.posture.stand or known.poses[check.posture.pose].tool != "just-above", check.check


def test_a_lane_and_a_port_that_is_missing_are_said_whole() -> None:
    with pytest.raises(ValidationError, match="lane"):
        Place.model_validate({"clear": "lane"})
    with pytest.raises(ValidationError, match="may not exist"):
        Port.model_validate({"at": "pump inlet", "usual": False})
    with pytest.raises(ValidationError, match="no angle"):
        Pose.model_validate({"title": "-", "links": {"boom": 200}})
