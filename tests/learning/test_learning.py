"""Counts over closed jobs, likeness of patterns, own jobs. Formulas are compared with a numerical integral of the model
(gamma–Poisson with exposure, Dirichlet; A. Gelman and others, Bayesian Data Analysis, 2.6 and 3.4, from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from oilpath.bench import bench_for, bench_of
from oilpath.data import data_folder
from oilpath.diagnosis import diagnose
from oilpath.documents.load import load_machine, load_sheet
from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Sheet
from oilpath.flow import RankedCause, check_result
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.closed import Closed
from oilpath.knowledge.compile import load_knowledge
from oilpath.learning.counts import content_of, own_jobs
from oilpath.learning.pattern import likeness
from oilpath.outcomes import outcome_likelihood
from oilpath.outcomes.declared import given_by

CASES = data_folder("cases")


@pytest.fixture(scope="module")
def known() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def machine(known: Knowledge) -> Machine:
    return load_machine(CASES / "machines/trainer-22t.yaml", known)


@pytest.fixture(scope="module")
def sheet(known: Knowledge) -> Sheet:
    return load_sheet(CASES / "demo/pump-1-slow.yaml", known)


def job(number: int, cause: str = "pump.worn", part: str = "pump-1", grade: str = "torn-down", **more: Any) -> Closed:
    head = {"oilpath": "closed/1", "id": f"job-{number}", "circuit": "two-pump-excavator", "grade": grade}
    sheet = {
        "unit-number": f"U-{number}",
        "date": "2026-01-02",
        "readings": more.pop("readings", []),
        **more.pop("head", {}),
    }
    return Closed.model_validate({**head, "found": [{"cause": cause, "part": part}], "sheet": sheet, **more})


def with_jobs(known: Knowledge, *jobs: Closed) -> Knowledge:
    return known.model_copy(update={"closed": jobs})


def odds_of(ranked: tuple[RankedCause, ...], cause: str) -> float:
    share = sum(one.probability for one in ranked if one.cause == cause)
    return share / (1 - share)


# --- how often ----------------------------------------------------------------------------


def test_frequency_is_the_posterior_mean_of_gamma_and_poisson(known: Knowledge, machine: Machine) -> None:
    """Seven jobs, four of them worn pumps: the factor is the mean of θ under Γ(W·p, W·p) times Poisson(4; θ·7·p)."""
    jobs = [job(n) for n in range(4)] + [job(n, "main-relief.low", "main-relief") for n in range(4, 7)]
    bench = bench_for(machine, with_jobs(known, *jobs))
    weight = known.priors.learning.jobs
    shares: dict[str, float] = {}
    for h in bench.hypotheses:
        shares[h.cause.cause] = shares.get(h.cause.cause, 0.0) + known.priors.frequency[h.frequency] * h.share
    p = shares["pump.worn"] / sum(shares.values())
    # the hours are not stated: wear as at the usual hours
    aged = {c.cause: c.worn_at for c in known.causes}
    wear = {kind: _worn(aged[kind], known) * share for kind, share in shares.items()}
    expected = 7 * wear["pump.worn"] / sum(wear.values())
    theta = np.linspace(1e-6, 60, 400_001)
    log = (weight * p - 1) * np.log(theta) - weight * p * theta + 4 * np.log(theta) - theta * expected
    density = np.exp(log - log.max())
    assert bench.learned.frequency["pump.worn"] == pytest.approx((theta * density).sum() / density.sum(), rel=1e-3)
    assert bench.learned.jobs == 7


def _worn(at: float, known: Knowledge) -> float:
    wear = known.priors.wear
    return 1.0 if at <= 0 else min((wear.usual_hours / at) ** wear.power, 1.0) * (1 - wear.early) + wear.early


def test_grades_weigh_and_other_kinds_of_machine_say_nothing(known: Knowledge, machine: Machine) -> None:
    def factor(*jobs: Closed) -> float:
        return bench_for(machine, with_jobs(known, *jobs)).learned.frequency.get("pump.worn", 1.0)

    seen, proved, gone = (factor(job(1, grade=grade)) for grade in ("torn-down", "retested", "symptom-gone"))
    assert seen > proved > gone > 1.0
    assert factor(job(1, grade="unknown")) == 1.0
    assert factor(job(1, circuit="wheel-loader")) == 1.0


def test_few_jobs_barely_move_an_answer_and_many_do(known: Knowledge, sheet: Sheet) -> None:
    plain, few, many = (
        odds_of(diagnose(sheet, with_jobs(known, *(job(n) for n in range(count)))).causes, "pump.worn")
        for count in (0, 1, 60)
    )
    assert plain < few < 1.3 * plain
    assert many > 2 * plain


# --- checks -------------------------------------------------------------------------------


def test_outcomes_sharpen_what_a_check_declares(known: Knowledge, machine: Machine) -> None:
    """Dirichlet: (C·p + n) / (C + n). Ten blocked strainers that came out alike."""
    places = bench_for(machine, known).places
    telling = (c for c in known.checks if any("suction.restricted" in t.causes for t in c.tells))
    name = next(check for check in telling if not check.measures and places.of(check))
    row = next(n for n, t in enumerate(name.tells, 1) if "suction.restricted" in t.causes)
    first = name.outcomes[0].outcome
    part = places.of(name)[0]
    made = [{"test": "check", "check": name.check, "part": part, "outcome": first}]
    jobs = [job(n, "suction.restricted", "suction", readings=made) for n in range(10)]
    bench = bench_for(machine, with_jobs(known, *jobs))
    weight = known.priors.learning.outcomes
    declared = given_by(name)[row]
    assert bench.learned.outcomes[name.check][row, 0] == pytest.approx((weight * declared[0] + 10) / (weight + 10))
    chance, _ = outcome_likelihood(check_result(name.check, part, first), bench)
    number = next(n for n, h in enumerate(bench.hypotheses) if h.cause.cause == "suction.restricted")
    assert chance[number] == pytest.approx(bench.learned.outcomes[name.check][row, 0])
    np.testing.assert_allclose(bench.learned.outcomes[name.check].sum(axis=1), 1.0)


# --- never for itself ---------------------------------------------------------------------


@pytest.mark.parametrize("how", ["content", "unit"])
def test_a_job_never_counts_for_its_own_sheet(known: Knowledge, sheet: Sheet, how: str) -> None:
    own = (
        {"content": content_of(sheet)} if how == "content" else {"head": {"unit-number": "PIT-07", "date": sheet.date}}
    )
    known_too = with_jobs(known, job(1, **own))
    assert own_jobs(sheet, known_too.closed) == {"job-1"}
    assert bench_of(sheet, known_too).learned.jobs == 0
    before, after = diagnose(sheet, known), diagnose(sheet, known_too)
    assert after.causes == before.causes
    assert after.similar == ()
    assert after.comeback is None


def test_no_jobs_change_nothing(known: Knowledge, sheet: Sheet) -> None:
    assert bench_of(sheet, known).learned.frequency == {}


# --- alike, and back again ----------------------------------------------------------------


def test_likeness_by_hand() -> None:
    """Two found alike, one against, one that the other did not look at: 2 / (1 + 1 + 1 + 0.5)."""
    own = {"a": "slow", "b": "low", "c": "slow", "d": "seen", "e": "in-order"}
    other = {"a": "slow", "b": "low", "c": "in-order", "e": "in-order"}
    assert likeness(own, other).share == pytest.approx(2 / 3.5)
    assert likeness(own, other).alike == ("a", "b")
    assert likeness(own, other) == likeness(dict(reversed(own.items())), other)
    assert likeness({"a": "in-order"}, {"a": "in-order"}).share == 0.0
    assert likeness({"a": "near"}, {"a": "slow"}).share == pytest.approx(0.5)


def test_a_job_that_looked_alike_is_named_with_what_was_found(known: Knowledge, sheet: Sheet) -> None:
    pattern = {
        "travel-time/forward/high": "slow",
        "travel-time/reverse/high": "slow",
        "travel-veer/forward/high": "right",
    }
    jobs = (job(1, pattern=pattern), job(2, "main-relief.low", "main-relief", pattern={"cycle-time/arm-in": "slow"}))
    (found,) = diagnose(sheet, with_jobs(known, *jobs)).similar
    assert (found.job, found.found[0].cause, found.alike[0]) == ("job-1", "pump.worn", "travel-time/forward/high")


def test_a_comeback_compares_before_after_and_now(known: Knowledge, sheet: Sheet) -> None:
    values = {"cycle-time/bucket-curl": ["4.4 s", "3.4 s"]}
    last = job(1, head={"unit-number": "PIT-07", "date": "2026-03-01", "hours": 8300}, values=values)
    long_ago = job(2, head={"unit-number": "PIT-07", "date": "2024-03-01", "hours": 5000})
    found = diagnose(sheet, with_jobs(known, long_ago, last)).comeback
    assert found is not None
    assert (found.job, found.since, found.touched) == ("job-1", 150, ("pump-1",))
    (one,) = found.compared
    assert (one.before, one.after) == (4.4, 3.4)
    assert one.now == pytest.approx(4.0667, abs=1e-3)
    assert diagnose(sheet, with_jobs(known, long_ago)).comeback is None
