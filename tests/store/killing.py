"""The server of the pages killed while programs save through it, for tests and `make bench`.

One process has everything loaded and makes a server of itself for each kill (fork), so that a kill costs little more
than what it is there to try: the start, the database opened, requests answered, SIGKILL.
"""

from __future__ import annotations

import json
import os
import random
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from threading import Event, Thread

from oilpath.documents.writing import digest
from oilpath.store.checking import check
from oilpath.store.opening import open_store
from tests.running import ENGINE

SHEET = (
    "oilpath: sheet/1\nmachine: {name: Invented, circuit: two-pump-excavator, engine-speed: 1900 rpm}\n"
    "unit-number: %s\nhours: %d\nreadings:\n  - {test: pilot-pressure, pressure: 3.%d MPa}\n"
)
_SERVERS = """
import os, sys
sys.path[:0] = [sys.argv[1]]
from pathlib import Path
from oilpath.documents.load import load_sheet
from oilpath.knowledge.compile import load_knowledge
from oilpath.page import app, serving
from oilpath.page.workshop import Workshop
from oilpath.store import answers, documents, migrate
from oilpath.store.opening import open_store
import alembic.command, uvicorn.lifespan.off, uvicorn.loops.auto, uvicorn.protocols.http.auto
knowledge = load_knowledge()
load_sheet("warm.yaml", knowledge, text=sys.argv[3])
for line in sys.stdin:
    process = os.fork()
    if not process:
        workshop = Workshop(open_store(sys.argv[2]), knowledge)
        serving.Serving(workshop, "127.0.0.1", int(line), folder=Path(sys.argv[2]).parent).run()
        os._exit(0)
    print(process, flush=True)
    os.waitpid(process, 0)
"""


@dataclass
class Kept:
    """What was confirmed: of each sheet the hashes of its versions by their numbers."""

    confirmed: dict[tuple[str, int], str] = field(default_factory=dict)
    conflicts: int = 0
    odd: list[str] = field(default_factory=list)


def survive(database: Path, kills: int, seed: int) -> Kept:
    """Kill so many servers at moments drawn by lot; after each the database is opened and looked through.

    Raises AssertionError where something that was confirmed is not there.
    """
    rng, kept, first = random.Random(seed), Kept(), 0.5
    servers = subprocess.Popen(
        [sys.executable, "-c", _SERVERS, str(ENGINE), str(database), SHEET % ("x", 1, 1)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        for number in range(kills):
            took = _one_server(servers, kept, rng, first if number else None)
            first = took or first
            _look(database, kept)
    finally:
        assert servers.stdin is not None
        assert servers.stdout is not None
        servers.stdin.close()
        servers.stdout.close()
        servers.kill()
        servers.wait()
    return kept


def _one_server(servers: subprocess.Popen[str], kept: Kept, rng: random.Random, first: float | None) -> float | None:
    """Start a server, save, kill it somewhere up to twice as long as the first confirmation takes.

    Gives how long that took, where there was one. Without `first` it is waited for.
    """
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    assert servers.stdin is not None
    assert servers.stdout is not None
    begun, over, told = time.monotonic(), Event(), Event()
    servers.stdin.write(f"{port}\n")
    servers.stdin.flush()
    process = int(servers.stdout.readline())
    at: list[float] = []

    def save(number: int, seed: int) -> None:
        for name, version, text in _saves(port, number, random.Random(seed), kept, over):
            kept.confirmed[name, version] = digest(text.encode())
            at.append(time.monotonic() - begun)
            told.set()

    writers = [Thread(target=save, args=(number, rng.randrange(2**31))) for number in range(2)]
    for writer in writers:
        writer.start()
    if first is None:
        assert told.wait(120), "the server does not answer"
    time.sleep(rng.uniform(0, 2 * (first or 0.1)))
    os.kill(process, signal.SIGKILL)
    over.set()
    for writer in writers:
        writer.join()
    return min(at, default=None)


def _saves(port: int, number: int, rng: random.Random, kept: Kept, over: Event) -> Iterator[tuple[str, int, str]]:
    """Save sheets until the server is gone: one's own, and one that another saves as well. Gives what is confirmed."""
    latest: dict[str, int] = {}
    while not over.is_set():
        connection = HTTPConnection("127.0.0.1", port, timeout=30)
        with suppress(OSError, HTTPException, ValueError):
            while True:
                name = rng.choice((f"sheets/own-{number}.yaml", "sheets/both.yaml"))
                if name not in latest:
                    connection.request("GET", f"/api/sheets/{name}")
                    answer = connection.getresponse()
                    latest[name] = json.loads(answer.read()).get("version", 0) if answer.status == 200 else 0
                text = SHEET % (f"{number}-{rng.random()}", rng.randrange(9999), rng.randrange(10))
                sent = {"text": text, **({"version": latest[name]} if latest[name] else {"name": name})}
                method, path = ("PUT", f"/api/sheets/{name}") if latest[name] else ("POST", "/api/sheets")
                connection.request(method, path, json.dumps(sent), {"content-type": "application/json"})
                answer = connection.getresponse()
                said = json.loads(answer.read())
                if answer.status in (200, 201):
                    latest[name] = said["version"]
                    yield name, said["version"], text
                elif answer.status == 409:
                    kept.conflicts += 1
                    latest.pop(name)
                else:
                    kept.odd.append(f"{answer.status} {said}")
                    return
        connection.close()
        time.sleep(0.002)


def _look(database: Path, kept: Kept) -> None:
    """The database opens, is whole, and holds all that was confirmed."""
    store = open_store(database)
    try:
        found = check(store.database, str(database))
        assert found.damage + found.lists == ()
        held: dict[tuple[str, int], str] = {}
        for name in store.documents.names():
            held |= {(name, one.number): one.digest for one in store.documents.versions(name)}
        lost = {key: value for key, value in kept.confirmed.items() if held.get(key) != value}
        assert lost == {}
    finally:
        store.close()
