"""The text for the repair order."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.flow import Group
from oilpath.reports.order import WIDTH, to_order
from oilpath.reports.plain import columns
from tests.reports.sample import CAUSES, DIAGNOSIS, SOUND, WORDS, ranked

Golden = Callable[[str, str], None]


def test_golden(golden: Golden) -> None:
    golden("order-full.txt", to_order(DIAGNOSIS, WORDS))
    golden("order-sound.txt", to_order(SOUND, WORDS))


@given(st.text(max_size=200))
def test_at_most_78_columns_whatever_people_write(text: str) -> None:
    for answer in (
        replace(DIAGNOSIS, complaint=text, machine=text or "-"),
        replace(DIAGNOSIS, history=(text, "x" * 200)),
    ):
        assert max(columns(line) for line in to_order(answer, WORDS).splitlines()) <= WIDTH


def test_our_own_text_is_ascii() -> None:
    assert to_order(DIAGNOSIS, WORDS).isascii()


def test_the_remedy_is_named_only_for_a_likely_cause() -> None:
    assert "REMEDY" not in to_order(DIAGNOSIS, WORDS)
    likely = replace(
        DIAGNOSIS,
        causes=(replace(CAUSES[0], probability=0.9), *CAUSES[1:]),
        groups=(Group(0.9, (0,)),),
    )
    text = to_order(likely, WORDS)
    assert "- Worn main pump 1 (very likely, about 90%)." in text
    assert text.index("REMEDY, ONCE THE NEXT CHECK CONFIRMS IT") < text.index("Overhaul or exchange the pump")


def test_stop_use_is_the_first_line() -> None:
    assert to_order(DIAGNOSIS, WORDS).startswith("*** STOP USE ***")


def test_no_inner_words_reach_the_customer() -> None:
    text = to_order(DIAGNOSIS, WORDS)
    for inner in (" dB", "one-pump-slow", "pump.worn", "sha256", "somebody", "pump-1"):
        assert inner not in text


def test_something_unknown_asks_for_more_checks() -> None:
    unknown = replace(
        SOUND,
        causes=(ranked("unknown", "machine", "Something that the knowledge base does not hold", 0.7),),
        groups=(Group(0.7, (0,)),),
    )
    text = " ".join(to_order(unknown, WORDS).split())
    assert "fit no usual cause (likely, about 70%). Further checks are needed." in text


@pytest.mark.parametrize("answer", [DIAGNOSIS, SOUND])
def test_defers_to_people_and_manuals(answer: object) -> None:
    assert "qualified people" in to_order(answer, WORDS)  # type: ignore[arg-type]
