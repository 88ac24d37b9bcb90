"""Practice in the browser: the same session as on the shell, kept as its lines, gone on with where it was left."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from oilpath.store.opening import Store
    from tests.page.conftest import Browser


class Session:
    """A practice as it is shown now."""

    def __init__(self, browser: Browser, **fields: str) -> None:
        self.browser = browser
        answered = browser.send("/practice", **fields)
        assert answered.status_code == 200
        self.page, self.text = str(answered.url.path), str(answered.text)

    def hidden(self, name: str) -> str:
        return str(re.findall(rf'name="{name}" value="([^"]+)"', self.text)[0])

    def give(self, line: str) -> str:
        data = {"token": self.hidden("token"), "at": self.hidden("at"), "line": line}
        answered = self.browser.client.post(self.page, data=data, headers={"origin": self.browser.base})
        assert answered.status_code == 200
        self.text = str(answered.text)
        return self.text


def test_a_whole_session_from_the_first_suspicion_to_both_ways(browser: Browser) -> None:
    session = Session(browser, level="1", seed="0")
    assert "Practice: Gravel-pit trainer" in session.text
    assert "simulated" in session.text
    assert "can be typed" not in session.text
    assert "Which test or check?" in session.give("-")
    listed = re.findall(r'<button name="line" value="(\d+)">([^<]+ · \d+ min)<', session.give("stall"))
    assert len(listed) > 2
    chosen = session.give(next(number for number, text in listed if "Stall pressure: main pump 1" in text))
    assert "What do you expect?" in chosen
    assert 'class="cautions"' in chosen
    read = session.give("ok")
    assert "Judged" in read
    assert "Read so far" in read
    assert "The tool would make next" in session.give("h")
    assert "Which cause is it?" in session.give("n")
    end = session.give("nothing wrong")
    assert "<strong>Hidden:</strong>" in end
    assert "Your steps, and what the tool would have done there" in end


def test_the_session_is_that_of_the_shell(browser: Browser) -> None:
    """The same seed, level and machine hide the same fault."""
    from oilpath.commands.practice import _setup, begun
    from oilpath.knowledge.compile import load_knowledge

    knowledge = load_knowledge()
    exercise, _, _ = begun(_setup(7, 2, None, knowledge), knowledge, "si")
    assert f"“{exercise.complaint}”" in Session(browser, level="2", seed="7").text


def test_what_was_sent_twice_counts_once_and_a_session_goes_on(browser: Browser, store: Store) -> None:
    session = Session(browser, level="1", seed="3")
    for _ in range(2):
        browser.send(session.page, line="-", at="0")
    (draft,) = store.drafts.of("")
    assert draft.sequence == 1
    assert "Which test or check?" in browser.get(session.page).text
    assert session.page in browser.get("/practice").text
    assert browser.send(session.page, drop="1").url.path == "/practice"
    assert store.drafts.of("") == ()
    assert browser.get(session.page).status_code == 404


@pytest.mark.parametrize("drill", ["lookalikes", "bad-measurements", "closed-jobs"])
def test_a_drill_from_its_first_question_to_its_score(browser: Browser, drill: str) -> None:
    session = Session(browser, level="2", seed="1", drill=drill)
    asked = 0
    while "Question" in session.text:
        assert len(re.findall(r'name="line" value="\d"', session.text)) >= 2
        session.give("1")
        asked += 1
    assert asked > 2
    assert re.search(rf"\d of {asked} right\.", session.text)


def test_another_persons_practice_is_not_shown(door: Callable[..., Browser], store: Store) -> None:
    store.accounts.add("One", "a quiet long password", "read")
    store.accounts.add("Two", "a quiet long password", "read")
    one, two = door("accounts"), door("accounts")
    for browser, name in ((one, "One"), (two, "Two")):
        browser.send("/sign-in", name=name, password="a quiet long password")
    page = Session(one, level="1", seed="0").page
    assert one.get(page).status_code == 200
    assert two.get(page).status_code == 404


@pytest.mark.parametrize("fields", [{"level": "9"}, {"drill": "x"}, {"machine": "none.yaml"}, {"seed": "x"}])
def test_what_cannot_be_practised_is_said(browser: Browser, fields: dict[str, str]) -> None:
    assert browser.send("/practice", **fields).status_code in (400, 404, 422)
