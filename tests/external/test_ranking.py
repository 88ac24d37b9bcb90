"""The ranking's arithmetic against worked examples: odds, decision rules, scores of stated probabilities.

Status words as in test_cylinders.py; ARITHMETIC = Bayes' rule or a definition, worked by hand beside the check.
"""

import math
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from oilpath import uncertainty as un
from oilpath.judging.verdicts import Thresholds
from oilpath.knowledge.base import Priors
from oilpath.lab import discrete
from oilpath.lab.metrics import brier, log_score, reciprocal_rank
from oilpath.ranking.evidence import Readings
from oilpath.ranking.posterior import posterior
from oilpath.ranking.question import question

G8 = "ILAC-G8:09/2019 4.2.3 and p. 10; READ"
JCGM106 = "JCGM 106:2012 "

# Prior probability, likelihood ratios, posterior. By hand: odds 0.05/0.95 · 20 = 1.052632; odds 1 · 2.5 · 10 = 25.
ODDS: list[tuple[float, tuple[float, ...], float]] = [
    (0.05, (20.0,), 0.512821),
    (0.5, (2.5, 10.0), 0.961538),
]


def no_readings() -> Readings:
    nothing = np.zeros(0)
    return Readings((), nothing, nothing, np.zeros((0, 0)), np.zeros(0, dtype=bool), nothing, nothing, nothing)


def priors(**changes: Any) -> Priors:
    from oilpath import load_knowledge

    return load_knowledge().priors.model_copy(update=changes)


@pytest.mark.parametrize(("before", "ratios", "after"), ODDS)
def test_findings_move_the_odds_as_bayes_rule_says(before: float, ratios: tuple[float, ...], after: float) -> None:
    """ARITHMETIC: one cause against `none`, the findings alone, in the ranking itself."""
    model: Any = SimpleNamespace(steps=np.zeros(1))
    odds, findings = np.array([before / (1 - before)]), np.array([sum(math.log(ratio) for ratio in ratios)])
    nothing = np.zeros((1, 21, 0))
    post = posterior(question(model, no_readings(), nothing, odds, findings, priors(unknown=1e-12), 1 - before))
    assert post.single[0] == pytest.approx(after, abs=5e-7)
    assert post.none == pytest.approx(1 - after, abs=5e-7)


@pytest.mark.parametrize(("before", "ratios", "after"), ODDS)
def test_readings_move_the_odds_as_bayes_rule_says(before: float, ratios: tuple[float, ...], after: float) -> None:
    """ARITHMETIC: the same in the discrete form, each ratio as a reading that is likelier under the cause."""
    one, none = np.ones(1), np.zeros(len(ratios))
    net = discrete.Network(
        prior=np.array([before, 1 - before]),
        severity=np.ones((2, 1)),
        hidden=(one,),
        gross=np.concatenate([one, none]),
        parents=tuple((0,) for _ in ratios),
        observed=tuple(np.array([1.0, 1 / ratio]).reshape(2, 1, 1) for ratio in ratios),
        mistaken=none,
    )
    assert discrete.posterior(net)[0, 0] == pytest.approx(after, abs=5e-7)


@pytest.mark.parametrize(
    ("value", "zone", "verdict"),
    [
        (9.3, "pass", "pass"), (9.39, "pass", "pass"), (9.7, "conditional pass", "near"),
        (10.3, "conditional fail", "near"), (10.61, "fail", "fail"), (10.7, "fail", "fail"),
    ],
)  # fmt: skip
def test_verdicts_with_the_guard_band_as_thresholds(value: float, zone: str, verdict: str) -> None:
    """U8: limit 10, u 0.3, w = U = 0.6: thresholds at Φ(±2) give the zones, the two conditional ones are `near`."""
    edge = 0.5 * math.erfc(2 / math.sqrt(2))
    thresholds = Thresholds(fail_at=1 - edge, pass_at=edge)
    assert thresholds.verdict(un.probability_out(value, 0.3, None, 10.0)) == verdict, (zone, G8)


@pytest.mark.parametrize(
    ("source", "value", "u", "lower", "upper", "conforming", "verdict"),
    [
        (JCGM106 + "7.4, inputs READ, answer 0.66 MEM; READ-IN (U3)", 13.6, 1.8, 12.5, 16.3, 0.663, "near"),
        (JCGM106 + "7.3.3 example 1; MEM (U4)", -5.47, 0.05, None, -5.40, 0.92, "near"),
        (JCGM106 + "7.3.3 example 2; MEM (U5)", 509.7, 8.6, 490.0, None, 0.99, "pass"),
    ],
)
def test_the_conformity_probability_decides_the_verdict(
    source: str, value: float, u: float, lower: float | None, upper: float | None, conforming: float, verdict: str
) -> None:
    """At the usual thresholds of 0.05 and 0.95 only the third of the guide's examples is beyond doubt."""
    out = un.probability_out(value, u, lower, upper)
    assert 1 - out == pytest.approx(conforming, abs=0.002), source
    assert Thresholds().verdict(out) == verdict, source


@pytest.mark.parametrize(("factor", "verdict"), [(1.6, "near"), (1.7, "fail"), (-1.6, "near"), (-1.7, "pass")])
def test_a_verdict_needs_the_one_sided_factor(factor: float, verdict: str) -> None:
    """U7: z = 1.645 for 95 % one-sided; ILAC-G8:09/2019 4.2.3, READ."""
    assert Thresholds().verdict(un.probability_out(10.0 + factor * 0.3, 0.3, None, 10.0)) == verdict


TABLE = [[0.7, 0.2, 0.1], [0.3, 0.5, 0.2], [0.2, 0.2, 0.6], [0.6, 0.3, 0.1]]
TRUTH = [0, 0, 2, 1]


@pytest.mark.parametrize(
    ("score", "expected"),
    [
        (brier, 0.505),  # (0.14 + 0.78 + 0.24 + 0.86)/4
        (log_score, 0.818862),  # −ln(0.7 · 0.3 · 0.6 · 0.3)/4
        (reciprocal_rank, 0.75),  # (1 + 1/2 + 1 + 1/2)/4
    ],
)
def test_scores_of_stated_probabilities(
    score: Callable[[list[list[float]], list[int]], float], expected: float
) -> None:
    """ARITHMETIC from the definitions (Brier 1950, Good 1952)."""
    assert score(TABLE, TRUTH) == pytest.approx(expected, abs=5e-7)
