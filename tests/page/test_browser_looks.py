"""Every page in a real browser: as wide as a phone, large enough for gloves, for everybody, nothing from elsewhere.

Accessibility is checked by axe-core, whose rules follow WCAG 2.2. It needs Debian's chromium with its driver; without
them all this is skipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from typing import Any, Final

import pytest

from tests.page.browsing import CHROMIUM, DRIVER, LAPTOP, MACHINE, PHONE, SHEET, Server, Window

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="needs chromium and its driver"),
]
PAGES: Final = (
    "/", "/?q=pit", "/new-machine", "/settings", "/explore", "/explore?topic=boom-falls", "/explore?topic=pump.worn",
    MACHINE, f"{MACHINE}/trend", f"{MACHINE}/text", f"{SHEET}/entry", f"{SHEET}/photos", SHEET, f"{SHEET}/undo",
    "/sheet/demo/one-track-slow.yaml/next", f"{SHEET}/order", f"{SHEET}/text", "/nothing", "/pair?code=x",
)  # fmt: skip
#: What a finger in a glove needs: 44 px, as WCAG 2.2 has it under 2.5.5 (AAA), which leaves out links within a text.
SMALL: Final = """
const inText = (one) => one.tagName === "A" && getComputedStyle(one).display === "inline" && one.closest("p,li,td,dd");
return [...document.querySelectorAll("a,button,input:not([type=hidden]),select,textarea,summary")]
  .filter((one) => one.checkVisibility() && !inText(one) && !one.closest(".skip"))
  .map((one) => [one, (one.type === "checkbox" && one.closest("label") || one).getBoundingClientRect()])
  .filter(([, box]) => box.width < 44 || box.height < 44)
  .map(([one, box]) => `${one.outerHTML.slice(0, 90)} ${Math.round(box.width)} x ${Math.round(box.height)}`);
"""


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Window]:
    server = Server(tmp_path_factory.mktemp("looks") / "workshop.db")
    server.start()
    made = Window(server)
    yield made
    made.driver.quit()
    server.kill()


@pytest.fixture(scope="module")
def axe() -> str:
    return files("selenium_axe_python").joinpath("axe-core/axe.min.js").read_text(encoding="utf-8")


def findings(window: Window, axe: str, *rules: str) -> list[str]:
    """What axe-core finds on the page that is open."""
    window.js(axe)
    only: Any = {"runOnly": {"type": "rule", "values": list(rules)}} if rules else {}
    found = window.later("axe.run(document, {resultTypes: ['violations'], ...arguments[0]})", only)
    return [
        f"{one['impact']}: {one['id']}: {node['html'][:120]}"
        for one in found["violations"]
        for node in one["nodes"][:3]
    ]


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_for_everybody(window: Window, axe: str, page: str) -> None:
    window.size(PHONE)
    window.go(page)
    assert window.js("return document.documentElement.scrollWidth") <= PHONE[0]
    assert window.js(SMALL) == []
    assert findings(window, axe) == []
    window.size(PHONE, dark=True)
    assert findings(window, axe, "color-contrast") == []
    window.size(LAPTOP)
    assert window.js("return document.documentElement.scrollWidth") <= LAPTOP[0]
    assert window.wrong() == []
    assert window.elsewhere() == []
