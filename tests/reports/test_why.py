"""One question at a time."""

from collections.abc import Callable

import pytest

from oilpath.flow import Result
from oilpath.problems import UnusableInput
from oilpath.reports.plain import columns
from oilpath.reports.why import WIDTH, why
from tests.reports.sample import CAUSES, DIAGNOSIS, RESULTS, WORDS

Golden = Callable[[str, str], None]


def test_golden(golden: Golden) -> None:
    topics = ("cycle-time/bucket-curl", "drift/bucket-cylinder", "pump.worn@pump-1", "none")
    golden("why.txt", "\n".join(why(DIAGNOSIS, topic, WORDS) for topic in topics))


@pytest.mark.parametrize("topic", [entry.id for entry in RESULTS])
def test_every_result_has_a_reason(topic: str) -> None:
    text = why(DIAGNOSIS, topic, WORDS)
    assert text.startswith(WORDS.result(next(entry for entry in RESULTS if entry.id == topic))[:30])
    assert max(columns(line) for line in text.splitlines()) <= WIDTH


@pytest.mark.parametrize("topic", [f"{cause.cause}@{cause.part}" for cause in CAUSES])
def test_every_cause_has_a_reason(topic: str) -> None:
    text = why(DIAGNOSIS, topic, WORDS)
    assert topic.partition("@")[0] in text
    assert text.count("Share:") == 1


def test_a_kind_or_a_part_alone_gives_all_that_fit() -> None:
    assert why(DIAGNOSIS, "pump.worn", WORDS).count("Share:") == 2
    assert why(DIAGNOSIS, "pump-1", WORDS).count("Share:") == 1
    assert why(DIAGNOSIS, "machine", WORDS).count("Share:") == 2


def test_a_cause_names_its_rules_what_speaks_against_it_and_what_parts_it() -> None:
    text = why(DIAGNOSIS, "regulator.stuck-low", WORDS)
    assert "strongly against it (-12 dB)" in text
    assert "(one-pump-slow)" in text
    assert "cannot tell it from: Worn main pump 1" in text
    assert text.index("CAUTION: Hot oil") < text.index("- Measure the flow of main pump 1")


@pytest.mark.parametrize(
    ("topic", "meant"),
    [
        ("pump.wron", "pump.worn"),
        ("cycle-time/bucket-crul", "cycle-time/bucket-curl"),
        ("pump-3", "pump-1"),
        ("pump.worn@pump-3", "pump.worn@pump-1"),
    ],
)
def test_an_unknown_topic_names_the_nearest_known(topic: str, meant: str) -> None:
    with pytest.raises(UnusableInput) as caught:
        why(DIAGNOSIS, topic, WORDS)
    (problem,) = caught.value.problems
    assert str(problem).startswith(f"pit/07.yaml:1: {topic}: is not a result")
    assert meant in problem.accepted


def test_nothing_like_it_gives_examples() -> None:
    with pytest.raises(UnusableInput, match="such as cycle-time/boom-raise"):
        why(DIAGNOSIS, "\x1b[31m%%%", WORDS)


@pytest.mark.parametrize(
    ("title", "topic"),
    [("Worn main pump 1", "pump.worn@pump-1"), ("worn MAIN pump 1", "pump.worn@pump-1"), ("main pump 1", "pump-1")],
)
def test_a_title_serves_as_well_as_an_id(title: str, topic: str) -> None:
    assert why(DIAGNOSIS, title, WORDS) == why(DIAGNOSIS, topic, WORDS)


@pytest.mark.parametrize("entry", RESULTS, ids=lambda entry: str(entry.id))
def test_the_title_of_a_result_finds_it(entry: Result) -> None:
    first = why(DIAGNOSIS, entry.id, WORDS).splitlines()[0]
    assert first in why(DIAGNOSIS, WORDS.result(entry), WORDS)


def test_a_narrow_screen_gets_narrow_lines() -> None:
    text = why(DIAGNOSIS, "pump.worn@pump-1", WORDS, width=50)
    assert max(columns(line) for line in text.splitlines()) <= 50
    assert text.split() == why(DIAGNOSIS, "pump.worn@pump-1", WORDS).split()
