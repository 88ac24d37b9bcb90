"""Titles, numbers and scales in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.flow import Computed, Measured, Severity, code_result
from oilpath.reports import words as say
from oilpath.reports.words import Words
from oilpath.units import from_unit
from tests.reports.sample import CAUSES, KNOWLEDGE, RESULTS, WORDS, ranked, result, timed

BY_ID = {entry.id: entry for entry in RESULTS}


@pytest.mark.parametrize(
    ("id_", "title"),
    [
        ("cycle-time/bucket-curl", "Cycle time, bucket curl"),
        ("cycle-time/bucket-curl@cold", "Cycle time, bucket curl, with cold oil"),
        ("cycle-time/boom-raise+bucket-curl", "Cycle time, boom raise, with bucket curl"),
        ("drift/boom-cylinder", "Cylinder drift, boom cylinder"),
        ("travel-veer/forward/high", "Travel veer, forward, high range"),
        ("track-time/left/forward/low", "Raised-track time, left, forward, low range"),
        ("stall-pressure/pump-1/bucket-curl", "Stall pressure, main pump 1, bucket curl"),
        ("pressure/boom-cylinder-rod/moving/boom-raise", "Pressure at a point, boom cylinder rod, moving, boom raise"),
        ("case-drain/pump-1", "Case drain, main pump 1"),
        ("engine-speed/stall-both-pumps", "Engine speed, stall both pumps"),
        ("condition/engine-speed", "Condition: engine speed"),
        ("code/520201-4", "Fault code 520201-4: Flow signal of pump 2 below range"),
        ("sign/foamy-oil", "Foamy oil"),
        ("check/flow-at-pressure/pump-1", "Measure the flow of main pump 1 against pressure"),
    ],
)
def test_result_titles(id_: str, title: str) -> None:
    assert WORDS.result(BY_ID[id_]) == title


@pytest.mark.parametrize(
    ("id_", "value", "limit", "judged"),
    [
        ("cycle-time/boom-raise", "4.77 s", "max 4.9 s", "in order, almost certain"),
        ("cycle-time/boom-lower", "3.9 s", "max 3.9 s", "near limit, 50% out"),
        ("cycle-time/bucket-curl", "4.12 s", "max 3.6 s", "out, almost certain"),
        ("drift/bucket-cylinder", "21 mm", "max 12 mm", "not valid"),
        ("travel-veer/forward/high", "0.4 m left", "within ±1.2 m", "in order, almost certain"),
        ("stall-pressure/pump-1/bucket-curl", "34.1 MPa", "33.3 to 35.3 MPa", "in order, almost certain"),
        ("engine-speed/stall-both-pumps", "1820 rpm", "", "not judged"),
        ("temperature/travel-left-motor", "71 °C", "", "not judged"),
        ("condition/engine-speed", "1895 rpm", "1843 to 1957 rpm", "in order, almost certain"),
        ("code/520201-4", "active", "", ""),
        ("sign/foamy-oil", "not seen", "", ""),
        ("check/flow-at-pressure/pump-1", "short", "", ""),
    ],
)
def test_numbers_limits_and_verdicts(id_: str, value: str, limit: str, judged: str) -> None:
    entry = BY_ID[id_]
    accepted = WORDS.limit(entry) if isinstance(entry, Measured) else ""
    assert (WORDS.value(entry), accepted, WORDS.judged(entry)) == (value, limit, judged)


def test_only_a_new_value_or_one_side() -> None:
    assert WORDS.limit(result("pressure/pump-1/stall", 30, "MPa", "pass", min=28)) == "min 28 MPa"
    assert WORDS.new(timed("cycle-time/boom-raise", 4.8, 4.9, 4.2, "pass", 0.05)) == "4.2 s"
    assert WORDS.value(code_result("520201-4", None)) == "–"


def test_an_uncertainty_of_a_temperature_is_a_difference() -> None:
    assert WORDS.uncertainty(BY_ID["temperature/travel-left-motor"]) == "2.2 °C"


def test_words_do_without_the_machine_and_for_unknown_names() -> None:
    words = Words(KNOWLEDGE)
    assert words.function("boom-raise") == "boom raise"
    assert words.part("pump-9-outlet") == "pump 9 outlet"
    assert words.test("no-such") == "No such"
    assert words.result(BY_ID["code/520201-4"]) == "Fault code 520201-4"


def test_a_small_flow_reads_in_millilitres() -> None:
    assert WORDS.computed("leakage", Computed(from_unit(3.4, "mL/min"), "flow")) == "leakage 3.4 mL/min"
    assert WORDS.computed("track-speed", Computed(from_unit(5.5, "km/h"), "speed")) == "track speed 5.5 km/h"
    assert WORDS.computed("share", Computed(0.25, "ratio")) == "share 25 %"
    assert WORDS.computed("share", Computed(0.25, "nothing-known")) == "share 0.25"


@pytest.mark.parametrize(
    ("severity", "text"),
    [
        (CAUSES[0].severity, "losing about 34 L/min at relief pressure (26 to 45)"),
        (Severity("stroke", 0.78, 0.71, 0.86, "ratio"), "stroke about 78 % of full (71 to 86 %)"),
        (Severity("held-leak", 7, 4, 12, "ratio"), "leakage about 7 times a sound one's (4 to 12)"),
        (Severity("seal-leak", 0.58, 0.32, 13.0, "ratio"), ""),  # anything from little to much
        (Severity("shift", 0.6, 0.6, 1.0, "ratio"), ""),
    ],
)
def test_severity(severity: Severity, text: str) -> None:
    assert WORDS.severity(severity) == text


def test_a_cause_names_its_variant_once() -> None:
    assert WORDS.cause(CAUSES[2]) == "Short stroke of the bucket spool (bucket curl)"
    assert WORDS.cause(ranked("a.b", "pump-1", "Bucket curl spool short", 0.1, variant="bucket-curl")) == (
        "Bucket curl spool short"
    )


@pytest.mark.parametrize(
    ("probability", "words", "figure"),
    [
        (1.0, "almost certain", "100%"),
        (0.9999, "almost certain", "over 99%"),
        (0.95, "almost certain", "95%"),
        (0.9499, "very likely", "95%"),
        (0.6, "likely", "60%"),
        (0.5, "about even", "50%"),
        (0.2, "possible", "20%"),
        (0.06, "less likely", "6%"),
        (0.02, "unlikely", "2%"),
        (0.004, "very unlikely", "under 1%"),
        (0.0, "very unlikely", "0%"),
    ],
)
def test_how_sure(probability: float, words: str, figure: str) -> None:
    assert (say.sure(probability), say.percent(probability)) == (words, figure)


@given(st.floats(0, 1))
def test_a_percentage_never_says_certain_where_it_is_not(probability: float) -> None:
    assert (say.percent(probability) in ("0%", "100%")) == (probability in (0.0, 1.0))


@pytest.mark.parametrize(
    ("decibans", "words"),
    [
        (12.0, "strongly for it"),
        (10.0, "strongly for it"),
        (9.9, "clearly for it"),
        (-5.0, "clearly against it"),
        (1.0, "slightly for it"),
        (-0.9, "hardly either way"),
        (0.0, "hardly either way"),
    ],
)
def test_weights(decibans: float, words: str) -> None:
    assert say.weight(decibans) == words


def test_odds() -> None:
    # 10 dB are odds of ten to one, 0 dB are even
    assert say.odds(10.0) == "91%"
    assert say.odds(0.0) == "50%"
    assert say.odds(-16.0) == "about 1 in 41"
    assert say.odds(-5000.0) == "next to never"


def test_minutes() -> None:
    assert say.minutes(64.7) == "65 min"
    assert say.minutes(150) == "2.5 h"
