"""The application: which address is answered by which view."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from oilpath.page.access import Access
from oilpath.page.api.asked import Asked
from oilpath.page.api.openapi import describe
from oilpath.page.api.operations import OPERATIONS, Operation
from oilpath.page.guard import Guard, Rate
from oilpath.page.views import answers, door, entry, looking, machines, photos, practice, undo
from oilpath.page.visit import View, Visit, endpoint, trouble
from oilpath.page.workshop import Workshop

_SMALL: Final = 600  # bytes from which an answer is worth compressing

#: address, view, methods; whoever comes is let in to those with an `open` view.
PAGES: Final[tuple[tuple[str, View, tuple[str, ...]], ...]] = (
    ("/", machines.home, ("GET",)),
    ("/new-machine", machines.new_machine, ("GET", "POST")),
    ("/machine/{name:path}/sheets", machines.new_sheet, ("POST",)),
    ("/machine/{name:path}/text", machines.machine_text, ("GET", "POST")),
    ("/machine/{name:path}/trend.svg", looking.trend_picture, ("GET",)),
    ("/machine/{name:path}/trend", looking.trend_page, ("GET",)),
    ("/machine/{name:path}", machines.machine, ("GET",)),
    ("/sheet/{name:path}/entry", entry.entry, ("GET", "POST")),
    ("/sheet/{name:path}/found", entry.found, ("POST",)),
    ("/sheet/{name:path}/photos", photos.photos, ("GET", "POST")),
    ("/sheet/{name:path}/next", answers.next_step, ("GET", "POST")),
    ("/sheet/{name:path}/undo", undo.undo, ("GET", "POST")),
    ("/sheet/{name:path}/order", answers.order, ("GET",)),
    ("/sheet/{name:path}/text", machines.sheet_text, ("GET", "POST")),
    ("/sheet/{name:path}", answers.answer, ("GET",)),
    ("/photo/{number:int}", photos.photo, ("GET",)),
    ("/photo/{number:int}/remove", photos.remove, ("POST",)),
    ("/explore", looking.explore, ("GET",)),
    ("/practice", practice.practice, ("GET", "POST")),
    ("/practice/{key}", practice.session, ("GET", "POST")),
    ("/settings", door.settings, ("GET", "POST")),
    ("/sign-out", door.sign_out, ("POST",)),
)
OPEN: Final[tuple[tuple[str, View, tuple[str, ...]], ...]] = (
    ("/static/{name}", door.static, ("GET",)),
    ("/worker.js", door.worker, ("GET",)),
    ("/sign-in", door.sign_in, ("GET", "POST")),
    ("/pair/{code}", door.pair, ("GET",)),
    ("/pair", door.pair, ("GET", "POST")),
)

READERS: Final = frozenset({"/settings", "/sign-out", "/practice", "/practice/{key}"})
"""what concerns oneself alone; the view looks at what may be changed there"""


def create_app(workshop: Workshop, access: Access, hosts: Collection[str], *, rate: Rate | None = None) -> Guard:
    """The whole application for one listening address; `hosts` is what browsers call it, with the port."""
    routes = [
        Route(path, endpoint(view, workshop, access, readers=path in READERS), methods=list(methods), name=path)
        for path, view, methods in (*PAGES, ("/token", _token, ("GET",)), ("/api/openapi.json", describe, ("GET",)))
    ]
    routes += [
        Route(one.path, endpoint(_operated(one), workshop, access, readers=one.reads), methods=[one.method])
        for one in OPERATIONS
    ]
    routes += [
        Route(path, endpoint(view, workshop, access, open_=True), methods=list(methods)) for path, view, methods in OPEN
    ]

    async def missing(request: Request, _error: Exception) -> Response:
        return _plain(workshop, access, request, 404, "There is no such page.")

    async def not_allowed(request: Request, _error: Exception) -> Response:
        return _plain(workshop, access, request, 405, "This page takes no such request.")

    inner = Starlette(
        routes=routes, exception_handlers={404: missing, 405: not_allowed},
        middleware=[Middleware(GZipMiddleware, minimum_size=_SMALL)],
    )  # fmt: skip
    return Guard(inner, hosts, secure=access.secure, rate=rate)


def _operated(operation: Operation) -> View:
    """What a program asks, as a view."""
    return lambda visit: operation.does(Asked(visit, operation.query, operation.body))


def _plain(workshop: Workshop, access: Access, request: Request, status: int, says: str) -> Response:
    visit = Visit(request, workshop, access, access.nobody, "")
    return trouble(visit, status, says)


def _token(visit: Visit) -> Response:
    """A new token for a page that was open while the server started again."""
    return JSONResponse({"token": visit.token()})
