"""The server: listening addresses with their doors, and the end."""

from __future__ import annotations

import socket
import ssl
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import uvicorn

from oilpath.page.access import Access, Kind
from oilpath.page.app import create_app
from oilpath.page.pairing import Pairing
from oilpath.problems import Problem, UnusableInput

if TYPE_CHECKING:
    from oilpath.page.certificate import Certificate
    from oilpath.page.workshop import Workshop

LOOPBACK: Final = ("127.0.0.1", "localhost", "::1", "[::1]")
_ANYWHERE: Final = ("0.0.0.0", "::", "[::]", "")
_AT_ONCE: Final = 64
"""requests that are answered at the same time; more are told to come again"""
_CIPHERS: Final = "ECDHE+AESGCM:ECDHE+CHACHA20"
"""for TLS 1.2; older ones are not spoken"""
_END: Final = 10.0


class Serving:
    """All that listens: the main door, and with `pair` one for phones on the network.

    Parameters
    ----------
    workshop : Workshop
    host : str, the main address; one that others reach speaks TLS and needs accounts
    port : int
    pair : str, optional, the address on the network where phones are let in, over TLS
    folder : Path, where certificates of our own are kept
    certificate, key : Path, optional, PEM files of the workshop's own for the main address

    Raises
    ------
    UnusableInput : nothing can listen there, or an address that others reach has no accounts
    """

    def __init__(
        self, workshop: Workshop, host: str, port: int, *, folder: Path, pair: str | None = None,
        certificate: Path | None = None, key: Path | None = None,
    ) -> None:  # fmt: skip
        self._workshop, self._folder, self._port = workshop, folder, port
        self.pairing: Pairing | None = None
        here = host in LOOPBACK
        if not here:
            _check_standing(workshop, host)
        self.doors: list[tuple[uvicorn.Server, socket.socket]] = []
        try:
            if pair is not None:
                held = self._own(pair)
                self._open(self._tls("paired", held), pair, held)
                self.pairing = Pairing(workshop.store, self._address(pair, "https"), held.fingerprint)
            if here:
                self._open(Access(workshop.store, "here", pairing=self.pairing), host)
            else:
                held = self._own(host) if certificate is None else _read(certificate, key)
                self._open(self._tls("accounts", held), host, held, key)
        except BaseException:
            self.close()
            raise
        self.doors.reverse()
        self.address = self._address(host, "http" if here else "https")

    def run(self) -> None:
        """Serve until the process is told to stop, or `stop` is called."""
        others = [
            threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
            for server, listening in self.doors[1:]
        ]
        for one in others:
            one.start()
        server, listening = self.doors[0]
        try:
            server.run(sockets=[listening])
        finally:
            self.stop()
            for one in others:
                one.join(_END)
            self.close()

    def stop(self) -> None:
        """End all doors, once what is being answered is answered."""
        for server, _ in self.doors:
            server.should_exit = True

    def close(self) -> None:
        """Let the addresses go, where `run` was not called."""
        for _, listening in self.doors:
            listening.close()

    def _own(self, host: str) -> Certificate:
        from oilpath.page.certificate import certificate_for

        return certificate_for(host, self._folder)

    def _tls(self, kind: Kind, held: Certificate) -> Access:
        return Access(self._workshop.store, kind, secure=True, fingerprint=held.fingerprint)

    def _open(self, access: Access, host: str, held: Certificate | None = None, key: Path | None = None) -> None:
        names = LOOPBACK if host in LOOPBACK and not access.secure else (host,)
        hosts = [f"{_bracketed(name)}:{self._port}" for name in names]
        if self._port == (443 if access.secure else 80):
            hosts += [_bracketed(name) for name in names]
        app = create_app(self._workshop, access, [one.lower() for one in hosts])
        listening = listen(host, self._port)
        tls = {} if held is None else {"ssl_certfile": held.path, "ssl_keyfile": key, "ssl_ciphers": _CIPHERS}
        self.doors.append((uvicorn.Server(_config(app, **tls)), listening))

    def _address(self, host: str, scheme: str) -> str:
        return f"{scheme}://{_bracketed(host)}:{self._port}/"


def _check_standing(workshop: Workshop, host: str) -> None:
    if host in _ANYWHERE:
        message = "every address of this machine at once is not offered"
        raise UnusableInput([Problem("--host", 1, "-", message, "one address, by which others call it")])
    if not any(one.active for one in workshop.store.accounts.all()):
        message = "an address that others reach needs accounts, and there is none yet"
        raise UnusableInput(
            [Problem("--host", 1, "-", message, "an account made on this machine under Settings first")]
        )


def _read(path: Path, key: Path | None) -> Certificate:
    from oilpath.page.certificate import read_certificate

    found = read_certificate(path)
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(path, key)
    except (OSError, ssl.SSLError):
        message = "the private key of this certificate cannot be read"
        raise UnusableInput(
            [Problem(str(key or path), 1, "-", message, "its key in PEM, without a password")]
        ) from None
    return found


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
