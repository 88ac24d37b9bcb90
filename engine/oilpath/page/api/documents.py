"""Machines and sheets for programs: lists, reading, adding, saving whole, changing by path; closed jobs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, Final

from starlette.responses import Response

from oilpath.documents.edit import Document
from oilpath.documents.validate import known_keys
from oilpath.page.api.asked import Asked, Json, answered
from oilpath.page.api.errors import error_response
from oilpath.page.api.models import JobOut
from oilpath.page.api.patching import changed
from oilpath.page.visit import address
from oilpath.page.workshop import free_name
from oilpath.store.documents import Conflict, Saved, Version
from oilpath.store.search import MachineRow, SheetRow

_FOLDERS: Final = {"machine": "machines", "sheet": "sheets"}


# --- machines -------------------------------------------------------------------------


def list_machines(asked: Asked) -> Response:
    """Machines by title."""
    rows = asked.workshop.store.search.machines(asked.query.words)
    return answered({"oilpath": "machines/1", "machines": [_row(one) for one in rows]})


def create_machine(asked: Asked) -> Response:
    """A new machine."""
    return _create(asked, "machine")


def get_machine(asked: Asked) -> Response:
    """A machine's file."""
    return _get(asked, "machine")


def machine_versions(asked: Asked) -> Response:
    """The versions of a machine's file."""
    return _versions(asked, "machine")


def put_machine(asked: Asked) -> Response:
    """A machine's file, whole."""
    return _put(asked, "machine")


def patch_machine(asked: Asked) -> Response:
    """A machine's file, by path."""
    return _patch(asked, "machine")


# --- sheets ---------------------------------------------------------------------------


def list_sheets(asked: Asked) -> Response:
    """Sheets, searched for."""
    wanted = asked.query
    found = asked.workshop.store.search.sheets(
        wanted.words, machine=wanted.machine, unit_number=wanted.unit_number, cause=wanted.cause, closed=wanted.closed,
        order=wanted.order, start=wanted.start, most=wanted.most,
    )  # fmt: skip
    rows = [_row(one) for one in found.rows]
    return answered({"oilpath": "sheets/1", "total": found.total, "start": wanted.start, "sheets": rows})


def create_sheet(asked: Asked) -> Response:
    """A new sheet."""
    return _create(asked, "sheet")


def get_sheet(asked: Asked) -> Response:
    """A sheet's file."""
    return _get(asked, "sheet")


def sheet_versions(asked: Asked) -> Response:
    """The versions of a sheet."""
    return _versions(asked, "sheet")


def put_sheet(asked: Asked) -> Response:
    """A sheet, whole."""
    return _put(asked, "sheet")


def patch_sheet(asked: Asked) -> Response:
    """A sheet, by path."""
    return _patch(asked, "sheet")


def list_closed(asked: Asked) -> Response:
    """Sheets with a confirmed cause, and how often each cause was found."""
    wanted, search = asked.query, asked.workshop.store.search
    found = search.sheets(wanted.words, closed=True, start=wanted.start, most=wanted.most)
    confirmed = search.confirmed([one.name for one in found.rows])
    return answered(
        {
            "oilpath": "closed-jobs/1",
            "total": found.total,
            "start": wanted.start,
            "jobs": [
                {**_row(one), "confirmed": [_fields(cause) for cause in confirmed.get(one.name, ())]}
                for one in found.rows
            ],
            "causes": [{"cause": cause, "count": count} for cause, count in search.causes_found()],
        }
    )


def get_ranking(asked: Asked) -> Response:
    """How far ranking all sheets is."""
    workshop = asked.workshop
    jobs, job = workshop.store.jobs, workshop.store.jobs.latest()
    shown = None if job is None else {key: value for key, value in _fields(job).items() if key in known_keys(JobOut)}
    return answered(
        {
            "oilpath": "ranking/1", "left": jobs.count_left(workshop.knowledge), "running": workshop.ranker.running,
            "job": shown,
        }
    )  # fmt: skip


def rank_sheets(asked: Asked) -> Response:
    """All sheets ranked anew in the background, or stopped for now."""
    asked.visit.need("admin")
    ranker = asked.workshop.ranker
    if asked.body.do == "start":
        ranker.start()
    else:
        ranker.stop()
    return get_ranking(asked)


# --- both -----------------------------------------------------------------------------


def _create(asked: Asked, kind: str) -> Response:
    """Check a new document, and save it under its name or a free one."""
    store = asked.workshop.store
    as_if = asked.body.name or f"{_FOLDERS[kind]}/new.yaml"
    text = asked.text_of(as_if)
    read = _read(asked, kind, as_if, text)
    title = read.name if kind == "machine" else read.unit_number or read.machine.name
    name = asked.body.name or free_name(store, _FOLDERS[kind], title)
    saved = store.documents.save(name, text, base=None, author=asked.visit.person.name)
    if isinstance(saved, Conflict):
        return _conflict(saved)
    return _saved(saved, 201, {"location": address("api", f"{kind}s", name)})


def _get(asked: Asked, kind: str) -> Response:
    held = asked.workshop.held(asked.name, kind, asked.query.version)
    version = held.version
    return answered(
        {
            "oilpath": "document/1",
            "name": version.name,
            "kind": version.kind,
            "version": version.number,
            "author": version.author,
            "saved-at": version.saved_at,
            "text": held.text,
            "data": Document(version.name, held.text).as_read,
        }
    )


def _versions(asked: Asked, kind: str) -> Response:
    asked.workshop.held(asked.name, kind)
    versions = [_version(one) for one in asked.workshop.store.documents.versions(asked.name)]
    return answered({"oilpath": "versions/1", "name": asked.name, "versions": versions})


def _put(asked: Asked, kind: str) -> Response:
    asked.workshop.held(asked.name, kind)
    return _save(asked, kind, asked.text_of(asked.name))


def _patch(asked: Asked, kind: str) -> Response:
    """All changes or none, onto the version that was read; somebody else's version is never written over."""
    held = asked.workshop.held(asked.name, kind)
    if held.version.number != asked.body.version:
        return _conflict(Conflict(asked.name, None, held.version))
    document = Document(asked.name, held.text)
    for number, change in enumerate(asked.body.changes):
        document = changed(document, change, f"changes[{number}]")
    asked.about(asked.name, document.text)
    return _save(asked, kind, document.text)


def _save(asked: Asked, kind: str, text: str) -> Response:
    _read(asked, kind, asked.name, text)
    saved = asked.workshop.store.documents.save(
        asked.name, text, base=asked.body.version, author=asked.visit.person.name
    )
    return _conflict(saved) if isinstance(saved, Conflict) else _saved(saved)


def _read(asked: Asked, kind: str, name: str, text: str) -> Any:
    """The machine or sheet, whole and sound. Raises UnusableInput with its problems."""
    return (asked.workshop.machine_of if kind == "machine" else asked.workshop.sheet)(name, text)


# --- what is given back -----------------------------------------------------------------


def _saved(saved: Saved, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    version = saved.version
    return answered(
        {
            "oilpath": "saved/1",
            "name": version.name,
            "version": version.number,
            "author": version.author,
            "saved-at": version.saved_at,
            "again": saved.again,
        },
        status,
        headers,
    )


def _conflict(conflict: Conflict) -> Response:
    """Nothing was written: this is not the latest version, or the name is taken."""
    current = conflict.current
    if current is None:
        return error_response(404, "There is no such document.")
    says = f"Version {current.number} is the latest; nothing was written. Read it, and make the change on that."
    return error_response(409, says, more={"current": _version(current)})


def _version(one: Version) -> Json:
    return {"version": one.number, "author": one.author, "saved-at": one.saved_at, "removed": one.removed}


def _row(one: SheetRow | MachineRow) -> Json:
    made = _fields(one)
    return {"name": made.pop("name"), "version": made.pop("number"), **made}


def _fields(one: Any) -> Json:
    return {each.name.replace("_", "-"): getattr(one, each.name) for each in fields(one)}
