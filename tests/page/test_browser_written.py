"""The pages that commands write, in a real browser: handout, form and plan for everybody, at three widths.

Accessibility is checked by axe-core. It needs Debian's chromium with its driver; without them all this is skipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from oilpath import cli
from tests.page.browsing import CHROMIUM, DRIVER, Server, Window
from tests.page.test_browser_looks import axe as axe
from tests.page.test_browser_looks import findings

CASES = Path(__file__).parents[2] / "cases"
pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="needs chromium and its driver"),
]
PAGES = {
    "two-causes": ("diagnose", "demo/two-causes.yaml"),
    "nothing-wrong": ("diagnose", "demo/nothing-wrong.yaml"),
    "engine-low": ("diagnose", "demo/engine-low.yaml"),
    "form": ("sheet", "form", "machines/trainer-22t.yaml"),
    "plan": ("prepare", "machines/trainer-22t.yaml"),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("written")
    for name, (*words, file) in PAGES.items():
        assert cli.run([*words, str(CASES / file), "--output", str(made / f"{name}.html")]) == 0
    return made


@pytest.fixture(scope="module")
def window(folder: Path) -> Iterator[Window]:
    made = Window(Server(folder / "none.db"))  # not started: the pages are files
    yield made
    made.driver.quit()


@pytest.mark.parametrize("name", PAGES)
def test_a_written_page_is_for_everybody(window: Window, axe: str, folder: Path, name: str) -> None:
    address = (folder / f"{name}.html").as_uri()
    window.size((800, 1000))
    window.driver.get(address)
    assert findings(window, axe) == []
    window.size((800, 1000), dark=True)
    assert findings(window, axe, "color-contrast") == []
    window.size((800, 1000), media="print")
    assert findings(window, axe, "color-contrast") == []
    for width in (360, 800, 1400):
        window.size((width, 900))
        assert window.js("return document.documentElement.scrollWidth") <= width
    assert window.wrong() == []
    assert window.elsewhere([address]) == []
