"""How good the ranking is on simulated sheets: seeded, half of them sound, figures printed.

The first test uses the ranker's own model, so it measures what the readings can tell at best; the second machines
unlike it. The bounds leave room for chance over a few hundred sheets; `oilpath kb score` takes thousands. `-s` shows
the figures and which causes are taken for which.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.documents.load import load_machine
from oilpath.flow import Suspicions
from oilpath.knowledge.compile import load_knowledge
from oilpath.lab.scoring import (
    MACHINES,
    OWN,
    UNLIKE,
    Score,
    Wrong,
    _draw,
    calibration_error,
    score,
    score_json,
    score_text,
)
from oilpath.ranking import rank
from oilpath.rules.engine import suspect
from oilpath.rules.facts import relate


def scored(sheets: int, wrong: Wrong, seed: int = 3) -> Score:
    knowledge = load_knowledge()
    machines = [load_machine(str(data_folder("cases") / "machines" / name), knowledge) for name in MACHINES]
    total = score(machines, knowledge, sheets, seed, wrong, exact=False)
    print("\n" + score_text(total))
    return total


@pytest.mark.slow
def test_ranking_on_its_own_model() -> None:
    figures = scored(240, OWN).figures()
    assert figures["group-first"] >= 0.88
    assert figures["group-size-median"] <= 3
    assert figures["top-3-small-groups"] >= 0.93
    assert figures["calibration-error"] <= 0.07
    assert figures["sound-blamed"] <= 0.02
    assert figures["group-size-largest"] <= 10  # rare causes that read like a common one stand with it
    assert figures["pairs-in-first-five"] >= 0.35  # some twenty sheets, so to within 0.11


@pytest.mark.slow
def test_ranking_on_machines_unlike_the_model() -> None:
    figures = scored(160, UNLIKE).figures()
    assert figures["group-first"] >= 0.8
    assert figures["calibration-error"] <= 0.1
    assert figures["sound-blamed"] <= 0.05


def test_the_same_seed_scores_the_same() -> None:
    first, again = score_json(scored(20, OWN, seed=5)), score_json(scored(20, OWN, seed=5))
    assert first == again
    assert json.loads(first)["sheets"] == 20


def test_calibration_error_of_known_statements() -> None:
    # of ten statements of 0.8 eight are right: calibrated; of ten of 0.9 five: 0.4 off (arithmetic)
    assert calibration_error([(0.8, n < 8) for n in range(10)], bins=1) == pytest.approx(0)
    assert calibration_error([(0.9, n < 5) for n in range(10)], bins=1) == pytest.approx(0.4)


STATED = ("settings-stated-in-order", "attachment-stated-in-order", "repeats-scatter")
"""rules about how the sheet was made stay: they fire on any sheet, whatever the machine"""


@pytest.mark.slow
def test_rules_have_work_of_their_own() -> None:
    """With all rules taken away, sheets told apart by signs get worse, and so do those with two causes; those told by
    readings alone do not."""
    knowledge = load_knowledge()
    machine = load_machine(str(data_folder("cases") / "machines" / MACHINES[0]), knowledge)
    present: dict[str, list[tuple[float, float]]] = {"signs": [], "readings": [], "pairs": []}
    for number in range(90):
        two = number >= 60
        true, results = _draw(machine, knowledge, np.random.default_rng([11, number]), OWN, causes=1 + two)
        told = suspect(relate(results, bench_for(machine, knowledge)), bench_for(machine, knowledge).rules)
        signs = any(r.test == "sign" for r in results)
        spoken = any((s.cause, s.part) == true[0] and (s.likelihood or 0) > 1 for s in told.suspicions)
        if signs and (two or not spoken):
            continue  # a sign astray misleads, as signs may; two causes are to be found by the readings
        kept = Suspicions(tuple(s for s in told.suspicions if s.rule in STATED))
        with_rules, without = (
            min(c.present for c in rank(results, s, bench_for(machine, knowledge)).causes if (c.cause, c.part) in true)
            for s in (told, kept)
        )
        present["pairs" if two else "signs" if spoken else "readings"].append((with_rules, without))
    signs, readings, pairs = (np.clip(np.array(present[kind]), 1e-9, 1 - 1e-9) for kind in present)
    print({kind: (len(rows), np.mean(rows, axis=0).round(3).tolist()) for kind, rows in present.items()})
    odds = np.log(signs / (1 - signs)).mean(axis=0)
    assert odds[0] > odds[1] + 1  # a sign is worth more than a nat to the true cause
    assert pairs.mean(axis=0)[0] > pairs.mean(axis=0)[1] + 0.03  # rules name the candidates for sets
    assert abs(readings.mean(axis=0)[0] - readings.mean(axis=0)[1]) < 0.02
