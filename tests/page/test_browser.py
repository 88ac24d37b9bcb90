"""The ways of a technician, a trainee and a service writer in a real browser, on a phone and on a laptop.

After each test nothing stands in the browser's console and no request has gone to any other address. It needs
Debian's chromium with its driver; without them all this is skipped.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from PIL import Image

from tests.page.browsing import CHROMIUM, DRIVER, LAPTOP, MACHINE, PHONE, SHEET, Other, Window, opened_window

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="needs chromium and its driver"),
]
SIZES = pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
ENTRY, PILOT = f"{SHEET}/entry?test=pilot-pressure", "f.reading:pilot-pressure"
TOLD: Final = f'[data-key="{PILOT.removeprefix("f.")}"] .told'
OPENS_LINES: Final = {PHONE: ("one-track-slow", "case-drain"), LAPTOP: ("swing-one-way", "exchange-swing-relief")}
"""demo sheets, with a check of theirs after which something must be undone"""


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Window]:
    with opened_window(tmp_path_factory.mktemp("browser") / "workshop.db", "127.0.0.2") as made:
        yield made


@pytest.fixture(autouse=True)
def quiet(window: Window) -> Iterator[None]:
    yield
    assert window.wrong() == []
    assert window.elsewhere() == []


def judged(window: Window, reading: str) -> str:
    return window.text(f'[data-id="{reading}"] .judged')


def saved(window: Window) -> None:
    window.until(lambda: window.text("#line") == "All is saved.")


# --- three ways -----------------------------------------------------------------------------


@SIZES
def test_the_technicians_way(window: Window, size: tuple[int, int], tmp_path: Path) -> None:
    raise_, in_, out = (f"cycle-time/{one}" for one in ("boom-raise", "arm-in", "arm-out"))
    window.size(size)
    window.go("/")
    window.one("#q").send_keys("gravel")
    window.follow(window.button("Search"))
    window.follow(window.one(f'a[href="{MACHINE}"]'))
    window.type("unit-number", f"YARD {size[0]}")
    window.type("complaint", "Boom slow to raise")
    window.press(window.one("form.stack summary"))
    window.press(window.one("input[value=cycle-time]"))
    window.follow(window.button("Begin the sheet"))
    sheet = window.path.removesuffix("/entry")

    # readings, on the number pad of a phone, judged as they are typed
    assert window.one(f'[name="f.reading:{raise_}"]').get_attribute("inputmode") == "decimal"
    window.type(f"f.reading:{raise_}", "5.6", "5.7", "5.6")
    window.until(lambda: "out, almost certain" in judged(window, raise_))
    window.type(f"f.reading:{out}", "27", "2.7")
    window.until(lambda: "Is this meant?" in judged(window, out))
    window.type(f"f.reading:{out}", "2.7", "2.7")
    window.until(lambda: "in order" in judged(window, out) and "Is this meant?" not in judged(window, out))

    # the stopwatch fills the next empty box, and a lap can be thrown away
    watch = window.one(f'[data-id="{in_}"] [data-watch]')
    window.press(watch)
    window.press(window.one(".clock .main"))
    window.until(lambda: window.text(".clock output") > "0.1")
    window.press(window.one(".clock .main"))
    box = window.one(f'[name="f.reading:{in_}"]')
    assert box.get_attribute("value") == window.text(".clock output")
    window.press(window.button("Do not count it"))
    assert box.get_attribute("value") == ""
    window.type(f"f.reading:{in_}", "3.4")
    window.until(lambda: "in order" in judged(window, in_))
    saved(window)

    # a photo to a reading
    Image.new("RGB", (60, 40), "brown").save(tmp_path / "photo.jpg")
    window.press(window.one(f'[data-id="{raise_}"] details summary'))
    window.follow(window.one(f'[data-id="{raise_}"] details a.button'))
    window.one("[name=photo]").send_keys(str(tmp_path / "photo.jpg"))
    assert "Cycle time, boom raise" in window.text("h1")
    window.follow(window.button("Add the photo"))
    thumb = window.one(f'[data-id="{raise_}"] img.thumb')
    window.js("arguments[0].scrollIntoView()", thumb)
    window.until(lambda: window.js("return arguments[0].naturalWidth", thumb) == 60)

    # the answer, and the next step by one button an outcome
    window.follow(window.one("button[value=answer]"))
    assert window.path == sheet
    assert {"Out", "Cause", "Next"} <= {one.text for one in window.all(".screen dt")}
    window.follow(window.link("Next step"))
    step = window.text(".step h2")
    window.follow(window.one(".outcomes button"))
    assert window.text(".step h2") != step
    assert "check: " in window.text("code")

    # a step that opens lines: what must be undone, and that it was
    demo, check = OPENS_LINES[size]
    window.go(f"/sheet/demo/{demo}.yaml/next")
    while not window.all(f'.outcomes button[value^="{check}@"]'):
        window.follow(window.button("Cannot be done here"))
    window.follow(window.one(".outcomes button"))
    window.follow(window.link("To undo"))
    assert window.all(".noted")
    while window.all(".noted"):
        window.follow(window.button("It is put back"))
    assert "Nothing on this sheet is still to be put back." in window.text()


@SIZES
def test_the_trainees_way(window: Window, size: tuple[int, int]) -> None:
    window.size(size)
    window.go("/")
    window.follow(window.link("Look up"))
    window.follow(window.link("Boom falls"))
    assert "Boom falls" in window.text("article h1")
    window.follow(window.link("holding-valve.held-open"))
    assert "holding valve held open" in window.text("article h1")
    window.type("topic", "Worn main pump")
    window.follow(window.button("Look up"))
    assert "What it does to the tests" in window.text()
    window.go(SHEET)
    assert "The machine pulls to the right" in window.text()
    assert "Why: Worn main pump 1" in [one.text for one in window.all("h2")]
    window.go(f"{MACHINE}/trend")
    picture = window.one(".picture img")
    window.until(lambda: window.js("return arguments[0].naturalWidth", picture) > 300)
    window.choose("unit", "PIT-09 (1)")
    window.follow(window.button("Show"))
    assert "unit PIT-09" in window.text("h1")


def test_the_trainee_practises(window: Window) -> None:
    def answer(text: str, button: str) -> None:
        form = window.driver.find_element("xpath", f"//form[.//button[normalize-space(.)='{button}']]")
        form.find_element("name", "line").send_keys(text)
        window.follow(form.find_element("tag name", "button"))

    window.size(PHONE)
    window.go("/")
    window.follow(window.link("Practice"))
    window.press(window.one("form.stack summary"))
    window.type("seed", "7")
    window.follow(window.button("Begin"))
    assert "The customer says:" in window.text()
    answer("worn main pump 1", "I suspect it")
    answer("cycle time boom raise", "Find it")
    while not window.all("[value=ok]"):  # several fit
        window.follow(window.one(".outcomes button"))
    assert window.all(".cautions li")
    window.follow(window.button("In order"))
    assert "Read so far" in window.text()
    window.follow(window.button("I know it: name the cause"))
    answer("worn main pump 1", "It is this")
    while "What it was" not in window.text():
        window.follow(window.one(".outcomes button"))
    assert {"Both bills", "The chain of reasons"} <= {one.text for one in window.all("h2")}


@SIZES
def test_the_service_writers_way(window: Window, size: tuple[int, int]) -> None:
    window.size(size)
    window.cdp("Browser.grantPermissions", permissions=["clipboardReadWrite", "clipboardSanitizedWrite"])
    window.go("/")
    window.one("#q").send_keys("pulls to the right")
    window.follow(window.button("Search"))
    window.follow(window.one(f'a[href="{SHEET}"]'))
    assert "Worn main pump 1 (very likely" in window.text(".screen")
    window.follow(window.link("Order"))
    usual = window.one("#order").get_attribute("textContent")
    window.press(window.button("Copy"))
    window.until(lambda: window.button("Copied"))
    assert window.later("navigator.clipboard.readText()") == usual
    window.choose("length", "short")
    window.follow(window.button("Show"))
    short = window.one("#order").get_attribute("textContent")
    assert len(short) < 600
    assert "not confirmed" in short.lower()
    window.choose("length", "usual")
    window.choose("for", "the customer")
    window.press(window.one("[name=parts]"))
    window.follow(window.button("Show"))
    customer = window.text(".order")
    assert "%" not in customer
    assert "PARTS" in customer.upper()
    printed = pages(window)
    assert printed
    assert all(one == pytest.approx(A4, abs=1) for one in printed)


# --- paper ----------------------------------------------------------------------------------

A4: Final = (210 / 25.4 * 72, 297 / 25.4 * 72)
"""ISO 216, in points"""


def pages(window: Window) -> list[tuple[float, float]]:
    """The sizes of the pages of paper that the open page is printed on."""
    made = window.cdp("Page.printToPDF", paperWidth=210 / 25.4, paperHeight=297 / 25.4, preferCSSPageSize=False)
    pdf = base64.b64decode(made["data"])
    assert pdf.startswith(b"%PDF")
    boxes = re.findall(rb"/MediaBox \[\s*0 0 ([0-9.]+) ([0-9.]+)\s*\]", pdf)
    return [(float(width), float(height)) for width, height in boxes]


def test_order_and_answer_are_printed_without_what_is_only_for_the_screen(window: Window) -> None:
    window.size(LAPTOP, media="print")
    for path, most in ((f"{SHEET}/order", 2), (SHEET, 9)):
        window.go(path)
        assert 1 <= len(pages(window)) <= most
        text = window.text("body")
        assert "Worn main pump 1" in text
        for one in ("Next step", "Copy", "Look up", "Versions of this sheet"):
            assert one not in text
    window.size(LAPTOP)


# --- nothing typed is lost --------------------------------------------------------------------


def test_what_is_typed_without_the_server_is_kept_and_sent_when_it_is_back(window: Window) -> None:
    window.size(PHONE)
    window.go(ENTRY)
    window.type(PILOT, "2.9")
    window.until(lambda: "out" in judged(window, "pilot-pressure"))
    saved(window)
    assert "pressure: 2.9 MPa" in window.server.text()
    window.later("navigator.serviceWorker.ready.then(() => 1)")
    window.go(ENTRY)
    window.server.kill()
    window.type(PILOT, "3.1")
    window.until(lambda: window.text("#line").startswith("No connection. 1 entry waits"))
    window.go(ENTRY)
    window.until(lambda: window.one(f'[name="{PILOT}"]').get_attribute("value") == "3.1")
    window.server.start()
    saved(window)
    assert "pressure: 3.1 MPa" in window.server.text()


def test_a_decimal_comma_is_asked_about_and_taken_where_numbers_are_written_so(window: Window) -> None:
    window.size(PHONE)
    window.go(ENTRY)
    window.type(PILOT, "3,7")
    window.until(lambda: window.all(".told button"))
    assert "This has a decimal comma. Perhaps 3.7 is meant." in window.text(TOLD)
    window.press(window.button("Write 3.7"))
    saved(window)
    assert "pressure: 3.7 MPa" in window.server.text()
    window.cdp("Emulation.setLocaleOverride", locale="de_DE")
    window.go(ENTRY)
    window.type(PILOT, "3,8")
    saved(window)
    assert "pressure: 3.8 MPa" in window.server.text()
    window.cdp("Emulation.setLocaleOverride")


def test_two_people_on_one_sheet_are_told_and_neither_is_overwritten(window: Window) -> None:
    window.size(PHONE)
    window.go(ENTRY)
    Other(window.server).writes(SHEET, "reading:pilot-pressure", "3.6")
    window.type(PILOT, "3.9")
    window.until(lambda: "Somebody else wrote 3.6 here meanwhile. You typed 3.9." in window.text(TOLD))
    assert window.one(f'[name="{PILOT}"]').get_attribute("value") == "3.9"
    assert "pressure: 3.6 MPa" in window.server.text()
    window.press(window.button("Write mine"))
    saved(window)
    assert "pressure: 3.9 MPa" in window.server.text()
    Other(window.server).writes(SHEET, "reading:pilot-pressure", "3.7")
    window.type(PILOT, "4.0")
    window.until(lambda: "Somebody else wrote 3.7 here meanwhile. You typed 4.0." in window.text(TOLD))
    window.press(window.button("Keep theirs"))
    assert window.one(f'[name="{PILOT}"]').get_attribute("value") == "3.7"
    assert "pressure: 3.7 MPa" in window.server.text()


def test_a_veer_typed_before_its_time_is_kept_and_saved_with_it(window: Window) -> None:
    at = "travel-time/reverse/low"
    window.size(PHONE)
    window.go(f"{SHEET}/entry?test=travel-time")
    window.js("for (const one of document.querySelectorAll('details')) one.open = true")
    window.choose(f"f.more:{at}:veer", "to the left")
    window.js("arguments[0].focus()", window.all(f'[name="f.more:{at}:veer"]')[1])
    window.all(f'[name="f.more:{at}:veer"]')[1].send_keys("0.4\t")
    window.until(lambda: "wanted first" in window.text(f'[data-key="more:{at}:veer"] .told'))
    window.type(f"f.reading:{at}", "31")
    saved(window)
    assert "toward: left, offset: 0.4 m" in window.server.text()


def test_a_phone_is_let_in_by_the_code_that_the_laptop_shows(window: Window) -> None:
    window.size(PHONE)
    window.driver.get(window.server.phones)
    assert "This device is not let in." in window.text()
    code = next(line for line in window.server.shown.splitlines() if line.startswith("https:"))
    window.driver.get(code)
    assert window.text(".fingerprint") in window.server.shown.replace("\n", "")
    window.type("name", "Phone in the pit")
    window.follow(window.button("Let in"))
    assert "Phone in the pit (write)" in window.text(".who")
    window.driver.get(f"{window.server.phones.removesuffix('/')}{ENTRY}")
    window.type(PILOT, "3.4")
    saved(window)
    assert "pressure: 3.4 MPa" in window.server.text()
    window.driver.delete_all_cookies()
    window.driver.get(code)
    window.follow(window.button("Let in"))
    assert "This code is used up or too old." in window.text()


# --- without scripts, without a mouse -----------------------------------------------------------


def test_without_scripts_all_works_but_stopwatch_live_verdict_and_keeping(window: Window) -> None:
    window.size(PHONE)
    with window.without_scripts():
        window.go(MACHINE)
        window.type("unit-number", "NO SCRIPT")
        window.press(window.one("form.stack summary"))
        window.press(window.one("input[value=pilot-pressure]"))
        window.follow(window.button("Begin the sheet"))
        assert not window.all("[data-watch]:not([hidden])")
        window.type(PILOT, "2.9")
        window.follow(window.one("button[value=stay]"))
        assert "out, almost certain" in judged(window, "pilot-pressure")
        window.choose("sign", "Foamy oil")
        window.follow(window.button("Add the sign"))
        assert "Foamy oil: seen" in window.text("#found")
        window.follow(window.one("button[value=answer]"))
        assert "Next" in [one.text for one in window.all(".screen dt")]
        window.follow(window.link("Next step"))
        step = window.text(".step h2")
        window.follow(window.one(".outcomes button, .reading button"))
        assert window.text(".step h2") != step or window.all(".near")
        window.follow(window.link("Order"))
        assert not window.all("[data-copy]:not([hidden])")
        window.choose("for", "the customer")
        window.follow(window.button("Show"))
        assert "NO SCRIPT" in window.text(".order")


def test_by_keys_alone(window: Window) -> None:
    """Tab reaches all that can be pressed, in the order of the page, framed and not covered; Enter does it."""
    from selenium.webdriver.common.keys import Keys

    look = """
        const one = document.activeElement, style = getComputedStyle(one), at = one.getBoundingClientRect();
        const there = document.elementFromPoint(at.x + at.width / 2, at.y + at.height / 2);
        const seen = there !== null && (one.contains(there) || there.contains(one));
        return [style.outlineStyle, style.outlineWidth, seen, one.matches(arguments[0]), one.outerHTML.slice(0, 100)];
    """

    def tab() -> Any:
        for kind in ("rawKeyDown", "keyUp"):
            window.cdp("Input.dispatchKeyEvent", type=kind, key="Tab", code="Tab", windowsVirtualKeyCode=9)
        return window.driver.switch_to.active_element

    def until(selector: str) -> Any:
        for _ in range(60):
            at = tab()
            style, width, seen, found, shown = window.js(look, selector)
            assert (style, width, seen) == ("solid", "3px", True), shown
            if found:
                return at
        raise AssertionError(selector)

    def enter(element: Any) -> None:
        old = window.one("html")
        element.send_keys(Keys.ENTER)
        window.until(lambda: window._gone(old) and window.js("return document.readyState") == "complete")

    window.size(LAPTOP)
    window.go("/")
    skip = tab()
    assert skip.text == "To the page"
    skip.send_keys(Keys.ENTER)
    box = until("#q")
    box.send_keys("gravel")
    enter(box)
    enter(until(f'a[href="{MACHINE}"]'))
    until("input[name=unit-number]").send_keys("KEYS")
    until("form.stack summary").send_keys(Keys.ENTER)
    until("input[value=cycle-time]").send_keys(Keys.SPACE)
    enter(until("form.stack > button"))
    sheet = window.path.removesuffix("/entry")
    seen = [tab().get_attribute("href") for _ in range(5)]
    assert [str(one).rpartition("/")[2] for one in seen[1:]] == ["", "explore", "practice", "settings"]
    until('[name="f.reading:cycle-time/boom-raise"]')
    for value in ("5.6", "5.7", "5.6"):  # Enter leads to the next box
        window.driver.switch_to.active_element.send_keys(value, Keys.ENTER)
    window.until(lambda: "out, almost certain" in judged(window, "cycle-time/boom-raise"))
    enter(until("button[value=answer]"))
    assert window.path == sheet
    enter(until('nav a[href$="/next"]'))
    enter(until(".outcomes button, .reading input"))
    assert window.path == f"{sheet}/next"
