"""Closing a job: what is kept in the workshop's layer, and how the sheet is marked."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from oilpath.documents.closed import FOLDER
from oilpath.documents.sheet_text import from_folder
from oilpath.flow import ConditionFigure, Measured, Result
from oilpath.knowledge.closed import Closed
from oilpath.learning.counts import content_of, own_jobs
from oilpath.learning.pattern import pattern_of
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.documents.sheet import Sheet

_FREE: Final = ("none", "unknown")
_WHOLE: Final = "machine"
_DIGITS: Final = 6


@dataclass(frozen=True, slots=True)
class FoundHere:
    """A cause at a part of the machine, with what was done."""

    cause: str
    part: str
    how: str


class NotThere(Exception):
    """A cause or part that the machine cannot have: which of the two, what was given, and what is accepted."""

    def __init__(self, what: str, given: str, accepted: tuple[str, ...]) -> None:
        super().__init__(what)
        self.what, self.given, self.accepted = what, given, accepted


def found_here(cause: str, part: str | None, how: str, bench: Bench) -> FoundHere:
    """Find a cause and a part by id or title. The part may be left out if there is only one. Raises NotThere."""
    kind = _cause_named(cause, bench)
    places = [h.part for h in bench.hypotheses if h.cause.cause == kind] if kind not in _FREE else [_WHOLE]
    places = list(dict.fromkeys(places))
    if part is None:
        if len(places) > 1:
            raise NotThere("which-part", kind, tuple(places))
        return FoundHere(kind, places[0], how)
    graph = bench.circuit.parts
    for name in places:
        if part == name or _same(part, graph[name].title) or part in graph[name].members:
            return FoundHere(kind, name, how)
    raise NotThere("part", part, tuple(places))


def _cause_named(name: str, bench: Bench) -> str:
    kinds = {h.cause.cause: h for h in bench.hypotheses}
    if name in _FREE or name in kinds:
        return name
    for h in bench.hypotheses:
        title = h.title.replace("{part}", bench.circuit.parts[h.part].title)
        if _same(name, title) or _same(name, h.title.replace("{part}", "")):
            return h.cause.cause
    raise NotThere("cause", name, _near(name, kinds))


def _same(one: str, other: str) -> bool:
    return re.sub(r"[^a-z0-9]+", " ", one.lower()).split() == re.sub(r"[^a-z0-9]+", " ", other.lower()).split()


def _near(name: str, known: Collection[str]) -> tuple[str, ...]:
    from difflib import get_close_matches

    return tuple(get_close_matches(name, sorted(known), 5, 0.5))


# --- what is kept -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Proof:
    """The sheet made after the repair: its data, what it measured, and the folder that it names files from."""

    data: Mapping[str, Any]
    results: tuple[Result, ...]
    folder: Path


@dataclass(frozen=True, slots=True)
class Ending:
    """How a job ended: its causes, how they are known, the minutes of the whole job, the tests made again."""

    found: tuple[FoundHere, ...]
    grade: str
    minutes: float | None = None
    proof: Proof | None = None


def job_data(
    sheet: Sheet, data: Mapping[str, Any], results: Sequence[Result], ending: Ending, folder: Path, layer: Path
) -> dict[str, Any]:
    """A closed job as the data of its file. data: of the sheet as written, from `folder`; layer: where it goes."""
    inside, proof = layer / FOLDER, ending.proof
    return {
        "oilpath": "closed/1",
        "id": job_id(sheet, ending.found),
        "circuit": sheet.machine.circuit.id,
        "found": [
            {"cause": one.cause, "part": one.part, **({"how": one.how} if one.how else {})} for one in ending.found
        ],
        "grade": ending.grade,
        "minutes": None if ending.minutes is None else round(ending.minutes),
        "pattern": pattern_of(results),
        "values": values_of(results, () if proof is None else proof.results),
        "content": content_of(sheet),
        "sheet": _kept(data, folder, inside),
        "after": None if proof is None else _kept(proof.data, proof.folder, inside),
    }


def job_id(sheet: Sheet, found: Sequence[FoundHere]) -> str:
    """A name for a job: unit, date, first cause; the same for the same job."""
    pieces = [sheet.unit_number or sheet.serial_number or Path(sheet.name).stem, sheet.date or "", found[0].cause]
    return re.sub(r"[^a-z0-9]+", "-", "-".join(piece for piece in pieces if piece).lower()).strip("-")


def values_of(before: Sequence[Result], after: Sequence[Result]) -> dict[str, list[str]]:
    """For each result that was out: its value, and the value after the repair if it was measured again."""
    now = {one.id: one for one in after if isinstance(one, Measured)}
    return {
        one.id: [_written(one), *([_written(now[one.id])] if one.id in now else [])]
        for one in before
        if isinstance(one, Measured)
        and not isinstance(one, ConditionFigure)
        and one.verdict == "fail"
        and one.quantity is not None
    }


def _written(one: Measured) -> str:
    from oilpath.units import to_unit, unit_of

    assert one.quantity is not None
    unit = unit_of(one.quantity)
    return f"{to_unit(one.value, unit):.{_DIGITS}g} {unit}"


def _kept(data: Mapping[str, Any], folder: Path, inside: Path) -> dict[str, Any]:
    """A sheet as it is kept: without what the job file says itself, its machine whole, other files from where it is."""
    made = {key: value for key, value in data.items() if key != "confirmed"}
    machine = made.get("machine")
    path = folder / machine if isinstance(machine, str) else None
    if path is not None and path.is_file() and not _within(path, inside.parent):
        made["machine"] = _machine(path, inside)
    if isinstance(made.get("remedies"), list):  # the tests made again are kept as a whole
        made["remedies"] = [
            {key: value for key, value in one.items() if key != "after"} if isinstance(one, dict) else one
            for one in made["remedies"]
        ]
    return from_folder(made, folder, inside)


def _within(path: Path, folder: Path) -> bool:
    return os.path.realpath(path).startswith(os.path.realpath(folder) + os.sep)


def _machine(path: Path, inside: Path) -> dict[str, Any]:
    """The whole machine of a file, what it names from where the job is kept."""
    from oilpath.documents.nodes import read_file
    from oilpath.documents.yaml_data import value_of

    data = dict(value_of(read_file(path, str(path))))
    data.pop("oilpath", None)
    circuit = data.get("circuit")
    if isinstance(circuit, str) and (path.parent / circuit).is_file():
        data["circuit"] = Path(os.path.relpath(path.parent / circuit, inside)).as_posix()
    return from_folder(data, path.parent, inside)


def earlier_close(sheet: Sheet, jobs: Sequence[Closed], wanted: str) -> Closed | None:
    """The job under which this sheet was closed before; None if it was not closed."""
    own = own_jobs(sheet, jobs)
    return next((job for job in jobs if job.id in own or job.id == wanted), None)
