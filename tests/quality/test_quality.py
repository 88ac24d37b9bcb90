"""How good the ranking is on simulated sheets of its own model: seeded, half of them sound, figures printed.

The model is the ranker's own, so this measures what the readings can tell at best, not how true the model is. Floors
are loose: they catch a ranking that breaks, not one that gets a little worse. `pytest tests/quality -s` shows the
figures and which causes are taken for which.
"""

from __future__ import annotations

import dataclasses
import json
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from oilpath.circuit.model import Predictions, predictions
from oilpath.data import data_folder
from oilpath.flow import Ranking, Result
from oilpath.formats.compile import load_knowledge
from oilpath.formats.knowledge import Knowledge
from oilpath.formats.load import load_machine, load_sheet
from oilpath.formats.machine import Machine
from oilpath.judging import judge
from oilpath.ranking import rank
from oilpath.ranking.priors import odds
from oilpath.relations import relate
from oilpath.simulation import Cause, simulate
from oilpath.suspicion import suspect

CASES = data_folder("cases")
MACHINES = ("trainer-22t", "yard-12t")
SHEETS = 240
TRIES = 40
GROSS = 0.1
"""one sheet in ten holds a gross mistake, as kb/priors.yaml says"""
SHOWS = 0.3
"""share of a failing result's deviation from which the cause counts as shown by it"""

Key = tuple[str, str]


@dataclass
class Figures:
    """Counts over the sheets; `calibration` holds (probability of the leading group, whether it is right)."""

    faulty: Counter[str] = field(default_factory=Counter)
    shown: Counter[str] = field(default_factory=Counter)
    """the same for sheets on which the true cause shows in a failing result"""
    sound: Counter[str] = field(default_factory=Counter)
    sizes: list[int] = field(default_factory=list)
    calibration: list[tuple[float, bool]] = field(default_factory=list)
    taken: Counter[tuple[str, str]] = field(default_factory=Counter)

    def error(self, bins: int = 10) -> float:
        """Calibration error of the leading group over bins of equal count."""
        ordered = np.array(sorted(self.calibration))
        parts = np.array_split(ordered, bins)
        return float(sum(len(p) * abs(p[:, 0].mean() - p[:, 1].mean()) for p in parts) / len(ordered))

    def text(self) -> str:
        """The figures and the confusions for people."""
        lines = []
        for name, counts in (("faulty", self.faulty), ("faulty and shown", self.shown), ("sound", self.sound)):
            lines.append(f"{counts['sheets']} sheets {name}")
            lines += [f"  {share(counts, key):6.3f}  {key}" for key in counts if key != "sheets"]
        lines.append(f"group size: median {np.median(self.sizes):g}, largest {max(self.sizes)}")
        lines.append(f"calibration error of the leading group: {self.error():.3f}")
        lines += [f"  {count:3d} × {a} taken for {b}" for (a, b), count in self.taken.most_common(20)]
        return "\n".join(lines)


def share(counts: Counter[str], key: str) -> float:
    """A count as a share of the sheets."""
    return counts[key] / max(1, counts["sheets"])


def _results(
    machine: Machine, knowledge: Knowledge, causes: list[tuple[Cause, float]], seed: int, scatter: float, distort: float
) -> tuple[Result, ...]:
    data = simulate(machine, knowledge, causes, seed, gross=GROSS, scatter=scatter, distort=distort)
    sheet = load_sheet(CASES / "simulated.yaml", knowledge, text=json.dumps({**data, "machine": _path(machine)}))
    # the same machine object, so that its predictions are made once
    return judge(dataclasses.replace(sheet, machine=machine), knowledge)


def _path(machine: Machine) -> str:
    return f"machines/{Path(machine.file).name}"


def _rank(results: tuple[Result, ...], machine: Machine, knowledge: Knowledge) -> Ranking:
    return rank(results, suspect(relate(results, machine, knowledge), knowledge), machine, knowledge)


def _shows(model: Predictions, number: int, severity: float, results: tuple[Result, ...]) -> bool:
    """Whether a failing result owes a good part of its deviation to the cause, not to chance."""
    failing = [r.evidence for r in results if r.verdict == "fail" and r.evidence is not None]
    table, _ = model.predict(failing)
    effects = table[number, round(severity * (table.shape[1] - 1))]
    return any(effect * e.e > SHOWS * e.e**2 for effect, e in zip(effects, failing, strict=True))


def _note_sound(figures: Figures, ranking: Ranking) -> None:
    first = ranking.causes[0].cause
    blamed = [c.cause for c in ranking.causes if c.present > 0.5 and c.cause not in ("none", "unknown")]
    figures.sound.update({"sheets": 1, "none first": first == "none", "blamed": bool(blamed)})
    if blamed:
        figures.taken["none", blamed[0]] += 1
    leading = ranking.groups[0]
    figures.calibration.append((leading.probability, ranking.causes[leading.members[0]].cause == "none"))


def _note_faulty(figures: Figures, ranking: Ranking, true: Key, shown: bool) -> None:
    keys = [(cause.cause, cause.part) for cause in ranking.causes]
    place, leading = keys.index(true), ranking.groups[0]
    mine = next(group for group in ranking.groups if place in group.members)
    counts = {"sheets": 1, "top 1": place == 0, "top 3": place < 3, "group first": mine is leading}
    figures.faulty.update(counts)
    if shown:
        figures.shown.update(counts)
    figures.sizes.append(len(mine.members))
    figures.calibration.append((leading.probability, mine is leading))
    if mine is not leading:
        figures.taken[true[0], keys[leading.members[0]][0]] += 1


def measure(sheets: int, scatter: float = 1.0, distort: float = 0.0) -> Figures:
    """Figures over `sheets` simulated sheets, every other one sound; the rest from the priors, a result of each out."""
    knowledge = load_knowledge()
    figures = Figures()
    rng = np.random.default_rng(20260514)
    machines = [load_machine(CASES / "machines" / f"{name}.yaml", knowledge) for name in MACHINES]
    for number in range(sheets):
        machine = machines[number // 2 % len(machines)]
        if number % 2 == 0:
            results = _results(machine, knowledge, [], number, scatter, distort)
            _note_sound(figures, _rank(results, machine, knowledge))
            continue
        model = predictions(machine, knowledge)
        prior = odds(model.hypotheses, knowledge.priors, routine=True)
        for attempt in range(TRIES):
            cause, severity = int(rng.choice(len(prior), p=prior / prior.sum())), float(rng.random())
            results = _results(machine, knowledge, [(cause, severity)], 1000 * number + attempt, scatter, distort)
            if any(result.verdict == "fail" for result in results):
                true = (model.hypotheses[cause].cause.cause, model.hypotheses[cause].part)
                _note_faulty(figures, _rank(results, machine, knowledge), true, _shows(model, cause, severity, results))
                break
    return figures


@pytest.mark.slow
def test_ranking_on_its_own_model() -> None:
    figures = measure(SHEETS)
    print("\n" + figures.text())
    assert figures.faulty["sheets"] + figures.sound["sheets"] == SHEETS
    assert share(figures.faulty, "group first") >= 0.7
    assert share(figures.faulty, "top 3") >= 0.75
    assert share(figures.sound, "blamed") <= 0.04
    assert figures.error() <= 0.12
