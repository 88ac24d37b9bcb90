"""Score the ranking on simulated sheets with known causes, half of them of sound machines.

The sheets come from the knowledge base's own priors, severities such that a result is out, signs and codes with the
probabilities that it declares; `Wrong` makes the machines unlike the model. Everything is seeded.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import field
from pathlib import Path
from typing import Any

import numpy as np

from oilpath.arrays import Array
from oilpath.bench import Bench, bench_for
from oilpath.documents.load import load_sheet
from oilpath.documents.machine import Machine
from oilpath.flow import Ranking, Result, Suspicions, evidence_in
from oilpath.judging import judge
from oilpath.knowledge.base import Knowledge
from oilpath.lab.observing import codes, signs
from oilpath.lab.simulation import simulate
from oilpath.machine.hypotheses import Hypothesis
from oilpath.physics.predictions import Predictions
from oilpath.ranking import rank
from oilpath.ranking.priors import odds
from oilpath.ranking.question import Search
from oilpath.records import dataclass
from oilpath.rules.engine import suspect
from oilpath.rules.facts import relate

CauseKey = tuple[str, str]
SOUND: CauseKey = ("none", "machine")
TRIES = 60
"""draws of a cause until a result of it is out"""
BLAMED = 0.5
"""presence from which a cause counts as blamed"""
SHOWS = 0.5
"""share of a failing result's deviation that the cause itself must bring"""
PAIRS = 0.1
"""share of the faulty sheets with two causes"""
BINS, RESAMPLES = 10, 400


@dataclass(frozen=True, slots=True)
class Wrong:
    """How simulated machines differ from the model: a factor on the scatter, errors of the effects, gross readings."""

    scatter: float = 1.0
    distort: float = 0.0
    gross: float = 0.0


OWN = Wrong()
UNLIKE = Wrong(scatter=1.5, distort=0.25, gross=0.1)
MACHINES = ("trainer-22t.yaml", "yard-12t.yaml")
"""invented machines that the scores are taken on"""


@dataclass(slots=True)
class Score:
    """Counts over sheets. `leading` holds (probability, right) of every leading group."""

    sheets: int = 0
    sound: Counter[str] = field(default_factory=Counter)
    single: Counter[str] = field(default_factory=Counter)
    exact: Counter[str] = field(default_factory=Counter)
    pair: Counter[str] = field(default_factory=Counter)
    sizes: list[int] = field(default_factory=list)
    leading: list[tuple[float, bool]] = field(default_factory=list)
    taken: Counter[tuple[str, str]] = field(default_factory=Counter)

    def figures(self) -> dict[str, float]:
        """The figures by name, shares as fractions."""
        low, high = self.interval()
        sizes = np.array(self.sizes or [0])
        return {
            "sheets": self.sheets,
            "group-first": _share(self.single, "group"),
            "group-size-median": float(np.median(sizes)),
            "group-size-largest": int(sizes.max()),
            "top-1": _share(self.single, "top-1"),
            "top-3": _share(self.single, "top-3"),
            "top-3-small-groups": self.single["small-top-3"] / max(1, self.single["small"]),
            "exact-top-1": _share(self.exact, "top-1"),
            "exact-top-3": _share(self.exact, "top-3"),
            "calibration-error": calibration_error(self.leading),
            "calibration-error-low": low,
            "calibration-error-high": high,
            "sound-blamed": _share(self.sound, "blamed"),
            "sound-none-first": _share(self.sound, "none"),
            "pairs-in-first-five": _share(self.pair, "both"),
        }

    def interval(self) -> tuple[float, float]:
        """Central 90 % of the calibration error over bootstrap samples of the sheets."""
        if not self.leading:
            return 0.0, 0.0
        rng = np.random.default_rng(1)
        pairs = np.array(self.leading, dtype=float)
        errors = [
            calibration_error([(float(p), bool(r)) for p, r in pairs[rng.integers(0, len(pairs), len(pairs))]])
            for _ in range(RESAMPLES)
        ]
        return float(np.quantile(errors, 0.05)), float(np.quantile(errors, 0.95))

    def confusions(self, most: int = 12) -> list[tuple[str, str, int]]:
        """(true cause, cause that led, sheets), most frequent first."""
        most_first = sorted(self.taken.items(), key=lambda item: (-item[1], item[0]))
        return [(true, led, count) for (true, led), count in most_first[:most]]


def _share(counts: Mapping[str, int], name: str) -> float:
    return counts[name] / max(1, counts["sheets"])


def calibration_error(leading: Sequence[tuple[float, bool]], bins: int = BINS) -> float:
    """Mean distance of stated probability and share of right answers, over bins of equal count."""
    if not leading:
        return 0.0
    ordered = np.array(sorted(leading), dtype=float)
    parts = np.array_split(ordered, min(bins, len(ordered)))
    return float(sum(len(p) * abs(p[:, 0].mean() - p[:, 1].mean()) for p in parts) / len(ordered))


def score(
    machines: Sequence[Machine],
    knowledge: Knowledge,
    sheets: int,
    seed: int = 1,
    wrong: Wrong = OWN,
    *,
    exact: bool = True,
    watch: Callable[[int, int], None] | None = None,
) -> Score:
    """Score the ranking on simulated sheets of some machines; `exact` compares it with one that skips nothing.

    `watch` is told after each sheet how many are done, of how many.
    """
    total = Score()
    for number in range(sheets):
        if watch is not None:
            watch(number + 1, sheets)
        _one(total, machines[number // 2 % len(machines)], knowledge, number, seed, wrong, exact=exact)
    return total


def _one(
    total: Score, machine: Machine, knowledge: Knowledge, number: int, seed: int, wrong: Wrong, *, exact: bool
) -> None:
    """Simulate, rank and count one sheet."""
    rng = np.random.default_rng([seed, number])
    faulty = number % 2 == 1
    two = faulty and rng.random() < PAIRS
    true, results = _draw(machine, knowledge, rng, wrong, causes=2 if two else int(faulty))
    bench = bench_for(machine, knowledge)
    suspicions = suspect(relate(results, bench), bench.rules)
    ranking = rank(results, suspicions, bench)
    total.sheets += 1
    if two:
        first = [(cause.cause, cause.part) for cause in ranking.causes[:5]]
        total.pair.update(sheets=1, both=int(set(true) <= set(first)))
    elif faulty:
        _count_single(total, ranking, true[0])
        if exact:
            _count_exact(total, results, suspicions, bench, true[0])
    else:
        blamed = [
            c for c in ranking.causes if c.present > BLAMED and (c.cause, c.part) != SOUND and c.cause != "unknown"
        ]
        first_cause = ranking.causes[0]
        total.sound.update(sheets=1, blamed=int(bool(blamed)), none=int((first_cause.cause, first_cause.part) == SOUND))
        if blamed:
            total.taken["none", blamed[0].cause] += 1
        _lead(total, ranking, SOUND)


def _lead(total: Score, ranking: Ranking, true: CauseKey) -> bool:
    leading = ranking.groups[0]
    members = {(ranking.causes[i].cause, ranking.causes[i].part) for i in leading.members}
    total.leading.append((leading.probability, true in members))
    return true in members


def _count_single(total: Score, ranking: Ranking, true: CauseKey) -> None:
    keys = [(cause.cause, cause.part) for cause in ranking.causes]
    mine = next(group for group in ranking.groups if keys.index(true) in group.members)
    small = len(mine.members) <= 3
    right = _lead(total, ranking, true)
    total.sizes.append(len(mine.members))
    total.single.update(
        {"sheets": 1, "group": int(right), "top-1": int(keys[0] == true), "top-3": int(true in keys[:3]),
         "small": int(small), "small-top-3": int(small and true in keys[:3])}
    )  # fmt: skip
    if not right:
        total.taken[true[0], keys[ranking.groups[0].members[0]][0]] += 1


def _count_exact(
    total: Score,
    results: Sequence[Result],
    suspicions: Suspicions,
    bench: Bench,
    true: CauseKey,
) -> None:
    """The same sheet ranked with every hypothesis on the whole severity grid, nothing looked at only roughly."""
    ranking = rank(results, suspicions, bench, search=Search(near=math.inf))
    keys = [(cause.cause, cause.part) for cause in ranking.causes]
    total.exact.update({"sheets": 1, "top-1": int(keys[0] == true), "top-3": int(true in keys[:3])})


# --- drawing a sheet ------------------------------------------------------------------


def _draw(
    machine: Machine, knowledge: Knowledge, rng: np.random.Generator, wrong: Wrong, *, causes: int
) -> tuple[tuple[CauseKey, ...], tuple[Result, ...]]:
    """True causes and the judged sheet; redrawn until every cause shows in a result."""
    model = bench_for(machine, knowledge).model
    prior = odds(model.hypotheses, knowledge.priors, routine=True)
    (beside,) = rng.spawn(1)  # so that sheets of machines with and without codes are otherwise the same
    for _ in range(TRIES):
        chosen = _choose(model.hypotheses, prior, rng, causes)
        severities = [float(rng.random()) for _ in chosen]
        data = simulate(
            machine, knowledge, list(zip(chosen, severities, strict=True)), int(rng.integers(1 << 31)),
            scatter=wrong.scatter, distort=wrong.distort, gross=wrong.gross, path=machine.file,
        )  # fmt: skip
        present = [model.hypotheses[n] for n in chosen]
        seen = [*signs(present, knowledge, rng), *codes(present, machine, knowledge, beside)]
        data["readings"] += [one for one, _ in seen]
        data["conditions"] = _stated(data["conditions"], present, knowledge, rng)
        results = _judged(data, machine, knowledge)
        shown = [whose for _, whose in seen]
        if all(
            any(one is model.hypotheses[n] for one in shown) or _shows(model, n, severity, results)
            for n, severity in zip(chosen, severities, strict=True)
        ):
            break
    return tuple((model.hypotheses[n].cause.cause, model.hypotheses[n].part) for n in chosen), results


def _choose(hypotheses: Sequence[Hypothesis], prior: Array, rng: np.random.Generator, many: int) -> list[int]:
    chosen: list[int] = []
    while len(chosen) < many:
        number = int(rng.choice(len(prior), p=prior / prior.sum()))
        key = (hypotheses[number].cause.cause, hypotheses[number].part)
        if all((hypotheses[n].cause.cause, hypotheses[n].part) != key for n in chosen):
            chosen.append(number)
    return chosen


def _judged(data: Mapping[str, Any], machine: Machine, knowledge: Knowledge) -> tuple[Result, ...]:
    """The sheet read as any sheet is, on the machine object whose predictions are already made."""
    sheet = load_sheet(str(Path(machine.file).parent / "simulated.yaml"), knowledge, text=json.dumps(data))
    return judge(dataclasses.replace(sheet, machine=machine), bench_for(machine, knowledge))


def _shows(model: Predictions, number: int, severity: float, results: Sequence[Result]) -> bool:
    """Whether a failing result owes a good part of its deviation to the cause, not to chance."""
    failing = evidence_in(result for result in results if result.verdict == "fail")
    table, _ = model.predict(failing)
    effects = table[number, round(severity * (table.shape[1] - 1))]
    return any(effect * e.e > SHOWS * e.e**2 for effect, e in zip(effects, failing, strict=True))


def _stated(
    conditions: Mapping[str, Any], present: Sequence[Hypothesis], knowledge: Knowledge, rng: np.random.Generator
) -> dict[str, Any]:
    """Conditions as written: those that speak against a cause which is there are seldom stated."""
    kept = dict(conditions)
    causes = {h.cause.cause for h in present}
    for rule in knowledge.rules:
        names = [c.slots.get("case", "") for c in rule.when if c.slots.get("test") == "condition"]
        against = [s.likelihood for s in rule.suspect if s.cause in causes and s.likelihood and s.likelihood < 1]
        if rule.kind == "finding" and against and rng.random() > min(against):
            kept = {key: value for key, value in kept.items() if key not in names}
    return kept


# --- for people -----------------------------------------------------------------------

_LINES = (
    ("group-first", "group of the true cause first"),
    ("group-size-median", "median size of that group"),
    ("group-size-largest", "largest size of that group"),
    ("top-1", "true cause first"),
    ("exact-top-1", "  an exact ranker"),
    ("top-3", "true cause in the first three"),
    ("exact-top-3", "  an exact ranker"),
    ("top-3-small-groups", "  where its group has three or fewer"),
    ("calibration-error", "calibration error of the leading group"),
    ("calibration-error-low", "  from (90 %, bootstrap)"),
    ("calibration-error-high", "  to"),
    ("sound-blamed", "sound machines blamed"),
    ("sound-none-first", "sound machines: nothing wrong first"),
    ("pairs-in-first-five", "both of two causes in the first five"),
)


def score_text(total: Score) -> str:
    """The figures and the confusions that hurt, as plain text."""
    figures = total.figures()
    lines = [f"{total.sheets} simulated sheets, half of them sound"]
    lines += [f"{figures[name]:8.3f}  {says}" for name, says in _LINES]
    lines += ["", "Taken for another (true cause, what led, sheets):"]
    lines += [f"  {true} -> {led}: {count}" for true, led, count in total.confusions()]
    return "\n".join(lines)


def score_json(total: Score) -> str:
    """The figures and the confusions as JSON."""
    figures = {name: round(value, 6) for name, value in total.figures().items()}
    confusions = [{"true": true, "led": led, "sheets": count} for true, led, count in total.confusions()]
    return json.dumps({"oilpath": "score/1", **figures, "confusions": confusions}, indent=2)
