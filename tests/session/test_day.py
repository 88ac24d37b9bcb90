"""The plan for a day of testing. Room, temperatures and order are common practice; machines are invented."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from oilpath.documents.load import load_machine
from oilpath.documents.machine import Machine
from oilpath.knowledge.applicability import has_any
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.reports.markdown import blocks_to_markdown
from oilpath.reports.prepare import lay_out_day
from oilpath.reports.words import Words
from oilpath.session.day import DayPlan, prepare

HEAD = "oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\n"
TIMES = "limits: [{test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}]\n"
ROOT = Path(__file__).parents[2]
MACHINES = sorted(path.name for path in (ROOT / "cases/machines").glob("*.yaml"))

Made = Callable[..., DayPlan]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def machine(text: str, knowledge: Knowledge) -> Machine:
    return load_machine("-", knowledge, text=HEAD + text)


@pytest.fixture
def made(knowledge: Knowledge) -> Made:
    """The plan of a machine from the lines of its file."""
    return lambda text="": prepare(machine(text, knowledge), knowledge)


def names(plan: DayPlan) -> list[str]:
    return [test.test for test in plan.tests if test.variant is None]


def test_the_room_is_25_m_and_the_length_each_way_and_30_m_better(made: Made) -> None:
    """Common practice: 5 m of run-up and 20 m, and the machine's own length."""
    space = made("dimensions: {length: 9.5 m}\n").space
    assert space is not None
    assert (space.ahead, space.better, space.length) == (34.5, 39.5, 9.5)
    unknown = made().space
    assert unknown is not None
    assert (unknown.ahead, unknown.better, unknown.length) == (25.0, 30.0, None)


def test_a_test_with_a_limit_is_on_the_plan_and_its_limit_beside_it(made: Made) -> None:
    without, with_limit = made(), made("limits: [{test: case-drain, part: pump-1, max: 24 L/min}]\n")
    assert "case-drain" not in names(without)
    assert "case-drain" in [test.test for test in without.left_out]
    drain = next(test for test in with_limit.tests if test.test == "case-drain")
    assert [limit.max for limit in drain.limits] == [pytest.approx(24e-3 / 60)]
    assert drain.judged_by == "limit"


def test_the_order_of_a_practitioner(made: Made) -> None:
    """Common practice: codes and a look round first, cold readings before the oil is warm, engine speed before what
    hangs on it, drift while the oil is in its window, timed tests, then those that heat the oil, opened lines last."""
    plan = made("limits: [{test: case-drain, part: pump-1, max: 24 L/min}]\n")
    order = ["code", "sign", "engine-speed", "pilot-pressure", "drift", "cycle-time", "swing-time", "stall-pressure"]
    assert [name for name in names(plan) if name in order] == order
    assert names(plan)[-1] == "case-drain"
    phases = [phase.phase for phase in plan.phases]
    assert phases.index("cold") < phases.index("warm-up") < phases.index("warm") < phases.index("opened")
    assert phases[0] == "before"
    assert phases[-1] == "after"


def test_nothing_is_done_twice(made: Made) -> None:
    plan = made(TIMES)
    assert len(set(names(plan))) == len(names(plan))
    assert len(set(plan.tools)) == len(plan.tools)


def test_tests_with_the_same_attachment_follow_each_other(made: Made) -> None:
    """Drift and swing loaded, cycles empty: the attachment is changed once."""
    plan = made(
        "conditions:\n  - {test: drift, attachment: loaded}\n  - {test: cycle-time, attachment: empty}\n"
        "  - {test: swing-time, attachment: loaded}\n"
    )
    wanted = [
        test.demands.words["attachment"]
        for test in plan.tests
        if "attachment" in test.demands.words and not test.variant
    ]
    changes = sum(a != b for a, b in pairwise(wanted))
    assert changes == 1
    assert plan.words["attachment"] == "loaded"


def test_what_this_machine_demands_comes_before_common_practice(made: Made) -> None:
    plan = made("conditions: [{test: drift, oil-temperature: [48 °C, 58 °C], attachment: loaded, hold: 10 min}]\n")
    drift = next(test for test in plan.tests if test.test == "drift")
    assert drift.own_conditions
    assert drift.demands.oil_temperature == (pytest.approx(321.15), pytest.approx(331.15))
    assert drift.demands.least["hold"] == pytest.approx(600)
    assert plan.oil_temperature == (pytest.approx(323.15), pytest.approx(331.15))  # with 50 °C for the timed tests


def test_windows_that_do_not_meet_are_not_made_one(made: Made) -> None:
    assert made("conditions: [{test: drift, oil-temperature: [30 °C, 40 °C]}]\n").oil_temperature is None


def test_a_machine_is_not_tested_for_what_it_lacks(made: Made) -> None:
    plan = made("absent: [swing-motor]\n")
    every = names(plan) + [test.test for test in plan.left_out]
    assert "swing-time" not in every
    assert "travel-time" in every


def test_what_is_asked_for_only_is_not_in_the_minutes(made: Made) -> None:
    plan = made()
    made_tests = [test for test in plan.tests if test.variant is None]
    assert [test.variant for test in plan.tests if test.variant] == ["cold", "cold"]
    assert plan.minutes == sum(test.minutes for test in made_tests) + sum(phase.minutes for phase in plan.phases)
    cold = next(test for test in plan.tests if test.variant)
    assert cold.demands.oil_temperature is None


def test_engine_speed_of_this_machine(made: Made) -> None:
    plan = made("engine-speed: {test: 2000 rpm, tolerance: 2 %}\n")
    assert plan.engine_speed == pytest.approx(2000 / 60)
    assert plan.speed_window == (pytest.approx(1960 / 60), pytest.approx(2040 / 60))
    assert made().engine_speed is None


@pytest.mark.parametrize("name", MACHINES)
def test_the_plans_of_the_demo_machines(name: str, knowledge: Knowledge) -> None:
    """Every limit stands beside a test, every test has its cautions, minutes and a way to make it."""
    known = load_machine(ROOT / "cases/machines" / name, knowledge)
    plan = prepare(known, knowledge)
    assert sorted(limit.line for test in plan.tests for limit in test.limits) == sorted(
        one.line for one in known.limits
    )
    for test in plan.tests:
        assert test.minutes > 0
        assert test.how
        assert all(caution in knowledge.cautions for caution in test.cautions)
        assert test.cautions or knowledge.tests[test.test].value is None


def test_a_knowledge_base_without_a_day_still_gives_the_tests(knowledge: Knowledge) -> None:
    bare = knowledge.model_copy(update={"day": type(knowledge.day)()})
    plan = prepare(machine(TIMES, bare), bare)
    assert [phase.phase for phase in plan.phases] == ["tests"]
    assert "cycle-time" in names(plan)


def test_every_stretch_and_test_of_the_day_exists(knowledge: Knowledge) -> None:
    phases = {phase.phase for phase in knowledge.day.phases}
    assert {kind.phase for kind in knowledge.tests.values()} <= phases
    for phase in knowledge.day.phases:
        assert set(phase.tests) <= set(knowledge.tests)
        assert set(phase.cautions) <= set(knowledge.cautions)
        assert phase.variant is None or phase.variant in knowledge.variants
    classes = {part.class_ for circuit in knowledge.circuits.values() for part in circuit.parts.values()}
    for kind in knowledge.tests.values():
        assert set(kind.needs) <= classes
        assert kind.space is None or kind.space.instead is None or kind.space.instead in knowledge.tests


# --- other machines than excavators -----------------------------------------------------


def page(name: str, knowledge: Knowledge) -> str:
    known = load_machine(ROOT / "cases/machines" / name, knowledge)
    return blocks_to_markdown(lay_out_day(prepare(known, knowledge), Words(knowledge, known)))


@pytest.mark.parametrize(
    ("name", "never"),
    [
        ("training-rig.yaml", "boom arm bucket swing track tracks attachment travel tool cushion"),
        ("loader-11t.yaml", "boom arm bucket swing track tracks travel"),
    ],
)
def test_a_plan_speaks_of_what_the_machine_has(name: str, never: str, knowledge: Knowledge) -> None:
    assert not set(re.findall(r"[a-z]+", page(name, knowledge).casefold())) & set(never.split())


def test_a_rig_is_asked_for_no_engine_and_no_settings(knowledge: Knowledge) -> None:
    rig = load_machine(ROOT / "cases/machines/training-rig.yaml", knowledge)
    plan = prepare(rig, knowledge)
    assert plan.words == {}
    assert not any(test.demands.engine_speed for test in plan.tests)
    assert plan.space is None
    assert plan.ground == ()


def test_the_tests_of_a_rig_are_on_its_plan(knowledge: Knowledge) -> None:
    """It has no limits for flow, its readings are held against the earlier ones (common practice on rigs)."""
    rig = load_machine(ROOT / "cases/machines/training-rig.yaml", knowledge)
    made = {test.test: test for test in prepare(rig, knowledge).tests}
    assert {"flow-at-load", "mean-flow", "cooler-efficiency", "opening-pressure", "oil-given-back"} <= made.keys()
    assert made["flow-at-load"].judged_by == "baseline"


@pytest.mark.parametrize("name", MACHINES)
def test_no_caution_that_applies_is_lost(name: str, knowledge: Knowledge) -> None:
    known = load_machine(ROOT / "cases/machines" / name, knowledge)
    plan = prepare(known, knowledge)
    assert plan.always == knowledge.always
    for test in plan.tests:
        stated = knowledge.tests[test.test].cautions
        assert test.cautions == tuple(one for one in stated if has_any(knowledge.cautions[one].needs, known))
        assert {one for one in stated if not knowledge.cautions[one].needs} <= set(test.cautions)
