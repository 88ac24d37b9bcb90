"""The next checks and the plan on the founding circuit, with rankings made by hand."""

from dataclasses import replace
from typing import Any

import pytest

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import Group, NextCheck, Plan, PlanStep, Ranking, ReadingResult, Result, check_result
from oilpath.flow.notes import Named, note
from oilpath.knowledge.base import Knowledge
from oilpath.planning import advise
from oilpath.planning.checks import LEAST_BITS, MOST_CHECKS, cost
from oilpath.reports.page import how_to

from .conftest import RankingOf

PUMP = ("pump.worn", "pump-1")
REGULATOR = ("regulator.stuck-low", "pump-1-regulator")
SIGNAL = ("flow-signal.no-demand", "pump-1-flow-signal")
MOTOR = ("travel-motor.worn", "travel-left-motor")
JOINT = ("swivel.cross-leak", "swivel-joint")
BRAKE = ("travel-brake.dragging", "travel-left-brake")
SEAL_LEFT = ("cylinder.seal-leak", "boom-cylinder-left")
SEAL_RIGHT = ("cylinder.seal-leak", "boom-cylinder-right")
HOLDING = ("holding-valve.leaking", "boom-holding-valve")
NONE = ("none", "machine")


@pytest.fixture
def weak_group(ranking_of: RankingOf) -> Ranking:
    return ranking_of((PUMP, 0.45), (REGULATOR, 0.3), (SIGNAL, 0.15), (NONE, 0.05))


@pytest.fixture
def slow_track(ranking_of: RankingOf) -> Ranking:
    return ranking_of((MOTOR, 0.45), (JOINT, 0.25), (BRAKE, 0.25))


def result(id_: str, test: str, verdict: str = "fail", **keys: str) -> Result:
    if test == "check":
        return check_result(keys["check"], keys["part"], "")
    return ReadingResult(id_, test, keys, verdict, 1.0, None)  # type: ignore[arg-type]


def plan_checks(*args: Any, **made: Any) -> tuple[tuple[NextCheck, ...], Plan]:
    """The next checks and the plan of `advise`."""
    return advise(*args, **made)[1:]


def names(checks: tuple[NextCheck, ...]) -> list[tuple[str, str]]:
    return [(one.check, one.part) for one in checks]


def steps(step: PlanStep | None) -> list[PlanStep]:
    return [step, *(s for branch in step.branches for s in steps(branch.next))] if step else []


def test_a_weak_pump_group(weak_group: Ranking, machine: Machine, knowledge: Knowledge) -> None:
    """Regulator and signal are parted by comparing the two signals, the pump by its drain or flow: common practice."""
    found, plan = plan_checks(weak_group, (), bench_for(machine, knowledge))
    assert {
        ("control-signal-compare", "pump-1-flow-signal"),
        ("flow-at-pressure", "pump-1"),
        ("case-drain", "pump-1"),
    } <= (set(names(found)))
    # Nothing at the other pump and at parts that nobody suspects.
    assert not [part for _, part in names(found) if part.startswith(("pump-2", "boom", "arm", "swing"))]
    flow = next(one for one in found if one.check == "flow-at-pressure")
    by_word = {one.outcome: one for one in flow.outcomes}
    assert by_word["falls-with-pressure"].then[0].cause == "pump.worn"
    assert by_word["low-from-zero"].then[0].cause == "regulator.stuck-low"
    assert plan.first is not None
    assert plan.expected_minutes is not None
    assert plan.expected_minutes > plan.first.minutes


def test_the_motor_the_joint_and_the_brake_are_parted(
    slow_track: Ranking, machine: Machine, knowledge: Knowledge
) -> None:
    found, _ = plan_checks(slow_track, (), bench_for(machine, knowledge))
    free = next(one for one in found if one.check == "free-running-pressure")
    assert free.part == "travel-left-motor"
    high = next(one for one in free.outcomes if one.outcome == "high")
    assert (high.then[0].cause, high.then[0].part) == BRAKE
    assert high.then[0].probability > 0.7


def test_the_best_comes_first_and_the_figures_hold_together(
    weak_group: Ranking, machine: Machine, knowledge: Knowledge
) -> None:
    found, _ = plan_checks(weak_group, (), bench_for(machine, knowledge))
    assert 0 < len(found) <= MOST_CHECKS
    by_id = {one.check: one for one in knowledge.checks}
    # The order ignores the last digits, which follow how a Python adds up floats.
    worth = [round(one.bits / cost(by_id[one.check]), 12) for one in found]
    assert worth == sorted(worth, reverse=True)
    for one in found:
        assert one.bits >= LEAST_BITS
        assert sum(outcome.probability for outcome in one.outcomes) == pytest.approx(1.0)
        assert [outcome.outcome for outcome in one.outcomes] == [o.outcome for o in by_id[one.check].outcomes]
        for outcome in one.outcomes:
            shares = [round(then.probability, 12) for then in outcome.then]
            assert shares == sorted(shares, reverse=True)
            assert len(shares) <= 3
            assert sum(shares) <= 1 + 1e-9
        assert one.cautions


def test_information_is_about_members_of_one_part_too(
    ranking_of: RankingOf, machine: Machine, knowledge: Knowledge
) -> None:
    ranking = ranking_of((SEAL_LEFT, 0.48), (SEAL_RIGHT, 0.48))
    found, plan = plan_checks(ranking, (), bench_for(machine, knowledge))
    assert names(found)[0] == ("isolate-each-of-pair", "boom-cylinder")
    assert found[0].bits > 0.5
    assert plan.first is not None
    ends = {branch.outcome: branch.isolated for branch in plan.first.branches}
    assert ends["left-passes"][0].part == "boom-cylinder-left"
    assert ends["right-passes"][0].part == "boom-cylinder-right"


def test_the_plan_is_a_tree_of_distributions(weak_group: Ranking, machine: Machine, knowledge: Knowledge) -> None:
    _, plan = plan_checks(weak_group, (), bench_for(machine, knowledge))

    def look(step: PlanStep, share: float, made: tuple[tuple[str, str], ...]) -> float:
        assert (step.check, step.part) not in made
        assert len(made) < 5
        assert sum(branch.probability for branch in step.branches) == pytest.approx(share)
        minutes = share * step.minutes
        for branch in step.branches:
            assert (branch.next is None) or not branch.isolated
            if branch.next is not None:
                assert branch.probability >= 0.01
                minutes += look(branch.next, branch.probability, (*made, (step.check, step.part)))
        return minutes

    assert plan.first is not None
    assert look(plan.first, 1.0, ()) == pytest.approx(plan.expected_minutes)
    assert plan.remarks[0].id == "comes-down-to-one-part"


def test_one_part_that_stands_out_needs_no_plan(ranking_of: RankingOf, machine: Machine, knowledge: Knowledge) -> None:
    found, plan = plan_checks(
        ranking_of((PUMP, 0.6), (("pump.damaged", "pump-1"), 0.36)), (), bench_for(machine, knowledge)
    )
    assert plan == Plan(None, None, plan.remarks)
    left = (Named("cause", "pump.worn", "pump-1"), Named("cause", "pump.damaged", "pump-1"))
    assert plan.remarks == (note("one-part-already", causes=left),)
    # What would confirm it is still offered.
    assert found


def test_causes_that_no_check_parts_are_said_plainly(
    ranking_of: RankingOf, machine: Machine, knowledge: Knowledge
) -> None:
    found, plan = plan_checks(ranking_of((NONE, 0.55)), (), bench_for(machine, knowledge))
    assert found == ()
    left = (Named("cause", "none", "machine"), Named("cause", "unknown", "machine"))
    assert plan == Plan(None, None, (note("no-check-tells-apart", causes=left),))


def test_what_was_made_is_not_offered_again(weak_group: Ranking, machine: Machine, knowledge: Knowledge) -> None:
    compare = ("control-signal-compare", "pump-1-flow-signal")
    on_sheet = result(
        "check/control-signal-compare/pump-1-flow-signal", "check", "unjudged", check=compare[0], part=compare[1]
    )
    for found, plan in (
        plan_checks(weak_group, (on_sheet,), bench_for(machine, knowledge)),
        plan_checks(weak_group, (), bench_for(machine, knowledge), made=[compare]),
    ):
        assert compare not in names(found)
        assert compare not in [(one.check, one.part) for one in steps(plan.first)]


@pytest.mark.parametrize(("verdict", "offered"), [("fail", False), ("pass", False), ("invalid", True)])
def test_a_reading_on_the_sheet_makes_its_check_needless(
    verdict: str, offered: bool, weak_group: Ranking, machine: Machine, knowledge: Knowledge
) -> None:
    drain = result("case-drain/pump-1", "case-drain", verdict, part="pump-1")
    found, _ = plan_checks(weak_group, (drain,), bench_for(machine, knowledge))
    assert (("case-drain", "pump-1") in names(found)) == offered


def test_all_readings_of_a_check_are_needed(ranking_of: RankingOf, machine: Machine, knowledge: Knowledge) -> None:
    ranking = ranking_of((("port-relief.leaking", "boom-cap-port-relief"), 0.5), (HOLDING, 0.4))
    raised = result("stall-pressure/pump-1/boom-raise", "stall-pressure", "pass", function="boom-raise")
    lowered = result("stall-pressure/pump-1/boom-lower", "stall-pressure", "pass", function="boom-lower")
    stall = ("stall-per-direction", "boom-spool")
    assert stall in names(plan_checks(ranking, (raised,), bench_for(machine, knowledge))[0])
    assert stall not in names(plan_checks(ranking, (raised, lowered), bench_for(machine, knowledge))[0])


def test_nothing_is_offered_for_a_share_that_hardly_counts(
    ranking_of: RankingOf, machine: Machine, knowledge: Knowledge
) -> None:
    found, plan = plan_checks(
        ranking_of((NONE, 0.96), (PUMP, 0.004), (MOTOR, 0.0005)), (), bench_for(machine, knowledge)
    )
    assert found == ()
    assert plan.first is None


def test_the_order_of_the_causes_changes_nothing(weak_group: Ranking, machine: Machine, knowledge: Knowledge) -> None:
    turned = replace(weak_group, causes=weak_group.causes[::-1])
    for ours, other in zip(
        plan_checks(weak_group, (), bench_for(machine, knowledge))[0],
        plan_checks(turned, (), bench_for(machine, knowledge))[0],
        strict=True,
    ):
        assert (ours.check, ours.part) == (other.check, other.part)
        assert ours.bits == pytest.approx(other.bits, abs=1e-12)
    assert plan_checks(weak_group, (), bench_for(machine, knowledge)) == plan_checks(
        weak_group, (), bench_for(machine, knowledge)
    )


def test_an_absent_part_is_never_checked(weak_group: Ranking, machine: Machine, knowledge: Knowledge) -> None:
    lean = machine.model_copy(update={"absent": ("pump-1-flow-signal", "cooler")})
    found, plan = plan_checks(weak_group, (), bench_for(lean, knowledge))
    assert not {"pump-1-flow-signal", "cooler"} & {part for _, part in names(found)}
    assert not {"pump-1-flow-signal", "cooler"} & {one.part for one in steps(plan.first)}


def test_a_trap_is_said_with_the_check(ranking_of: RankingOf, machine: Machine, knowledge: Knowledge) -> None:
    """Both ports plugged, a cap-loaded cylinder locks without any seal: trade articles on cylinder drift."""
    found, _ = plan_checks(ranking_of((SEAL_LEFT, 0.5), (HOLDING, 0.45)), (), bench_for(machine, knowledge))
    plug = next(one for one in found if one.check == "plug-loaded-line")
    assert "Note: Never judge with both ports plugged." in how_to(plug)
    assert any("load-rated" in caution or "stand" in caution for caution in plug.cautions)


def test_groups_name_the_check_that_parts_them(slow_track: Ranking, machine: Machine, knowledge: Knowledge) -> None:
    grouped = replace(slow_track, groups=(Group(0.95, (0, 1, 2)), Group(0.05, (3,))))
    parted = advise(grouped, (), bench_for(machine, knowledge))[0]
    assert parted.groups[0].parted_by in {"free-running-pressure", "case-drain", "brake-release-pressure"}
    assert parted.groups[1].parted_by is None
    assert advise(slow_track, (), bench_for(machine, knowledge))[0] is slow_track


def test_a_group_that_nothing_parts_names_no_check(
    ranking_of: RankingOf, machine: Machine, knowledge: Knowledge
) -> None:
    grouped = replace(ranking_of((NONE, 0.5)), groups=(Group(1.0, (0, 1)),))
    assert advise(grouped, (), bench_for(machine, knowledge))[0].groups[0].parted_by is None
