"""Topics are found by id and by title; what is not found names what is like it."""

from __future__ import annotations

import pytest

from oilpath.explore.topics import NoTopic, Topic, find
from oilpath.knowledge.base import Knowledge


@pytest.mark.parametrize(
    ("text", "topic"),
    [
        ("pump.worn", Topic("cause", "pump.worn")),
        ("pump.worn@pump-2", Topic("cause", "pump.worn", "pump-2")),
        ("Worn main pump 2", Topic("cause", "pump.worn", "pump-2")),
        ("worn main pump", Topic("cause", "pump.worn")),
        ("boom-falls", Topic("sign", "boom-falls")),
        ("BOOM FALLS", Topic("sign", "boom-falls")),
        ("sign-boom-falls", Topic("sign", "boom-falls")),
        ("Everything is slow", Topic("symptom", "all-slow")),
        ("check/case-drain", Topic("check", "case-drain")),
        ("main pump 1", Topic("part", "pump-1")),
        ("boom raise", Topic("function", "boom-raise")),
        ("cycle-time/boom-raise", Topic("test", "cycle-time", reading="cycle-time/boom-raise")),
    ],
)
def test_an_id_and_a_title_find_the_same(text: str, topic: Topic, knowledge: Knowledge) -> None:
    assert topic in find(text, knowledge)


def test_a_name_of_a_test_and_of_a_check_finds_both(knowledge: Knowledge) -> None:
    assert [one.kind for one in find("case-drain", knowledge)] == ["test", "check"]


def test_every_id_of_the_knowledge_base_finds_its_entry(knowledge: Knowledge) -> None:
    for cause in knowledge.causes:
        assert Topic("cause", cause.cause) in find(cause.cause, knowledge)
    for check in knowledge.checks:
        assert Topic("check", check.check) in find(check.check, knowledge)
    for sign, known in knowledge.signs.items():
        assert Topic("sign", sign) in find(sign, knowledge)
        assert Topic("sign", sign) in find(known.title, knowledge)


@pytest.mark.parametrize(("text", "near"), [("pump.wron", "pump.worn"), ("boom fals", "boom-falls")])
def test_what_is_not_found_names_what_is_like_it(text: str, near: str, knowledge: Knowledge) -> None:
    with pytest.raises(NoTopic) as caught:
        find(text, knowledge)
    assert near in caught.value.nearest
