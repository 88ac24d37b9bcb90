"""P(outcome | cause): columns are distributions, the first entry that fits counts, what is not named is `otherwise`."""

import numpy as np
import pytest

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import CheckResult, check_result
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.machine.graph import circuit_graph
from oilpath.machine.hypotheses import hypotheses
from oilpath.outcomes import likelihoods, outcome_likelihood, table

ASKED = [
    ("cylinder.seal-leak", "boom-cylinder-left"),
    ("cylinder.seal-leak", "arm-cylinder"),
    ("holding-valve.leaking", "boom-holding-valve"),
    ("none", "machine"),
    ("unknown", "machine"),
]


@pytest.fixture(scope="module")
def every(knowledge: Knowledge, machine: Machine) -> list[tuple[str, str]]:
    found = hypotheses(knowledge.causes, circuit_graph(machine))
    return [*dict.fromkeys((one.cause.cause, one.part) for one in found), ("none", "machine"), ("unknown", "machine")]


def by_name(knowledge: Knowledge, name: str) -> Check:
    return next(check for check in knowledge.checks if check.check == name)


def test_the_plugged_line_speaks_for_the_cylinders_behind_it(knowledge: Knowledge, machine: Machine) -> None:
    """A still rod behind a plugged loaded line clears the piston seal: trade articles on cylinder drift."""
    moves, still = likelihoods(
        by_name(knowledge, "plug-loaded-line"), "boom-cylinder", bench_for(machine, knowledge), ASKED
    )
    assert moves[0] > 0.9
    assert still[0] < 0.1
    # Another cylinder's seal, a valve, and what the knowledge base does not hold say nothing here: `otherwise`.
    assert moves[1] == moves[2] == moves[3] == moves[4] < 0.1


def test_the_first_entry_that_fits_counts(knowledge: Knowledge, machine: Machine) -> None:
    check = by_name(knowledge, "cross-travel-hoses-at-motors")
    asked = [("swivel.cross-leak", "swivel-joint"), ("travel-motor.worn", "travel-left-motor"), ("pump.worn", "pump-1")]
    changes, stays, _ = likelihoods(check, "swivel-joint", bench_for(machine, knowledge), asked)
    assert changes[0] > 0.8
    assert stays[1] > 0.8
    assert changes[2] > 0.8
    # Above the joint the same joint stays with its track.
    above = by_name(knowledge, "cross-travel-hoses-above-joint")
    assert likelihoods(above, "swivel-joint", bench_for(machine, knowledge), asked)[1][0] > 0.8


def test_each_of_a_pair_is_told_by_its_side(knowledge: Knowledge, machine: Machine) -> None:
    check = by_name(knowledge, "isolate-each-of-pair")
    asked = [("cylinder.seal-leak", f"boom-cylinder-{side}") for side in ("left", "right")]
    left, right, _ = likelihoods(check, "boom-cylinder", bench_for(machine, knowledge), asked)
    assert left[0] > 0.8 > left[1]
    assert right[1] > 0.8 > right[0]


def test_the_whole_table_is_distributions_and_agrees_with_one_by_one(
    knowledge: Knowledge, machine: Machine, every: list[tuple[str, str]]
) -> None:
    found = table(bench_for(machine, knowledge), every)
    assert len(found.checks) > 100
    np.testing.assert_allclose(found.likelihood.sum(axis=1), 1.0, atol=1e-12)
    for row, (check, part) in enumerate(found.checks):
        alone = likelihoods(check, part, bench_for(machine, knowledge), every)
        assert (found.likelihood[row, : len(alone)] == alone).all()
        assert not found.likelihood[row, len(alone) :].any()
        if not check.measures:
            otherwise = np.array([check.otherwise[one.outcome] for one in check.outcomes])
            assert (alone[:, ~found.affected[row]] == otherwise[:, None]).all()


def test_the_table_leaves_out_what_was_made(
    knowledge: Knowledge, machine: Machine, every: list[tuple[str, str]]
) -> None:
    skip = frozenset({("tank-look", "tank")})
    found = table(bench_for(machine, knowledge), every, skip=skip)
    assert "tank-look" not in {check.check for check, _ in found.checks}
    bare = knowledge.model_copy(update={"checks": ()})
    assert table(bench_for(machine, bare), every).likelihood.shape == (0, 0, len(every))


def made(outcome: str, check: str = "plug-loaded-line", part: str = "boom-cylinder") -> CheckResult:
    return check_result(check, part, outcome)


def test_an_outcome_on_the_sheet_as_evidence(knowledge: Knowledge, machine: Machine) -> None:
    asked = bench_for(machine, knowledge).model.hypotheses
    names = [(h.cause.cause, h.part) for h in asked]
    moved, sound = outcome_likelihood(made("rod-moves"), bench_for(machine, knowledge))
    stayed, still = outcome_likelihood(made("still"), bench_for(machine, knowledge))
    assert moved.shape == (len(asked),)
    np.testing.assert_allclose(moved + stayed, 1.0)
    assert sound + still == pytest.approx(1)
    assert moved[names.index(ASKED[0])] / sound > 20
    assert moved[names.index(ASKED[1])] == sound


def test_each_way_of_a_cause_has_its_own_evidence(knowledge: Knowledge, machine: Machine) -> None:
    """A port relief set low shows at stall, one that lets a little by does not: common practice."""
    asked = bench_for(machine, knowledge).model.hypotheses
    low, sound = outcome_likelihood(
        made("one-low", "stall-per-direction", "bucket-spool"), bench_for(machine, knowledge)
    )
    ways = {
        h.variant: float(chance)
        for h, chance in zip(asked, low, strict=True)
        if (h.cause.cause, h.part) == ("port-relief.leaking", "bucket-cap-port-relief")
    }
    assert ways["set-low"] > 0.8
    assert ways["leaking"] < 0.1
    assert sound < 0.1
    # together they are the average of the cause
    whole = likelihoods(
        by_name(knowledge, "stall-per-direction"),
        "bucket-spool",
        bench_for(machine, knowledge),
        [("port-relief.leaking", "bucket-cap-port-relief")],
    )
    assert whole[1, 0] == pytest.approx(np.mean(list(ways.values())))


@pytest.mark.parametrize(
    ("result", "said"),
    [
        (made("rod-flies"), "plug-loaded-line has no outcome rod-flies"),
        (made("still", check="plug-it"), "no check plug-it"),
        (made("still", part="third-cylinder"), "no part third-cylinder"),
    ],
)
def test_what_does_not_exist_is_named(result: CheckResult, said: str, knowledge: Knowledge, machine: Machine) -> None:
    with pytest.raises(LookupError, match=said):
        outcome_likelihood(result, bench_for(machine, knowledge))


def test_a_cause_at_a_part_that_the_machine_lacks_is_told_of_by_nothing_near(
    knowledge: Knowledge, machine: Machine
) -> None:
    check = by_name(knowledge, "free-running-pressure")
    asked = [("travel-brake.dragging", "no-such-brake"), ("none", "machine")]
    rows = likelihoods(check, "travel-left-motor", bench_for(machine, knowledge), asked)
    assert (rows[:, 0] == rows[:, 1]).all()


def test_an_outcome_where_its_reading_is_not_known_says_nothing(knowledge: Knowledge, machine: Machine) -> None:
    """A case drain of a pump without one: whoever wrote it down knows what it was."""
    high, sound = outcome_likelihood(made("high", "case-drain", "pilot-pump"), bench_for(machine, knowledge))
    assert set(high.tolist()) == {sound}
    with pytest.raises(LookupError, match="no part third-pump"):
        outcome_likelihood(made("high", "case-drain", "third-pump"), bench_for(machine, knowledge))
