"""One visit of a page: who comes, what was sent, and how a view answers.

A view is a plain function of a visit that runs in a thread of its own. What it raises becomes a page: `Refused` with
its words, `UnusableInput` with its problems; anything else says only that something went wrong here.
"""

from __future__ import annotations

import asyncio
import logging
import os
from collections.abc import Awaitable, Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import field
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any, Final, TypeVar
from urllib.parse import quote, urlsplit

from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from oilpath.page.guard import SAFE, TooLarge
from oilpath.problems import UnusableInput, clean
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.page.access import Access, Person
    from oilpath.page.workshop import Workshop

T = TypeVar("T")

TOKEN: Final = "token"
TOKEN_HEADER: Final = "x-oilpath-token"
UNITS: Final = "oilpath-units"
_MOST_FIELDS: Final = 2000
_THREADS: Final = ThreadPoolExecutor(4 + 2 * (os.cpu_count() or 1), "view")
"""views at work at once: they compute, so more of them would make each slower and take memory; the next ones wait"""
_log = logging.getLogger("oilpath.page")


class Refused(Exception):
    """What was asked for is not given: an HTTP status and words for the person."""

    def __init__(self, status: int, says: str) -> None:
        super().__init__(says)
        self.status, self.says = status, says


@dataclass(frozen=True, slots=True)
class Upload:
    """A file that was sent with a form."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Sent:
    """What was sent with a form, or as JSON."""

    fields: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    files: Mapping[str, Upload] = field(default_factory=dict)
    json: Any = None
    body: bytes = b""

    def one(self, name: str, default: str = "") -> str:
        """The first value of a field."""
        return next(iter(self.fields.get(name, ())), default)


class Visit:
    """One request with all that a view needs."""

    def __init__(self, request: Request, workshop: Workshop, access: Access, person: Person, session: str) -> None:
        self.request, self.workshop, self.access = request, workshop, access
        self.person, self.session = person, session
        self.sent = Sent()
        self.documents: dict[str, Any] = {}
        """data of the documents that problems may be of, into which a program is pointed"""

    @property
    def path(self) -> Mapping[str, str]:
        """What the address names."""
        return self.request.path_params

    def query(self, name: str, default: str = "") -> str:
        """A value of the query."""
        return self.request.query_params.get(name, default)

    def number(self, name: str, default: int, least: int = 0, most: int = 1_000_000) -> int:
        """A whole number of the query or the form. Raises Refused."""
        text = self.sent.one(name) or self.query(name)
        if not text:
            return default
        if not (text.isascii() and text.isdecimal() and len(text) < 10 and least <= int(text) <= most):
            raise Refused(400, f"The value of “{name}” is not a whole number from {least} to {most}.")
        return int(text)

    @property
    def wants_json(self) -> bool:
        """Whether a script asks, which shows the page itself."""
        return self.request.headers.get("accept", "").startswith("application/json")

    @cached_property
    def units(self) -> Any:
        """The units of figures that people read, as this browser was told."""
        return "us" if self.request.cookies.get(UNITS) == "us" else "si"

    @property
    def may_write(self) -> bool:
        """Whether who comes may change sheets."""
        return self.person.role != "read"

    def need(self, role: str) -> None:
        """Raises Refused where who comes has less than this role."""
        ranks = ("read", "write", "admin")
        if ranks.index(self.person.role) < ranks.index(role):
            raise Refused(403, f"This needs the role “{role}”; you have “{self.person.role}”.")

    def show(self, template: str, status: int = 200, /, **values: Any) -> Response:
        """A page by its template."""
        return HTMLResponse(self.workshop.templates.render(template, self, values), status)

    def to(self, address: str) -> Response:
        """On to another page of ours after a change."""
        return RedirectResponse(address, 303)

    def token(self) -> str:
        """The token for a form of this page."""
        return self.access.tokens.make(self.session)


View = Callable[[Visit], Response]


def address(*pieces: str) -> str:
    """An address of ours: `address("sheet", name, "entry")`; names keep their slashes."""
    return "/" + "/".join(quote(piece, safe="/") for piece in pieces)


def own_address(text: str, default: str = "/") -> str:
    """An address that came from outside, if it is one of ours."""
    parts = urlsplit(text)
    safe = text.startswith("/") and not text.startswith(("//", "/\\")) and not parts.scheme and not parts.netloc
    return text if safe and text.isprintable() and "\\" not in text else default


def endpoint(view: View, workshop: Workshop, access: Access, *, open_: bool = False, readers: bool = False) -> Any:
    """A view as a function for the router. open_: whoever comes is let in; readers: who may only read may send, too."""

    async def answered(request: Request) -> Response:
        held = access.knock(request)
        person, session = (await _in_thread(held)) if callable(held) else held
        visit = Visit(request, workshop, access, person or access.nobody, session)
        try:
            if person is None and not open_:
                return access.turned_away(visit)
            if request.method not in SAFE:
                visit.sent = await _sent(request)
                _check_token(visit)
                if not (open_ or readers):
                    visit.need("write")
            response: Response = await _in_thread(partial(view, visit))
        except TooLarge:
            response = trouble(visit, 413, "That is too large.")
        except Refused as refused:
            response = trouble(visit, refused.status, refused.says)
        except UnusableInput as error:
            response = trouble(visit, 422, "This cannot be used:", error.problems)
        except HTTPException as error:
            response = trouble(visit, error.status_code, "This was not sent as a form or file that can be read.")
        except Exception:
            _log.exception("while answering %s", clean(request.url.path))
            response = trouble(visit, 500, "Something went wrong here. What was saved before is safe; please go back.")
        access.keep(request, response, session)
        return response

    return answered


async def _in_thread(work: Callable[[], T]) -> T:
    return await asyncio.get_running_loop().run_in_executor(_THREADS, work)


def trouble(visit: Visit, status: int, says: str, problems: tuple[Any, ...] = ()) -> Response:
    """A page, or for a script data, that says what is wrong."""
    if visit.wants_json or visit.request.url.path.startswith("/api/"):
        from oilpath.page.api.errors import error_response

        sheet = visit.path.get("name") if visit.request.url.path.startswith("/api/sheets/") else None
        return error_response(status, says, problems, sheet=sheet, documents=visit.documents)
    return visit.show("trouble.html", status, says=says, problems=problems)


def _check_token(visit: Visit) -> None:
    """A change comes from a page of ours; a program that is no browser signs in itself and needs none."""
    if visit.session == "" and visit.request.url.path.startswith("/api/"):
        return
    given = visit.sent.one(TOKEN) or visit.request.headers.get(TOKEN_HEADER, "")
    if not visit.access.tokens.fits(given, visit.session):
        raise Refused(403, "This page was open too long, or came from elsewhere. Open it again, and send once more.")


async def _sent(request: Request) -> Sent:
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind in ("application/x-www-form-urlencoded", "multipart/form-data"):
        async with request.form(max_files=4, max_fields=_MOST_FIELDS) as form:
            return await _of_form(form)
    body = await request.body()
    if kind == "application/json":
        return Sent(json=_json(body), body=body)
    return Sent(body=body)


def _json(body: bytes) -> Any:
    """JSON as the standard has it: no NaN, no number beyond measure, no half character. Raises Refused."""
    import json

    from oilpath.page.api.asked import sound

    def no_number(text: str) -> None:
        raise ValueError(text)

    try:
        data = json.loads(body, parse_constant=no_number)
    except (ValueError, RecursionError):
        raise Refused(400, "This is not JSON.") from None
    if not sound(data):
        raise Refused(400, "This JSON holds a number or a character that no file can hold.")
    return data


async def _of_form(form: FormData) -> Sent:
    fields: dict[str, list[str]] = {}
    files: dict[str, Upload] = {}
    for name, value in form.multi_items():
        if isinstance(value, UploadFile):
            content = await value.read()
            if content:
                files[name] = Upload(value.filename or "", content)
        else:
            fields.setdefault(name, []).append(value)
    return Sent({name: tuple(values) for name, values in fields.items()}, files)


Knock = Callable[[], "tuple[Person | None, str]"]
Later = Awaitable[Response]
