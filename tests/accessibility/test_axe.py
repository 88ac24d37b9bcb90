"""The pages looked over by axe-core (Deque Systems), which checks the rules of WCAG 2.2 in a browser.

It needs Debian's chromium with its driver, and axe-core beside this file (`npm ci --prefix tests/accessibility`).
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service

import oilpath
from oilpath import cli

ROOT = Path(__file__).parents[2]
AXE = Path(__file__).parent / "node_modules/axe-core/axe.min.js"
CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="needs chromium and its driver"),
    pytest.mark.skipif(not AXE.is_file(), reason="needs axe-core: npm ci --prefix tests/accessibility"),
]
OPTIONS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
)  # fmt: skip
RUN = """
const done = arguments[arguments.length - 1];
axe.run({resultTypes: ['violations', 'incomplete']}).then(found => done(found.violations.map(
  one => [one.impact, one.id, one.help, one.nodes.length, one.nodes[0].html])));
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    options = webdriver.ChromeOptions()
    options.binary_location = str(CHROMIUM)
    for option in OPTIONS:
        options.add_argument(option)
    driver = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
    yield driver
    with suppress(Exception):
        driver.quit()


def findings(browser: Any, address: str, theme: str = "light") -> list[tuple[str, ...]]:
    """What axe finds wrong on a page, but for what it calls minor."""
    features = [{"name": "prefers-color-scheme", "value": theme}]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    browser.get(address)
    browser.execute_script(AXE.read_text(encoding="utf-8"))
    return [tuple(map(str, one)) for one in browser.execute_async_script(RUN) if one[0] != "minor"]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The pages that commands write, by name."""
    folder = tmp_path_factory.mktemp("written")
    demo, machine = ROOT / "cases/demo", ROOT / "cases/machines/trainer-22t.yaml"
    pages = {
        "two-causes": ["diagnose", str(demo / "two-causes.yaml")],
        "nothing-wrong": ["diagnose", str(demo / "nothing-wrong.yaml")],
        "form": ["sheet", "form", str(machine)],
        "plan": ["prepare", str(machine)],
    }
    for name, words in pages.items():
        assert cli.run([*words, "--output", str(folder / f"{name}.html")]) == 0
    return {name: (folder / f"{name}.html").as_uri() for name in pages}


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("name", ["two-causes", "nothing-wrong", "form", "plan"])
def test_nothing_is_found_on_a_page_that_is_written(
    browser: Any, written: dict[str, str], name: str, theme: str
) -> None:
    assert findings(browser, written[name], theme) == []


def test_what_is_wrong_is_found(browser: Any, tmp_path: Path) -> None:
    page = tmp_path / "wrong.html"
    page.write_text("<p style='color: #aaa'>pale<img src='data:,'><input>", encoding="utf-8")
    assert {"color-contrast", "image-alt", "label"} <= {one[1] for one in findings(browser, page.as_uri())}


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of the pages of a workshop with the demo machines."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    database = tmp_path_factory.mktemp("served") / "workshop.db"
    command = [sys.executable, "-m", "oilpath", "serve", "--demo", "--port", str(port), "--database", str(database)]
    where = {**os.environ, "PYTHONPATH": str(Path(oilpath.__file__).parents[1])}
    with subprocess.Popen(command, env=where, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline().startswith("http")
        yield f"http://127.0.0.1:{port}"
        process.kill()


SHEET = "/sheet/demo/pump-1-slow.yaml"


@pytest.mark.parametrize("page", ["/", SHEET, f"{SHEET}/entry", f"{SHEET}/next", f"{SHEET}/order"])
def test_nothing_is_found_on_a_page_that_is_served(browser: Any, served: str, page: str) -> None:
    assert findings(browser, served + page) == []
