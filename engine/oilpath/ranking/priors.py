"""Prior odds of every hypothesis, and what signs, codes and checks add to them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from oilpath.arrays import Array
from oilpath.flow import CheckResult, Result, SignResult, Suspicions
from oilpath.knowledge.base import Priors
from oilpath.machine.hypotheses import Hypothesis
from oilpath.outcomes import outcome_likelihood

if TYPE_CHECKING:
    from oilpath.bench import Bench


def is_routine(complaint: str | None, priors: Priors) -> bool:
    """Whether there is no complaint: none stated, or a routine check in words."""
    text = (complaint or "").lower()
    return not text.strip() or any(word.lower() in text for word in priors.routine_words)


def worn(at: float, hours: float | None, priors: Priors) -> float:
    """How frequent wear is at a machine's hours, as a share of what it is at `at` hours and later.

    The rate of wear-out failures grows with age: a Weibull distribution of shape 1 + `power`. Source: NIST/SEMATECH
    e-Handbook of Statistical Methods, section 8.1.6.2 (hazard of the Weibull model), from memory.
    """
    if at <= 0:
        return 1.0
    age = (priors.wear.usual_hours if hours is None else hours) / at
    return float(min(max(age, 0.0) ** priors.wear.power, 1.0) * (1 - priors.wear.early) + priors.wear.early)


def odds(
    hypotheses: Sequence[Hypothesis],
    priors: Priors,
    *,
    routine: bool,
    hours: float | None = None,
    counted: Mapping[str, float] | None = None,
) -> Array:
    """Prior odds of each hypothesis against nothing being wrong, shape (H,).

    oᵢ = k·frequency·share·counted, with k such that nothing is wrong with the probability that `priors` gives, when
    several causes at once are `priors.several` as likely as one. counted: factors by kind of cause, from closed jobs.
    """
    raw = np.array([priors.frequency[h.frequency] * h.share * worn(h.cause.worn_at, hours, priors) for h in hypotheses])
    if counted:
        raw *= [counted.get(h.cause.cause, 1.0) for h in hypotheses]
    none = priors.none_routine if routine else priors.none_complaint
    result: Array = raw / max(raw.sum(), 1e-12) * (1 - none) / none / (1 + priors.several)
    return result


def together(odds: Array, priors: Priors) -> float:
    """Factor on Π oᵢ for each further cause of a set: all pairs are `priors.several` as likely as all single causes.

    A plain product would expect two faults on every machine that has a complaint.
    """
    return 2 * max(priors.several, 1e-9) / max(float(odds.sum()), 1e-12)


def by_hearsay(likelihood: float, priors: Priors) -> float:
    """The likelihood ratio of a sign that is only said, from that of the sign when it is looked for.

    The sign is there with p = `astray` without the cause and p' = min(likelihood·p, `at-most`) with it; it is said when
    it is there, and with `hearsay` when it is not: (p' + (1 − p')·h) / (p + (1 − p)·h). Law of total probability.
    """
    sign, h = priors.observed["sign"], priors.hearsay
    without = max(sign.astray, 1e-6)
    present = min(likelihood * without, sign.at_most)
    return (present + (1 - present) * h) / (without + (1 - without) * h)


def observed(suspicions: Suspicions, results: Sequence[Result], bench: Bench) -> tuple[Array, dict[str, Array]]:
    """What finding rules and the outcomes of checks add to ln likelihood, shape (H,), and by result.

    Each observation is used once for a cause (the strongest rule counts), and each rule once, however many results
    fire it. What only words say counts less (`by_hearsay`).
    """
    hypotheses = bench.hypotheses
    by_result: dict[str, Array] = {}
    index = bench.model.numbers
    counted: set[tuple[str, str, str]] = set()
    heard = {one.id for one in results if isinstance(one, SignResult) and one.heard}
    for s in sorted(suspicions.suspicions, key=lambda one: (one.rule, one.cause, one.part, one.evidence)):
        if s.kind != "finding" or s.likelihood is None or not s.evidence or (s.rule, s.cause, s.part) in counted:
            continue
        counted.add((s.rule, s.cause, s.part))
        column = by_result.setdefault(s.evidence[0], np.zeros(len(hypotheses)))
        likelihood = by_hearsay(s.likelihood, bench.priors) if heard.intersection(s.evidence) else s.likelihood
        for number in index.get((s.cause, s.part), ()):
            new = math.log(likelihood)
            if abs(new) > abs(column[number]):
                column[number] = new
    checks = [result for result in results if isinstance(result, CheckResult)]
    for result in checks:
        chance, sound = outcome_likelihood(result, bench)
        # rounded, so that an observation without information adds exactly nothing
        logs = np.round(np.log(np.maximum(chance, 1e-4)) - math.log(max(sound, 1e-4)), 12)
        by_result[result.id] = by_result.get(result.id, np.zeros(len(hypotheses))) + logs
    total = sum((by_result[name] for name in sorted(by_result)), np.zeros(len(hypotheses)))
    return total, by_result
