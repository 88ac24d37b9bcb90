"""What was plugged, crossed, fitted or set otherwise and must be put back before the machine starts."""

from __future__ import annotations

from starlette.responses import Response

from oilpath.documents.edit import Document
from oilpath.page.visit import Refused, Visit, address
from oilpath.reports.way import refused
from oilpath.reports.words import Words
from oilpath.reports.work import to_undo, work_page
from oilpath.session.way import NotRecorded, put_back
from oilpath.store.documents import Conflict


def undo(visit: Visit) -> Response:
    """What must still be put back, a button for each part; then all that was moved."""
    name = visit.path["name"]
    held = visit.workshop.held(name, "sheet")
    sheet = visit.workshop.sheet(name, held.text)
    parts = tuple(dict.fromkeys(one.part for one in sheet.work if one.open))
    if visit.request.method == "POST":
        try:
            document = put_back(Document(name, held.text), visit.sent.one("part"), parts)
        except NotRecorded as error:
            raise Refused(409, f"{refused(error)}.") from None
        visit.workshop.sheet(name, document.text)
        saved = visit.workshop.store.documents.save(
            name, document.text, base=held.version.number, author=visit.person.name
        )
        if isinstance(saved, Conflict):
            raise Refused(409, "Somebody else has changed the sheet meanwhile. Look at it again.")
        return visit.to(address("sheet", name, "undo"))
    words = Words(visit.workshop.knowledge, sheet.machine, visit.units)
    open_ = [(part, to_undo([one for one in sheet.work if one.part == part], words)) for part in parts]
    return visit.show("undo.html", name=name, open=open_, work=list(work_page(sheet.work, words)))
