"""What every request must pass before a page sees it: host, origin, size, rate; and the headers of every answer.

Plain ASGI, so that nothing is read before it is allowed. What is refused gets a short text and no page.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Collection, MutableMapping
from threading import Lock
from typing import Any, Final

from oilpath.records import dataclass

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

SAFE: Final = frozenset({"GET", "HEAD", "OPTIONS"})
MOST_BODY: Final = 1 << 20
"""bytes of a form or a sheet"""
MOST_PHOTO: Final = 12 << 20
"""bytes of a photo as a phone makes it"""
PHOTOS: Final = "/photos"
_MOST_PATH: Final = 2048
_MOST_HEADERS: Final = 16_384

_POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS: Final = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
)
_SAVED: Final = (b"content-disposition", b'attachment; filename="oilpath.txt"')
_STRICT: Final = (b"strict-transport-security", b"max-age=86400")


@dataclass(frozen=True, slots=True)
class Rate:
    """So many requests at once, and so many a second on; for one address."""

    at_once: int = 240
    a_second: float = 20.0


class Buckets:
    """How much each address has left; only the latest addresses are remembered."""

    def __init__(self, rate: Rate, clock: Callable[[], float] = time.monotonic, most: int = 4096) -> None:
        self._rate, self._clock, self._most = rate, clock, most
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = Lock()

    def take(self, address: str) -> bool:
        """Whether one more is allowed; it then counts."""
        now = self._clock()
        with self._lock:
            left, seen = self._left.pop(address, (float(self._rate.at_once), now))
            left = min(float(self._rate.at_once), left + (now - seen) * self._rate.a_second)
            allowed = left >= 1.0
            self._left[address] = (left - 1.0 if allowed else left, now)
            while len(self._left) > self._most:
                self._left.popitem(last=False)
        return allowed


class Guard:
    """The ASGI application behind the checks.

    hosts: what may stand in `Host`, in lower case, with the port. secure: over TLS.
    """

    def __init__(self, app: App, hosts: Collection[str], *, secure: bool = False, rate: Rate | None = None) -> None:
        self._app, self.hosts, self._secure = app, frozenset(hosts), secure
        self._buckets = Buckets(rate or Rate())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refused = self._refused(scope)
        if refused is not None:
            await _answer(send, *refused)
            return
        most = MOST_PHOTO if scope["path"].endswith(PHOTOS) else MOST_BODY
        if _length(scope) > most:
            await _answer(send, 413, "too large")
            return
        await self._app(
            scope, _limited(receive, most), self._with_headers(send, data=scope["path"].startswith("/api/"))
        )

    def _refused(self, scope: Scope) -> tuple[int, str] | None:
        client = scope.get("client")
        if not self._buckets.take(client[0] if client else "-"):
            return 429, "too many requests"
        if len(scope.get("raw_path") or b"") + len(scope.get("query_string") or b"") > _MOST_PATH:
            return 414, "address too long"
        if sum(len(name) + len(value) for name, value in scope["headers"]) > _MOST_HEADERS:
            return 431, "headers too large"
        if header(scope, b"host").lower() not in self.hosts:
            return 421, "unknown host"
        if scope["method"] not in SAFE and not self._own(scope):
            return 403, "another origin"
        return None

    def _own(self, scope: Scope) -> bool:
        """Whether a change is asked for by a page of ours, or by a program that is no browser."""
        scheme = "https" if self._secure else "http"
        origin = header(scope, b"origin").lower()
        if origin:
            return origin in {f"{scheme}://{host}" for host in self.hosts}
        return header(scope, b"sec-fetch-site") in ("", "same-origin", "none")

    def _with_headers(self, send: Send, *, data: bool) -> Send:
        """data: for programs, so a browser that is led there shows nothing and saves a file."""

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                there = {name.lower() for name, _ in message["headers"]}
                more = [*HEADERS, *([_STRICT] if self._secure else []), (b"cache-control", b"no-store")]
                more += [_SAVED] if data else []
                message["headers"] = [*message["headers"], *(one for one in more if one[0] not in there)]
            await send(message)

        return sent


def header(scope: Scope, name: bytes) -> str:
    """A header's value; empty where there is none, or several, which nobody sends who means well."""
    found = [value for key, value in scope["headers"] if key == name]
    return found[0].decode("latin-1") if len(found) == 1 else ""


def _length(scope: Scope) -> int:
    text = header(scope, b"content-length")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 16 else 0


class TooLarge(Exception):
    """More was sent than is taken."""


def _limited(receive: Receive, most: int) -> Receive:
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            raise TooLarge
        return message

    return limited


async def _answer(send: Send, status: int, text: str) -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store"), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": f"{text}\n".encode()})
