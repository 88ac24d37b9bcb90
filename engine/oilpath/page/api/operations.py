"""Everything that programs can ask for: the one table that routes, checks and the description are made from."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Literal

from pydantic import BaseModel
from starlette.responses import Response

from oilpath.knowledge.fields import Entry
from oilpath.page.api import answering, documents, models
from oilpath.page.api.answers import DiagnosisOut, ExploreOut, NextOut
from oilpath.page.api.asked import Asked
from oilpath.records import dataclass

_TEXT, _MARKED = "text/plain", "text/markdown"
Method = Literal["GET", "POST", "PUT", "PATCH"]


@dataclass(frozen=True, slots=True)
class Operation:
    """One thing that can be asked for.

    answer: the model of the JSON that comes back, or media types of a text. query, body: the models by which what is
    sent is checked. reads: nothing is saved, so who may only read may ask it.
    """

    method: Method
    path: str
    does: Callable[[Asked], Response]
    says: str
    answer: type[BaseModel] | str
    query: type[models.Query] = models.Query
    body: type[Entry] | None = None
    status: int = 200
    reads: bool = False

    @property
    def name(self) -> str:
        """A name for generated programs: `get-sheet`."""
        return self.does.__name__.replace("_", "-")


def _get(
    path: str, does: Callable[[Asked], Response], says: str, answer: type[BaseModel] | str,
    query: type[models.Query] = models.Query,
) -> Operation:  # fmt: skip
    return Operation("GET", path, does, says, answer, query)


def _send(
    method: Method, path: str, does: Callable[[Asked], Response], says: str, body: type[Entry],
    answer: type[BaseModel] = models.SavedOut, status: int = 200, *, reads: bool = False,
) -> Operation:  # fmt: skip
    return Operation(method, path, does, says, answer, body=body, status=status, reads=reads)


_MACHINES, _SHEETS = "/api/machines", "/api/sheets"
_MACHINE, _SHEET = f"{_MACHINES}/{{name:path}}", f"{_SHEETS}/{{name:path}}"

#: What stands behind a name comes before the name alone, for a name has slashes itself.
OPERATIONS: Final[tuple[Operation, ...]] = (
    _get(_MACHINES, documents.list_machines, "Machines, by title", models.MachinesOut, models.MachinesQuery),
    _send("POST", _MACHINES, documents.create_machine, "Add a machine", models.NewMachine, status=201),
    _get(f"{_MACHINE}/versions", documents.machine_versions, "The versions of a machine's file", models.VersionsOut),
    _get(_MACHINE, documents.get_machine, "A machine", models.DocumentOut, models.VersionQuery),
    _send("PUT", _MACHINE, documents.put_machine, "Save a machine whole", models.WholeMachine),
    _send("PATCH", _MACHINE, documents.patch_machine, "Change a machine by path", models.Changes),
    _get(_SHEETS, documents.list_sheets, "Sheets, searched for", models.SheetsOut, models.SheetsQuery),
    _send("POST", _SHEETS, documents.create_sheet, "Add a sheet", models.NewSheet, status=201),
    _get(f"{_SHEET}/versions", documents.sheet_versions, "The versions of a sheet", models.VersionsOut),
    _get(f"{_SHEET}/answer", answering.get_answer, "The answer of a sheet", DiagnosisOut, models.VersionQuery),
    _get(f"{_SHEET}/next", answering.get_next, "The next step for a sheet", NextOut, models.NextQuery),
    _send("POST", f"{_SHEET}/next", answering.record_step, "Record what a step gave", models.Record, NextOut),
    _get(f"{_SHEET}/order", answering.get_order, "The repair order as text", f"{_TEXT} {_MARKED}", models.OrderQuery),
    _get(f"{_SHEET}/why", answering.get_why, "Why a result or a cause stands as it does", _TEXT, models.WhyQuery),
    _get(_SHEET, documents.get_sheet, "A sheet", models.DocumentOut, models.VersionQuery),
    _send("PUT", _SHEET, documents.put_sheet, "Save a sheet whole", models.WholeSheet),
    _send("PATCH", _SHEET, documents.patch_sheet, "Change a sheet by path", models.Changes),
    _send(
        "POST", "/api/diagnose", answering.judge_sheet, "Answer a sheet that is not kept", models.Judge, DiagnosisOut,
        reads=True,
    ),
    _get("/api/explore", answering.look_up, "What is known without a sheet", ExploreOut, models.ExploreQuery),
    _get("/api/closed", documents.list_closed, "Closed jobs", models.ClosedOut, models.ClosedQuery),
    _get("/api/ranking", documents.get_ranking, "How far ranking all sheets is", models.RankingOut),
    _send("POST", "/api/ranking", documents.rank_sheets, "Rank all sheets anew", models.Rank, models.RankingOut),
)  # fmt: skip
