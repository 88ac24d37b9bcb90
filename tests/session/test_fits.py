"""Tools of a list against what a step asks for. Which tool serves for which is common practice."""

from __future__ import annotations

import pytest

from oilpath.documents.have import HaveDraft
from oilpath.session.fits import AtHand

EVERYDAY = ("stopwatch", "hand tools")


@pytest.mark.parametrize(
    ("own", "wanted", "there"),
    [
        ("flow meter", "flow meter with load valve", True),
        ("Pressure gauges", "two pressure gauges of 1.5 times the relief pressure, or the machine's display", True),
        ("pressure gauge", "low-pressure gauge", False),
        ("pressure gauge", "depth gauge", False),
        ("thermometer", "infrared thermometer", False),
        ("infrared thermometer", "thermometer", True),
        ("measuring jug", "measuring jug or flow meter", True),
        ("lamp", "stopwatch", True),
        ("lamp", "multimeter", False),
    ],
)
def test_a_tool_serves(own: str, wanted: str, there: bool) -> None:
    assert AtHand(HaveDraft(tools=(own,)), None, EVERYDAY).has(wanted) is there


@pytest.mark.parametrize(("stand", "there"), [(True, True), (False, False), (None, False)])
def test_a_stand_has_a_key_of_its_own(stand: bool | None, there: bool) -> None:
    assert AtHand(HaveDraft(tools=("lamp",), stand=stand)).has("load-rated stand") is there


def test_what_is_missing_is_all_named() -> None:
    hand = AtHand(HaveDraft(tools=("lamp",), people=1, room="10 m"), minutes=15)
    lacks = hand.lacking(("multimeter", "lamp"), people=2, minutes=20, room=20.0)
    assert [(lack.kind, lack.what) for lack in lacks] == [
        ("tool", "multimeter"), ("people", 2.0), ("room", 20.0), ("minutes", 20),
    ]  # fmt: skip
