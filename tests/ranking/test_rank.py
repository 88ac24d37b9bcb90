"""The ranking as a whole: shares, groups, weights, sets, and what must not change it."""

import random
from collections.abc import Sequence
from dataclasses import replace

import pytest

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import RankedCause, Ranking, ReadingResult, Result, Suspicion, Suspicions, code_result, sign_result
from oilpath.flow.notes import Named, note
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Cause, CausePlace
from oilpath.physics.predictions import Predictions
from oilpath.ranking import rank
from oilpath.ranking.priors import is_routine

from .conftest import BLANK, SheetOf, finding, result_of

MIDDLE = ("pump.worn", "pump-2", 11)


def ranking_of(
    machine: Machine,
    knowledge: Knowledge,
    results: Sequence[Result],
    *suspicions: Suspicion,
    complaint: str | None = "routine check",
) -> Ranking:
    return rank(
        results, Suspicions(suspicions), bench_for(machine, knowledge), routine=is_routine(complaint, knowledge.priors)
    )


def one(ranking: Ranking, cause: str, part: str = "machine") -> RankedCause:
    return next(c for c in ranking.causes if (c.cause, c.part) == (cause, part))


def shares(ranking: Ranking) -> dict[tuple[str, str], float]:
    return {(c.cause, c.part): c.probability for c in ranking.causes}


SHEETS = (
    (),
    (MIDDLE,),
    (("travel-motor.worn", "travel-left-motor", 12),),
    (("pilot-valve.low-output", "bucket-curl-pilot", 13), ("travel-motor.worn", "travel-left-motor", 12)),
)


@pytest.mark.parametrize("causes", SHEETS)
def test_every_cause_is_ranked_once_and_shares_add_to_one(
    machine: Machine,
    knowledge: Knowledge,
    model: Predictions,
    sheet_of: SheetOf,
    causes: tuple[tuple[str, str, int], ...],
) -> None:
    ranking = ranking_of(machine, knowledge, sheet_of(*causes))
    keys = [(c.cause, c.part) for c in ranking.causes]
    assert len(keys) == len(set(keys))
    assert set(keys) == {(h.cause.cause, h.part) for h in model.hypotheses} | {
        ("none", "machine"),
        ("unknown", "machine"),
    }
    assert sum(c.probability for c in ranking.causes) == pytest.approx(1)
    values = [float(f"{c.probability:.6g}") for c in ranking.causes]  # as written; the last bits do not order causes
    assert values == sorted(values, reverse=True)
    for c in ranking.causes:
        assert 0 <= c.probability <= c.present + 1e-12 <= 1 + 2e-12


@pytest.mark.parametrize("causes", SHEETS)
def test_groups_are_a_partition_with_the_shares_of_their_members(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf, causes: tuple[tuple[str, str, int], ...]
) -> None:
    ranking = ranking_of(machine, knowledge, sheet_of(*causes))
    assert sorted(i for g in ranking.groups for i in g.members) == list(range(len(ranking.causes)))
    for group in ranking.groups:
        assert group.members == tuple(sorted(group.members))
        assert group.probability == pytest.approx(sum(ranking.causes[i].probability for i in group.members))
        if {"none", "unknown"} & {ranking.causes[i].cause for i in group.members}:
            assert len(group.members) == 1
    # what no reading shows stands last where something is out
    last = ranking.groups[-1]
    probabilities = [g.probability for g in ranking.groups if not (g is last and g.silent)]
    assert probabilities == sorted(probabilities, reverse=True)


def test_causes_that_a_stopwatch_cannot_part_are_one_group(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    # a worn travel motor and a leaking swivel joint: common practice has them confused
    ranking = ranking_of(machine, knowledge, sheet_of(("travel-motor.worn", "travel-left-motor", 12)))
    first = {(ranking.causes[i].cause, ranking.causes[i].part) for i in ranking.groups[0].members}
    assert {("travel-motor.worn", "travel-left-motor"), ("swivel.cross-leak", "swivel-joint")} <= first
    assert not {part for _, part in first if "right" in part}


def test_a_sound_sheet_leads_with_nothing_wrong(machine: Machine, knowledge: Knowledge, sheet_of: SheetOf) -> None:
    assert ranking_of(machine, knowledge, sheet_of()).causes[0].cause == "none"


# What must not change it


def test_the_same_again_is_the_same(machine: Machine, knowledge: Knowledge, sheet_of: SheetOf) -> None:
    sheet = sheet_of(MIDDLE)
    assert ranking_of(machine, knowledge, sheet) == ranking_of(machine, knowledge, sheet)


@pytest.mark.parametrize("causes", SHEETS)
def test_the_order_of_readings_does_not_matter(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf, causes: tuple[tuple[str, str, int], ...]
) -> None:
    sheet = list(sheet_of(*causes))
    straight = ranking_of(machine, knowledge, sheet)
    for seed in range(3):
        random.Random(seed).shuffle(sheet)
        shuffled = ranking_of(machine, knowledge, sheet)
        assert shares(shuffled) == pytest.approx(shares(straight), abs=1e-9)
        assert [g.members for g in shuffled.groups[:3]] == [g.members for g in straight.groups[:3]]


def test_invalid_results_and_plain_words_change_nothing(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    sheet = sheet_of(MIDDLE)
    more = (
        ReadingResult("cycle-time/arm-out/x", "cycle-time", {"function": "arm-out"}, "invalid", 99.0, "time"),
        sign_result({"sign": "foamy-oil"}, True),
        code_result("e1", True),
    )
    assert ranking_of(machine, knowledge, (*more, *sheet)) == ranking_of(machine, knowledge, sheet)


def test_a_reading_that_the_model_does_not_know_changes_nothing(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    sheet = sheet_of(MIDDLE)
    e = replace(BLANK[0], result="temperature/tank", test="temperature", observe="temperature", load="", keys={}, e=0.4)
    assert ranking_of(machine, knowledge, (result_of(e), *sheet)) == ranking_of(machine, knowledge, sheet)


def test_a_reading_that_all_causes_leave_alone_hardly_changes_anything(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    sheet = sheet_of(MIDDLE, only=("cycle-time", "swing-time"))
    # one gauge that no cause but its own and the reliefs could move, as it should be
    before = ranking_of(machine, knowledge, sheet)
    pilot = result_of(next(e for e in BLANK if e.test == "pilot-pressure"))
    after = ranking_of(machine, knowledge, (*sheet, pilot))
    moving = ("pilot", "oil", "cooler", "pump-drive", "suction", "tank", "unknown")  # these could move it
    others = [c for c in before.causes if not c.cause.startswith(moving) and c.probability > 0.03]
    ratios = [one(after, c.cause, c.part).probability / c.probability for c in others]
    assert len(ratios) > 3
    assert ratios == pytest.approx([1.0] * len(ratios), rel=0.1)


def test_patterns_change_no_odds(machine: Machine, knowledge: Knowledge, sheet_of: SheetOf) -> None:
    sheet = sheet_of(MIDDLE)
    plain = ranking_of(machine, knowledge, sheet)
    told = ranking_of(machine, knowledge, sheet, finding("r", "pump.worn", "pump-2", None, "swing-time/left"))
    assert (told.causes, told.groups, told.sets) == (plain.causes, plain.groups, plain.sets)


# Findings


def test_a_finding_counts_once_however_many_rules_tell_it(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    sheet, at = sheet_of(), ("oil.contaminated", "oil")
    once = ranking_of(machine, knowledge, sheet, finding("a", *at, 8.0, "sign/foam"))
    twice = ranking_of(
        machine, knowledge, sheet, finding("a", *at, 8.0, "sign/foam"), finding("b", *at, 3.0, "sign/foam")
    )
    assert shares(twice) == pytest.approx(shares(once), abs=1e-12)
    assert one(once, *at).probability > 5 * one(ranking_of(machine, knowledge, sheet), *at).probability
    weight = next(w for w in one(once, *at).speaks_for if w.result == "sign/foam")
    assert weight.weight == pytest.approx(9.03, abs=0.01)  # 10·lg 8 decibans


def small(knowledge: Knowledge, none: float) -> Knowledge:
    """A knowledge base of one cause that nothing measures, `none` likely not to be there."""
    usual = next(c for c in knowledge.causes if c.cause == "oil.contaminated")
    priors = knowledge.priors.model_copy(update={"none_routine": none, "unknown": 1e-12, "silent": 1.0, "several": 0.0})
    return knowledge.model_copy(update={"causes": (usual,), "priors": priors})


@pytest.mark.parametrize(
    ("prior", "ratios", "expected"),
    [(0.05, (20.0,), 0.512821), (0.5, (2.5, 10.0), 0.961538), (0.5, (), 0.5), (0.2, (0.25,), 0.058824)],
)
def test_odds_examples(
    machine: Machine, knowledge: Knowledge, prior: float, ratios: tuple[float, ...], expected: float
) -> None:
    # Bayes' rule in odds form: 0.05/0.95 · 20 → 0.512821; 1 · 2.5 · 10 → 0.961538 (arithmetic)
    known = small(knowledge, 1 - prior)
    told = [finding(f"r{n}", "oil.contaminated", "oil", x, f"sign/{n}") for n, x in enumerate(ratios)]
    ranking = ranking_of(machine, known, (), *told)
    assert one(ranking, "oil.contaminated", "oil").probability == pytest.approx(expected, abs=5e-7)
    assert one(ranking, "none").probability == pytest.approx(1 - expected, abs=5e-7)


# Priors


def test_a_complaint_makes_something_wrong_likelier(machine: Machine, knowledge: Knowledge, sheet_of: SheetOf) -> None:
    routine = ranking_of(machine, knowledge, sheet_of(), complaint=None)
    complaint = ranking_of(machine, knowledge, sheet_of(), complaint="slow when warm")
    assert one(complaint, "none").probability < one(routine, "none").probability


def test_without_readings_shares_are_the_priors(machine: Machine, knowledge: Knowledge) -> None:
    ranking = ranking_of(machine, knowledge, ())
    common = one(ranking, "main-relief.low", "main-relief").probability
    rare = one(ranking, "main-relief.high", "main-relief").probability
    assert common == pytest.approx(10 * rare)
    assert [len(g.members) for g in ranking.groups if len(g.members) > 1] == [len(ranking.causes) - 2]


def test_silent_causes_keep_the_ratio_of_their_priors(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    ranking = ranking_of(machine, knowledge, sheet_of(MIDDLE))
    level = one(ranking, "oil.contaminated", "oil")
    glands = [c for c in ranking.causes if c.cause == "cylinder.gland-leak"]
    assert [c.probability for c in glands] == pytest.approx([level.probability / 4] * 4)
    assert level.severity is None


# Weights


def sheet_with(**deviations: float) -> list[Result]:
    """Times as on a sound machine but for these (`swing_time_left=0.1`), as ln ratios."""
    times = [e for e in BLANK if e.test in ("cycle-time", "swing-time", "track-time")]
    names = {e.result: e.result.replace("/", "_").replace("-", "_") for e in times}
    assert set(deviations) <= set(names.values())
    return [result_of(replace(e, e=deviations.get(names[e.result], 0.0))) for e in times]


def weights_of(cause: RankedCause) -> dict[str, float]:
    return {w.result: w.weight for w in (*cause.speaks_for, *cause.speaks_against)}


def test_a_slow_reading_speaks_for_its_causes_and_against_none(machine: Machine, knowledge: Knowledge) -> None:
    ranking = ranking_of(machine, knowledge, sheet_with(swing_time_left=0.09, swing_time_right=0.09))
    motor, none = weights_of(one(ranking, "swing-motor.worn", "swing-motor")), weights_of(one(ranking, "none"))
    for result in ("swing-time/left", "swing-time/right"):
        assert motor[result] > 0.5 > -0.5 > none[result]


def test_a_reading_in_order_speaks_against_a_cause_that_would_move_it(machine: Machine, knowledge: Knowledge) -> None:
    ranking = ranking_of(machine, knowledge, sheet_with(swing_time_left=0.08, swing_time_right=0.08))
    assert weights_of(one(ranking, "pump.worn", "pump-2"))["cycle-time/boom-raise"] < -1.5
    assert weights_of(one(ranking, "swing-motor.worn", "swing-motor"))["cycle-time/boom-raise"] > 0


def test_weights_are_sorted_by_their_sign_and_size(machine: Machine, knowledge: Knowledge, sheet_of: SheetOf) -> None:
    for cause in ranking_of(machine, knowledge, sheet_of(MIDDLE)).causes:
        assert all(w.weight > 0 for w in cause.speaks_for)
        assert all(w.weight < 0 for w in cause.speaks_against)
        for weights in (cause.speaks_for, cause.speaks_against):
            assert [abs(w.weight) for w in weights] == sorted((abs(w.weight) for w in weights), reverse=True)


# Severity and sets


def test_severity_covers_the_true_one(
    machine: Machine, knowledge: Knowledge, model: Predictions, sheet_of: SheetOf
) -> None:
    for cause, part, node in (
        ("regulator.stuck-low", "pump-2-regulator", 9),
        ("main-relief.low", "main-relief", 8),
        ("travel-motor.worn", "travel-left-motor", 11),
    ):
        severity = one(ranking_of(machine, knowledge, sheet_of((cause, part, node))), cause, part).severity
        assert severity is not None
        number = next(n for n, h in enumerate(model.hypotheses) if (h.cause.cause, h.part) == (cause, part))
        around = sorted(model.values(number)[node - 1 : node + 2])
        assert severity.low <= severity.median <= severity.high
        assert severity.low <= around[2]
        assert severity.high >= around[0]


def test_severity_beside_other_causes_covers_the_true_one(
    machine: Machine, knowledge: Knowledge, model: Predictions, sheet_of: SheetOf
) -> None:
    """Alone neither explains the sheet; each is as bad as what the other leaves over says."""
    named = (finding("r", cause, part, None, "cycle-time/bucket-curl") for cause, part, _ in SHEETS[3])
    ranking = ranking_of(machine, knowledge, sheet_of(*SHEETS[3]), *named)
    for cause, part, node in SHEETS[3]:
        found = one(ranking, cause, part)
        assert found.present > 0.3  # a spool or a hose shows the same
        assert found.severity is not None
        number = next(n for n, h in enumerate(model.hypotheses) if (h.cause.cause, h.part) == (cause, part))
        around = sorted(model.values(number)[node - 1 : node + 2])
        assert found.severity.low <= around[2]
        assert found.severity.high >= around[0]


def test_the_share_of_a_set_is_split_and_its_members_are_present(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    named = (finding("r", cause, part, None, "cycle-time/bucket-curl") for cause, part, _ in SHEETS[3])
    ranking = ranking_of(machine, knowledge, sheet_of(*SHEETS[3]), *named)
    assert ranking.sets
    assert [s.probability for s in ranking.sets] == sorted((s.probability for s in ranking.sets), reverse=True)
    for found in ranking.sets:
        assert 2 <= len(found.members) <= 4
        assert len(set(found.members)) == len(found.members)
        for i in found.members:
            assert ranking.causes[i].present >= found.probability - 1e-9
            assert ranking.causes[i].probability >= found.probability / len(found.members) - 1e-9
    assert sum(c.present for c in ranking.causes) > 1.3  # two causes at once, most likely
    assert sum(c.probability for c in ranking.causes) == pytest.approx(1)
    first = {ranking.causes[i].part for i in range(5)}
    assert {"bucket-curl-pilot", "travel-left-motor"} <= first


def test_sets_are_made_of_what_a_rule_suspects_and_what_is_likely_alone(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    sheet = sheet_of(*SHEETS[3])
    (cause, part, _), other = SHEETS[3]
    named = finding("r", cause, part, None, "cycle-time/bucket-curl")
    found = ranking_of(machine, knowledge, sheet, named)
    keys = {(found.causes[i].cause, found.causes[i].part) for one in found.sets for i in one.members}
    assert (cause, part) in keys
    assert other[:2] in keys  # likely alone, so a candidate without a rule


def test_weights_of_one_of_two_causes_are_those_beside_the_other(
    machine: Machine, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    named = [finding("r", cause, part, None, "cycle-time/bucket-curl") for cause, part, _ in SHEETS[3]]
    ranking = ranking_of(machine, knowledge, sheet_of(*SHEETS[3]), *named)
    for cause, part, _ in SHEETS[3]:
        mine = one(ranking, cause, part)
        assert all(
            weight.weight > -10 for weight in mine.speaks_against
        )  # what the other explains speaks not against it


# Rules and ranking side by side


def test_what_no_rule_foresaw_is_said(machine: Machine, knowledge: Knowledge, sheet_of: SheetOf) -> None:
    sheet = sheet_of(("merge-valve.stuck-closed", "arm-merge-valve", 12))
    unforeseen = note("not-foreseen", cause=Named("cause", "merge-valve.stuck-closed", "arm-merge-valve"))
    assert unforeseen in ranking_of(machine, knowledge, sheet).remarks
    foreseen = finding("r", "merge-valve.stuck-closed", "arm-merge-valve", None, "cycle-time/arm-in")
    assert unforeseen not in ranking_of(machine, knowledge, sheet, foreseen).remarks


# Other machines


def test_another_machine_has_other_causes(knowledge: Knowledge, machine: Machine, sheet_of: SheetOf) -> None:
    without = Machine(
        name="Short one, invented", circuit=machine.circuit, absent=("boom-merge-valve", "arm-merge-valve")
    )
    ranking = ranking_of(without, knowledge, sheet_of(MIDDLE))
    assert not [c for c in ranking.causes if c.cause.startswith("merge-valve")]
    assert sum(c.probability for c in ranking.causes) == pytest.approx(1)


def test_a_new_cause_needs_no_code(knowledge: Knowledge, machine: Machine, sheet_of: SheetOf) -> None:
    usual = next(c for c in knowledge.causes if c.cause == "hose.restricted")
    fresh = usual.model_copy(
        update={
            "cause": "swing-line.pinched",
            "at": CausePlace(parts=("swing-motor",)),
            "variants": "functions",
            "title": "Pinched line of the {part}",
            "frequency": "common",
        }
    )
    fresh = Cause.model_validate(fresh.model_dump(by_alias=True))
    known = knowledge.model_copy(update={"causes": (*knowledge.causes, fresh)})
    number = next(
        n
        for n, h in enumerate(bench_for(machine, known).model.hypotheses)
        if h.cause.cause == fresh.cause and h.variant == "swing-left"
    )
    table, _ = bench_for(machine, known).model.predict(BLANK)
    sheet = [result_of(replace(e, e=float(x))) for e, x in zip(BLANK, table[number, 9], strict=True)]
    ranked = one(ranking_of(machine, known, sheet), "swing-line.pinched", "swing-motor")
    assert ranked.variant == "swing-left"
    assert ranked.title == "Pinched line of the swing motor"
    assert ranked.probability > 0.1


def test_how_bad_is_never_more_than_there_is(model: Predictions) -> None:
    """A pump cannot lose more than it gives, nor cooling explain more than the whole drift (conservation)."""
    from oilpath.ranking.extent import _possible

    for number, h in enumerate(model.hypotheses):
        for place, d in enumerate(h.disturbances):
            worst = [_possible(float(value), d) for value in model.values(number, place)]
            if d.quantity == "flow" or d.parameter == "cooling":
                assert max(worst) <= 1
                assert worst == sorted(worst)
