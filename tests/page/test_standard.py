"""Rows of OWASP ASVS 4.0.3, level 1, that no other test of the pages holds; numbers from memory of the standard."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from oilpath.page.app import OPEN, PAGES

if TYPE_CHECKING:
    from oilpath.store.opening import Store
    from tests.page.conftest import Browser

SHEET = "demo/pump-1-slow.yaml"
OLD, NEW = "a quiet long password", "another quiet long password"


def signed_in(door: Callable[..., Browser], store: Store, role: Any = "write") -> Browser:
    store.accounts.add("Somebody", OLD, role)
    browser = door("accounts")
    assert browser.send("/sign-in", name="Somebody", password=OLD).status_code == 200
    return browser


def test_people_change_their_own_password_and_must_know_the_present_one(
    door: Callable[..., Browser], store: Store
) -> None:
    """2.1.5, 2.1.6; and 3.3.3: sessions with the old one end."""
    browser = signed_in(door, store, "read")
    assert browser.send("/settings", what="own-password", present="wrong", password=NEW).status_code == 403
    assert browser.send("/settings", what="own-password", present=OLD, password="short").status_code == 422
    assert store.accounts.check("Somebody", OLD) is not None
    changed = browser.send("/settings", what="own-password", present=OLD, password=NEW)
    assert changed.url.path == "/sign-in"
    assert store.accounts.check("Somebody", OLD) is None
    assert browser.get("/settings").url.path == "/sign-in"
    assert browser.send("/sign-in", name="Somebody", password=NEW).status_code == 200


def test_passwords_may_be_pasted_and_kept_by_a_manager(door: Callable[..., Browser], store: Store) -> None:
    """2.1.11: no script stands in the way, and the fields say what they are."""
    browser = signed_in(door, store)
    shown = browser.get("/settings").text + door("accounts").get("/sign-in").text
    fields = re.findall(r"<input[^>]*type=\"password\"[^>]*>", shown)
    assert len(fields) == 3
    assert all(re.search(r'autocomplete="(current|new)-password"', one) for one in fields)
    scripts = "".join(browser.get(f"/static/{name}.js").text for name in ("page", "entry"))
    assert "paste" not in scripts


def test_no_account_comes_with_it(store: Store) -> None:
    """2.5.4"""
    assert store.accounts.all() == ()


def test_a_session_ends_after_its_hours(door: Callable[..., Browser], store: Store) -> None:
    """3.3.2"""
    browser = door("accounts")
    browser.client.cookies.set("oilpath", store.accounts.begin(author="X", role="read", hours=-1))
    assert browser.get("/").url.path == "/sign-in"


def test_no_session_stands_in_an_address(door: Callable[..., Browser], store: Store) -> None:
    """3.1.1, 13.1.3"""
    browser = signed_in(door, store)
    session = browser.client.cookies["oilpath"]
    for path in ("/", "/settings", f"/sheet/{SHEET}/entry"):
        answered = browser.get(path)
        assert session not in answered.text
        assert session not in str(answered.url)
    assert store.accounts.session(session) is not None
    browser.client.cookies.clear()
    assert browser.get(f"/api/sheets?token={session}").status_code == 401


@pytest.mark.parametrize(
    "path", ["/static/", "/static", "/static/..%2fapp.py", "/static/%2e%2e/app.py", "/photo/", "/api"]
)
def test_no_folder_is_listed(browser: Browser, path: str) -> None:
    """4.3.2"""
    assert browser.get(path).status_code == 404


@pytest.mark.parametrize("key", ["author", "role", "saved-at", "id"])
def test_nothing_is_set_that_is_not_asked_for(browser: Browser, key: str, store: Store) -> None:
    """5.1.2, 13.2.2"""
    change = {"op": "replace", "path": "/hours", "value": 1}
    answered = browser.client.patch(f"/api/sheets/{SHEET}", json={"version": 1, "changes": [change], key: "admin"})
    assert answered.status_code == 422
    assert len(store.documents.versions(SHEET)) == 1


def test_what_people_write_is_no_template(browser: Browser) -> None:
    """5.2.5"""
    change = {"op": "replace", "path": "/complaint", "value": "{{ 7 * 7 }}{% set x = 1 %}${7*7}"}
    assert browser.client.patch(f"/api/sheets/{SHEET}", json={"version": 1, "changes": [change]}).status_code == 200
    for path in ("", "/entry", "/order", "/text"):
        assert "{{ 7 * 7 }}{% set x = 1 %}${7*7}" in browser.get(f"/sheet/{SHEET}{path}").text


@pytest.mark.parametrize("address", ["http://127.0.0.1/x.yaml", "file:///etc/passwd", "//host/x.yaml", "/etc/passwd"])
def test_nothing_is_fetched_that_a_sheet_names(browser: Browser, address: str) -> None:
    """5.2.6, 12.3.6, 12.6.1: names are those of documents alone."""
    data = {"oilpath": "sheet/1", "machine": address, "readings": []}
    assert browser.client.post("/api/diagnose", json={"data": data}).status_code == 422


def test_the_log_holds_no_password_and_no_session(
    door: Callable[..., Browser], store: Store, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """7.1.1, 7.1.2; also where something goes wrong, and then 7.4.1: a page that says nothing of it."""
    caplog.set_level(logging.DEBUG)
    browser = signed_in(door, store)

    def broken(*_: object) -> None:
        raise RuntimeError("a secret of the server")

    monkeypatch.setattr(store.accounts, "check", broken)
    answered = door("accounts").send("/sign-in", name="Somebody", password=NEW)
    assert answered.status_code == 500
    assert "secret" not in answered.text
    assert "while answering /sign-in" in caplog.text
    for secret in (OLD, NEW, browser.client.cookies["oilpath"]):
        assert secret not in caplog.text


def test_data_for_programs_is_shown_by_no_browser(browser: Browser) -> None:
    """14.4.1, 14.4.2"""
    for path in (f"/api/sheets/{SHEET}", "/api/nothing", f"/api/sheets/{SHEET}/order"):
        headers = browser.get(path).headers
        assert headers["content-disposition"].startswith("attachment")
        assert headers["content-type"] in ("application/json", "text/plain; charset=utf-8")
    assert "charset=utf-8" in browser.get("/").headers["content-type"]


@pytest.mark.parametrize("path", sorted({path for path, _, _ in (*PAGES, *OPEN)}))
def test_only_what_is_used_is_answered(browser: Browser, path: str) -> None:
    """13.2.1, 14.5.1"""
    address = path.replace("{name:path}", SHEET).replace("{number:int}", "1").replace("{", "").replace("}", "")
    headers = {"x-oilpath-token": browser.token("/settings"), "origin": browser.base}
    for method in ("DELETE", "PUT", "TRACE"):
        assert browser.client.request(method, address, headers=headers).status_code == 405


def test_no_other_origin_may_read_and_the_server_says_not_what_it_is(browser: Browser) -> None:
    """14.3.3, 14.5.3"""
    for path in ("/", f"/api/sheets/{SHEET}"):
        headers = browser.get(path, headers={"origin": "http://evil.example"}).headers
        assert not [
            name for name in headers if name.startswith("access-control-") or name in ("server", "x-powered-by")
        ]
    asked = {"origin": "http://evil.example", "access-control-request-method": "PATCH"}
    assert browser.client.options("/api/sheets", headers=asked).status_code in (404, 405)


def test_who_may_not_write_gets_no_form_and_no_answer_for_one(door: Callable[..., Browser], store: Store) -> None:
    """4.1.1, 4.1.5"""
    browser = signed_in(door, store, "read")
    headers = {"x-oilpath-token": browser.token("/settings"), "origin": browser.base}
    assert 'method="post"' not in browser.get("/").text
    for path, _, methods in PAGES:
        if "POST" in methods and path not in ("/settings", "/sign-out", "/practice", "/practice/{key}"):
            address = path.replace("{name:path}", SHEET).replace("{number:int}", "1")
            assert browser.client.post(address, headers=headers).status_code == 403, path
    assert browser.send("/settings", what="add", name="X", password=NEW, role="admin").status_code == 403


def test_every_test_that_the_table_names_exists() -> None:
    root = Path(__file__).parents[2]
    table = root / "docs/page-security.md"
    if not table.is_file():
        pytest.skip("the documents are those of a checkout")
    known = "".join(path.read_text(encoding="utf-8") for path in (root / "tests").rglob("test_*.py"))
    text = table.read_text(encoding="utf-8")
    named = {name for name in re.findall(r"\btest_\w+", text) if f"{name}.py" not in text}
    assert len(named) > 40
    assert {name for name in named if f"def {name}(" not in known} == set()
