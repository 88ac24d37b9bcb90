"""Who comes, and what they may do: on this machine everybody; from elsewhere paired devices, people with accounts."""

from __future__ import annotations

import secrets
import time
from typing import TYPE_CHECKING, Any, Final, Literal

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from oilpath.page.guard import Buckets, Rate
from oilpath.page.tokens import Tokens
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.page.pairing import Pairing
    from oilpath.page.visit import Visit
    from oilpath.store.accounts import Role
    from oilpath.store.opening import Store

Kind = Literal["here", "paired", "accounts"]
"""here: this machine alone, nobody signs in; paired: devices let in by a token; accounts: people with passwords"""

HOURS: Final = 12.0
"""how long somebody stays signed in"""
PAIR_MINUTES: Final = 10.0
_TRIES: Final = Rate(at_once=6, a_second=1 / 20)
"""passwords and pairing tokens that may be tried from one address, or for one name"""


@dataclass(frozen=True, slots=True)
class Person:
    """Who comes: the name that goes with what they save, what they may do; account: None where nobody signed in."""

    name: str
    role: Role
    account: int | None = None


class Access:
    """The door of one listening address."""

    nobody: Final = Person("", "read")

    def __init__(
        self, store: Store, kind: Kind, *, secure: bool = False, tokens: Tokens | None = None, cookie: str = "oilpath",
        fingerprint: str = "", pairing: Pairing | None = None,
    ) -> None:  # fmt: skip
        self.pairing = pairing
        self.store, self.kind, self.secure, self.fingerprint = store, kind, secure, fingerprint
        self.tokens = tokens or Tokens()
        self.cookie = f"__Host-{cookie}" if secure else cookie
        self.tries = Buckets(_TRIES, time.monotonic)

    def knock(self, request: Request) -> Any:
        """Who comes and with which session, or a function that finds out in a thread of its own."""
        token = request.cookies.get(self.cookie, "")
        if _bearer(request):
            return lambda: (self._script(request), "")
        if self.kind == "here":
            return Person("", "admin"), token or ("" if _program(request) else secrets.token_urlsafe(32))
        return lambda: self._known(request, token)

    def _known(self, request: Request, token: str) -> tuple[Person | None, str]:
        if token:
            session = self.store.accounts.session(token)
            if session is not None:
                return Person(session.author, session.role, session.account), token
        if _program(request):
            return self._basic(request), ""
        return None, token or secrets.token_urlsafe(32)

    def _script(self, request: Request) -> Person | None:
        """A program with a token, which nobody can guess."""
        found = self.store.accounts.script(_bearer(request))
        return None if found is None else Person(found.name, found.role)

    def _basic(self, request: Request) -> Person | None:
        """A program that signs in with each request, by name and password."""
        import base64

        scheme, _, value = request.headers.get("authorization", "").partition(" ")
        if self.kind != "accounts" or scheme.lower() != "basic":
            return None
        try:
            name, _, password = base64.b64decode(value, validate=True).decode().partition(":")
        except ValueError:
            return None
        if not self.may_try(request, name):
            return None
        account = self.store.accounts.check(name, password)
        return None if account is None else Person(account.name, account.role)

    def may_try(self, request: Request, name: str = "") -> bool:
        """Whether one more password or pairing token may be tried."""
        client = request.client.host if request.client is not None else "-"
        return self.tries.take(f"from {client}") and (not name or self.tries.take(f"for {name.strip().casefold()}"))

    def turned_away(self, visit: Visit) -> Response:
        """What somebody gets who is not let in."""
        from oilpath.page.visit import trouble

        if visit.wants_json or visit.request.url.path.startswith("/api/"):
            response = trouble(visit, 401, "Sign in first.")
            if self.kind == "accounts":
                response.headers["www-authenticate"] = 'Bearer realm="oilpath", Basic realm="oilpath"'
            else:
                response.headers["www-authenticate"] = 'Bearer realm="oilpath"'
            return response
        if self.kind == "paired":
            return trouble(visit, 401, "This device is not let in. Scan the code that the laptop shows.")
        from urllib.parse import quote

        return RedirectResponse(f"/sign-in?to={quote(visit.request.url.path, safe='/')}", 303)

    def keep(self, request: Request, response: Response, session: str) -> None:
        """Give the browser its cookie, where it has another or none."""
        if session and request.cookies.get(self.cookie) != session and not _has_cookie(response, self.cookie):
            self.set_cookie(response, session)

    def set_cookie(self, response: Response, session: str) -> None:
        """The cookie of a session: for this host alone, out of reach of scripts, never sent from elsewhere."""
        response.set_cookie(
            self.cookie, session, path="/", httponly=True, samesite="strict", secure=self.secure,
            max_age=int(HOURS * 3600) if self.kind != "here" else None,
        )  # fmt: skip

    def forget(self, response: Response) -> None:
        """Take the cookie back."""
        response.delete_cookie(self.cookie, path="/", httponly=True, samesite="strict", secure=self.secure)


def _bearer(request: Request) -> str:
    """The token that a program sends with a request for data; nobody's page can make a browser send it."""
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    return token.strip() if scheme.lower() == "bearer" and request.url.path.startswith("/api/") else ""


def _has_cookie(response: Response, name: str) -> bool:
    start = f"{name}=".encode()
    return any(key == b"set-cookie" and value.startswith(start) for key, value in response.raw_headers)


def _program(request: Request) -> bool:
    """A program and no browser: it asks the interface for programs, and sends neither cookies nor what browsers say."""
    headers = request.headers
    browser = {"cookie", "origin", "sec-fetch-site"} & set(headers.keys())
    return request.url.path.startswith("/api/") and not browser
