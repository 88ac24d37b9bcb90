"""Complete searches on machines of the family: step by step to one part. Outcomes follow from the machine's physics.

Beside the order of `next` stands the cheapest first: the same steps, by intrusiveness and then minutes.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Any, Final

from oilpath import load_knowledge, load_sheet
from oilpath.bench import bench_of
from oilpath.diagnosis import diagnose
from oilpath.flow import Diagnosis
from oilpath.knowledge.base import Knowledge
from oilpath.lab.family import Case, draw, same
from oilpath.records import dataclass
from oilpath.session.way import Standing, Way, check_id, proofs_of, proving_first, standing, ways

MOST_STEPS: Final = 25
SURE: Final = 0.5
"""share from which a named part counts as blamed"""
_ENDS: Final = ("proved", "sound", "together", "too-many")
_NAMED: Final = ("one-part", "proved")

Order = Callable[[Sequence[Way], Mapping[str, int]], Sequence[Way]]


@dataclass(frozen=True, slots=True)
class Walked:
    """One search: where it ended, its steps and minutes, and whether it ended at the true cause."""

    kind: str
    sheet_kind: str
    index: int
    truth: tuple[str, str]
    end: str
    steps: int
    minutes: float
    right: bool
    """the part named is the true one, or the causes left hold it"""
    blamed: bool
    """a wrong part is named with a share above one half"""
    shown: bool
    """whether a reading of the sheet it began from is out by the fault"""


def planned(steps: Sequence[Way], _intrusive: Mapping[str, int]) -> Sequence[Way]:
    """The order of `next`."""
    return steps


def cheapest(steps: Sequence[Way], intrusive: Mapping[str, int]) -> Sequence[Way]:
    """The least intrusive step first, then the one with the fewest minutes."""

    def cost(way: Way) -> tuple[int, float]:
        return (1 if way.check is None else intrusive[way.check.check], way.minutes)

    return sorted(steps, key=cost)


def walk(case: Case, knowledge: Knowledge, order: Order = planned, *, from_complaint: bool = False) -> Walked:
    """Search from a sheet (or its complaint alone) until no step helps any more. Outcomes come from the machine."""
    sheet: dict[str, Any] = json.loads(case.text())
    if from_complaint:
        sheet["readings"] = []
    intrusive = {check.check: check.intrusiveness for check in knowledge.checks}
    passed: set[str] = set()
    minutes, made = 0.0, 0
    while True:
        read = load_sheet(case.name, knowledge, text=json.dumps(sheet))
        answer, bench = diagnose(read, knowledge), bench_of(read, knowledge)
        steps = ways(answer, bench, passed)
        stands = standing(answer, steps, bench)
        if stands.kind in _ENDS or made >= MOST_STEPS:
            return _ended(case, answer, stands, made, minutes)
        if stands.kind == "one-part":  # what is still to be made is its proof
            proofs = proofs_of(stands.causes[0], bench)
            steps = tuple(way for way in steps if way.check is not None and way.check.check in proofs)
        steps = tuple(order(proving_first(steps, stands, bench), intrusive))
        line = None
        while steps and line is None:
            way, steps = steps[0], steps[1:]
            line = _outcome(case, way)
            passed.add(_id(way))
        if line is None:
            return _ended(case, answer, stands, made, minutes)
        sheet["readings"] = [*(one for one in sheet["readings"] if not _replaces(line, one, knowledge)), line]
        minutes, made = minutes + way.minutes, made + 1


def _id(way: Way) -> str:
    if way.check is not None:
        return check_id(way.check.check, way.check.part)
    assert way.reading is not None
    return way.reading.slot.id


def _outcome(case: Case, way: Way) -> dict[str, Any] | None:
    """What the machine shows, as a line of the sheet; None where the family has no physics for it."""
    if way.check is not None:
        outcome = case.answer(way.check.check, way.check.part)
        if outcome is None or outcome not in {one.outcome for one in way.check.outcomes}:
            return None
        return {"test": "check", "check": way.check.check, "part": way.check.part, "outcome": outcome}
    assert way.reading is not None
    return case.measure(way.reading.slot.test, dict(way.reading.slot.keys))


def _replaces(line: Mapping[str, Any], other: Mapping[str, Any], knowledge: Knowledge) -> bool:
    """Whether a reading is that of another line made again: one that was not valid."""
    keys = ("test", "variant", "check", *knowledge.tests[line["test"]].id)
    return all(line.get(key) == other.get(key) for key in keys)


def _ended(case: Case, answer: Diagnosis, stands: Standing, made: int, minutes: float) -> Walked:
    truth = case.truths[0] if case.truths else ("none", "machine")
    leading = [answer.causes[n] for n in answer.groups[0].members] if answer.groups else []
    named = stands.kind in _NAMED
    left = stands.causes if named or stands.kind in _ENDS else (*leading, *stands.causes)
    right = any(same(one.cause, one.part, truth) or one.part == truth[1] for one in left)
    return Walked(
        case.kind, case.sheet_kind, case.index, truth, stands.kind, made, minutes, right,
        named and not right and stands.share > SURE, case.shown,
    )  # fmt: skip


# --- many -----------------------------------------------------------------------------


def run(
    count: int, *, seed: int = 21, kinds: Sequence[str], jobs: int = 1, order: Order = planned, complaint: bool = False
) -> list[Walked]:
    """So many ways on each kind of machine, over sheets of 3, 5 and 8 readings and thin ones."""
    wanted = [(kind, seed, index, order, complaint) for kind in kinds for index in range(count)]
    if jobs == 1:
        return [_one(*one) for one in wanted]
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        return list(pool.map(_one, *zip(*wanted, strict=True), chunksize=4))


_SHEETS: Final = ("3", "5", "8", "thin")


def _one(kind: str, seed: int, index: int, order: Order, complaint: bool) -> Walked:
    case = draw(kind, seed, index, _SHEETS[index % len(_SHEETS)])
    return walk(case, load_knowledge(), order, from_complaint=complaint)


def figures(found: Sequence[Walked]) -> dict[str, float]:
    """Shares as fractions, minutes on average."""
    many = len(found) or 1
    return {
        "right": sum(one.right for one in found) / many,
        "blamed": sum(one.blamed for one in found) / many,
        "minutes": sum(one.minutes for one in found) / many,
        "steps": sum(one.steps for one in found) / many,
        "ended": sum(one.end in (*_ENDS, *_NAMED) for one in found) / many,
    }


def table(found: Sequence[Walked], beside: Sequence[Walked]) -> str:
    """The figures, beside those of another order, and how ways end by cause group."""
    own, other = figures(found), figures(beside)
    lines = [f"{len(found)} ways", f"{'':<28}  next   cheapest first"]
    for name in own:
        shown = "{:>7.1f}{:>10.1f}" if name in ("minutes", "steps") else "{:>7.1%}{:>10.1%}"
        lines.append(f"{name:<28}" + shown.format(own[name], other[name]))
    lines += ["", "by the true part's kind (right of so many):", *_by_group(found)]
    return "\n".join(lines)


def _by_group(found: Iterable[Walked]) -> Iterable[str]:
    right: Counter[str] = Counter()
    all_: Counter[str] = Counter()
    for one in found:
        group = one.truth[0].partition(".")[0]
        all_[group] += 1
        right[group] += one.right
    for group, count in sorted(all_.items(), key=lambda item: (-item[1], item[0])):
        yield f"  {group:<24} {right[group]:>3} of {count}"
