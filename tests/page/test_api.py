"""The interface for programs: the same JSON as on the shell, problems that point to fields, one table for all of it."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from pydantic import BaseModel

from oilpath import diagnose, load_sheet
from oilpath.data import data_folder
from oilpath.knowledge.compile import load_knowledge
from oilpath.page.api.errors import pointer_of
from oilpath.page.api.openapi import description
from oilpath.page.api.operations import OPERATIONS, Operation
from oilpath.reports.json_ import to_data
from oilpath.reports.words import Words

if TYPE_CHECKING:
    from oilpath.store.opening import Store
    from tests.page.conftest import Browser

SHEET, MACHINE = "demo/pump-1-slow.yaml", "machines/trainer-22t.yaml"
AT, MACHINE_AT = f"/api/sheets/{SHEET}", f"/api/machines/{MACHINE}"
READING = {"test": "pilot-pressure", "pressure": "2.9 MPa"}
DATA = {"oilpath": "sheet/1", "machine": "../machines/trainer-22t.yaml", "unit-number": "API-1", "readings": [READING]}


def asked(browser: Browser, method: str, path: str, data: Any = None, **headers: str) -> Any:
    """Ask as a program does: no cookie, nothing that only browsers send."""
    browser.client.cookies.clear()
    body = {} if data is None else {"json": data}
    return browser.client.request(method, path, headers=headers, **body)


def given(browser: Browser, method: str, path: str, data: Any = None) -> Any:
    answer = asked(browser, method, path, data)
    assert answer.status_code in (200, 201), answer.text
    return answer.json()


# --- what is asked --------------------------------------------------------------------


def test_the_answer_is_that_of_the_shell(browser: Browser) -> None:
    knowledge = load_knowledge()
    sheet = load_sheet(data_folder("cases") / SHEET, knowledge)
    expected = {**to_data(diagnose(sheet, knowledge), Words(knowledge, sheet.machine)), "sheet": SHEET}
    assert given(browser, "GET", f"{AT}/answer") == json.loads(json.dumps(expected))


def test_a_sheet_that_is_not_kept_is_answered(browser: Browser, store: Store) -> None:
    before = store.documents.names()
    data = {**DATA, "machine": "machines/trainer-22t.yaml"}
    answer = given(browser, "POST", "/api/diagnose", {"data": data})
    assert [(one["id"], one["verdict"]) for one in answer["results"]] == [("pilot-pressure", "fail")]
    assert store.documents.names() == before


def test_a_sheet_is_added_read_changed_and_its_versions_kept(browser: Browser) -> None:
    made = given(browser, "POST", "/api/sheets", {"data": DATA})
    at = f"/api/sheets/{made['name']}"
    assert made["version"] == 1
    assert given(browser, "GET", at)["data"] == DATA
    changes = [
        {"op": "test", "path": "/unit-number", "value": "API-1"},
        {"op": "add", "path": "/hours", "value": 120},
        {"op": "add", "path": "/readings/-", "value": {"test": "sign", "sign": "foamy-oil", "seen": True}},
        {"op": "replace", "path": "/readings/0/pressure", "value": "3.1 MPa"},
    ]
    assert given(browser, "PATCH", at, {"version": 1, "changes": changes})["version"] == 2
    found = given(browser, "GET", at)["data"]
    assert (found["hours"], found["readings"][0]["pressure"], len(found["readings"])) == (120, "3.1 MPa", 2)
    removed = {"version": 2, "changes": [{"op": "remove", "path": "/readings/1"}]}
    assert given(browser, "PATCH", at, removed)["version"] == 3
    assert [one["version"] for one in given(browser, "GET", f"{at}/versions")["versions"]] == [3, 2, 1]
    assert given(browser, "GET", f"{at}?version=1")["data"] == DATA
    assert given(browser, "PUT", at, {"version": 3, "data": DATA})["version"] == 4


def test_a_machine_is_added_and_changed_and_its_comments_stay(browser: Browser, store: Store) -> None:
    text = given(browser, "GET", MACHINE_AT)["text"]
    made = given(browser, "POST", "/api/machines", {"text": f"# our own\n{text}"})
    at = f"/api/machines/{made['name']}"
    change = {"version": 1, "changes": [{"op": "replace", "path": "/name", "value": "Another"}]}
    given(browser, "PATCH", at, change)
    found = given(browser, "GET", at)
    assert found["data"]["name"] == "Another"
    assert found["text"].startswith("# our own\n")
    assert "Another" in [one["title"] for one in given(browser, "GET", "/api/machines")["machines"]]


def test_lists_are_searched_and_come_in_parts(browser: Browser) -> None:
    found = given(browser, "GET", "/api/sheets?words=trainer&most=1&order=name")
    assert len(found["sheets"]) == 1
    assert found["total"] > 1
    second = given(browser, "GET", "/api/sheets?words=trainer&most=1&order=name&start=1")["sheets"][0]
    assert second["name"] > found["sheets"][0]["name"]


def test_an_outcome_is_recorded_and_the_next_step_given(browser: Browser, store: Store) -> None:
    step = given(browser, "GET", f"{AT}/next")["step"]
    assert step["kind"] == "check"
    outcome = step["outcomes"][0]["outcome"]
    told = given(browser, "POST", f"{AT}/next", {"outcome": f"{step['check']}@{step['part']}={outcome}"})
    assert told["recorded"] == step["record"][outcome]
    assert (told["step"]["check"], told["step"]["part"]) != (step["check"], step["part"])
    assert told["recorded"][1:-1] in store.documents.latest(SHEET).text  # type: ignore[union-attr]
    assert given(browser, "POST", f"{AT}/next", {"undo": True})["undone"] == told["recorded"]
    assert given(browser, "POST", f"{AT}/next", {"reading": "swing-stop/left=25 deg"})["recorded"].startswith("{test")


def test_texts_are_those_of_the_shell(browser: Browser) -> None:
    from oilpath.reports.order_page import to_order
    from oilpath.reports.why import why

    knowledge = load_knowledge()
    sheet = load_sheet(data_folder("cases") / SHEET, knowledge)
    answer, words = diagnose(sheet, knowledge), Words(knowledge, sheet.machine)
    order = asked(browser, "GET", f"{AT}/order?length=short&for=customer")
    assert order.text == to_order(answer, words, length="short", reader="customer")
    assert asked(browser, "GET", f"{AT}/why?topic=pump.worn").text == why(answer, "pump.worn", words)
    assert asked(browser, "GET", f"{AT}/order?form=markdown").headers["content-type"].startswith("text/markdown")


def test_closed_jobs_are_listed_with_what_was_found(browser: Browser) -> None:
    found = {"cause": "pump.worn", "part": "pump-1", "how": "Pump exchanged"}
    change = {"op": "add", "path": "/confirmed", "value": [found]}
    given(browser, "PATCH", AT, {"version": 1, "changes": [change]})
    closed = given(browser, "GET", "/api/closed")
    assert [(one["name"], one["confirmed"]) for one in closed["jobs"]] == [(SHEET, [{**found, "after": None}])]
    assert closed["causes"] == [{"cause": "pump.worn", "count": 1}]


def test_what_is_known_is_looked_up(browser: Browser) -> None:
    assert given(browser, "GET", "/api/explore?topic=pump.worn")["topics"][0]["id"] == "pump.worn"
    assert given(browser, "GET", "/api/explore?topic=pump.worn&against=suction.restricted")["topics"]
    assert "pump.worn" in given(browser, "GET", "/api/explore")["known"]["cause"]
    near = asked(browser, "GET", "/api/explore?topic=pump.wron")
    assert near.status_code == 404
    assert "pump.worn" in near.json()["message"]


# --- what is wrong --------------------------------------------------------------------


def test_problems_are_those_of_the_shell_and_point_to_fields(browser: Browser, tmp_path: Any) -> None:
    from oilpath.problems import UnusableInput

    reading = "{test: pilot-pressure, pressure: 3.9 m}"
    text = f"oilpath: sheet/1\nmachine: machines/trainer-22t.yaml\nhuors: 3\nreadings:\n  - {reading}\n"
    (tmp_path / "s.yaml").write_text(text.replace("machines/", f"{data_folder('cases')}/machines/"))
    with pytest.raises(UnusableInput) as shell:
        load_sheet(tmp_path / "s.yaml", load_knowledge())
    answer = asked(browser, "POST", "/api/diagnose", {"text": text})
    assert answer.status_code == 422
    problems = answer.json()["problems"]
    assert [(one["line"], one["key"], one["message"], one["accepted"]) for one in problems] == [
        (one.line, one.key, one.message, one.accepted) for one in shell.value.problems
    ]
    assert [one["pointer"] for one in problems] == ["/huors", "/readings/0/pressure"]


@pytest.mark.parametrize(
    ("key", "data", "pointer"),
    [
        ("readings[2].times[0]", None, "/readings/2/times/0"),
        ("-", None, ""),
        ("codes.a/b~c.says", None, "/codes/a~1b~0c/says"),  # RFC 6901, section 3
        ("codes.520.4.says", {"codes": {"520.4": {"says": 1}}}, "/codes/520.4/says"),
        ("codes.a[1].says", {"codes": {"a[1]": {"says": 1}}}, "/codes/a[1]/says"),
        ("changes[0].path", {"changes": [{"path": "x"}]}, "/changes/0/path"),
    ],
)
def test_a_key_becomes_a_json_pointer(key: str, data: Any, pointer: str) -> None:
    assert pointer_of(key, data) == pointer


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"op": "add", "path": "/readings/0", "value": READING}, "/changes/0/path"),
        ({"op": "replace", "path": "/nothing/here", "value": 1}, "/changes/0/path"),
        ({"op": "remove", "path": "hours"}, "/changes/0/path"),
        ({"op": "add", "path": "/hours"}, "/changes/0/value"),
        ({"op": "move", "path": "/hours", "value": 1}, "/changes/0/op"),
    ],
)
def test_a_change_that_cannot_be_made_is_pointed_to(browser: Browser, change: Any, pointer: str, store: Store) -> None:
    answer = asked(browser, "PATCH", AT, {"version": 1, "changes": [change]})
    assert answer.status_code == 422
    assert [(one["file"], one["pointer"]) for one in answer.json()["problems"]] == [("body", pointer)]
    assert len(store.documents.versions(SHEET)) == 1


def test_nobody_elses_version_is_written_over(browser: Browser, store: Store) -> None:
    for value, status in ((1, 200), (2, 409)):
        change = {"op": "replace", "path": "/hours", "value": value}
        answer = asked(browser, "PATCH", AT, {"version": 1, "changes": [change]})
        assert answer.status_code == status
    assert answer.json()["current"]["version"] == 2
    assert asked(browser, "PUT", AT, {"version": 1, "data": DATA}).status_code == 409
    assert asked(browser, "POST", "/api/sheets", {"name": SHEET, "data": DATA}).status_code == 409
    assert "hours: 1\n" in store.documents.latest(SHEET).text  # type: ignore[union-attr]
    test = {"op": "test", "path": "/hours", "value": 5}
    assert asked(browser, "PATCH", AT, {"version": 2, "changes": [test]}).status_code == 409


@pytest.mark.parametrize("body", [b"{", b'{"data": NaN}', b'{"text": "\\ud800"}', b'{"data": {"hours": 1e999}}', b"["])
def test_what_is_no_json_is_refused(browser: Browser, body: bytes) -> None:
    browser.client.cookies.clear()
    answer = browser.client.post("/api/diagnose", content=body, headers={"content-type": "application/json"})
    assert (answer.status_code, answer.json()["oilpath"]) == (400, "error/1")
    assert browser.client.post("/api/diagnose", content=body).status_code == 415


# --- who may ask ----------------------------------------------------------------------


def test_a_token_lets_a_program_in_with_its_role(door: Callable[..., Browser], store: Store) -> None:
    browser, change = door("accounts"), {"version": 1, "changes": [{"op": "replace", "path": "/hours", "value": 1}]}
    assert asked(browser, "GET", AT).status_code == 401
    reader, writer = (store.accounts.issue(role, role, days=1) for role in ("read", "write"))
    assert asked(browser, "GET", AT, authorization=f"Bearer {reader}").status_code == 200
    assert asked(browser, "PATCH", AT, change, authorization=f"Bearer {reader}").status_code == 403
    judged = asked(
        browser, "POST", "/api/diagnose", {"name": "sheets/x.yaml", "data": DATA}, authorization=f"Bearer {reader}"
    )
    assert judged.status_code == 200
    saved = asked(browser, "PATCH", AT, change, authorization=f"Bearer {writer}").json()
    assert (saved["version"], saved["author"]) == (2, "write")
    assert asked(browser, "GET", "/", authorization=f"Bearer {writer}").url.path == "/sign-in"
    store.accounts.revoke("write")
    assert asked(browser, "GET", AT, authorization=f"Bearer {writer}").status_code == 401


def test_a_wrong_token_is_refused_on_this_machine_too(browser: Browser) -> None:
    assert asked(browser, "GET", AT, authorization="Bearer x").status_code == 401


def test_a_token_is_over_after_its_days(door: Callable[..., Browser], store: Store) -> None:
    token = store.accounts.issue("old", "read", days=-1)
    assert asked(door("accounts"), "GET", AT, authorization=f"Bearer {token}").status_code == 401


def test_an_admin_makes_a_token_which_is_shown_once(browser: Browser, store: Store) -> None:
    import re

    shown = browser.send("/settings", what="script", name="Nightly report", role="read", days="30").text
    found = re.search(r"<code>([\w-]{43})</code>", shown)
    assert found is not None
    assert store.accounts.script(found[1]) is not None
    assert found[1] not in browser.get("/settings").text
    browser.send("/settings", what="revoke", name="Nightly report")
    assert store.accounts.script(found[1]) is None


def test_a_page_of_ours_may_ask_with_its_session_and_token_alone(browser: Browser) -> None:
    change = {"version": 1, "changes": [{"op": "replace", "path": "/hours", "value": 1}]}
    browser.get("/")
    assert browser.client.patch(AT, json=change).status_code == 403
    headers = {"x-oilpath-token": browser.token("/settings"), "origin": browser.base}
    assert browser.client.patch(AT, json=change, headers=headers).status_code == 200


# --- the description ------------------------------------------------------------------


def test_the_description_is_served_and_names_every_operation(browser: Browser) -> None:
    found = given(browser, "GET", "/api/openapi.json")
    assert found == json.loads(json.dumps(description()))
    assert found["openapi"] == "3.1.0"
    named = [one["operationId"] for methods in found["paths"].values() for one in methods.values()]
    assert sorted(named) == sorted(one.name for one in OPERATIONS)
    assert len(set(named)) == len(named)


def test_every_reference_in_the_description_leads_somewhere() -> None:
    found = description()

    def references(one: Any) -> set[str]:
        if isinstance(one, dict):
            own = {one["$ref"]} if isinstance(one.get("$ref"), str) else set()
            return own.union(*map(references, one.values()))
        return set().union(*map(references, one)) if isinstance(one, list) else set()

    names = {f"#/components/schemas/{name}" for name in found["components"]["schemas"]}
    assert references(found) - names == set()


def examples() -> dict[str, tuple[str, Any]]:
    """For every operation an address and a body that are taken."""
    version = {"version": 1, "changes": [{"op": "replace", "path": "/name", "value": "Another"}]}
    machine = {"oilpath": "machine/1", "name": "Mine", "circuit": "two-pump-excavator"}
    hours = {"version": 1, "changes": [{"op": "replace", "path": "/hours", "value": 1}]}
    return {
        "list-machines": ("/api/machines?words=trainer", None),
        "create-machine": ("/api/machines", {"data": machine}),
        "machine-versions": (f"{MACHINE_AT}/versions", None),
        "get-machine": (MACHINE_AT, None),
        "put-machine": (MACHINE_AT, {"version": 1, "data": machine}),
        "patch-machine": (MACHINE_AT, version),
        "list-sheets": ("/api/sheets?closed=false&order=share", None),
        "create-sheet": ("/api/sheets", {"data": DATA}),
        "sheet-versions": (f"{AT}/versions", None),
        "get-answer": (f"{AT}/answer", None),
        "get-next": (f"{AT}/next?minutes=30&pass=case-drain@pump-1", None),
        "record-step": (f"{AT}/next", {"reading": "swing-stop/left=25 deg"}),
        "get-order": (f"{AT}/order", None),
        "get-why": (f"{AT}/why?topic=pump.worn", None),
        "get-sheet": (AT, None),
        "put-sheet": (AT, {"version": 1, "data": DATA}),
        "patch-sheet": (AT, hours),
        "judge-sheet": ("/api/diagnose", {"name": "sheets/x.yaml", "data": DATA}),
        "look-up": ("/api/explore?topic=pump.worn", None),
        "list-closed": ("/api/closed", None),
        "get-ranking": ("/api/ranking", None),
        "rank-sheets": ("/api/ranking", {"do": "stop"}),
    }


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_what_comes_back_is_what_the_description_says(browser: Browser, operation: Operation) -> None:
    path, body = examples()[operation.name]
    answer = asked(browser, operation.method, path, body)
    assert answer.status_code == operation.status, answer.text
    if isinstance(operation.answer, str):
        assert answer.headers["content-type"].partition(";")[0] in operation.answer.split()
    else:
        assert issubclass(operation.answer, BaseModel)
        operation.answer.model_validate(answer.json())


def test_what_is_wrong_is_what_the_description_says(browser: Browser) -> None:
    from oilpath.page.api.models import ErrorOut

    for path in (f"{AT}/why", "/api/sheets/none.yaml", "/api/nothing", "/api/sheets?most=0"):
        ErrorOut.model_validate(asked(browser, "GET", path).json())
