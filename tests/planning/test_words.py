"""Cautions of what is named, each once and the general ones first; what the sheet lacks."""

from oilpath.documents.machine import Machine
from oilpath.flow import NextCheck, NotMeasured, ReadingResult, Result, sign_result
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Sign
from oilpath.planning import cautions_for, not_measured


def result(test: str, verdict: str = "pass") -> Result:
    return ReadingResult(f"{test}/x", test, {}, verdict, 1.0, None)  # type: ignore[arg-type]


def step(check: str) -> NextCheck:
    return NextCheck(check, "boom-cylinder", 1.0, 1.0, (), (), (), ())


def test_the_general_cautions_stand_first_in_every_answer(knowledge: Knowledge) -> None:
    always = tuple(knowledge.cautions[name].says for name in knowledge.always)
    assert 2 <= len(always) <= 3
    assert cautions_for((), (), knowledge) == always
    assert cautions_for((result("drift"),), (step("plug-loaded-line"),), knowledge)[: len(always)] == always
    assert any("manual" in says for says in always)


def test_cautions_of_checks_and_tests_each_once(knowledge: Knowledge) -> None:
    said = cautions_for((result("drift"), result("drift")), (step("plug-loaded-line"),), knowledge)
    assert len(said) == len(set(said))
    named = {*knowledge.tests["drift"].cautions}
    named |= {name for check in knowledge.checks if check.check == "plug-loaded-line" for name in check.cautions}
    assert {knowledge.cautions[name].says for name in named} <= set(said)


def test_a_machine_is_told_what_it_has(knowledge: Knowledge) -> None:
    """Common practice: a track can pull in whoever stands beside it; a rig has none."""
    track = knowledge.cautions["block-the-track"].says
    for circuit, told in (("two-pump-excavator", True), ("hydraulic-test-rig", False)):
        machine = Machine(name="Invented", circuit=knowledge.circuits[circuit])
        said = cautions_for((), (step("case-drain"),), knowledge, machine)
        assert (track in said) == told
        assert knowledge.cautions["hot-oil"].says in said


def test_cautions_of_a_sign_that_is_seen(knowledge: Knowledge) -> None:
    """A falling load: nobody near it (common practice), whatever tests are on the sheet."""
    sign = Sign(title="Load falls", look="It sinks.", cautions=("exclusion-zone",), source="common practice")
    known = knowledge.model_copy(update={"signs": {"load-falls": sign}})
    zone = known.cautions["exclusion-zone"].says
    for seen in (True, False):
        found = sign_result({"sign": "load-falls"}, seen)
        assert (zone in cautions_for((found,), (), known)) == seen


def test_an_unknown_test_or_check_adds_nothing(knowledge: Knowledge) -> None:
    assert cautions_for((result("no-test"),), (step("no-check"),), knowledge) == cautions_for((), (), knowledge)


def test_what_the_sheet_lacks(knowledge: Knowledge) -> None:
    everything = not_measured((), knowledge)
    assert {"cycle-time", "drift", "pilot-pressure", "case-drain"} <= {one.test for one in everything}
    # Signs, codes, checks and what judging derives are no measurements.
    assert not {"sign", "code", "check", "condition", "travel-veer"} & {one.test for one in everything}
    lacking = not_measured((result("cycle-time"), result("drift", "invalid")), knowledge)
    assert "cycle-time" not in {one.test for one in lacking}
    assert [one for one in lacking if one.invalid] == [NotMeasured("drift", invalid=True)]
    assert len(lacking) == len(everything) - 1


def test_the_order_is_that_of_the_day(knowledge: Knowledge) -> None:
    places = [(knowledge.tests[one.test].order, one.test) for one in not_measured((), knowledge)]
    assert places == sorted(places)
