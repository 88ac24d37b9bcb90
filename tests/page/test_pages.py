"""Every page answers, and what is sent to it is on the sheet: entry, outcomes, work put back, photos."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

from oilpath import load_sheet
from oilpath.data import data_folder

if TYPE_CHECKING:
    from oilpath.store.opening import Store
    from tests.page.conftest import Browser

SHEET, MACHINE = "demo/pump-1-slow.yaml", "machines/trainer-22t.yaml"
ENTRY = f"/sheet/{SHEET}/entry"
PAGES = (
    "/", "/?q=pit", f"/machine/{MACHINE}", f"/machine/{MACHINE}/trend", f"/machine/{MACHINE}/trend.svg",
    f"/machine/{MACHINE}/text", f"/sheet/{SHEET}", f"/sheet/{SHEET}/next", f"/sheet/{SHEET}/undo",
    f"/sheet/{SHEET}/order", f"/sheet/{SHEET}/order?length=short&for=customer&plain=1", f"/sheet/{SHEET}/text", ENTRY,
    f"{ENTRY}?test=drift", f"/sheet/{SHEET}/photos", "/explore", "/explore?topic=pump.worn",
    "/explore?topic=pump.worn&against=suction.restricted", "/settings", "/practice", "/new-machine", "/worker.js",
    "/sign-in",
)  # fmt: skip


def on_sheet(store: Store, reading: str) -> tuple[float, ...]:
    """The values of a reading, SI, as the product's own reader has them."""
    from oilpath.knowledge.compile import load_knowledge

    sheet = store.answers.try_sheet(SHEET, text(store), load_knowledge())
    return next((one.values for one in sheet.readings if one.id == reading), ())


def text(store: Store) -> str:
    held = store.documents.latest(SHEET)
    assert held is not None
    return held.text


def test_every_page_answers(browser: Browser) -> None:
    assert {path: browser.get(path).status_code for path in PAGES} == dict.fromkeys(PAGES, 200)


@pytest.mark.parametrize("path", ["/nothing", "/sheet/none.yaml", "/machine/none.yaml", "/photo/99", "/static/none"])
def test_what_is_not_there_is_said(browser: Browser, path: str) -> None:
    assert browser.get(path).status_code == 404


def test_the_answer_begins_with_the_screen(browser: Browser) -> None:
    shown = browser.get(f"/sheet/{SHEET}").text
    assert "Worn main pump 1" in shown
    assert shown.index("Would change") < shown.index("Troubleshooting tree")
    assert shown.index("Caution") < shown.index("Troubleshooting tree")


def test_the_order_is_that_of_the_shell(browser: Browser) -> None:
    from oilpath import diagnose
    from oilpath.knowledge.compile import load_knowledge
    from oilpath.reports.order_page import to_order
    from oilpath.reports.words import Words

    knowledge = load_knowledge()
    sheet = load_sheet(data_folder("cases") / SHEET, knowledge)
    expected = to_order(diagnose(sheet, knowledge), Words(knowledge, sheet.machine))
    assert browser.get(f"/sheet/{SHEET}/order?plain=1").text == expected


def test_a_typed_reading_is_on_the_sheet_and_judged(browser: Browser, store: Store) -> None:
    key = "reading:cycle-time/boom-raise"
    told = browser.script(ENTRY, {"changes": [{"key": key, "typed": ["5.6", "5.7", "5.6"], "was": None}]}).json()
    assert told["changes"] == [{"key": key, "kept": True, "other": False, "early": False, "says": ""}]
    assert told["judged"]["cycle-time/boom-raise"]["tone"] == "out"
    assert on_sheet(store, "cycle-time/boom-raise") == pytest.approx((5.6, 5.7, 5.6))


def test_a_comment_of_the_sheet_stays(browser: Browser, store: Store) -> None:
    before = [line for line in text(store).splitlines() if line.startswith("#")]
    browser.script(ENTRY, {"changes": [{"key": "head:hours", "typed": ["8460"], "was": ["8450"]}]})
    assert [line for line in text(store).splitlines() if line.startswith("#")] == before
    assert "hours: 8460" in text(store)


def test_two_people_on_one_sheet_are_told_and_neither_is_overwritten(browser: Browser, store: Store) -> None:
    key, other = "reading:pilot-pressure", "reading:cycle-time/arm-in"
    was = browser.script(ENTRY, {"changes": []}).json()["fields"]
    browser.script(ENTRY, {"changes": [{"key": key, "typed": ["3.7"], "was": was[key]}]})
    second = browser.script(
        ENTRY,
        {
            "changes": [
                {"key": key, "typed": ["3.8"], "was": was[key]},
                {"key": other, "typed": ["3.3"], "was": was.get(other)},
            ]
        },
    ).json()
    assert [(one["kept"], one["other"]) for one in second["changes"]] == [(False, True), (True, False)]
    assert "3.7" in second["changes"][0]["says"]
    assert "3.8" in second["changes"][0]["says"]
    assert on_sheet(store, "pilot-pressure") == pytest.approx((3.7e6,))
    assert on_sheet(store, "cycle-time/arm-in") == pytest.approx((3.3,))


def test_what_is_sent_twice_is_kept_once(browser: Browser, store: Store) -> None:
    change = {"changes": [{"key": "reading:pilot-pressure", "typed": ["3.75"], "was": ["3.85"]}]}
    assert browser.script(ENTRY, change).json()["changes"][0]["kept"] is True
    versions = len(store.documents.versions(SHEET))
    assert browser.script(ENTRY, change).json()["changes"][0]["kept"] is True
    assert len(store.documents.versions(SHEET)) == versions


def test_what_goes_with_a_reading_waits_for_it(browser: Browser, store: Store) -> None:
    """Typed in any order: what is added to a reading comes early where the reading is not there yet, and later fits."""
    at = "travel-time/reverse/low"
    veer = {"key": f"more:{at}:veer", "typed": ["l 0.4"], "was": []}
    note = {"key": f"note:{at}", "typed": ["wet track"], "was": []}
    times = {"key": f"reading:{at}", "typed": ["31.0"], "was": []}
    told = browser.script(ENTRY, {"changes": [veer, note]}).json()["changes"]
    assert [(one["kept"], one["early"]) for one in told] == [(False, True), (False, True)]
    assert len(store.documents.versions(SHEET)) == 1
    told = browser.script(ENTRY, {"changes": [veer, note, times]}).json()["changes"]
    assert [(one["kept"], one["early"]) for one in told] == [(True, False)] * 3
    assert "toward: left, offset: 0.4 m" in text(store)
    assert "wet track" in text(store)


def test_what_a_reading_asks_for_is_not_lost_where_it_comes_first(browser: Browser, store: Store) -> None:
    """A machine without limits says no hold: it is asked for, and must not be taken and then forgotten."""
    bare = "oilpath: machine/1\nname: Bare\ncircuit: two-pump-excavator\n"
    store.documents.save("machines/bare.yaml", bare, base=None, author="")
    sheet = "oilpath: sheet/1\nmachine: ../machines/bare.yaml\nreadings: []\n"
    store.documents.save("sheets/bare.yaml", sheet, base=None, author="")
    page = "/sheet/sheets/bare.yaml/entry"
    asked = [one for one in re.findall(r'data-key="(more:[^"]+)"', browser.get(page).text) if "swing-time/left" in one]
    for key in asked:
        told = browser.script(page, {"changes": [{"key": key, "typed": ["3"], "was": []}]}).json()
        assert told["changes"][0]["early"] or told["fields"].get(key)


def test_each_reading_keeps_the_oil_temperature_at_which_it_was_typed(browser: Browser, store: Store) -> None:
    """Sent together after a time without a connection, they were typed at two temperatures."""
    sheet = "oilpath: sheet/1\nmachine: ../machines/trainer-22t.yaml\nreadings: []\n"
    store.documents.save("sheets/warm.yaml", sheet, base=None, author="")
    changes = [
        {"key": "reading:pilot-pressure", "typed": ["3.8"], "was": [], "oil": "52"},
        {"key": "reading:cycle-time/arm-in", "typed": ["3.3"], "was": [], "oil": "58"},
    ]
    told = browser.script("/sheet/sheets/warm.yaml/entry", {"changes": changes}).json()
    assert [one["kept"] for one in told["changes"]] == [True, True]
    held = store.documents.latest("sheets/warm.yaml")
    assert held is not None
    assert "{test: pilot-pressure, pressure: 3.8 MPa}" in held.text
    assert "conditions: {oil-temperature: 52 °C}" in held.text
    assert "times: 3.3 s, conditions: {oil-temperature: 58 °C}" in held.text or "[3.3 s], conditions" in held.text


def test_without_a_script_the_whole_form_saves_what_was_changed(browser: Browser, store: Store) -> None:
    fields = {"number": "1", "then": "stay", "f.reading:pilot-pressure": "3.9", "f.head:hours": "8450"}
    assert browser.send(ENTRY, **fields).status_code == 200
    assert on_sheet(store, "pilot-pressure") == pytest.approx((3.9e6,))


def test_without_a_script_another_persons_value_is_shown_beside_ones_own(browser: Browser, store: Store) -> None:
    browser.script(ENTRY, {"changes": [{"key": "reading:pilot-pressure", "typed": ["3.7"], "was": ["3.85"]}]})
    answered = browser.send(ENTRY, **{"number": "1", "f.reading:pilot-pressure": "3.9"})
    assert answered.status_code == 409
    assert "Somebody else wrote 3.7 here meanwhile. You typed 3.9." in answered.text
    assert on_sheet(store, "pilot-pressure") == pytest.approx((3.7e6,))


def test_what_cannot_be_taken_is_said_beside_the_field_and_the_rest_is_saved(browser: Browser, store: Store) -> None:
    answered = browser.send(
        ENTRY, **{"number": "1", "f.reading:pilot-pressure": "much", "f.reading:cycle-time/arm-in": ["3.3", "", ""]}
    )
    assert answered.status_code == 422
    assert "A number is wanted" in answered.text
    assert 'value="much"' in answered.text
    assert on_sheet(store, "cycle-time/arm-in") == pytest.approx((3.3,))


def test_an_outcome_is_one_button_and_can_be_taken_back(browser: Browser, store: Store) -> None:
    page = f"/sheet/{SHEET}/next"
    before = text(store)
    shown = browser.get(page).text
    found = re.search(r'name="(?:outcome)" value="([^"]+)"', shown)
    if found is not None:
        answered = browser.send(page, outcome=found[1])
    else:
        reading = re.search(r'name="reading" value="([^"]+)"', shown)
        assert reading is not None
        answered = browser.send(page, reading=reading[1], value="9 L/min")
    assert answered.status_code == 200
    assert text(store) != before
    last = re.search(r'name="undo" value="(\d+)"', answered.text)
    assert last is not None
    assert browser.send(page, undo=last[1]).status_code == 200
    assert text(store) == before


def test_a_new_sheet_from_its_machine_to_its_answer(browser: Browser) -> None:
    page = f"/machine/{MACHINE}"
    entry = browser.send(page, f"{page}/sheets", unit__number="PIT-99", complaint="Slow: everything # all day")
    assert entry.status_code == 200
    name = entry.url.path.removesuffix("/entry")
    browser.script(f"{name}/entry", {"changes": [{"key": "reading:pilot-pressure", "typed": ["2.9"], "was": []}]})
    assert "Slow: everything # all day" in browser.get(name).text


def test_a_sign_and_a_code_get_onto_the_sheet(browser: Browser, store: Store) -> None:
    browser.send(ENTRY, f"/sheet/{SHEET}/found", sign="foamy-oil", where="", seen="yes")
    answered = browser.send(ENTRY, f"/sheet/{SHEET}/found", code="520201-4", active="no")
    assert answered.status_code == 200
    assert "foamy-oil" in text(store)
    assert "520201" in text(store)


def photo(kind: str, exif: bool = True) -> bytes:
    made, held = Image.new("RGB", (640, 480), "brown"), io.BytesIO()
    data = Image.Exif()
    if exif:
        data.get_ifd(0x8825)[1] = "N"  # a place, as EXIF 2.32 has it
        data[0x010F] = "some camera"
    made.save(held, kind, exif=data)
    return held.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_is_kept_without_place_and_camera(browser: Browser, store: Store, kind: str) -> None:
    page = f"/sheet/{SHEET}/photos"
    answered = browser.send(page, files={"photo": ("x.jpg", photo(kind), "image/jpeg")}, reading="pilot-pressure")
    assert answered.status_code == 200
    (held,) = store.photos.of(SHEET)
    kept = browser.get(f"/photo/{held.id}")
    assert b"some camera" not in kept.content
    assert not Image.open(io.BytesIO(kept.content)).getexif()
    assert Image.open(io.BytesIO(kept.content)).size == (640, 480)


@pytest.mark.parametrize("content", [b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"GIF89a", b"%PDF-1.4", b"\xff\xd8"])
def test_what_is_no_photo_is_refused(browser: Browser, store: Store, content: bytes) -> None:
    page = f"/sheet/{SHEET}/photos"
    assert browser.send(page, files={"photo": ("x.jpg", content, "image/jpeg")}).status_code == 415
    assert store.photos.of(SHEET) == ()


def test_a_photo_is_made_smaller_and_one_of_too_many_pixels_is_refused(browser: Browser, store: Store) -> None:
    page = f"/sheet/{SHEET}/photos"
    for size, status in (((3200, 800), 200), ((10_000, 7_000), 413)):  # the second is a few kB that unpack to 70 MB
        held = io.BytesIO()
        Image.new("1", size).save(held, "PNG")
        assert len(held.getvalue()) < 20_000
        assert browser.send(page, files={"photo": ("x.png", held.getvalue(), "image/png")}).status_code == status
    (kept,) = store.photos.of(SHEET)
    assert (kept.width, kept.height) == (1600, 400)


def test_a_test_and_a_step_show_how_they_are_done(browser: Browser) -> None:
    assert 'class="how-picture"><svg' in browser.get(f"{ENTRY}?test=cycle-time").text
    # this sheet's answer still has a step to make
    shown = browser.get("/sheet/demo/one-track-slow.yaml/next").text
    assert 'class="how-picture"><svg' in shown


def test_a_trend_is_of_one_unit_and_others_can_be_chosen(browser: Browser) -> None:
    page = f"/machine/{MACHINE}/trend"
    shown = browser.get(page).text
    assert "differs from that of" not in shown
    assert '<option value="PIT-07">' in shown
    assert "unit PIT-07" in browser.get(f"{page}?unit=PIT-07").text


def test_a_trend_follows_every_change(browser: Browser, store: Store) -> None:
    page = f"/machine/{MACHINE}/trend?unit=PIT-07"
    before = browser.get(page).text
    assert browser.get(page).text == before
    store.documents.save(SHEET, text(store).replace("hours: 8450", "hours: 99999"), base=1, author="")
    assert browser.get(page).text != before


def test_a_list_shows_the_answer_that_was_last_looked_at(browser: Browser, store: Store) -> None:
    def shown() -> str:
        rows: list[str] = browser.get("/?q=pit-07").text.split("<li>")
        return next(row for row in rows if f'"/sheet/{SHEET}"' in row)

    assert "Worn main pump 1" not in shown()
    browser.get(f"/sheet/{SHEET}")
    assert "Worn main pump 1</span>" in shown()
    browser.script(ENTRY, {"changes": [{"key": "head:hours", "typed": ["8460"], "was": ["8450"]}]})
    assert "Worn main pump 1 (before the last change)" in shown()
    browser.get(f"/sheet/{SHEET}/next")
    assert "(before" not in shown()
    browser.get(f"/sheet/{SHEET}?version=1")  # an earlier version changes nothing on the list
    assert "(before" not in shown()


def test_all_sheets_are_ranked_from_the_settings(browser: Browser, store: Store, monkeypatch: Any) -> None:
    import contextlib
    import threading

    from oilpath.store import work

    held = threading.Event()

    @contextlib.contextmanager
    def here(store: Store, knowledge: Any, jobs: int, *, gentle: bool = False) -> Iterator[Any]:
        def spread(names: tuple[str, ...]) -> Iterator[tuple[str, bool]]:
            for name in names:
                held.wait(30)
                if name == SHEET:
                    store.answers.answer(name, knowledge)
                yield name, True

        yield spread

    monkeypatch.setattr(work, "spread_over", here)
    assert "37 of 37 sheets are not ranked" in browser.get("/settings").text
    assert "0 of 37 so far" in browser.send("/settings", what="rank").text
    held.set()
    for thread in threading.enumerate():
        if thread.name == "ranking":
            thread.join()
    assert "36 of 37 sheets are not ranked" in browser.get("/settings").text
    held.clear()
    browser.send("/settings", what="rank")
    held.set()
    assert "so far" not in browser.send("/settings", what="rank-stop").text
