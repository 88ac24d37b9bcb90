"""What a first visit of the entry page brings over the wire, all that its browser asks for included."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.page.conftest import Browser

MOST, MOST_SCRIPT = 100_000, 40_000
SHEETS = ("pump-1-slow", "loader-lift-slow", "compact-arm-slow", "rig-flow-short")


def transferred(browser: Browser, path: str) -> tuple[int, str]:
    """Bytes of an answer on the wire with its headers, and its body unpacked."""
    with browser.client.stream("GET", path, headers={"accept-encoding": "gzip"}) as answer:
        raw = b"".join(answer.iter_raw())
        headers = sum(len(name) + len(value) + 4 for name, value in answer.headers.raw)
    text = browser.get(path).text
    assert answer.status_code == 200
    return len(raw) + headers, text


def first_visit(browser: Browser, page: str) -> dict[str, int]:
    """All that a first visit asks for, with its bytes on the wire; photos come when they are scrolled to."""
    size, text = transferred(browser, page)
    found = {page: size}
    asked = re.findall(r'<(?:script|link|img)\b[^>]*?\s(?:src|href)="([^"]+)"(?![^>]*loading="lazy")', text)
    assert any(".js" in one for one in asked)
    assert any(".css" in one for one in asked)
    for path in (*asked, "/worker.js"):
        found[path] = transferred(browser, path)[0]
    return found


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_first_visit_of_the_entry_page_is_light(browser: Browser, sheet: str) -> None:
    found = first_visit(browser, f"/sheet/demo/{sheet}.yaml/entry")
    assert sum(found.values()) <= MOST, found


def test_all_scripts_together_are_small(browser: Browser) -> None:
    text = browser.get(f"/sheet/demo/{SHEETS[0]}.yaml/entry").text
    scripts = {*re.findall(r'<script[^>]*\ssrc="([^"]+)"', text), "/worker.js"}
    assert len(scripts) >= 3
    assert sum(len(browser.get(path).content) for path in scripts) <= MOST_SCRIPT
