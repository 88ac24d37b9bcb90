"""A practice session: the same seed hides the same, any keys are answered, and what is sound is in order.

Limits are those of the shipped, invented machines; the laws behind the readings are the laboratory's (docs/family.md).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath import load_knowledge, load_machine
from oilpath.documents.edit import open_document
from oilpath.flow import Measured
from oilpath.judging import judge
from oilpath.practice.compare import review
from oilpath.practice.exercise import Exercise
from oilpath.practice.hidden import Hidden, NoMachine, slips_of
from oilpath.practice.records import LEVELS, SOUND, Ended, Read, Setup
from oilpath.reports.practice import complaint, opening, prompt, told
from oilpath.reports.practice_review import lay_out_review
from oilpath.reports.words import Words

MACHINES = Path(__file__).parents[2] / "cases/machines"
KNOWLEDGE = load_knowledge()


@cache
def hidden(seed: int, level: int, name: str = "trainer-22t") -> tuple[Setup, Hidden]:
    path = str(MACHINES / f"{name}.yaml")
    setup = Setup(seed, level, dict(open_document(path).data))
    return setup, Hidden(setup, load_machine(path, KNOWLEDGE), KNOWLEDGE)


def exercise(seed: int, level: int, name: str = "trainer-22t", lines: tuple[str, ...] = ()) -> Exercise:
    setup, machine = hidden(seed, level, name)
    words = Words(KNOWLEDGE, machine.bench.machine)
    return Exercise(setup, machine, complaint(machine.felt, machine.truths == (SOUND,), seed, words), lines)


@pytest.mark.parametrize("name", ["trainer-22t", "compact-3t", "loader-11t"])
@pytest.mark.parametrize("level", LEVELS)
def test_every_level_hides_what_it_says(level: int, name: str) -> None:
    rules = LEVELS[level]
    _, machine = hidden(level, level, name)
    count = 0 if machine.truths == (SOUND,) else len(machine.truths)
    assert count in rules.causes
    known = {one.key for one in exercise(level, level, name).suspects.values()}
    assert set(machine.truths) <= known, "what is hidden can be named"
    assert len({one.id for one in machine.options}) == len(machine.options) > 50


def test_the_same_setup_hides_the_same() -> None:
    setup, one = hidden(3, 4)
    path = str(MACHINES / "trainer-22t.yaml")
    other = Hidden(setup, load_machine(path, KNOWLEDGE), KNOWLEDGE)
    assert (one.truths, one.felt, one.signs, one.conditions) == (
        other.truths,
        other.felt,
        other.signs,
        other.conditions,
    )
    for option in one.options:
        if option.test:
            assert one.reading(option, 0, "none") == other.reading(option, 0, "none")
        else:
            assert one.outcome(option) == other.outcome(option) in option.outcomes


def test_another_seed_hides_something_else() -> None:
    assert len({hidden(seed, 3)[1].truths for seed in range(1, 7)}) > 2


def test_a_fault_shows_in_a_reading_and_a_sound_machine_is_in_order() -> None:
    seed = next(seed for seed in range(40) if hidden(seed, 5)[1].truths == (SOUND,))
    out = {}
    for number, level in ((seed, 5), (1, 2), (2, 2)):
        session = exercise(number, level)
        rows = [session.hidden.reading(one, 0, "none") for one in session.options.values() if one.test]
        results = judge(session.sheet([row for row in rows if row is not None]), session.bench)
        verdicts = [one.verdict for one in results if isinstance(one, Measured) and one.basis == "limit"]
        assert len(verdicts) > 20
        out[number, level] = verdicts.count("fail")
    assert out[seed, 5] <= 1
    assert out[1, 2] >= 1
    assert out[2, 2] >= 1


def test_commit_pay_read_name() -> None:
    session = exercise(1, 1)
    for line in ("worn pump 1", "stall pump 1 boom", "ok"):
        events = session.give(line)
    (event,) = events
    assert isinstance(event, Read)
    assert event.taken.suspected == ("pump.worn", "pump-1")
    assert event.taken.expected.word == "usual"
    assert session.state.minutes == event.minutes > 0
    assert event.taken.row is not None
    assert event.taken.row["test"] == "stall-pressure"
    assert session.ask.stage == "suspect"
    session.give("n")
    session.give("worn pump 1")
    (ended,) = session.give("exchanged")
    assert ended == Ended()
    assert session.over


def test_nothing_is_read_before_something_is_expected() -> None:
    session = exercise(1, 1, lines=("-", "pilot pressure at the test port", ""))
    session.give("pilot-pressure")
    assert session.ask.stage == "expect"
    session.give("perhaps")
    assert session.state.taken == ()
    session.give("3.9 MPa")
    assert len(session.state.taken) == 1
    assert session.state.taken[0].expected.value == pytest.approx(3.9e6)


def test_a_session_goes_on_from_its_lines() -> None:
    lines = ("worn pump 1", "stall pump 1 boom", "ok", "", "pilot-pressure", "low", "n", "worn pump 1", "1")
    whole = exercise(2, 1, lines=lines)
    half = exercise(2, 1, lines=lines[:4])
    again = exercise(2, 1, lines=tuple(half.lines))
    for line in lines[4:]:
        again.give(line)
    assert again.state == whole.state


def test_the_second_reading_of_a_test_costs_less() -> None:
    session = exercise(1, 1)
    cycles = [one.id for one in session.options.values() if one.test == "cycle-time"]
    first = session.cost(cycles[0])
    for line in ("-", cycles[0], "ok"):
        session.give(line)
    assert session.cost(cycles[1]) < first


@pytest.mark.parametrize("slip", ["unit", "repeat", "decimal", "oil", "lever"])
def test_every_slip_changes_the_reading(slip: str) -> None:
    _, machine = hidden(1, 3)
    options = [one for one in machine.options if slip in slips_of(one)]
    assert options
    changed = [machine.reading(one, 0, slip) != machine.reading(one, 0, "none") for one in options[:4]]  # type: ignore[arg-type]
    assert all(changed)


def test_a_badly_made_reading_is_right_when_it_is_made_again() -> None:
    session = exercise(1, 5)
    tests = [one for one in session.options.values() if slips_of(one)]
    bad = next(one for one in tests if session.hidden.slip(one, 0, session.setup.rules.slips) != "none")
    for line in ("-", bad.id, "ok", "r"):
        session.give(line)
    first, second = session.state.taken
    assert first.slip != "none"
    assert second.slip == "none"
    assert second.again
    assert session.rows() == [second.row]


def test_the_review_compares_both_ways() -> None:
    session = exercise(1, 1, lines=("-", "pilot-pressure", "ok", "n"))
    truth = " ".join(session.hidden.truths[0])
    for line in (truth, "exchanged"):
        session.give(line)
    found = review(session)
    assert [one.named is not None for one in found.found] == [True]
    assert found.wrong == ()
    assert found.steps[0].as_expected is True
    assert found.minutes == session.state.minutes
    assert found.tool.taken
    assert found.tool.minutes == pytest.approx(sum(one.minutes for one in found.tool.taken))
    words = Words(KNOWLEDGE, session.bench.machine)
    assert len(list(lay_out_review(found, session, words))) > 8


def test_a_circuit_without_a_simulator_is_refused() -> None:
    path = str(MACHINES / "training-rig.yaml")
    with pytest.raises(NoMachine):
        Hidden(Setup(1, 1, dict(open_document(path).data)), load_machine(path, KNOWLEDGE), KNOWLEDGE)


KEYS = st.sampled_from(
    ["", "n", "q", "s", "h", "?", "b", "r", "-", "1", "2", "3", "12", "99", "ok", "slow", "3.9 MPa", "5 parsecs",
     "pump", "worn pump 1", "boom", "stall", "pilot-pressure", "check", "exchanged", "nothing wrong", "\u0661",
     "\x1b[2J", "a" * 500]
)  # fmt: skip


@settings(max_examples=30)
@given(st.lists(KEYS | st.text(max_size=8), max_size=14), st.sampled_from([1, 3, 5]))
def test_any_keys_are_answered(lines: list[str], level: int) -> None:
    session = exercise(6, level)
    words = Words(KNOWLEDGE, session.bench.machine)
    assert list(opening(session, words, "m"))
    for line in lines:
        for event in session.give(line):
            assert list(told(event, session, words)) or isinstance(event, Ended)
        if not session.over:
            assert prompt(session, words).endswith("> ")
    assert session.state == exercise(6, level, lines=tuple(session.lines)).state
