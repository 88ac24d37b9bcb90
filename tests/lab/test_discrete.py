"""A second opinion on the ranker: its discrete form by brute force, by another library, and against the likelihood."""

import math
from itertools import product
from typing import Any

import numpy as np
import pytest

from oilpath.flow import evidence_in
from oilpath.knowledge.base import Knowledge
from oilpath.lab.discrete import Network, fold, gamma_points, hermite, network, posterior
from oilpath.physics.predictions import Predictions
from oilpath.ranking.evidence import censor, readings
from oilpath.ranking.likelihood import likelihood, scatter
from oilpath.ranking.priors import odds

from .agrum import inference_for, peer_posterior
from .conftest import SheetOf

CONSTANTS: dict[str, Any] = {"model_error": 0.2, "freedom": 5.0, "gross": 0.01}
SHEETS: tuple[tuple[tuple[str, str, int], ...], ...] = (
    (),
    (("pump.worn", "pump-2", 10),),
    (("holding-valve.leaking", "boom-holding-valve", 7),),
    (("pilot-valve.low-output", "arm-in-pilot", 9),),
    (("travel-motor.worn", "travel-left-motor", 12),),
    (("pump.worn", "pump-1", 6), ("travel-motor.worn", "travel-left-motor", 12)),
)


def made_up(seed: int, most: int = 6) -> dict[str, Any]:
    """A small random problem: what `network` takes, constants aside."""
    random = np.random.default_rng([4, seed])
    h, s, r = (int(random.integers(2, n)) for n in (most + 1, 5, most + 1))
    k = int(random.integers(0, 4))
    return {
        "prior": random.dirichlet(np.ones(h)),
        "severity": random.dirichlet(np.ones(s), h),
        "effects": random.normal(0, 0.15, (h, s, r)),
        "e": random.normal(0, 0.15, r),
        "variance": random.uniform(1e-3, 1e-2, r),
        "shared": random.normal(0, 0.05, (r, k)) * random.choice([0.0, 1.0], (r, k)),
        "width": random.uniform(1, 4, r),
        "smear": random.uniform(0, 0.3, h) if seed % 2 else None,
        "wider": random.uniform(0, 0.05, (h, r)) if seed % 3 == 0 else 0.0,
        "points": int(random.integers(2, 4)),
        "scales": int(random.integers(1, 4)),
    }


def from_sheet(
    seed: int, results: Any, model: Predictions, knowledge: Knowledge, columns: int = 2
) -> tuple[dict[str, Any], dict[str, Any]]:
    """A part of a real problem: some readings of a sheet, some hypotheses on a thinned grid, the largest columns.

    The first hypothesis is `none`, the second `unknown`.
    """
    random = np.random.default_rng([5, seed])
    data = readings(results, evidence_in(results), model.circuit, knowledge)
    table, _ = model.predict(data.evidence)
    effects = censor(table, data.censored)
    some = np.sort(random.choice(len(data.e), 8, replace=False))
    likely = np.argsort(-np.abs(effects @ data.e).max(axis=1), kind="stable")[:12]
    chosen = np.sort(random.choice(likely, 6, replace=False))
    grid = effects[chosen][:, ::5][:, :, some]
    nothing = np.zeros((2, *grid.shape[1:]))
    variance, shared = fold(data.variance[some], data.shared[some], columns)
    priors = knowledge.priors
    prior = odds(model.hypotheses, priors, routine=True)[chosen]
    wider = np.zeros((len(chosen) + 2, len(some)))
    wider[1] = np.where(data.out[some], data.spread[some] ** 2, 0.0)
    problem = {
        "prior": np.concatenate([[1.0, priors.unknown], prior]),
        "severity": np.full((len(chosen) + 2, grid.shape[1]), 1 / grid.shape[1]),
        "effects": np.concatenate([nothing, grid]),
        "e": data.e[some] + random.normal(0, 0.03, len(some)),
        "variance": variance,
        "shared": shared,
        "width": data.width[some],
        "smear": np.concatenate([[0.0, 0.0], model.steps[chosen] / math.sqrt(12)]),
        "wider": wider,
    }
    return problem, {"model_error": priors.model_error, "freedom": priors.freedom, "gross": priors.gross}


def by_enumeration(problem: dict[str, Any], model_error: float, freedom: float, gross: float) -> list[list[float]]:
    """Every state of every node in turn, densities written out: plain Python, nothing of the network's arrays."""
    effects, shared, smear = problem["effects"], problem["shared"], problem["smear"]
    h, s, r = effects.shape
    wide = np.broadcast_to(problem["wider"], (h, r))
    z = list(zip(*(x.tolist() for x in hermite(problem["points"])), strict=True))
    tau = list(zip(*(x.tolist() for x in gamma_points(problem["scales"], freedom)), strict=True))
    joint = [[0.0] * s for _ in range(h)]
    for a, b in product(range(h), range(s)):
        total = 0.0
        for (t, chance), between, *sources in product(tau, z, *([z] * shared.shape[1])):
            weight = chance * between[1] * math.prod(w for _, w in sources)
            density = []
            for i in range(r):
                effect = float(effects[a, b, i])
                own = float(problem["variance"][i]) + float(wide[a, i]) + (model_error * effect) ** 2
                mean = effect + (0.0 if smear is None else float(smear[a]) * effect * between[0] / math.sqrt(t))
                mean += sum(float(shared[i, k]) * x / math.sqrt(t) for k, (x, _) in enumerate(sources))
                sd = math.sqrt(own / t)
                off = (float(problem["e"][i]) - mean) / sd
                density.append(math.exp(-0.5 * off * off) / (sd * math.sqrt(2 * math.pi)))
            whole = (1 - gross * r) * math.prod(density)
            for i in range(r):
                rest = math.prod(x for n, x in enumerate(density) if n != i)
                whole += gross * rest / float(problem["width"][i])
            total += weight * whole
        joint[a][b] = total * float(problem["prior"][a]) * float(problem["severity"][a, b])
    everything = sum(map(sum, joint))
    return [[x / everything for x in row] for row in joint]


@pytest.mark.parametrize("seed", range(12))
def test_brute_force_agrees(seed: int) -> None:
    problem = made_up(seed, most=4)
    got = posterior(network(**problem, **CONSTANTS))
    assert got == pytest.approx(np.array(by_enumeration(problem, **CONSTANTS)), abs=1e-12)


@pytest.mark.peer("pyagrum")
@pytest.mark.parametrize("seed", range(38))
def test_another_library_gives_the_same_posterior(seed: int) -> None:
    """Random problems; with those from sheets below 50 cases."""
    net = network(**made_up(seed), **CONSTANTS)
    assert peer_posterior(inference_for(net)) == pytest.approx(posterior(net), abs=1e-9)


@pytest.mark.peer("pyagrum")
@pytest.mark.parametrize("seed", range(12))
def test_another_library_agrees_on_numbers_of_sheets(
    seed: int, sheet_of: SheetOf, model: Predictions, knowledge: Knowledge
) -> None:
    problem, constants = from_sheet(seed, sheet_of(*SHEETS[seed % len(SHEETS)]), model, knowledge)
    net = network(**problem, **constants)
    ours = posterior(net)
    assert ours.sum() == pytest.approx(1)
    assert peer_posterior(inference_for(net)) == pytest.approx(ours, abs=1e-9)


@pytest.mark.parametrize("number", range(len(SHEETS)))
def test_it_converges_to_the_likelihood_of_the_ranking(
    number: int, sheet_of: SheetOf, model: Predictions, knowledge: Knowledge
) -> None:
    """With many points the network is the ranker: t scale, gross readings, scatter in common and smear included."""
    problem, constants = from_sheet(number, sheet_of(*SHEETS[number]), model, knowledge, columns=1)
    h, s, _ = problem["effects"].shape
    fit = np.zeros((h, s))
    scattered = scatter(problem["e"], problem["variance"], problem["shared"], problem["width"], **constants)
    for a in range(h):  # each by itself, since `wider` differs
        smear = np.full(s, problem["smear"][a])
        fit[a] = likelihood(scattered, problem["effects"][a], smear=smear, wider=problem["wider"][a]).robust
    joint = np.exp(fit - fit.max()) * problem["prior"][:, None] * problem["severity"]
    few = posterior(network(**problem, **constants, points=4, scales=4))
    many = posterior(network(**problem, **constants, points=16, scales=100))
    assert many == pytest.approx(joint / joint.sum(), abs=3e-6)
    assert np.abs(many - joint / joint.sum()).max() <= np.abs(few - joint / joint.sum()).max()


def test_the_points_have_the_moments_of_their_distributions() -> None:
    """Normal: 1, 0, 1, 0, 3. Gamma with shape and rate a = ν/2: mean 1, variance 1/a, E τ³ = (a+1)(a+2)/a²."""
    x, w = hermite(3)
    assert [float((w * x**n).sum()) for n in range(5)] == pytest.approx([1, 0, 1, 0, 3])
    for freedom in (4.0, 5.0, 6.0):
        a = freedom / 2
        x, w = gamma_points(3, freedom)
        assert [float((w * x**n).sum()) for n in range(4)] == pytest.approx([1, 1, 1 + 1 / a, (a + 1) * (a + 2) / a**2])
    assert gamma_points(1, 5.0)[0] == pytest.approx([1.0])


def test_folding_keeps_every_reading_as_uncertain_as_it_was() -> None:
    random = np.random.default_rng(3)
    variance, shared = random.uniform(0.1, 1, 5), random.normal(size=(5, 4))
    less, kept = fold(variance, shared, 2)
    assert kept.shape == (5, 2)
    assert less + (kept**2).sum(axis=1) == pytest.approx(variance + (shared**2).sum(axis=1))
    assert {tuple(c) for c in kept.T} == set(sorted(map(tuple, shared.T), key=lambda c: -sum(x * x for x in c))[:2])
    assert fold(variance, shared, 9)[1].tolist() == shared.tolist()


def test_every_child_is_scaled_to_at_most_one() -> None:
    for seed in range(10):
        net = network(**made_up(seed), **CONSTANTS)
        for i, table in enumerate(net.observed):
            assert max(float(table.max()), float(net.mistaken[i])) == pytest.approx(1.0)
            assert float(table.min()) >= 0


def test_too_many_shared_sources_are_refused() -> None:
    problem = made_up(1) | {"shared": np.full((len(made_up(1)["e"]), 15), 0.1), "points": 4}
    with pytest.raises(ValueError, match="fold the smaller ones"):
        network(**problem, **CONSTANTS)


def test_impossible_readings_are_refused() -> None:
    one = np.ones((1, 1))
    net = Network(np.ones(1), one, (np.ones(1),), np.array([1.0, 0.0]), ((0,),), (0 * one[..., None],), np.zeros(1))
    with pytest.raises(ValueError, match="impossible"):
        posterior(net)


def test_far_hypotheses_do_not_stop_the_sum() -> None:
    """Sixty readings, each a hundred deviations off: the product of their chances is below the smallest float."""
    r = 60
    effects = np.zeros((2, 1, r))
    effects[1] = 0.05
    flat: dict[str, Any] = {"variance": np.full(r, 1e-4), "shared": np.zeros((r, 0)), "width": np.full(r, 3.0)}
    net = network(np.ones(2), np.ones((2, 1)), effects, np.full(r, 0.05), **flat, **CONSTANTS)
    assert posterior(net).sum() == pytest.approx(1)
    assert posterior(net)[1, 0] > 0.999999
