"""Every page in a real browser: as wide as a phone, large enough for gloves, for everybody, nothing from elsewhere.

Accessibility is checked by axe-core, whose rules follow WCAG 2.2. It needs Debian's chromium with its driver; without
them all this is skipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.reports.form import form_of
from oilpath.reports.form import to_html as form_to_html
from oilpath.reports.html import day_to_html, to_html
from oilpath.reports.words import Words
from oilpath.session.day import prepare
from tests.page.browsing import CHROMIUM, DRIVER, LAPTOP, MACHINE, PHONE, SHEET, Other, Window, opened_window

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="needs chromium and its driver"),
]
PAGES: Final = (
    "/", "/?q=pit", "/new-machine", "/settings", "/practice", "/explore", "/explore?topic=boom-falls",
    "/explore?topic=pump.worn",
    MACHINE, f"{MACHINE}/trend", f"{MACHINE}/text", f"{SHEET}/entry?test=cycle-time&test=travel-time",
    f"{SHEET}/photos", SHEET, f"{SHEET}/undo",
    "/sheet/demo/one-track-slow.yaml/next", f"{SHEET}/order", f"{SHEET}/text", "/nothing",
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
    with opened_window(tmp_path_factory.mktemp("looks") / "workshop.db", "127.0.0.3") as made:
        yield made


@pytest.fixture(scope="module")
def axe() -> str:
    return files("selenium_axe_python").joinpath("axe-core/axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def files_for_people(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """What the shell writes as HTML: an answer, the plan for a day, a form to fill in by hand."""
    knowledge = load_knowledge()
    sheet = load_sheet(data_folder("cases") / "demo/two-causes.yaml", knowledge)
    words, circuit = Words(knowledge, sheet.machine), bench_for(sheet.machine, knowledge).circuit
    plan = prepare(sheet.machine, knowledge)
    made = {
        "answer": to_html(diagnose(sheet, knowledge), words, circuit, sheet.machine),
        "day": day_to_html(plan, words, sheet.machine),
        "form": form_to_html(form_of(plan, sheet.machine, words)),
    }
    folder = tmp_path_factory.mktemp("files")
    for name, text in made.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in made}


#: Contrast of 7 to 1 for a screen in the sun, WCAG 2.2 under 1.4.6 (AAA).
IN_SUN: Final = "color-contrast-enhanced"


def findings(window: Window, axe: str, *, only: str = "", also: str = "") -> list[str]:
    """What axe-core finds on the page that is open, by all its usual rules, or only by one."""
    window.js(axe)
    how: dict[str, Any] = {"rules": {also or only: {"enabled": True}}} if also or only else {}
    if only:
        how["runOnly"] = {"type": "rule", "values": [only]}
    found = window.later("axe.run(document, {resultTypes: ['violations'], ...arguments[0]})", how)
    return [
        f"{one['impact']}: {one['id']}: {node['html'][:120]}"
        for one in found["violations"]
        for node in one["nodes"][:3]
    ]


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_for_everybody(window: Window, axe: str, page: str) -> None:
    window.go(page)
    check(window, axe)


def test_letting_a_phone_in_is_for_everybody(window: Window, axe: str) -> None:
    window.go("/settings")
    window.follow(window.one("button[value=invite], form:has([value=invite]) button"))
    check(window, axe)
    window.driver.get(f"{window.server.phones}pair")
    check(window, axe)


def test_entry_at_work_is_for_everybody(window: Window, axe: str) -> None:
    """With the stopwatch open, a value that cannot be taken, a doubt, and the line gone."""
    window.size(PHONE)
    window.go(f"{SHEET}/entry?test=cycle-time")
    window.type("f.reading:cycle-time/arm-in", "much")
    window.until(lambda: "A number is wanted" in window.text('[data-key="reading:cycle-time/arm-in"] .told'))
    window.type("f.reading:cycle-time/arm-out", "27")
    window.until(lambda: "Is this meant?" in window.text('[data-id="cycle-time/arm-out"] .judged'))
    window.press(window.one("[data-watch]"))
    window.js("dispatchEvent(new Event('offline'))")
    assert "No connection" in window.text("#line")
    check(window, axe)


def test_words_without_end_do_not_widen_a_page(window: Window) -> None:
    other = Other(window.server)
    entry = other.sends(MACHINE, f"{MACHINE}/sheets", complaint="Y" * 200, **{"unit-number": "W" * 58})
    sheet = entry.removesuffix("/entry")
    other.writes(sheet, "reading:cycle-time/boom-raise", "5.6", "5.7")
    other.writes(sheet, "note:cycle-time/boom-raise", "N" * 120)
    other.writes(sheet, "head:hours", "1234")
    machine = other.sends("/new-machine", "/new-machine", title="Q" * 120, circuit="two-pump-excavator")
    window.size(PHONE)
    own = (entry + "?test=cycle-time", sheet, f"{sheet}/next", f"{sheet}/order")
    pages = ("/", MACHINE, f"{MACHINE}/trend", machine, *own)
    wide = {}
    for page in pages:
        window.go(page)
        wide[page] = window.js("return document.documentElement.scrollWidth")
    assert wide == dict.fromkeys(pages, PHONE[0])


@pytest.mark.parametrize("drill", ["", "lookalikes", "bad-measurements", "closed-jobs"])
def test_practice_is_for_everybody(window: Window, axe: str, drill: str) -> None:
    window.go("/practice")
    window.js("document.querySelector('[name=drill]').value = arguments[0]", drill)
    window.press(window.one("form.stack summary"))
    window.type("seed", "7")
    window.follow(window.button("Begin"))
    check(window, axe)
    if drill:
        window.follow(window.one(".outcomes button"))
    else:
        window.follow(window.button("Nothing yet"))
        window.follow(window.button("List the tests"))
        check(window, axe)
        while not window.all("[value=ok]"):
            window.follow(window.one(".outcomes button"))
    check(window, axe)


def check(window: Window, axe: str) -> None:
    """The page that is open, on a phone, light and dark, and on a laptop."""
    window.size(PHONE)
    assert window.js("return document.documentElement.scrollWidth") <= PHONE[0]
    assert window.js(SMALL) == []
    assert findings(window, axe, also=IN_SUN) == []
    window.size(PHONE, dark=True)
    assert findings(window, axe, only=IN_SUN) == []
    window.size(LAPTOP)
    assert window.js("return document.documentElement.scrollWidth") <= LAPTOP[0]
    assert window.wrong() == []
    assert window.elsewhere() == []


def test_entry_of_a_whole_day_is_for_gloves_and_light_enough_for_a_phone(window: Window) -> None:
    """At most 100 kB over the wire for the first visit, of which scripts of our own at most 40 kB as they are."""
    window.size(PHONE)
    window.cdp("Network.setBypassServiceWorker", bypass=True)
    window.cdp("Network.clearBrowserCache")
    window.go(f"{SHEET}/entry")
    assert window.js("return document.documentElement.scrollWidth") <= PHONE[0]
    assert window.js(SMALL) == []
    loaded = window.js(
        "return ['navigation', 'resource'].flatMap((kind) => performance.getEntriesByType(kind))"
        ".map((one) => [one.name, one.transferSize, one.decodedBodySize])"
    )
    scripts = [size for name, _, size in loaded if ".js" in name]
    assert len(scripts) == 2
    assert all(0 < wire <= size + 500 for _, wire, size in loaded)
    assert sum(wire for _, wire, _ in loaded) <= 100_000
    worker = window.later("fetch('/worker.js').then((one) => one.text())")
    assert sum(scripts) + len(worker) <= 40_000


@pytest.mark.parametrize("name", ["answer", "day", "form"])
def test_a_file_of_the_shell_is_for_everybody(
    window: Window, axe: str, files_for_people: dict[str, Path], name: str
) -> None:
    address = files_for_people[name].as_uri()
    window.size(PHONE)
    window.driver.get(address)
    if name != "form":  # that is as wide as its paper
        assert window.js("return document.documentElement.scrollWidth") <= PHONE[0]
    assert findings(window, axe) == []
    window.size(PHONE, dark=True)
    assert findings(window, axe, only="color-contrast") == []
    assert window.wrong() == []
    assert window.elsewhere(also=[address]) == []
