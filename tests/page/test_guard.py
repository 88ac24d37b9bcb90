"""Nobody comes in who does not belong. What OWASP ASVS 4.0.3 asks, named from memory of the standard."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest

from oilpath.page.guard import Buckets, Rate
from oilpath.page.tokens import Tokens
from oilpath.page.visit import own_address
from oilpath.problems import UnusableInput

if TYPE_CHECKING:
    from oilpath.store.opening import Store
    from tests.page.conftest import Browser

SHEET = "demo/pump-1-slow.yaml"
ENTRY = f"/sheet/{SHEET}/entry"


def test_every_answer_has_the_headers_and_allows_no_inline_code(browser: Browser) -> None:
    for path in ("/", ENTRY, "/nothing", "/static/page.js"):
        headers = browser.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize("path", ["/", ENTRY, f"/sheet/{SHEET}", f"/sheet/{SHEET}/next", "/explore", "/settings"])
def test_no_page_holds_inline_code_or_another_address(browser: Browser, path: str) -> None:
    import re

    text = browser.get(path).text
    assert re.findall(r"<[^>]+\s(?:style|on[a-z]+)=", text) == []
    assert re.findall(r"<script(?![^>]*\ssrc=)", text) == []
    assert "<style" not in text
    assert [one for one in re.findall(r'(?:src|href|action)="([^"]*)"', text) if "//" in one] == []


def test_the_cookie_is_out_of_reach(browser: Browser) -> None:
    cookie = browser.get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:9999", "", "127.0.0.1:8074.evil.example"])
def test_another_host_is_refused(browser: Browser, host: str) -> None:
    assert browser.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers", [{"origin": "http://evil.example"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"}]
)
def test_a_change_from_elsewhere_is_refused(browser: Browser, headers: dict[str, str], store: Store) -> None:
    data = {"token": browser.token("/settings"), "what": "units", "units": "us"}
    assert browser.client.post("/settings", data=data, headers=headers).status_code == 403


@pytest.mark.parametrize("token", ["", "x", "A" * 88])
def test_a_form_without_its_token_is_refused(browser: Browser, token: str, store: Store) -> None:
    browser.get("/")
    answered = browser.client.post(ENTRY, data={"token": token, "number": "1", "f.head:hours": "1"})
    assert answered.status_code == 403
    assert len(store.documents.versions(SHEET)) == 1


def test_a_token_is_of_one_session_and_written_otherwise_each_time() -> None:
    tokens = Tokens()
    one, two = tokens.make("a"), tokens.make("a")
    assert one != two
    assert tokens.fits(one, "a")
    assert tokens.fits(two, "a")
    assert not tokens.fits(one, "b")
    assert not Tokens().fits(one, "a")


def test_too_much_is_refused(browser: Browser) -> None:
    assert browser.client.post(ENTRY, content=b"x" * ((1 << 20) + 1)).status_code == 413
    assert browser.get("/?q=" + "a" * 3000).status_code == 414


def test_too_often_is_refused(door: Callable[..., Browser]) -> None:
    browser = door(rate=Rate(at_once=3, a_second=0.001))
    assert [browser.get("/worker.js").status_code for _ in range(5)] == [200, 200, 200, 429, 429]


def test_a_bucket_fills_again() -> None:
    now = [0.0]
    buckets = Buckets(Rate(at_once=1, a_second=0.5), clock=lambda: now[0])
    assert [buckets.take("a"), buckets.take("a"), buckets.take("b")] == [True, False, True]
    now[0] = 2.0
    assert buckets.take("a")


@pytest.mark.parametrize("name", ["../../etc/passwd", "..%2f..%2fetc%2fpasswd", "%00", "machines/../../x.yaml"])
def test_no_file_of_the_server_is_reached(browser: Browser, name: str) -> None:
    answered = browser.get(f"/sheet/{name}")
    assert answered.status_code in (400, 404, 422)
    assert "root:" not in answered.text


def test_problems_of_a_text_name_no_folder_of_the_server(browser: Browser, tmp_path: Any) -> None:
    text = "oilpath: sheet/1\nmachine: ../../../../etc/passwd\nreadings: [{test: nothing}]\n"
    answered = browser.send(f"/sheet/{SHEET}/text", text=text, number="1")
    assert answered.status_code == 422
    assert "root:" not in answered.text
    assert str(tmp_path) not in answered.text
    assert "oilpath/page" not in answered.text


def test_markup_in_what_people_write_is_shown_and_not_run(browser: Browser) -> None:
    bad = "<script>alert(1)</script>"
    browser.script(ENTRY, {"changes": [{"key": "head:complaint", "typed": [bad], "was": None}]})
    for path in ("/", ENTRY, f"/sheet/{SHEET}", f"/sheet/{SHEET}/order"):
        text = browser.get(path).text
        assert bad not in text
        assert "&lt;script&gt;" in text


@pytest.mark.parametrize("to", ["//evil.example", "http://evil.example", "/\\evil.example", "javascript:alert(1)", ""])
def test_nobody_is_sent_elsewhere(to: str) -> None:
    assert own_address(to) == "/"


def test_no_page_is_kept_by_a_cache(browser: Browser) -> None:
    for path in ("/", ENTRY, f"/sheet/{SHEET}", "/settings", "/nothing", "/api/sheets", f"/api/sheets/{SHEET}/order"):
        assert browser.get(path).headers["cache-control"] == "no-store"


@pytest.mark.parametrize("words", ["' OR 1=1 --", "%", "_", "x'; DROP TABLE sheet; --", '"'])
def test_what_is_searched_for_is_no_sql(browser: Browser, store: Store, words: str) -> None:
    everything = store.search.sheets("").total
    assert store.search.sheets(words).total < everything
    assert browser.get("/", params={"q": words}).status_code == 200
    assert store.search.sheets("").total == everything


# --- accounts and pairing -----------------------------------------------------------------


def test_with_accounts_nobody_sees_a_page_unsigned(door: Callable[..., Browser]) -> None:
    browser = door("accounts")
    assert browser.get(f"/sheet/{SHEET}").url.path == "/sign-in"
    assert browser.get(ENTRY, headers={"accept": "application/json"}).status_code == 401


@pytest.mark.parametrize(("length", "taken"), [(11, False), (12, True), (128, True), (129, False)])
def test_passwords_have_12_to_128_characters_of_any_kind(store: Store, length: int, taken: bool) -> None:
    """ASVS 2.1.1 to 2.1.4 and 2.1.9: length alone is asked for; blanks and other scripts count, nothing is cut off."""
    password = ("пароль из слов 漢字 🔧 " * 8)[:length]
    if not taken:
        with pytest.raises(UnusableInput, match=f"has {length} characters"):
            store.accounts.add("Somebody", password, "read")
        return
    store.accounts.add("Somebody", password, "read")
    assert store.accounts.check("Somebody", password) is not None
    assert store.accounts.check("Somebody", f"{password[:-1]}x") is None
    assert store.accounts.check("Somebody", f"{password}x") is None


def test_of_passwords_and_tokens_only_hashes_are_kept(store: Store, tmp_path: Any, quick_hashes: Any) -> None:
    """The program's own hashes are made with the parameters of RFC 9106, section 4, for little memory."""
    own = quick_hashes()
    assert (own.type.name, own.time_cost, own.memory_cost, own.parallelism) == ("ID", 3, 65536, 4)
    password = "a quiet long password"
    store.accounts.add("Somebody", password, "read")
    tokens = [store.accounts.issue("Program", "read", days=1), store.accounts.invite("read", minutes=1)]
    tokens.append(store.accounts.begin(author="Somebody", role="read", hours=1))
    held = b"".join(path.read_bytes() for path in tmp_path.glob("workshop.db*"))
    assert b"$argon2id$" in held
    assert [one for one in (password, *tokens) if one.encode() in held] == []


def test_who_may_only_read_changes_nothing(door: Callable[..., Browser], store: Store) -> None:
    store.accounts.add("Reader", "a quiet long password", "read")
    browser = door("accounts")
    assert browser.send("/sign-in", name="Reader", password="a quiet long password").status_code == 200
    token = browser.token("/settings")
    answered = browser.client.post(ENTRY, data={"token": token, "number": "1", "f.head:hours": "1"})
    assert answered.status_code == 403
    assert len(store.documents.versions(SHEET)) == 1


def test_signing_in_makes_another_session_and_signing_out_ends_it(door: Callable[..., Browser], store: Store) -> None:
    store.accounts.add("Writer", "a quiet long password", "write")
    browser = door("accounts")
    browser.get("/sign-in")
    before = browser.client.cookies["oilpath"]
    assert browser.send("/sign-in", name="Writer", password="a wrong long password").status_code == 401
    browser.send("/sign-in", name="Writer", password="a quiet long password")
    token = browser.client.cookies["oilpath"]
    assert token != before
    assert store.accounts.session(token) is not None
    browser.send("/settings", "/sign-out")
    assert store.accounts.session(token) is None


def test_passwords_cannot_be_tried_without_end(
    door: Callable[..., Browser], store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("oilpath.page.access.time.monotonic", lambda: 0.0)  # however slow the machine is
    browser = door("accounts")
    monkeypatch.undo()  # the door has its clock
    found = [browser.send("/sign-in", name=f"n{n}", password="wrong").status_code for n in range(8)]
    assert found[:6] == [401] * 6
    assert found[6:] == [429, 429]


def test_a_pairing_code_lets_one_device_in_once(door: Callable[..., Browser], store: Store) -> None:
    code = store.accounts.invite("write", minutes=10)
    phone, other = door("paired"), door("paired")
    assert phone.get(ENTRY).status_code == 401
    assert phone.send("/pair", code=code, name="Phone in the pit").status_code == 200
    assert phone.get(ENTRY).status_code == 200
    assert other.send("/pair", code=code, name="Another").status_code == 401
    assert other.get(ENTRY).status_code == 401
