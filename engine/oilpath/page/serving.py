"""The server: listening addresses, and the end."""

from __future__ import annotations

import socket
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import uvicorn

from oilpath.page.access import Access
from oilpath.page.app import create_app
from oilpath.problems import Problem, UnusableInput

if TYPE_CHECKING:
    from oilpath.page.workshop import Workshop

LOOPBACK: Final = ("127.0.0.1", "localhost", "::1", "[::1]")
_AT_ONCE: Final = 64
"""requests that are answered at the same time; more are told to come again"""


def serve(workshop: Workshop, host: str, port: int, started: Callable[[str], None]) -> None:
    """Serve until the process is told to stop; `started` is called with the address once it listens.

    Raises UnusableInput where nothing can listen there, or where a standing address has no accounts.
    """
    here = host in LOOPBACK
    if not here and not any(one.active for one in workshop.store.accounts.all()):
        message = "an address that others reach needs accounts, and there is none yet"
        raise UnusableInput(
            [Problem("--host", 1, "-", message, "an account made on this machine under Settings first")]
        )
    access = Access(workshop.store, "here" if here else "accounts")
    names = [*LOOPBACK] if here else [host]
    app = create_app(workshop, access, [f"{_bracketed(name)}:{port}" for name in names])
    listening = listen(host, port)
    server = uvicorn.Server(_config(app))
    started(f"http://{_bracketed(host)}:{port}/")
    server.run(sockets=[listening])


def listen(host: str, port: int) -> socket.socket:
    """A socket that listens. Raises UnusableInput."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((host.strip("[]"), port))
        made.listen(128)
    except OSError as error:
        made.close()
        reason = (error.strerror or "an error").lower()
        raise UnusableInput([Problem("--port", 1, "-", f"{port}: {reason}", "another port")]) from None
    return made


def _config(app: Any, **more: Any) -> uvicorn.Config:
    return uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, date_header=True, proxy_headers=False,
        limit_concurrency=_AT_ONCE, timeout_keep_alive=15, timeout_graceful_shutdown=5, lifespan="off", **more,
    )  # fmt: skip


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host and not host.startswith("[") else host
