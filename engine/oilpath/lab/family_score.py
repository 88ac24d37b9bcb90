"""Score the ranking on the family: `diagnose` sheets of drawn machines and compare with the true fault.

The family is in `lab/family`; this module alone knows both it and the engine. What each figure means stands in FIGURES.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from multiprocessing import get_context
from typing import Any, Final

import numpy as np

from oilpath import Diagnosis, diagnose, load_knowledge, load_sheet
from oilpath.knowledge.base import Knowledge
from oilpath.lab.family import KINDS, SHEETS, Case, draw, merged, same
from oilpath.records import dataclass

LARGEST: Final = 12
"""a leading group larger than this says nothing, and counts as wrong"""
SURE: Final = 0.95
BLAMED: Final = 0.5
FORGOTTEN: Final = 0.001
FLOOR: Final = 1e-6
"""least probability that the log score counts, for a truth that the answer does not hold at all"""
BINS: Final = 10
_NONE: Final = ("none", "unknown")

FIGURES: Final = {
    "leading": "leading group holds the cause, its size at most 12",
    "size-median": "median size of the leading group",
    "size-95": "95 % of the leading groups are at most so large",
    "heaps": "leading group larger than 12",
    "first-three": "the cause itself among the first three kinds and places",
    "sure": "sheets whose leading group claims 95 % or more",
    "sure-right": "right where it claims 95 % or more",
    "calibration": "calibration error, ten equal bins of the leading group's share",
    "calibration-counts": "the same, ten bins of as many sheets each",
    "bits": "log score of the cause itself, bits",
    "forgotten": "the cause itself below 0.1 %",
    "both-in-five": "both of two causes in the first five, groups counted as one",
    "blamed": "sound machines blamed: a cause present with 50 % or more",
    "none-first": "sound machines: nothing wrong leads",
}
"""what each figure is; shares as fractions. Kinds that no reading tells apart count as one (`lab/family/alike.py`)"""
SHARES: Final = frozenset(FIGURES) - {"size-median", "size-95", "bits", "calibration", "calibration-counts"}


@dataclass(frozen=True, slots=True)
class Outcome:
    """One sheet's answer against its truth. For a sound machine the truth is that nothing is wrong."""

    kind: str
    sheet_kind: str
    seed: int
    index: int
    truths: tuple[tuple[str, str], ...]
    share: float
    """probability of the leading group"""
    size: int
    holds: bool
    """whether the leading group holds the cause (of two, either one)"""
    first_three: bool
    probability: float
    """of the cause itself, kinds that no reading tells apart together"""
    both: bool
    blamed: bool
    led: tuple[str, str]

    @property
    def right(self) -> bool:
        return self.holds and self.size <= LARGEST


def measure(case: Case, knowledge: Knowledge) -> Outcome:
    """Diagnose one drawn sheet and compare the answer with the truth."""
    answer = diagnose(load_sheet(case.name, knowledge, text=case.text()), knowledge)
    truths = case.truths or (("none", "machine"),)
    leading = answer.groups[0]
    members = [answer.causes[i] for i in leading.members]
    kinds = list(dict.fromkeys(merged(cause.cause, cause.part) for cause in answer.causes))
    names = {key: any(same(*name, truth) for truth in truths) for name, key in _named(answer)}
    own = sum(cause.probability for cause in answer.causes if same(cause.cause, cause.part, truths[0]))
    return Outcome(
        kind=case.kind,
        sheet_kind=case.sheet_kind,
        seed=case.seed,
        index=case.index,
        truths=truths,
        share=leading.probability,
        size=len(leading.members),
        holds=any(same(one.cause, one.part, truth) for one in members for truth in truths),
        first_three=any(names[key] for key in kinds[:3]),
        probability=own,
        both=all(any(same(*name, truth) for name in _first_groups(answer, 5)) for truth in truths),
        blamed=any(cause.present >= BLAMED for cause in answer.causes if cause.cause not in _NONE),
        led=(members[0].cause, members[0].part),
    )


def _named(answer: Diagnosis) -> Iterable[tuple[tuple[str, str], tuple[str, str]]]:
    """Each cause as (cause, part), with the kind and place that it counts as."""
    for cause in answer.causes:
        name = (cause.cause, cause.part)
        yield name, merged(*name)


def _first_groups(answer: Diagnosis, count: int) -> list[tuple[str, str]]:
    """All members of the groups to which the most probable causes belong, until there are so many groups.

    A group that is larger than a group may be counts for its most probable members alone, as many as may be.
    """
    where = {i: number for number, group in enumerate(answer.groups) for i in group.members}
    found: list[int] = []
    for index in range(len(answer.causes)):
        if where[index] not in found:
            found.append(where[index])
        if len(found) == count:
            break
    chosen = [i for number in found for i in sorted(answer.groups[number].members)[:LARGEST]]
    return [(answer.causes[i].cause, answer.causes[i].part) for i in chosen]


# --- many sheets ------------------------------------------------------------------------


_KNOWLEDGE: list[Knowledge] = []
"""the knowledge base of this process, once it has one"""


def _keep(knowledge: Knowledge) -> None:
    _KNOWLEDGE[:] = [knowledge]


def _one(job: tuple[str, str, int, int]) -> Outcome:
    """One sheet in whichever process."""
    kind, sheet_kind, seed, index = job
    return measure(draw(kind, seed, index, sheet_kind), _KNOWLEDGE[0])


def run(
    sheets: int,
    *,
    seeds: Sequence[int] = (1,),
    kinds: Sequence[str] = KINDS,
    sheet_kinds: Sequence[str] = SHEETS,
    jobs: int = 1,
    knowledge: Knowledge | None = None,
    watch: Callable[[int, int], None] | None = None,
) -> list[Outcome]:
    """Outcomes for a number of sheets per kind of machine, kind of sheet and seed. The order does not depend on `jobs`.

    `watch` is told after each sheet how many are done, of how many. Raises ValueError for a kind that the family does
    not have.
    """
    known = load_knowledge() if knowledge is None else knowledge
    todo = [(k, s, seed, i) for k in kinds for s in sheet_kinds for seed in seeds for i in range(sheets)]
    if jobs <= 1:
        _keep(known)
        return _watched(map(_one, todo), len(todo), watch)
    chunk = max(1, min(25, len(todo) // (4 * jobs)))
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=_keep, initargs=(known,)) as pool:
        return _watched(pool.map(_one, todo, chunksize=chunk), len(todo), watch)


def _watched(outcomes: Iterable[Outcome], total: int, watch: Callable[[int, int], None] | None) -> list[Outcome]:
    done = []
    for number, outcome in enumerate(outcomes, 1):
        done.append(outcome)
        if watch is not None:
            watch(number, total)
    return done


# --- figures ----------------------------------------------------------------------------


def figures(outcomes: Sequence[Outcome]) -> dict[str, float]:
    """The figures of sheets of one kind; those that do not apply to it are left out."""
    if not outcomes:
        return {}
    sheet_kind = outcomes[0].sheet_kind
    pairs = [(one.share, one.right) for one in outcomes]
    sure = [one for one in outcomes if one.share >= SURE]
    found: dict[str, float] = {"sheets": len(outcomes)}
    if sheet_kind == "pairs":
        found |= {"both-in-five": _share(one.both for one in outcomes)}
    elif sheet_kind == "sound":
        found |= {"blamed": _share(one.blamed for one in outcomes), "none-first": _share(one.right for one in outcomes)}
    else:
        sizes = [one.size for one in outcomes]
        found |= {
            "leading": _share(one.right for one in outcomes),
            "size-median": float(np.median(sizes)),
            "size-95": float(np.quantile(sizes, 0.95, method="inverted_cdf")),
            "heaps": _share(one.size > LARGEST for one in outcomes),
            "first-three": _share(one.first_three for one in outcomes),
            "bits": float(np.mean([-math.log2(max(one.probability, FLOOR)) for one in outcomes])),
            "forgotten": _share(one.probability < FORGOTTEN for one in outcomes),
        }
    found |= {"sure": len(sure) / len(outcomes)}
    if sure:
        found["sure-right"] = _share(one.right for one in sure)
    found |= {"calibration": equal_bins(pairs), "calibration-counts": equal_counts(pairs)}
    return found


def _share(flags: Iterable[bool]) -> float:
    counted = [bool(flag) for flag in flags]
    return sum(counted) / len(counted) if counted else 0.0


def equal_bins(pairs: Sequence[tuple[float, bool]]) -> float:
    """Mean distance of stated share and share of right answers, weighted by sheets, over ten bins of equal width."""
    table = np.array([(share, right) for share, right in pairs], dtype=float)
    numbers = np.minimum((table[:, 0] * BINS).astype(int), BINS - 1)
    return _distance([table[numbers == n] for n in range(BINS)], len(table))


def equal_counts(pairs: Sequence[tuple[float, bool]]) -> float:
    """The same over ten bins with equal numbers of sheets."""
    table = np.array(sorted((share, right) for share, right in pairs), dtype=float)
    return _distance(np.array_split(table, min(BINS, len(table))), len(table))


def _distance(parts: Sequence[Any], count: int) -> float:
    off = sum(len(part) * abs(part[:, 0].mean() - part[:, 1].mean()) for part in parts if len(part))
    return float(off / count)


def confusions(outcomes: Iterable[Outcome], most: int = 15) -> list[tuple[str, str, int]]:
    """(true cause, cause that led, sheets) of the sheets that are wrong, most frequent first."""
    taken = Counter(
        (one.truths[0][0], one.led[0] if one.size <= LARGEST else f"a group of {one.size}")
        for one in outcomes
        if not one.right and one.sheet_kind != "pairs"
    )
    return [
        (true, led, count) for (true, led), count in sorted(taken.items(), key=lambda item: (-item[1], item[0]))[:most]
    ]


def tables(outcomes: Sequence[Outcome]) -> dict[str, dict[str, dict[str, float]]]:
    """Figures by kind of machine and kind of sheet."""
    found: dict[str, dict[str, list[Outcome]]] = {}
    for one in outcomes:
        found.setdefault(one.kind, {}).setdefault(one.sheet_kind, []).append(one)
    return {kind: {sheet: figures(some) for sheet, some in rows.items()} for kind, rows in found.items()}


# --- for people -------------------------------------------------------------------------


def family_text(outcomes: Sequence[Outcome]) -> str:
    """The figures as plain tables, one for each kind of machine, and the confusions that hurt."""
    lines: list[str] = []
    for kind, rows in tables(outcomes).items():
        lines += [kind, "=" * len(kind), *_table(rows), ""]
    lines += ["Taken for another (true cause, what led, sheets):"]
    lines += [f"  {true} -> {led}: {count}" for true, led, count in confusions(outcomes)]
    return "\n".join(lines)


def _table(rows: Mapping[str, Mapping[str, float]]) -> list[str]:
    width = max(len(says) for says in FIGURES.values())
    lines = [" " * width + "".join(f"{sheet:>8}" for sheet in rows)]
    lines += [f"{'sheets':<{width}}" + "".join(f"{row['sheets']:8.0f}" for row in rows.values())]
    for name, says in FIGURES.items():
        if any(name in row for row in rows.values()):
            style = "8.0f" if name.startswith("size") else "8.2f" if name == "bits" else "8.3f"
            cells = [f"{row[name]:{style}}" if name in row else " " * 8 for row in rows.values()]
            lines.append(f"{says:<{width}}" + "".join(cells))
    return lines


def family_json(outcomes: Sequence[Outcome], *, sheets: bool = False) -> str:
    """The figures as JSON; with `sheets` every single outcome as well."""
    rounded = {
        kind: {sheet: {name: round(value, 6) for name, value in row.items()} for sheet, row in rows.items()}
        for kind, rows in tables(outcomes).items()
    }
    taken = [{"true": true, "led": led, "sheets": count} for true, led, count in confusions(outcomes)]
    answer: dict[str, Any] = {"oilpath": "family-score/1", "figures": rounded, "confusions": taken}
    if sheets:
        answer["outcomes"] = [asdict(one) for one in outcomes]
    return json.dumps(answer, indent=2)
