"""Strata of rules taken away one by one, from the top and from below: what the answers to the demo sheets lose.

Rules of a stratum that nobody would miss have no place. The demo sheets and their stories are our own invention.
"""

from __future__ import annotations

from functools import cache

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.bench import bench_of
from oilpath.data import data_folder
from oilpath.flow import Fact, Suspicions
from oilpath.judging import judge
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.rule import Rule
from oilpath.rules.engine import Rules, suspect
from oilpath.rules.facts import relate
from oilpath.rules.strata import strata

DEMO = data_folder("cases") / "demo"
LEVELS = strata(load_knowledge().rules)
TOP = max(LEVELS.values())
NOTHING = frozenset[object]()


@cache
def facts() -> dict[str, tuple[Fact, ...]]:
    """The facts of every demo sheet; rules change none of them."""
    known, found = load_knowledge(), {}
    for path in sorted(DEMO.glob("*.yaml")):
        sheet = load_sheet(path, known)
        bench = bench_of(sheet, known)
        found[path.stem] = relate(judge(sheet, bench), bench)
    return found


def without(*levels: int) -> Knowledge:
    """The shipped knowledge with the rules of these strata taken away."""
    kept: tuple[Rule, ...] = tuple(rule for rule in load_knowledge().rules if LEVELS[rule.id] not in levels)
    return load_knowledge().model_copy(update={"rules": kept})


@cache
def said(*levels: int) -> dict[str, Suspicions]:
    rules = Rules(without(*levels))
    return {name: suspect(some, rules) for name, some in facts().items()}


def conclusions(found: dict[str, Suspicions]) -> dict[str, set[object]]:
    """What is concluded, by sheet: causes suspected, cleared, tests asked for, warnings."""
    return {
        "suspected": {(name, one.cause, one.part) for name, all_ in found.items() for one in all_.suspicions},
        "cleared": {(name, *one) for name, all_ in found.items() for step in all_.steps for one in step.cleared},
        "asked": {(name, one) for name, all_ in found.items() for step in all_.steps for one in step.asks},
        "warned": {(name, one.rule) for name, all_ in found.items() for one in all_.warnings},
    }


def steps(found: dict[str, Suspicions]) -> set[tuple[str, str]]:
    return {(name, step.rule) for name, all_ in found.items() for step in all_.steps}


@pytest.mark.parametrize("level", range(2, TOP + 1))
def test_each_upper_stratum_concludes_what_those_below_do_not(level: int) -> None:
    """From the top: the steps of the stratum go, all others stay, and conclusions go with them."""
    before, after = said(*range(level + 1, TOP + 1)), said(*range(level, TOP + 1))
    lost = steps(before) - steps(after)
    assert {LEVELS[rule] for _, rule in lost} == {level}
    assert steps(after) < steps(before)
    whole, left = conclusions(before), conclusions(after)
    assert all(left[kind] <= whole[kind] for kind in whole)
    assert any(left[kind] < whole[kind] for kind in ("suspected", "cleared", "warned"))


def test_only_rules_on_rules_clear_and_ask() -> None:
    """What several results share is said in the first stratum; what follows from it is not."""
    whole, first = conclusions(said()), conclusions(said(*range(2, TOP + 1)))
    assert whole["cleared"]
    assert whole["asked"]
    assert first["cleared"] == first["asked"] == NOTHING
    assert len(first["suspected"]) < len(whole["suspected"])


@pytest.mark.parametrize("level", range(1, TOP))
def test_what_rested_on_a_stratum_falls_silent_without_it(level: int) -> None:
    """From below: nothing stays up in the air; only what rests on no rule that was taken away is still said."""
    before, after = said(), said(level)
    lost = {LEVELS[rule] for _, rule in steps(before) - steps(after)}
    assert {level, TOP} <= lost if level < TOP - 1 else level in lost
    assert steps(after) <= steps(before)
    known = {rule.id: rule for rule in load_knowledge().rules}
    words = {word for rule in without(level).rules for narrowing in rule.asserts for word in [narrowing["to"]]}
    for _, rule in steps(after):
        for condition in known[rule].when:
            if condition.fact == "narrowed":
                assert words & set(condition.slots["to"].removeprefix("not ").split(" or "))


@pytest.mark.parametrize(
    ("sheet", "rule", "what"),
    [
        ("pump-1-slow", "pull-pump-leaks", "suspects"),
        ("relief-low", "stall-low-times-in-order", "suspects"),
        ("one-track-slow", "raised-track-slow", "steps"),
        ("boom-drift", "one-cylinder-drifts", "suspects"),
    ],
)
def test_a_step_of_a_demo_case_needs_its_stratum(sheet: str, rule: str, what: str) -> None:
    """By name, one for each story: the step that a technician would take is that of this rule."""
    here = {step.rule: step for step in said()[sheet].steps}
    assert rule in here
    if what == "suspects":
        assert here[rule].suspects
    assert rule not in {step.rule for step in said(LEVELS[rule])[sheet].steps}


def test_an_answer_without_its_upper_rules_has_no_chain() -> None:
    """The shares stay, for patterns never change odds; what goes is why: the chain, and what is cleared."""
    sheet = load_sheet(DEMO / "one-track-slow.yaml")
    whole, flat = diagnose(sheet), diagnose(sheet, without(*range(2, TOP + 1)))
    assert any(one.after for one in whole.reasons)
    assert not any(one.after for one in flat.reasons)
    assert any(one.cleared for one in whole.reasons)
    assert not any(one.cleared for one in flat.reasons)
    assert whole.causes[0].cause == flat.causes[0].cause
    assert whole.causes[0].probability == pytest.approx(flat.causes[0].probability, abs=0.02)


def test_an_answer_without_any_rule_says_that_nothing_foresaw_it() -> None:
    sheet = load_sheet(DEMO / "pump-1-slow.yaml")
    bare = diagnose(sheet, without(*range(1, TOP + 1)))
    assert bare.suspicions == bare.reasons == ()
    assert "not-foreseen" in {one.id for one in bare.warnings}
    assert "not-foreseen" not in {one.id for one in diagnose(sheet).warnings}
