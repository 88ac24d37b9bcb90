"""How good the ranking is on simulated sheets: seeded, half of them sound, figures printed.

The first test uses the ranker's own model, so it measures what the readings can tell at best; the second machines
unlike it. The bounds leave room for chance over a few hundred sheets; `oilpath kb score` takes thousands. `-s` shows
the figures and which causes are taken for which.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from oilpath.data import data_folder
from oilpath.flow import Suspicions
from oilpath.formats.compile import load_knowledge
from oilpath.formats.load import load_machine
from oilpath.ranking import rank
from oilpath.relations import relate
from oilpath.scoring import (
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
from oilpath.suspicion import suspect


def scored(sheets: int, wrong: Wrong, seed: int = 3) -> Score:
    knowledge = load_knowledge()
    machines = [load_machine(str(data_folder("cases") / "machines" / name), knowledge) for name in MACHINES]
    total = score(machines, knowledge, sheets, seed, wrong, exact=False)
    print("\n" + score_text(total))
    return total


@pytest.mark.slow
def test_ranking_on_its_own_model() -> None:
    figures = scored(400, OWN).figures()
    assert figures["group-first"] >= 0.88
    assert figures["group-size-median"] <= 3
    assert figures["top-3-small-groups"] >= 0.93
    assert figures["calibration-error"] <= 0.07
    assert figures["sound-blamed"] <= 0.02
    assert figures["pairs-in-first-five"] >= 0.5  # some twenty sheets


@pytest.mark.slow
def test_ranking_on_machines_unlike_the_model() -> None:
    figures = scored(300, UNLIKE).figures()
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


@pytest.mark.slow
def test_rules_have_work_of_their_own() -> None:
    """With all rules taken away, sheets told apart by signs get worse; those told by readings alone do not."""
    knowledge = load_knowledge()
    machine = load_machine(str(data_folder("cases") / "machines" / MACHINES[0]), knowledge)
    shares: dict[str, list[tuple[float, float]]] = {"signs": [], "readings": []}
    for number in range(60):
        true, results = _draw(machine, knowledge, np.random.default_rng([11, number]), OWN, causes=1)
        told = suspect(relate(results, machine, knowledge), knowledge)
        spoken = any((s.cause, s.part) == true[0] and (s.likelihood or 0) > 1 for s in told.suspicions)
        if not spoken and any(r.test == "sign" for r in results):
            continue  # a sign astray misleads, as signs may
        kept = Suspicions(tuple(s for s in told.suspicions if s.rule in STATED))
        pair = tuple(
            next(c.probability for c in rank(results, s, machine, knowledge).causes if (c.cause, c.part) == true[0])
            for s in (told, kept)
        )
        shares["signs" if spoken else "readings"].append((pair[0], pair[1]))
    signs, readings = (np.clip(np.array(shares[kind]), 1e-9, 1 - 1e-9) for kind in ("signs", "readings"))
    odds = np.log(signs / (1 - signs)).mean(axis=0)
    assert odds[0] > odds[1] + 1  # a sign is worth more than a nat to the true cause
    readings = readings.mean(axis=0)
    assert abs(readings[0] - readings[1]) < 0.02


STATED = ("settings-stated-in-order", "attachment-stated-in-order", "repeats-scatter")
"""rules about how the sheet was made stay: they fire on any sheet, whatever the machine"""
