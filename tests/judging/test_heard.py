"""Words of complaints that say a sign. Which words mean what is common practice of the trade, in our own wording."""

from __future__ import annotations

import random
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath import load_knowledge, load_sheet
from oilpath.bench import Bench, bench_for
from oilpath.diagnosis import diagnose
from oilpath.documents.sheet import Sheet
from oilpath.judging import hear
from oilpath.judging.heard import Listener

MACHINE = "cases/machines/trainer-22t.yaml"
SHEET = "oilpath: sheet/1\nmachine: cases/machines/trainer-22t.yaml\n"
PILOT = "readings: [{test: pilot-pressure, pressure: 3.9 MPa}]\n"


def sheet_of(rest: str) -> Sheet:
    return load_sheet("said.yaml", load_knowledge(), text=SHEET + rest)


@cache
def bench() -> Bench:
    return bench_for(sheet_of(PILOT).machine, load_knowledge())


def listener() -> Listener:
    return bench().listener


def signs(text: str) -> set[str]:
    """The signs that a text says, negated ones left out."""
    return {one.sign for one in hear(sheet_of(f"complaint: {text!r}\n{PILOT}"), bench()).heard if one.sign}


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("weak digging", {"weak-everywhere"}),
        ("only when hot", {"worse-when-hot"}),
        ("since the filters were changed", {"since-filter-change"}),
        ("creeps on slopes", {"creeps-on-slope"}),
        ("Weak when digging; worse after lunch", {"weak-everywhere", "worse-when-hot"}),
        ("does not pull when hot", {"worse-when-hot"}),
        ("fine when hot, slow when cold", {"better-when-warm"}),
        ("fine first thing", {"worse-when-hot"}),
        ("The pump whines and the oil is foaming", {"suction-whine", "foamy-oil"}),
        ("no power in the bank but quick enough in the air", {"weak-everywhere", "fast-but-weak"}),
        ("It wont lower with the engine off", {"no-lowering-engine-off"}),
        ("nothing moves", {"nothing-moves"}),
        ("engine not even trying", {"engine-barely-loaded"}),
        ("swing overruns", {"swing-runs-on"}),
        ("right track dies when you turn the cab round", {"changes-with-slew-angle"}),
        # taken back, or said of something else
        ("no foam in the tank", set()),
        ("does not overheat, never whines", set()),
        ("not worse when hot", set()),
        ("not when hot", set()),
        ("pilot oil pressure low", set()),
        ("Everything slow", set()),
        ("boom sinks, half a metre over a tea break", set()),
    ],
)
def test_phrases_of_the_trade(text: str, wanted: set[str]) -> None:
    assert signs(text) == wanted


def test_what_a_complaint_says_becomes_a_sign_once() -> None:
    sheet = sheet_of("complaint: Foams, froth in the tank\nhistory: [foamed before]\n" + PILOT)
    heard = hear(sheet, bench())
    assert [(one.sign, one.counts) for one in heard.heard] == [("foamy-oil", "yes")]
    (result,) = heard.results
    assert (result.id, result.seen, result.verdict) == ("sign/foamy-oil", True, "fail")


@pytest.mark.parametrize("seen", ["true", "false"])
def test_a_stated_sign_overrides_what_was_said(seen: str) -> None:
    stated = f"readings: [{{test: sign, sign: foamy-oil, seen: {seen}}}]\n"
    heard = hear(sheet_of("complaint: froth in the tank\n" + stated), bench())
    assert [one.counts for one in heard.heard] == ["stated"]
    assert heard.results == ()


def test_what_was_measured_overrides_what_was_said() -> None:
    text = "complaint: Swing runs on\n"
    stop = "readings: [{test: swing-stop, direction: left, angle: 12 deg}]\n"
    assert [one.counts for one in hear(sheet_of(text + PILOT), bench()).heard] == ["yes"]
    assert [one.counts for one in hear(sheet_of(text + stop), bench()).heard] == ["measured"]


def test_a_place_is_taken_from_the_clause() -> None:
    heard = hear(sheet_of("complaint: left hub hot; stick cylinder leaks\n" + PILOT), bench())
    assert {one.sign: dict(one.keys) for one in heard.heard} == {
        "hot-hub": {"side": "left"},
        "wet-rod": {"part": "arm-cylinder"},
    }


def test_weak_is_one_function_where_the_clause_names_one() -> None:
    def said(text: str) -> dict[str, dict[str, str]]:
        heard = hear(sheet_of(f"complaint: {text}\n{PILOT}"), bench()).heard
        return {one.sign: dict(one.keys) for one in heard if one.sign}

    assert said("No force") == {"weak-everywhere": {}}
    assert said("No force at the bucket") == {"one-function-weak": {"part": "bucket-cylinder"}}
    assert said("No force, bucket slow") == {"weak-everywhere": {}}


def test_what_was_not_recognised_is_said_but_not_a_routine_check() -> None:
    answer = diagnose(sheet_of("complaint: Uses more fuel\n" + PILOT))
    assert [(one.text, one.counts) for one in answer.heard] == [("Uses more fuel", "no")]
    assert diagnose(sheet_of("complaint: Routine check at service\n" + PILOT)).heard == ()


def test_words_that_name_what_a_test_measures_ask_for_it() -> None:
    cycle = "readings: [{test: cycle-time, function: arm-in, times: [3.4 s]}]\n"
    for readings, counts in ((PILOT, "asked"), (cycle, "measured")):
        heard = hear(sheet_of("complaint: Arm is slow\n" + readings), bench())
        assert [(one.word, one.sign, one.counts) for one in heard.heard] == [("slow", "", counts)]
        assert heard.results == ()


def test_a_denied_sign_is_not_called_unknown() -> None:
    assert hear(sheet_of("complaint: no foam in the tank\n" + PILOT), bench()).unknown == ()


def test_words_count_less_than_a_look() -> None:
    """Between saying nothing and a sign that was looked for."""

    def share(rest: str) -> float:
        causes = diagnose(sheet_of(rest)).causes
        return sum(one.probability for one in causes if one.cause == "suction.air-leak")

    seen = "readings: [{test: pilot-pressure, pressure: 3.9 MPa}, {test: sign, sign: foamy-oil, seen: true}]\n"
    nothing = share("complaint: As always\n" + PILOT)
    said, looked = share("complaint: Oil foams\n" + PILOT), share("complaint: As always\n" + seen)
    assert nothing < said < looked


# --- for any text ---------------------------------------------------------------------

PHRASES = [
    (name, said.when, [word.split("/")[0].rstrip("*") for word in phrase.split(" ")])
    for name, said in load_knowledge().vocabulary.words.items()
    for phrase in said.phrases
]


def entries_in(text: str) -> set[str]:
    return {one.entry for clause in listener().clauses(text) for one in listener().found(clause) if not one.negated}


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(PHRASES), st.randoms(use_true_random=False), st.sampled_from(["{}", "{}!", " {} .", "({})"]))
def test_case_punctuation_and_order_change_nothing(
    phrase: tuple[str, bool, list[str]], shuffle: random.Random, around: str
) -> None:
    """The order of words counts only in phrases that say when."""
    name, when, words = phrase
    plain = entries_in(" ".join(words))
    assert name in plain or any(len(other) > len(words) for _, _, other in PHRASES)
    mixed = "".join(shuffle.choice((letter.upper(), letter)) for letter in " the ".join(words))
    assert entries_in(around.format(mixed)) == plain
    if not when and name in plain:
        shuffle.shuffle(words)
        assert name in entries_in(" ".join(words))


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(PHRASES), st.sampled_from(["no", "Not", "never", "without"]), st.sampled_from(["", "the ", "very "])
)
def test_nothing_is_recognised_in_a_negated_clause(
    phrase: tuple[str, bool, list[str]], negation: str, between: str
) -> None:
    """Unless the negation is itself a word of the phrase, as in `no force`."""
    name, _, words = phrase
    if set(words).intersection(load_knowledge().vocabulary.negations):
        return
    (clause,) = listener().clauses(f"{negation} {between}{' '.join(words)}")
    found = [one for one in listener().found(clause) if one.entry == name]
    assert all(one.negated for one in found if 0 not in one.places)


@settings(max_examples=200, deadline=None)
@given(
    st.one_of(st.text(max_size=300), st.lists(st.sampled_from(["hot", "when", "no", "oil", ".", "pump"])).map(" ".join))
)
def test_any_text_is_read(text: str) -> None:
    for clause in listener().clauses(text):
        assert clause.words
        for one in listener().found(clause):
            assert max(one.places) < len(clause.words)


def test_a_long_text_takes_no_longer_than_its_length() -> None:
    """Steps, not seconds: every stretch looks at a few words only."""
    text = " ".join(["hot", "when", "worse", "oil"] * 500)
    assert "when-hot" in entries_in(text)
