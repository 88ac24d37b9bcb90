"""Remedies as steps: if adjusting, cleaning or topping up is the cheapest test, it comes before the check.

Nothing is exchanged or taken apart as a test: that waits for a check that confirms its cause.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import numpy as np

from oilpath.arrays import Array
from oilpath.flow import Diagnosis, RankedCause, Ranking
from oilpath.planning.checks import Scene, scene_of
from oilpath.planning.lookahead import Lookahead, Task
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.knowledge.cause import Repair

_PARTS: Final[Mapping[str, float]] = {"none": 0.0, "small": 30.0, "large": 300.0, "major": 1200.0}
"""what parts cost, in minutes of work; from memory"""
_PROOF: Final = 20.0
"""minutes to measure again after a remedy; from memory"""
_FURTHER: Final = 480.0
"""minutes of the search that begins where no remedy held; from memory"""
_CAUSES: Final = 8
_LIKELY: Final = 0.25
"""probability of success below which no remedy is tried as a test"""
_QUICK: Final = 60.0
"""minutes up to which a remedy is tried as a test"""
_TRIED: Final = ("adjusted", "cleaned", "topped-up")
"""what leaves the machine as it was if it was not the cause"""
_SAVES: Final = 0.95
"""share of the minutes with the check first that it must stay below"""


@dataclass(frozen=True, slots=True)
class RemedyFirst:
    """A remedy that is the cheapest test: what is done at which part, how probable it is to end the search, its
    minutes; the expected minutes to a remedy that holds with it first, and with the best check first (None: there is
    no check)."""

    action: str
    part: str
    cause: str
    probability: float
    minutes: float
    expected: float
    with_check: float | None


def remedy_first(answer: Diagnosis, bench: Bench) -> RemedyFirst | None:
    """The remedy to try before any check; None if a check comes first, or no remedy is cheap and likely enough."""
    scene = scene_of(Ranking(answer.causes, answer.groups, answer.sets), answer.results, bench, ())
    known = {cause.cause: cause.repair for cause in bench.knowledge.causes}
    keys, belief, task = _task(scene, answer, known)
    if not len(keys):
        return None
    plan = Lookahead(task, depth=1, breadth=4)
    ranked = plan.ranked(belief)
    if not ranked or ranked[0][1][0] != "repair":
        return None
    minutes, (_, number) = ranked[0]
    action, part = keys[number]
    probability = float(task.fixes[number] @ belief)
    here = next((one for one in scene.causes if _is(one, action, part, known)), None)
    repair = known.get(here.cause) if here is not None else None
    if here is None or repair is None or repair.action not in _TRIED or repair.minutes > _QUICK:
        return None
    check = next((cost for cost, (kind, _) in ranked if kind == "check"), None)
    if probability < _LIKELY or (check is not None and minutes > _SAVES * check):
        return None
    return RemedyFirst(action, part, here.cause, probability, repair.minutes, minutes, check)


def _task(
    scene: Scene, answer: Diagnosis, known: Mapping[str, Repair | None]
) -> tuple[list[tuple[str, str]], Array, Task]:
    """The remedies (action, part; empty for none that is known), the belief, and what can be done."""
    offered = {(one.check, one.part) for one in answer.checks}
    rows = [n for n, (check, part) in enumerate(scene.table.checks) if (check.check, part) in offered]
    count = min(_CAUSES, len(scene.causes))
    named, others = np.arange(count), np.arange(count, len(scene.prior))
    left = float(scene.prior[others].sum())
    belief = np.append(scene.prior[named], left)
    of_others = scene.choices.likelihood[rows][:, :, others] @ scene.prior[others] / max(left, 1e-12)
    likelihood = np.concatenate([scene.choices.likelihood[rows][:, :, named], of_others[:, :, None]], axis=2)
    groups: dict[tuple[str, str], list[int]] = {}
    minutes: dict[tuple[str, str], float] = {("", ""): _FURTHER}
    for column, cause in enumerate(scene.causes[:count]):
        repair = known.get(cause.cause)
        key = ("", "") if repair is None else (repair.action, cause.part)
        groups.setdefault(key, []).append(column)
        if repair is not None:
            minutes[key] = max(minutes.get(key, 0.0), repair.minutes + _PARTS[repair.parts] + _PROOF)
    if left > 0:
        groups.setdefault(("", ""), []).append(count)
    keys = list(groups)
    fixes = np.zeros((len(keys), count + 1), dtype=np.bool_)
    for number, columns in enumerate(groups.values()):
        fixes[number, columns] = True
    took = np.array([minutes[key] for key in keys])
    return keys, belief, Task(likelihood, scene.choices.minutes[rows], fixes, took, least=0.02, most=4)


def _is(cause: RankedCause, action: str, part: str, known: Mapping[str, Repair | None]) -> bool:
    repair = known.get(cause.cause)
    return repair is not None and (repair.action, cause.part) == (action, part)
