"""What was plugged, crossed or set otherwise and must be put back."""

from __future__ import annotations

from starlette.responses import Response

from oilpath.documents.emit import emitted
from oilpath.documents.nodes import read_nodes
from oilpath.documents.yaml_data import value_of
from oilpath.page.visit import Visit


def undo(visit: Visit) -> Response:
    """What the sheet notes as to be undone."""
    name = visit.path["name"]
    data = value_of(read_nodes(visit.workshop.held(name, "sheet").content, name))
    work = data.get("work") if isinstance(data, dict) else None
    entries = [one for one in work or () if isinstance(one, dict)] if isinstance(work, list) else []
    return visit.show("undo.html", name=name, open=[emitted(one) for one in entries if one.get("undo") is True])
