"""The posterior against brute force: every hypothesis at every severity, densities by direct linear algebra."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from oilpath.arrays import Array
from oilpath.flow import Result, evidence_in
from oilpath.knowledge.base import Knowledge
from oilpath.physics.predictions import SEVERITIES, Predictions
from oilpath.ranking.evidence import Readings, censor, readings
from oilpath.ranking.posterior import Posterior, posterior
from oilpath.ranking.priors import odds
from oilpath.ranking.question import USUAL, Search, question

from .conftest import BLANK, Find, SheetOf, result_of

FEW = ("cycle-time", "swing-time", "drift")
SHEETS: tuple[tuple[tuple[str, str, int], ...], ...] = (
    (),
    (("pump.worn", "pump-2", 10),),
    (("holding-valve.leaking", "boom-holding-valve", 7),),
    (("pilot-valve.low-output", "arm-in-pilot", 9),),
)


def log_t(x: Array, covariance: Array, freedom: float) -> Array:
    """Multivariate t for many rows; x (N, p), covariance (N, p, p). Formula as in test_likelihood."""
    p = x.shape[-1]
    log_det = np.linalg.slogdet(covariance)[1]
    distance = (x * np.linalg.solve(covariance, x[..., None])[..., 0]).sum(axis=-1)
    constant = math.lgamma((freedom + p) / 2) - math.lgamma(freedom / 2) - p / 2 * math.log(freedom * math.pi)
    result: Array = constant - log_det / 2 - (freedom + p) / 2 * np.log1p(distance / freedom)
    return result


def density(
    data: Readings, effect: Array, knowledge: Knowledge, smear: Array | None = None, wider: Array | float = 0.0
) -> Array:
    """ln likelihood with one gross reading allowed, for rows of effects (N, R)."""
    priors, r = knowledge.priors, len(data.e)
    covariance = np.zeros((len(effect), r, r)) + data.shared @ data.shared.T
    covariance[:, range(r), range(r)] += data.variance + wider + (priors.model_error * effect) ** 2
    off = data.off * effect  # alike for the readings of a kind
    covariance += off[:, :, None] * off[:, None, :] * (data.kinds @ data.kinds.T)
    if smear is not None:  # a severity node stands for all severities up to its neighbours
        covariance += smear[:, None, None] ** 2 * effect[:, :, None] * effect[:, None, :]
    x = data.e - effect
    power = priors.tempering
    terms = [math.log1p(-priors.gross * r) + power * log_t(x, covariance, priors.freedom)]
    for i in range(r):
        rest = np.delete(np.arange(r), i)
        apart = log_t(x[:, rest], covariance[:, rest][:, :, rest], priors.freedom)
        terms.append(math.log(priors.gross) + power * (apart - math.log(data.width[i])))
    result: Array = np.logaddexp.reduce(terms, axis=0)
    return result


def brute_force(
    data: Readings, table: Array, prior: Array, findings: Array, steps: Array, knowledge: Knowledge
) -> tuple[float, float, Array]:
    """(none, unknown, every hypothesis) without sets of causes."""
    h, s, r = table.shape
    none_prior = knowledge.priors.none_routine
    effect = censor(table, data.censored).reshape(h * s, r)
    value = density(data, effect, knowledge, np.repeat(steps / math.sqrt(12), s)).reshape(h, s)
    single = np.log(prior) + findings + np.logaddexp.reduce(value, axis=1) - math.log(s)
    nothing = np.zeros((1, r))
    none = density(data, nothing, knowledge)[0]
    spread = np.where(data.out, data.spread**2, 0.0)
    k = max(1, int(data.out.sum()))  # it strikes k readings with 1/k(k + 1), any k of them alike
    before = knowledge.priors.unknown / (1 - knowledge.priors.unknown) / none_prior / (k * (k + 1) * math.comb(r, k))
    unknown = math.log(before) + density(data, nothing, knowledge, wider=spread)[0]
    everything = np.array([none, unknown, *single])
    share = np.exp(everything - np.logaddexp.reduce(everything))
    return float(share[0]), float(share[1]), share[2:]


Prepared = tuple[Readings, Array, Array, Array]


def prepare(model: Predictions, knowledge: Knowledge, sheet: Sequence[Result]) -> Prepared:
    evidence = evidence_in(sheet)
    table, known = model.predict(evidence)
    assert known.all()
    prior = odds(model.hypotheses, knowledge.priors, routine=True)
    return readings(sheet, evidence, model.circuit, knowledge), table, prior, np.zeros(len(prior))


def solve(
    model: Predictions,
    knowledge: Knowledge,
    sheet: Sequence[Result],
    findings: Array | None = None,
    search: Search = USUAL,
) -> Posterior:
    data, table, prior, none = prepare(model, knowledge, sheet)
    used = none if findings is None else findings
    asked = question(model, data, table, prior, used, knowledge.priors, knowledge.priors.none_routine, search=search)
    return posterior(asked)


def brute(model: Predictions, knowledge: Knowledge, sheet: Sequence[Result]) -> tuple[float, float, Array]:
    return brute_force(*prepare(model, knowledge, sheet), model.steps, knowledge)


@pytest.mark.parametrize("causes", SHEETS)
def test_with_every_row_looked_at_it_is_brute_force(
    model: Predictions,
    knowledge: Knowledge,
    sheet_of: SheetOf,
    causes: tuple[tuple[str, str, int], ...],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("oilpath.ranking.posterior.sets_of", lambda *_: [])  # single causes only
    sheet = sheet_of(*causes, only=FEW)
    got, (none, unknown, single) = (
        solve(model, knowledge, sheet, search=Search(math.inf)),
        brute(model, knowledge, sheet),
    )
    assert (got.none, got.unknown) == (pytest.approx(none, abs=1e-9), pytest.approx(unknown, abs=1e-9))
    assert got.single == pytest.approx(single, abs=1e-9)


@pytest.mark.parametrize("kind", ["as predicted", "with scatter", "with one gross reading"])
def test_the_first_look_at_two_severities_misses_nothing(
    model: Predictions, knowledge: Knowledge, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("oilpath.ranking.posterior.sets_of", lambda *_: [])  # as slow with every row
    random = np.random.default_rng(20)
    table, _ = model.predict(BLANK)
    shown = np.flatnonzero(np.abs(table).max(axis=(1, 2)) > 0.05)
    for number in shown[::3]:
        e = table[number, random.integers(SEVERITIES)].copy()
        if kind != "as predicted":
            e += random.normal(0, 0.02, len(e))
        if kind == "with one gross reading":
            e[random.integers(len(e))] += random.choice([-1, 1]) * random.uniform(0.3, 1)
        sheet = [result_of(replace(blank, e=float(x))) for blank, x in zip(BLANK, e, strict=True)]
        quick, whole = solve(model, knowledge, sheet), solve(model, knowledge, sheet, search=Search(math.inf))
        assert abs(quick.none - whole.none) < 0.01
        assert abs(quick.unknown - whole.unknown) < 0.01
        assert np.abs(quick.single - whole.single).max() < 0.01, model.hypotheses[number]


@pytest.mark.parametrize("causes", SHEETS)
def test_a_grid_twice_as_fine_moves_nothing(
    model: Predictions, knowledge: Knowledge, sheet_of: SheetOf, causes: tuple[tuple[str, str, int], ...]
) -> None:
    sheet = sheet_of(*causes, only=FEW)
    data, table, prior, findings = prepare(model, knowledge, sheet)
    # the effects half way between two severities, each standing for a neighbourhood half as wide
    nodes = 2 * SEVERITIES - 1
    fine = np.zeros((len(table), nodes, table.shape[2]))
    fine[:, ::2], fine[:, 1::2] = table, (table[:, 1:] + table[:, :-1]) / 2
    usual = brute_force(data, table, prior, findings, model.steps, knowledge)
    twice = brute_force(data, fine, prior, findings, model.steps / 2, knowledge)
    assert abs(usual[0] - twice[0]) < 0.01
    assert np.abs(usual[2] - twice[2]).max() < 0.01


@pytest.mark.parametrize(
    "causes", [*SHEETS, (("pump.worn", "pump-1", 12), ("travel-motor.worn", "travel-left-motor", 9))]
)
def test_probabilities_add_to_one(
    model: Predictions, knowledge: Knowledge, sheet_of: SheetOf, causes: tuple[tuple[str, str, int], ...]
) -> None:
    got = solve(model, knowledge, sheet_of(*causes))
    parts = [got.none, got.unknown, *got.single, *(chance for _, chance in got.sets)]
    assert sum(parts) == pytest.approx(1)
    assert min(parts) >= 0


def test_two_causes_are_found_together(model: Predictions, knowledge: Knowledge, sheet_of: SheetOf, find: Find) -> None:
    pair = (("pilot-valve.low-output", "bucket-curl-pilot", 12), ("travel-motor.worn", "travel-left-motor", 12))
    got = solve(model, knowledge, sheet_of(*pair))
    best = max(got.sets, key=lambda s: s[1])
    shown = {model.hypotheses[h].part for h in best[0]}
    assert {"travel-left-motor", "swivel-joint"} & shown
    assert {"bucket-curl-pilot", "bucket-spool"} & shown
    assert sum(chance for _, chance in got.sets) > 0.4


def test_no_set_is_tried_where_one_cause_explains_all(
    model: Predictions, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    assert solve(model, knowledge, sheet_of(("regulator.stuck-low", "pump-2-regulator", 10))).sets == ()
    assert solve(model, knowledge, sheet_of()).sets == ()


def test_the_true_cause_is_first_or_alike(
    model: Predictions, knowledge: Knowledge, sheet_of: SheetOf, find: Find
) -> None:
    for cause, part, node in [
        ("regulator.stuck-low", "pump-2-regulator", 8),
        ("pilot-relief.low", "pilot-relief", 14),
        ("main-relief.low", "main-relief", 10),
        ("merge-valve.stuck-closed", "boom-merge-valve", 15),
        ("swing-brake.dragging", "swing-brake", 14),
        ("travel-shift.stuck-low", "travel-right-shift", 12),
    ]:
        got = solve(model, knowledge, sheet_of((cause, part, node)))
        first = int(np.argmax(got.single))
        same = np.abs(got.question.effects[first] - got.question.effects[find(cause, part)]).max() < 0.3
        assert find(cause, part) in np.argsort(-got.single)[:3] or same, (cause, model.hypotheses[first])
        assert got.none < got.single.sum(), cause


def test_causes_that_nothing_shows_keep_the_ratio_of_their_priors(
    model: Predictions, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    got = solve(model, knowledge, sheet_of(("pump.worn", "pump-2", 10), only=FEW))
    silent = np.flatnonzero(np.abs(got.question.effects).max(axis=(1, 2)) < 1e-9)
    assert len(silent) > 20
    assert got.single[silent] / got.none == pytest.approx(got.question.odds[silent])


def test_without_a_reading_the_prior_stays(model: Predictions, knowledge: Knowledge) -> None:
    got = solve(model, knowledge, ())
    assert got.single / got.none == pytest.approx(got.question.odds)
    assert got.sets == ()


def test_a_finding_multiplies_the_odds(model: Predictions, knowledge: Knowledge, sheet_of: SheetOf, find: Find) -> None:
    sheet, number = sheet_of(), find("suction.air-leak", "suction")
    findings = np.zeros(len(model.hypotheses))
    findings[number] = math.log(7.0)
    before, after = solve(model, knowledge, sheet), solve(model, knowledge, sheet, findings)
    ratio = (after.single[number] / after.none) / (before.single[number] / before.none)
    assert ratio == pytest.approx(7, rel=0.02)


def test_what_nobody_knows_grows_with_misfit_and_loses_on_a_sound_sheet(
    model: Predictions, knowledge: Knowledge, sheet_of: SheetOf
) -> None:
    sound = solve(model, knowledge, sheet_of())
    assert sound.unknown < 0.1 < sound.none
    # slow swing one way and slow bucket one way and slow arm the other, fast raised track: fits no circuit
    odd = {
        "swing-time/left": 0.3,
        "cycle-time/bucket-curl": 0.35,
        "cycle-time/arm-out": 0.3,
        "drift/boom-cylinder": -1.5,
    }
    unknown_fit = [result_of(replace(e, e=odd.get(e.result, 0.0))) for e in BLANK if e.test in FEW]
    got = solve(model, knowledge, unknown_fit)
    assert got.unknown / got.none > 10 * sound.unknown / sound.none


def test_more_of_the_same_deviation_is_surer(model: Predictions, knowledge: Knowledge, sheet_of: SheetOf) -> None:
    none = [solve(model, knowledge, sheet_of(("pump.worn", "pump-2", n), only=FEW)).none for n in (2, 6, 10, 14)]
    assert none == sorted(none, reverse=True)
