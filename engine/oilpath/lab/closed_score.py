"""Closed jobs replayed: each diagnosed without itself, with what the others teach and without, against what was found.

A job never counts for its own sheet (`learning.counts.own_jobs`), so all can stay in one knowledge base.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

from oilpath.diagnosis import diagnose
from oilpath.documents.closed import ClosedJob, closed_files, load_closed
from oilpath.flow import Diagnosis
from oilpath.knowledge.base import Knowledge
from oilpath.records import dataclass

FLOOR: Final = 1e-6
"""least probability that the log score counts"""
_FIRST: Final = 3

FIGURES: Final = {
    "leading": "a cause that was found is in the leading group",
    "first-three": "a cause that was found is among the first three",
    "both-in-five": "of two causes that were found, both are among the first five groups",
    "similar": "a similar job was named that had found the same kind of cause",
    "bits": "log score of the cause that was found, bits",
}


@dataclass(frozen=True, slots=True)
class Replay:
    """One job, ranked without counting itself: what was found, and the share its answer gave to it."""

    job: str
    grade: str
    found: tuple[tuple[str, str], ...]
    leading: bool
    first_three: bool
    both: bool
    similar: bool
    probability: float


def replay(folders: Iterable[str | Path], knowledge: Knowledge) -> tuple[list[Replay], list[Replay]]:
    """Rank all closed jobs of some folders, once counting the other jobs, once without them. Raises UnusableInput."""
    jobs = [load_closed(path, knowledge) for folder in folders for path in closed_files(folder)]
    counting = knowledge.model_copy(update={"closed": tuple(one.job for one in jobs)})
    alone = knowledge.model_copy(update={"closed": ()})
    return [_replayed(one, counting) for one in jobs], [_replayed(one, alone) for one in jobs]


def _replayed(one: ClosedJob, knowledge: Knowledge) -> Replay:
    answer = diagnose(one.sheet, knowledge)
    found = tuple((cause.cause, cause.part) for cause in one.job.found)
    first = {(cause.cause, cause.part) for cause in answer.causes[:_FIRST]}
    kinds = {cause for cause, _ in found}
    return Replay(
        one.job.id,
        one.job.grade,
        found,
        leading=any(key in found for key in _members(answer, 1)),
        first_three=any(key in first for key in found),
        both=set(found) <= set(_members(answer, 5)),
        similar=any(cause.cause in kinds for job in answer.similar for cause in job.found),
        probability=max(
            (cause.present for cause in answer.causes if (cause.cause, cause.part) in found), default=FLOOR
        ),
    )


def _members(answer: Diagnosis, groups: int) -> list[tuple[str, str]]:
    inside = [answer.causes[n] for group in answer.groups[:groups] for n in group.members]
    return [(cause.cause, cause.part) for cause in inside]


def figures(replays: Sequence[Replay]) -> dict[str, float | None]:
    """The figures of FIGURES, shares as fractions; None where there is nothing to take a share of."""
    two = [one for one in replays if len(one.found) > 1]
    many = len(replays) or 1
    return {
        "leading": sum(one.leading for one in replays) / many,
        "first-three": sum(one.first_three for one in replays) / many,
        "both-in-five": sum(one.both for one in two) / len(two) if two else None,
        "similar": sum(one.similar for one in replays) / many,
        "bits": sum(-math.log2(max(one.probability, FLOOR)) for one in replays) / many,
    }


def closed_text_of(counted: Sequence[Replay], alone: Sequence[Replay]) -> str:
    """A table of the figures, with the other jobs counted and without them."""
    with_, without = figures(counted), figures(alone)
    lines = [f"{len(counted)} closed jobs, each left out in turn.", "", f"{'':<58}  counted  without"]
    for name, says in FIGURES.items():
        lines.append(f"{says:<70.70}{_shown(name, with_[name]):>9}{_shown(name, without[name]):>9}")
    lost = [one for one in counted if not one.first_three]
    lines += ["", "Not among the first three:", *(f"  {one.job}" for one in lost)] if lost else []
    return "\n".join(lines)


def _shown(name: str, value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}" if name == "bits" else f"{value:.0%}"


def closed_json_of(counted: Sequence[Replay], alone: Sequence[Replay]) -> str:
    """The same as JSON, with every job."""
    jobs: list[dict[str, Any]] = [
        {
            "job": one.job,
            "grade": one.grade,
            "found": [list(key) for key in one.found],
            "leading": one.leading,
            "first-three": one.first_three,
            "probability": one.probability,
            "probability-without": other.probability,
        }
        for one, other in zip(counted, alone, strict=True)
    ]
    data = {"oilpath": "closed-score/1", "counted": figures(counted), "without": figures(alone), "jobs": jobs}
    return json.dumps(data, indent=2)
