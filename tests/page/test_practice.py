"""Practice in the browser: the same session as on the shell, kept as its lines, gone on with where it was left."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from oilpath.store.opening import Store
    from tests.page.conftest import Browser


def begin(browser: Browser, **fields: str) -> str:
    answered = browser.send("/practice", **fields)
    assert answered.status_code == 200
    path: str = answered.url.path
    return path


def give(browser: Browser, page: str, line: str) -> Any:
    at = re.findall(r'name="at" value="(\d+)"', browser.get(page).text)[0]
    return browser.send(page, line=line, at=at)


def test_a_whole_session_from_the_first_suspicion_to_both_ways(browser: Browser) -> None:
    page = begin(browser, level="1", seed="0")
    shown = browser.get(page).text
    assert "Practice: Gravel-pit trainer" in shown
    assert "simulated" in shown
    assert "can be typed" not in shown
    assert "Which test or check?" in give(browser, page, "-").text
    listed = re.findall(r'<button name="line" value="(\d+)">([^<]+ · \d+ min)<', give(browser, page, "stall").text)
    assert len(listed) > 2
    chosen = give(browser, page, next(number for number, text in listed if "Stall pressure: main pump 1" in text))
    assert "What do you expect?" in chosen.text
    assert 'class="cautions"' in chosen.text
    read = give(browser, page, "ok")
    assert "Judged" in read.text
    assert "Read so far" in read.text
    assert "The tool would make next" in give(browser, page, "h").text
    give(browser, page, "n")
    assert "Which cause is it?" in browser.get(page).text
    end = give(browser, page, "nothing wrong").text
    assert "<strong>Hidden:</strong>" in end
    assert "Your steps, and what the tool would have done there" in end


def test_the_session_is_that_of_the_shell(browser: Browser) -> None:
    """The same seed, level and machine hide the same fault."""
    from oilpath.commands.practice import _setup, begun
    from oilpath.knowledge.compile import load_knowledge

    knowledge = load_knowledge()
    exercise, _, _ = begun(_setup(7, 2, None, knowledge), knowledge, "si")
    shown = browser.get(begin(browser, level="2", seed="7")).text
    assert f"“{exercise.complaint}”" in shown


def test_what_was_sent_twice_counts_once_and_a_session_goes_on(browser: Browser, store: Store) -> None:
    page = begin(browser, level="1", seed="3")
    for _ in range(2):
        browser.send(page, line="-", at="0")
    (draft,) = store.drafts.of("")
    assert draft.sequence == 1
    assert "Which test or check?" in browser.get(page).text
    assert page in browser.get("/practice").text
    assert browser.send(page, drop="1").url.path == "/practice"
    assert store.drafts.of("") == ()
    assert browser.get(page).status_code == 404


@pytest.mark.parametrize("drill", ["lookalikes", "bad-measurements", "closed-jobs"])
def test_a_drill_from_its_first_question_to_its_score(browser: Browser, drill: str) -> None:
    page = begin(browser, level="2", seed="1", drill=drill)
    for _ in range(8):
        shown = browser.get(page).text
        if " right." in shown and "Another" in shown:
            break
        assert "Question" in shown
        assert len(re.findall(r'name="line" value="\d"', shown)) >= 2
        give(browser, page, "1")
    assert re.search(r"\d of \d right\.", browser.get(page).text)


def test_another_persons_practice_is_not_shown(door: Callable[..., Browser], store: Store) -> None:
    store.accounts.add("One", "a quiet long password", "read")
    store.accounts.add("Two", "a quiet long password", "read")
    one, two = door("accounts"), door("accounts")
    for browser, name in ((one, "One"), (two, "Two")):
        browser.send("/sign-in", name=name, password="a quiet long password")
    page = begin(one, level="1", seed="0")
    assert one.get(page).status_code == 200
    assert two.get(page).status_code == 404


@pytest.mark.parametrize("fields", [{"level": "9"}, {"drill": "x"}, {"machine": "none.yaml"}, {"seed": "x"}])
def test_what_cannot_be_practised_is_said(browser: Browser, fields: dict[str, str]) -> None:
    assert browser.send("/practice", **fields).status_code in (400, 404, 422)
