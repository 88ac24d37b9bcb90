"""What is wrong in the closed jobs of a layer: sheets that cannot be read, causes and checks that there are not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from oilpath.documents.closed import closed_files, load_closed
from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem, UnusableInput, nearest

_STANDING = ("none", "unknown")


def review_jobs(known: Knowledge, folder: str | Path) -> Iterator[Problem]:
    """Findings on the closed jobs of one layer; what has no form of a job is found elsewhere."""
    if not (Path(folder) / "closed").is_dir():
        return
    causes = {cause.cause for cause in known.causes}
    for path in closed_files(folder):
        try:
            job = load_closed(path, known)
        except UnusableInput as error:
            yield from (one for one in error.problems if one.key.startswith(("sheet", "after")))
            continue
        parts = job.sheet.machine.circuit.parts
        for one in job.job.found:
            if one.cause not in causes and one.cause not in _STANDING:
                yield Problem(str(path), 1, "found", f"names the cause {one.cause}, which does not exist",
                              _like(one.cause, causes))  # fmt: skip
            if one.part not in parts:
                yield Problem(str(path), 1, "found", f"names the part {one.part}, which does not exist",
                              _like(one.part, parts))  # fmt: skip


def _like(name: str, known: Iterable[str]) -> str:
    like = nearest(name, list(known))
    return f"did you mean {like}?" if like else "one that exists"
