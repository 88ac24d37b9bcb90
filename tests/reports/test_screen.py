"""The first screen: 24 lines of 80 columns that say what is wrong, how sure, what next, and whether it may run."""

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.data import data_folder
from oilpath.flow import CauseSet, Diagnosis, Group, StopUse, sign_result
from oilpath.reports.conclusions import measure_again, next_checks, stop_sentences, suspects, use_of
from oilpath.reports.markdown import to_markdown
from oilpath.reports.plain import columns
from oilpath.reports.screen import HEIGHT, WIDTH
from oilpath.reports.text import to_text
from oilpath.reports.words import Words
from tests.reports.sample import CAUSES, DIAGNOSIS, SOUND, WORDS

SHEETS = [path for folder in ("demo", "sound") for path in sorted((data_folder("cases") / folder).glob("*.yaml"))]


@cache
def answered(path: Path) -> tuple[Diagnosis, Words]:
    knowledge = load_knowledge()
    sheet = load_sheet(path, knowledge)
    return diagnose(sheet, knowledge), Words(knowledge, sheet.machine)


def short(answer: Diagnosis, words: Words = WORDS) -> str:
    return to_text(answer, words, short=True)


def flat(answer: Diagnosis, words: Words = WORDS) -> str:
    return " ".join(short(answer, words).split())


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_every_shipped_sheet_fits_one_screen_with_a_line_for_the_prompt(path: Path) -> None:
    text = short(*answered(path))
    assert len(text.splitlines()) < HEIGHT
    assert max(columns(line) for line in text.splitlines()) <= WIDTH


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_the_four_questions_are_answered(path: Path) -> None:
    """What is wrong, how sure, what next, may it run."""
    answer, words = answered(path)
    text = short(answer, words)
    assert re.search(r"(?m)^Cause ", text)
    assert re.search(r"\((together )?(almost certain|very likely|likely|about even|possible)", " ".join(text.split()))
    assert "\nNext" in text or "\nFirst" in text
    assert not next_checks(answer) or "No check and no repair" not in text
    assert ("\nFirst" in text) == bool(measure_again(answer, words))
    assert "\nMay it run" in text
    assert ("\nSTOP USE" in text) == bool(re.search(r"\nMay it run +No\.", text))


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_every_group_above_a_tenth_is_named_with_its_share(path: Path) -> None:
    answer, words = answered(path)
    text = flat(answer, words)
    named = suspects(answer, words)
    likely = [group for group in answer.groups if group.probability >= 0.1]
    heap = [group for group in likely if group.silent and group is not answer.groups[0]]
    assert {id(group) for group in likely if group not in heap} <= {id(one.group) for one in named}
    for one in named:
        if one.members[0].cause not in ("none", "unknown"):
            assert f"({one.sure})" in text


def test_the_whole_answer_begins_with_the_screen() -> None:
    screen = short(DIAGNOSIS).splitlines()[:-2]
    assert to_text(DIAGNOSIS, WORDS).splitlines()[: len(screen)] == screen


def test_nothing_of_the_screen_is_said_twice() -> None:
    whole = " ".join(to_text(DIAGNOSIS, WORDS).split())
    for once in (
        "Slow when digging, worse after lunch",
        "ruled out or repaired: boom holding valve held open",
        "4 not judged",
    ):
        assert whole.count(once) == 1


def test_text_of_other_people_is_cut_before_a_doubt_or_a_caution() -> None:
    long = replace(DIAGNOSIS, complaint="slow " * 300)
    text = flat(long)
    assert len(short(long).splitlines()) < HEIGHT
    assert "slow …" in text
    assert "ruled out or repaired: boom holding valve held open" in text
    for one in suspects(long, WORDS):
        assert one.sure in text


# --- stop use -------------------------------------------------------------------------


def stops(*given: StopUse, **more: Any) -> list[str]:
    return list(stop_sentences(replace(DIAGNOSIS, stop_use=given, **more), WORDS))


def test_a_share_says_until_when() -> None:
    (text,) = stops(StopUse("holding-valve.held-open", "boom-holding-valve", probability=0.12))
    assert text.startswith(
        "until this fault is ruled out or repaired: boom holding valve held open (less likely, 12%)."
    )


def test_the_same_reason_at_two_parts_is_given_once() -> None:
    (text,) = stops(
        StopUse("holding-valve.held-open", "boom-holding-valve", probability=0.12),
        StopUse("holding-valve.held-open", "boom-spool", probability=0.06),
    )
    assert text.count("The boom can fall at any time") == 1
    assert "these faults are ruled out" in text


def test_a_sign_that_was_seen_is_no_share() -> None:
    (text,) = stops(StopUse("holding-valve.held-open", "boom-holding-valve", "foamy-oil"))
    assert text.startswith("until this is repaired.")


# --- may it run -----------------------------------------------------------------------


def test_whether_it_may_run() -> None:
    calm = replace(DIAGNOSIS, stop_use=())
    assert use_of(DIAGNOSIS, WORDS).running == "stop"
    assert use_of(calm, WORDS).running == "care"
    assert use_of(SOUND, WORDS).running == "run"
    invalid = tuple(replace(entry, verdict="invalid") for entry in DIAGNOSIS.results[:3])
    assert use_of(replace(SOUND, results=invalid), WORDS).running == "unknown"


# --- two faults at once ---------------------------------------------------------------


def test_two_faults_that_are_probably_there_together_are_both_named_as_there() -> None:
    first, second = (replace(cause, probability=0.45, present=0.9) for cause in CAUSES[:2])
    both = replace(
        DIAGNOSIS,
        causes=(first, second, *CAUSES[2:]),
        groups=(Group(0.45, (0,)), Group(0.45, (1,))),
        sets=(CauseSet((0, 1), 0.8),),
    )
    text = flat(both)
    assert "More than one fault at once, most probably" in text
    assert text.count("very likely, 90%") == 2
    assert "Or " not in text


def test_markdown_of_the_screen_alone() -> None:
    text = to_markdown(DIAGNOSIS, WORDS, short=True)
    assert text.startswith("# ")
    assert "> **STOP USE: until this fault is ruled out or repaired: boom holding valve held open" in text
    assert "- **Next:** **" in text
    assert "## " not in text


def test_a_seen_sign_shows_among_what_is_out() -> None:
    seen = replace(SOUND, results=(*SOUND.results, sign_result({"sign": "foamy-oil"}, True)))
    assert "Foamy oil seen" in short(seen)
