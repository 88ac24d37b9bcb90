"""Twenty people at the pages of one server, with ten seconds between the clicks of each, for three minutes.

A real server in a process of its own, asked over loopback. Before, all click through everything once, at once. Each has
a sheet of their own, changes a reading, then asks for the answer, which is therefore worked out anew. In the same run,
between the clicks, the same sheets are diagnosed in Python, in a process of their own: of that, an answer page may take
three times at the median, and ten times at the 95th percentile. No request may fail, and the server's memory may not
grow once all is loaded. On a machine that is busy with something else, people wait for each other, and it says little.
"""

from __future__ import annotations

import json
import os
import random
import re
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from http.client import HTTPConnection
from pathlib import Path
from statistics import median, quantiles
from threading import Lock, Thread

import pytest

pytest.importorskip("starlette")

from oilpath.data import data_folder
from tests.running import ENGINE, command_line

from .answering import Answering, resident
from .conftest import LINES

USERS, BETWEEN = 20, 10.0
SECONDS = float(os.environ.get("OILPATH_BENCH_USERS_SECONDS", "180"))


class Browser:
    """One person's browser: a connection that is kept, a cookie, the token of the page."""

    def __init__(self, port: int) -> None:
        self._port, self._connection = port, HTTPConnection("127.0.0.1", port, timeout=60)
        self._cookie, self._token = "", ""

    def ask(self, method: str, path: str, data: object = None) -> tuple[int, str]:
        headers = {"cookie": self._cookie} if self._cookie else {}
        if data is not None:
            headers |= {"content-type": "application/json", "accept": "application/json"}
            headers |= {"x-oilpath-token": self._token, "origin": f"http://127.0.0.1:{self._port}"}
        try:
            self._connection.request(method, path, None if data is None else json.dumps(data), headers)
            answer = self._connection.getresponse()
        except (ConnectionError, OSError):  # the server has closed a connection that was idle for long
            self._connection.close()
            self._connection.request(method, path, None if data is None else json.dumps(data), headers)
            answer = self._connection.getresponse()
        text = answer.read().decode()
        if (cookie := answer.headers.get("set-cookie")) is not None:
            self._cookie = cookie.partition(";")[0]
        if (token := re.search(r'name="token" value="([^"]+)"', text)) is not None:
            self._token = token[1]
        return answer.status, text

    def close(self) -> None:
        self._connection.close()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[tuple[int, subprocess.Popen[str]]]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = ("serve", "--demo", "--port", str(port), "--database", str(tmp_path / "workshop.db"))
    process = subprocess.Popen(command_line(*words), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    assert process.stdout is not None
    assert process.stdout.readline().startswith("http")
    yield port, process
    process.terminate()
    process.communicate()


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is read from /proc")
def test_twenty_people_for_three_minutes(server: tuple[int, subprocess.Popen[str]]) -> None:
    port, process = server
    files = [path for folder in ("demo", "sound") for path in sorted((data_folder("cases") / folder).glob("*.yaml"))]
    files = [path for path in files if "pilot-pressure" in path.read_text(encoding="utf-8")][:USERS]
    taken: dict[str, list[float]] = {}
    wrong: list[str] = []
    lock, end = Lock(), 0.0

    def clicks(number: int, path: Path, browser: Browser) -> Iterator[tuple[str, Callable[[], tuple[int, str]]]]:
        sheet = f"/sheet/{path.parent.name}/{path.name}"
        pressure = 30 + number % 5
        while True:
            pressure = 30 + (pressure + 1) % 10
            change = {"changes": [{"key": "reading:pilot-pressure", "typed": [f"{pressure / 10} MPa"], "was": None}]}
            yield "entry", lambda: browser.ask("GET", f"{sheet}/entry")
            yield "a reading", lambda change=change: browser.ask("POST", f"{sheet}/entry", change)  # type: ignore[misc]
            yield "answer", lambda: browser.ask("GET", sheet)
            yield "next step", lambda: browser.ask("GET", f"{sheet}/next")
            yield "first page", lambda: browser.ask("GET", "/?q=pit")

    def person(number: int) -> None:
        rng, path, browser = random.Random(number), files[number % len(files)], Browser(port)
        time.sleep(rng.uniform(0, BETWEEN))
        for name, click in clicks(number, path, browser):
            if time.monotonic() > end:
                browser.close()
                return
            begun = time.perf_counter()
            try:
                status, text = click()
            except Exception as error:
                status, text = 0, repr(error)
            with lock:
                taken.setdefault(name, []).append(time.perf_counter() - begun)
                if status != 200 or '"kept": false' in text:
                    wrong.append(f"{name} {path.stem}: {status} {text[:200]}")
            time.sleep(rng.uniform(0.8, 1.2) * BETWEEN)

    peer = Answering(ENGINE, clock="perf_counter")

    def through(number: int) -> None:
        browser = Browser(port)
        for _, (name, click) in zip(range(5), clicks(number, files[number % len(files)], browser), strict=False):
            status, _text = click()
            if status != 200:
                wrong.append(f"{name}: {status}")
        browser.close()

    with ThreadPoolExecutor(USERS) as pool:
        list(pool.map(through, range(USERS)))
    for path in files:
        peer.seconds(path)
    end = time.monotonic() + SECONDS
    people = [Thread(target=person, args=(number,)) for number in range(USERS)]
    for one in people:
        one.start()
    plain, memory, turn = [], [], 0
    while time.monotonic() < end:
        plain.append(peer.seconds(files[turn % len(files)]))
        memory.append((time.monotonic() - end + SECONDS, resident(process.pid)))
        turn += 1
        time.sleep(1)
    for one in people:
        one.join()
    peer.close()
    diagnose = median(plain)
    early = [size for at, size in memory if SECONDS / 3 <= at < SECONDS / 2]
    late = [size for at, size in memory if at >= SECONDS * 5 / 6]
    half, most = median(taken["answer"]), quantiles(taken["answer"], n=20)[-1]
    for name, all_ in taken.items():
        LINES.append(f"{name}: {len(all_)} times, median {median(all_) * 1e3:.0f} ms, longest {max(all_) * 1e3:.0f} ms")
    LINES.append(f"diagnose in Python: {diagnose * 1e3:.0f} ms (median of {len(plain)})")
    LINES.append(
        f"answer page: {half / diagnose:.1f} times that at the median, {most / diagnose:.1f} at the 95th percentile"
    )
    LINES.append(
        f"memory of the server: {median(early):.0f} MB after a third of the time, {median(late):.0f} MB at the end"
    )
    assert wrong == []
    assert half <= 3 * diagnose
    assert most <= 10 * diagnose
    assert median(late) <= 1.1 * median(early)
