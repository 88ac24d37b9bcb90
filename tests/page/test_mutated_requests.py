"""Mutated requests, made from the OpenAPI description: no 500, nothing foreign run, nothing said of the server."""

from __future__ import annotations

import copy
import json
import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import oilpath
from oilpath.page.api.openapi import description
from oilpath.page.app import PAGES
from tests.page.conftest import Browser

MARK: Final = "<img src=x onerror=alert(1)>"
HOSTILE: Final = (
    MARK, f'"\'>{MARK}', "{{7*7}}", "' OR 1=1 --", "../../../../etc/passwd", "/etc/passwd", "\0", "\r\nX-Own: 1",
    "a" * 1500, "\u202e\u2028\ufeff", "\U0001d56c\u0301", "1e999", "-1", "9" * 30, "nan", "", " ", "*", "%", "_", "~2",
    "a[0].b", "null", "!!python/object:x", "&a [*a, *a]", "- " * 200, "[" * 200,
)  # fmt: skip
SHEET, MACHINE = "demo/pump-1-slow.yaml", "machines/trainer-22t.yaml"
DESCRIPTION: Final = description()
SCHEMAS: Final = DESCRIPTION["components"]["schemas"]
CASES: Final = [
    (path, method, one) for path, methods in DESCRIPTION["paths"].items() for method, one in methods.items()
]
KNOWN: Final = (
    "pump.worn", "drift/boom-cylinder", "case-drain@pump-1=high", "swing-stop/left=25 deg", "/readings/0", "/hours",
)  # fmt: skip
QUERY: Final = ("q", "from", "topic", "against", "machine", "since", "version", "pass", "unit", "test", "length")
FIELDS: Final = (
    "number", "text", "outcome", "reading", "value", "undo", "f.reading:pilot-pressure", "sign", "code", "part", "what",
    "complaint", "unit-number", "title", "circuit", "where", "f.head:date",
)  # fmt: skip
GUARDED: Final = {400, 404, 405, 413, 414, 415, 421, 429, 431}
"""statuses that any address may answer with"""

texts = st.one_of(st.sampled_from(HOSTILE), st.sampled_from(KNOWN), st.text(max_size=30))
odd = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False), texts,
    st.lists(texts, max_size=2), st.dictionaries(texts, texts, max_size=2),
)  # fmt: skip


def mutated(draw: Any, data: Any) -> Any:
    """A copy of data with a few of its places replaced, taken away, doubled or given another key."""
    made = copy.deepcopy(data)
    for _ in range(draw(st.integers(0, 3))):
        at = made
        while isinstance(at, dict | list) and at:
            step = draw(st.sampled_from(sorted(at) if isinstance(at, dict) else range(len(at))))
            if not isinstance(at[step], dict | list) or not at[step] or draw(st.integers(0, 3)) == 0:
                how = draw(st.integers(0, 3))
                if how == 0:
                    del at[step]
                elif how == 1 and isinstance(at, dict):
                    at[draw(texts)] = at[step]
                elif how == 1 and isinstance(at, list):
                    at.append(at[step])
                else:
                    at[step] = draw(odd)
                break
            at = at[step]
    return made


def value(draw: Any, schema: Any, files: dict[str, Any]) -> Any:
    """A value that mostly fits a schema; of a document one that is kept, mutated."""
    if draw(st.integers(0, 11)) == 0:
        return draw(odd)
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return mutated(draw, files[name]) if name in files else value(draw, SCHEMAS[name], files)
    if "anyOf" in schema:
        return value(draw, draw(st.sampled_from(schema["anyOf"])), files)
    if "enum" in schema or "const" in schema:
        return draw(st.sampled_from(schema.get("enum") or [schema["const"]]))
    match schema.get("type"):
        case "object":
            needed, known = schema.get("required", ()), schema.get("properties", {})
            return {key: value(draw, one, files) for key, one in known.items() if key in needed or draw(st.booleans())}
        case "array":
            return [value(draw, schema["items"], files) for _ in range(draw(st.integers(0, 2)))]
        case "integer" | "number":
            return draw(st.one_of(st.integers(1, 3), st.integers()))
        case "boolean":
            return draw(st.booleans())
        case "null":
            return None
        case "string":
            return draw(texts)
        case _:
            return draw(odd)


@pytest.fixture(scope="module")
def browser(filled: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    from oilpath.knowledge.compile import load_knowledge
    from oilpath.page.access import Access
    from oilpath.page.app import create_app
    from oilpath.page.guard import Rate
    from oilpath.page.workshop import Workshop
    from oilpath.store.opening import open_store

    store = open_store(shutil.copy(filled, tmp_path_factory.mktemp("mutated") / "workshop.db"))
    rate = Rate(at_once=1_000_000, a_second=1_000_000.0)
    workshop = Workshop(store, load_knowledge())
    app = create_app(workshop, Access(store, "here"), ["127.0.0.1:8074"], rate=rate)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(workshop.ranker, "start", lambda: True)  # it would spread over processes of its own
        yield Browser(app, "http://127.0.0.1:8074")
    store.close()


@pytest.fixture(scope="module")
def files(browser: Browser) -> dict[str, Any]:
    """The documents that are mutated, by their kind."""
    at = {"sheet": f"/api/sheets/{SHEET}", "machine": f"/api/machines/{MACHINE}"}
    return {kind: browser.get(path).json()["data"] for kind, path in at.items()}


def sendable(draw: Any, browser: Browser, body: Any, path: str, files: dict[str, Any]) -> Any:
    """A body that gets past the first checks, most times: one of text and data, the latest version."""
    if not isinstance(body, dict) or draw(st.integers(0, 9)) == 0:
        return body
    kind = "machine" if "machine" in path else "sheet"
    if "data" in body or "text" in body:
        body.pop("text", None)
        body["data"] = mutated(draw, files[kind]) if body.get("data") is None else body["data"]
        if draw(st.integers(0, 3)) == 0:
            body["text"] = json.dumps(body.pop("data"))
    if "name" in body:
        body["name"] = draw(st.sampled_from([f"demo/new-{draw(st.integers(0, 99))}.yaml", str(body["name"])]))
    if "version" in body:
        own = MACHINE if kind == "machine" else SHEET
        body["version"] = browser.get(f"/api/{kind}s/{own}/versions").json()["versions"][0]["version"]
    return body


def name_of(draw: Any, path: str) -> str:
    known = MACHINE if "machine" in path else SHEET
    return known if draw(st.integers(0, 4)) else draw(st.one_of(st.sampled_from(["sheets/none.yaml", MACHINE]), texts))


def look(answer: Any, allowed: set[int] | None = None) -> None:
    """What holds for every answer."""
    assert answer.status_code < 500, answer.text
    assert allowed is None or answer.status_code in allowed
    kind = answer.headers.get("content-type", "").partition(";")[0]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "x-own" not in answer.headers
    if kind == "text/html":
        assert MARK not in answer.text
    else:
        assert kind in ("application/json", "text/plain", "text/markdown", "image/svg+xml", "")
        assert kind != "image/svg+xml" or MARK not in answer.text
    own = str(Path(oilpath.__file__).parents[1])
    places = (sys.prefix, own, "site-packages", "Traceback (most", "root:x:", "pytest-of-")
    assert [place for place in places if place in answer.text] == []
    if kind == "application/json":
        json.loads(answer.content)


@settings(max_examples=500, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_programs_get_no_500_and_nothing_of_the_server(browser: Browser, files: dict[str, Any], data: Any) -> None:
    draw = data.draw
    path, method, operation = draw(st.sampled_from(CASES))
    address = path.replace("{name}", quote(name_of(draw, path), safe="/"))
    query: Any = [
        (one["name"], str(value(draw, one["schema"], files)))
        for one in operation["parameters"]
        if one["in"] == "query" and (one["required"] or draw(st.booleans()))
    ]
    query += [(draw(texts), draw(texts))] if draw(st.integers(0, 7)) == 0 else []
    body = operation.get("requestBody", {}).get("content", {}).get("application/json")
    sent = {} if body is None else {"json": sendable(draw, browser, value(draw, body["schema"], files), path, files)}
    browser.client.cookies.clear()
    answer = browser.client.request(method.upper(), address, params=query, **sent)
    look(answer, {int(status) for status in operation["responses"]} | GUARDED)


@settings(max_examples=100, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_pages_get_no_500_and_run_nothing_foreign(browser: Browser, data: Any) -> None:
    draw = data.draw
    path, _, methods = draw(st.sampled_from(PAGES))
    address = re.sub(r"\{name:path\}", lambda _: quote(name_of(draw, path), safe="/"), path)
    address = re.sub(r"\{number:int\}", lambda _: str(draw(st.integers(0, 3))), address)
    query = [(draw(st.sampled_from(QUERY)), draw(texts)) for _ in range(draw(st.integers(0, 2)))]
    if "POST" not in methods or draw(st.booleans()):
        look(browser.get(address, params=query))
        return
    fields = {draw(st.sampled_from(FIELDS)): draw(texts) for _ in range(draw(st.integers(0, 4)))}
    form = {"token": browser.token("/settings"), **fields}
    look(browser.client.post(address, data=form, headers={"origin": browser.base}))
