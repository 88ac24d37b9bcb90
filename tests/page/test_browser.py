"""Entry in a real browser: typed, judged, kept while the server is gone, and sent when it is back.

It needs Debian's chromium with its driver; without them it is skipped.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver

import oilpath

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="needs chromium and its driver"),
]
ENTRY, PILOT = "/sheet/demo/pump-1-slow.yaml/entry", "f.reading:pilot-pressure"
OPTIONS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
)  # fmt: skip


class Server:
    """`oilpath serve` as a process, to be killed and started again at the same place."""

    def __init__(self, database: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.command = [sys.executable, "-m", "oilpath", "serve", "--demo", "--port", str(self.port)]
        self.command += ["--database", str(database)]
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        where = {**os.environ, "PYTHONPATH": str(Path(oilpath.__file__).parents[1])}
        self.process = subprocess.Popen(
            self.command, env=where, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self.process.stdout is not None
        assert self.process.stdout.readline().startswith("http")

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.communicate()
            self.process = None

    def text(self) -> str:
        page: bytes = urllib.request.urlopen(self.address + ENTRY.replace("/entry", "/text"), timeout=20).read()
        return page.decode()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    made = Server(tmp_path / "workshop.db")
    made.start()
    yield made
    made.kill()


@pytest.fixture
def chromium() -> Iterator[Any]:
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = str(CHROMIUM)
    for option in OPTIONS:
        options.add_argument(option)
    driver = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {"width": 360, "height": 740, "deviceScaleFactor": 1, "mobile": True}
    )
    yield driver
    with suppress(Exception):
        driver.quit()


@pytest.mark.filterwarnings("default")
def test_what_is_typed_without_the_server_is_kept_and_sent_when_it_is_back(server: Server, chromium: Any) -> None:
    from selenium.webdriver.support.ui import WebDriverWait

    def until(said: Any) -> None:
        WebDriverWait(chromium, 40).until(lambda _: said())

    def line() -> str:
        return str(chromium.find_element("id", "line").text)

    def put(value: str) -> None:
        box = chromium.find_element("name", PILOT)
        box.clear()
        box.send_keys(f"{value}\t")

    chromium.get(server.address + ENTRY)
    put("2.9")
    until(lambda: "out" in chromium.find_element("css selector", '[data-id="pilot-pressure"] .judged').text)
    until(lambda: line() == "All is saved.")
    assert "pressure: 2.9 MPa" in server.text()
    chromium.execute_async_script("const done = arguments[0]; navigator.serviceWorker.ready.then(() => done())")
    chromium.get(server.address + ENTRY)
    server.kill()
    put("3.1")
    until(lambda: line().startswith("No connection"))
    chromium.get(server.address + ENTRY)
    until(lambda: chromium.find_element("name", PILOT).get_attribute("value") == "3.1")
    server.start()
    until(lambda: line() == "All is saved.")
    assert "pressure: 3.1 MPa" in server.text()


@pytest.mark.parametrize("page", ["/", ENTRY, ENTRY.removesuffix("/entry"), ENTRY.replace("entry", "next")])
@pytest.mark.filterwarnings("default")
def test_no_page_is_wider_than_a_phone(server: Server, chromium: Any, page: str) -> None:
    chromium.get(server.address + page)
    assert chromium.execute_script("return document.documentElement.scrollWidth") <= 360
