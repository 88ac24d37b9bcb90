"""Prior odds and what findings add to them. Odds examples are plain arithmetic of Bayes' rule in odds form."""

import math
from typing import Any

import numpy as np
import pytest

from oilpath.bench import Bench, bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import Suspicions, check_result
from oilpath.knowledge.base import Knowledge
from oilpath.physics.predictions import Predictions
from oilpath.ranking.priors import by_hearsay, is_routine, observed, odds, together

from .conftest import Find, finding


@pytest.mark.parametrize("routine", [True, False])
def test_odds_leave_the_stated_chance_that_nothing_is_wrong(
    model: Predictions, knowledge: Knowledge, routine: bool
) -> None:
    priors = knowledge.priors
    got = odds(model.hypotheses, priors, routine=routine)
    pairs = (got.sum() ** 2) / 2 * together(got, priors)  # all pairs, the same cause twice left in
    assert pairs == pytest.approx(priors.several * got.sum())
    none = 1 / (1 + got.sum() + pairs)
    assert none == pytest.approx(priors.none_routine if routine else priors.none_complaint)
    assert (got > 0).all()


def test_odds_go_with_frequency_and_share(model: Predictions, knowledge: Knowledge) -> None:
    got = odds(model.hypotheses, knowledge.priors, routine=True, hours=20000)
    per_kind: dict[str, float] = {}
    for h, value in zip(model.hypotheses, got, strict=True):
        if h.variant in h.cause.frequencies:
            assert h.frequency == h.cause.frequencies[h.variant]
            continue
        per_kind[h.cause.cause] = per_kind.get(h.cause.cause, 0.0) + float(value)
    here = [cause for cause in knowledge.causes if cause.cause in per_kind]  # others stand on other machines
    one = {cause.frequency: per_kind[cause.cause] for cause in here}
    for cause in here:  # a kind with twelve parts is no likelier than one with a single part
        assert per_kind[cause.cause] == pytest.approx(one[cause.frequency])
    assert one["common"] == pytest.approx(3 * one["occasional"])
    assert one["rare"] == pytest.approx(0.3 * one["occasional"])


def test_wear_comes_with_the_hours(model: Predictions, knowledge: Knowledge) -> None:
    """Both pumps worn alike is common above some 6000 h (common practice); a fault at any age goes with nothing."""
    names = [h.cause.cause for h in model.hypotheses]
    both, relief = names.index("pumps.worn-alike"), names.index("main-relief.low")
    shares = []
    for hours in (500, 3000, 6000, 9000):
        got = odds(model.hypotheses, knowledge.priors, routine=True, hours=hours)
        shares.append(float(got[both] / got[relief]))
    assert shares == sorted(shares)
    assert shares[0] < 0.1
    assert shares[1] == pytest.approx(0.05 + 0.95 * (3000 / 6000) ** 2)  # Weibull hazard, shape 3
    assert shares[2] == shares[3] == pytest.approx(1)  # both are common
    unknown = odds(model.hypotheses, knowledge.priors, routine=True)
    usual = odds(model.hypotheses, knowledge.priors, routine=True, hours=knowledge.priors.wear.usual_hours)
    assert unknown.tolist() == usual.tolist()


@pytest.mark.parametrize(
    ("complaint", "routine"),
    [
        (None, True), ("", True), ("  ", True), ("Routine check", True), ("yearly inspection", True),
        ("No complaint", True), ("slow when warm", False), ("Pulls to the left", False),
    ],
)  # fmt: skip
def test_a_routine_check_is_no_complaint(knowledge: Knowledge, complaint: str | None, routine: bool) -> None:
    assert is_routine(complaint, knowledge.priors) is routine


def observe(
    model: Predictions, machine: Machine, knowledge: Knowledge, *suspicions: Any
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    return observed(Suspicions(tuple(suspicions)), (), bench_for(machine, knowledge))


def test_a_finding_speaks_for_its_cause_in_all_its_variants(
    model: Predictions, machine: Machine, knowledge: Knowledge
) -> None:
    total, _ = observe(model, machine, knowledge, finding("r", "swivel.cross-leak", "swivel-joint", 5.0))
    for h, value in zip(model.hypotheses, total, strict=True):
        assert value == pytest.approx(math.log(5) if h.cause.cause == "swivel.cross-leak" else 0)


def test_one_observation_counts_once_for_a_cause(
    model: Predictions, machine: Machine, knowledge: Knowledge, find: Find
) -> None:
    at = ("suction.air-leak", "suction")
    twice = (
        finding("a", *at, 5.0, "sign/foam"),
        finding("b", *at, 8.0, "sign/foam"),
        finding("a", *at, 5.0, "sign/foam"),
    )
    total, by_result = observe(model, machine, knowledge, *twice)
    assert total[find(*at)] == pytest.approx(math.log(8))
    assert list(by_result) == ["sign/foam"]


def test_two_observations_multiply(model: Predictions, machine: Machine, knowledge: Knowledge, find: Find) -> None:
    at = ("suction.air-leak", "suction")
    both = (finding("a", *at, 5.0, "sign/foam"), finding("b", *at, 4.0, "sign/noise"))
    total, by_result = observe(model, machine, knowledge, *both)
    assert total[find(*at)] == pytest.approx(math.log(20))
    assert sorted(by_result) == ["sign/foam", "sign/noise"]


@pytest.mark.parametrize("ratio", [0.5, 1.5, 4.0, 30.0])
def test_what_is_said_counts_less_than_what_is_seen(knowledge: Knowledge, ratio: float) -> None:
    """By the law of total probability, written out over the sign that is there or not."""
    sign, h = knowledge.priors.observed["sign"], knowledge.priors.hearsay
    said = {}
    for there in (sign.astray, sign.astray * ratio):
        said[there] = sum(chance * says for chance, says in ((there, 1.0), (1 - there, h)))
    got = by_hearsay(ratio, knowledge.priors)
    assert got == pytest.approx(said[sign.astray * ratio] / said[sign.astray])
    assert min(ratio, 1.0) <= got <= max(ratio, 1.0)


def test_what_speaks_against_counts_too(model: Predictions, machine: Machine, knowledge: Knowledge, find: Find) -> None:
    at = ("suction.air-leak", "suction")
    total, _ = observe(model, machine, knowledge, finding("a", *at, 0.1), finding("b", *at, 3.0))
    assert total[find(*at)] == pytest.approx(math.log(0.1))  # the stronger of the two


def test_patterns_and_unknown_places_change_no_odds(model: Predictions, machine: Machine, knowledge: Knowledge) -> None:
    total, by_result = observe(
        model,
        machine,
        knowledge,
        finding("a", "pump.worn", "pump-1", None),
        finding("b", "pump.worn", "no-such-part", 9.0),
    )
    assert not total.any()
    assert not any(column.any() for column in by_result.values())


def test_the_outcome_of_a_check_counts_against_the_sound_machine(
    machine: Machine, knowledge: Knowledge, find: Find, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted = find("pump.worn", "pump-2")

    def chances(result: Any, bench: Bench) -> tuple[Any, float]:
        return np.array([0.8 if n == wanted else 0.1 for n in range(len(bench.hypotheses))]), 0.1

    monkeypatch.setattr("oilpath.ranking.priors.outcome_likelihood", chances)
    result = check_result("case-drain", "pump-2", "high")
    total, by_result = observed(Suspicions(), [result], bench_for(machine, knowledge))
    assert total[wanted] == pytest.approx(math.log(8))
    assert np.count_nonzero(np.abs(total) > 1e-12) == 1
    assert list(by_result) == [result.id]
