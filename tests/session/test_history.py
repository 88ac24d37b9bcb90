"""One machine over its hours, on sheets of our own invention; the line itself is tested with regression."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from oilpath.documents.load import load_sheet
from oilpath.documents.sheet import Sheet
from oilpath.flow import sign_result
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.session.history import ResultTrend, Trend, placed, trend

MACHINE = """
  name: Invented
  circuit: two-pump-excavator
  engine-speed: 1900 rpm
  limits:
    - {test: cycle-time, function: bucket-curl, new: 3.4 s, max: 4.0 s}
    - {test: pilot-pressure, min: 3.6 MPa, max: 4.3 MPa}
    - {test: drift, cylinder: boom-cylinder, hold: 5 min, new: 3 mm, max: 12 mm}
    - {test: travel-time, range: high, distance: 20 m, new: 14.1 s, max: 15.9 s, max-veer: 1.2 m}
"""
CONDITIONS = "oil-temperature: {} °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off, working-setting: full"
CURL = "{{test: cycle-time, function: bucket-curl, times: [{0} s, {0} s, {0} s]}}"

Made = Callable[..., Sheet]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture
def sheet(knowledge: Knowledge) -> Made:
    def make(*readings: str, head: str = "", oil: float = 55, name: str = "s.yaml", machine: str = MACHINE) -> Sheet:
        lines = "\n".join(f"  - {reading}" for reading in readings)
        text = (
            f"oilpath: sheet/1\nmachine:{machine}{head}\nconditions: {{{CONDITIONS.format(oil)}}}\nreadings:\n{lines}\n"
        )
        return load_sheet(name, knowledge, text=text)

    return make


@pytest.fixture
def over(sheet: Made, knowledge: Knowledge) -> Callable[..., ResultTrend]:
    """The trend of one reading, written with {}, over pairs of hours and value."""

    def one(pairs: Sequence[tuple[float, float]], reading: str = CURL, **rest: Any) -> ResultTrend:
        sheets = [sheet(reading.format(value), head=f"hours: {hours}", **rest) for hours, value in pairs]
        return trend(sheets, "hours", knowledge).results[0]

    return one


RISING = [(1000, 3.4), (3000, 3.5), (5000, 3.6), (7000, 3.7)]


def test_a_steady_rise_crosses_where_the_line_says(over: Callable[..., ResultTrend]) -> None:
    """0.1 s in 2000 h from 3.4 s at 1000 h: 4.0 s at 13 000 h; numpy.polyfit says the same."""
    found = over(RISING)
    assert (found.outcome, found.side) == ("crosses", "max")
    assert found.crossing is not None
    slope, start = np.polyfit([hours for hours, _ in RISING], [value for _, value in RISING], 1)
    assert found.crossing.at == pytest.approx((4.0 - start) / slope)
    assert found.crossing.at == pytest.approx(13_000)
    assert found.crossing.earliest is not None
    assert found.crossing.latest is not None
    assert 7000 < found.crossing.earliest < 13_000 < found.crossing.latest


def test_more_scatter_makes_the_time_less_sure(over: Callable[..., ResultTrend]) -> None:
    many = [(500.0 * n, 3.3 + 0.05 * n) for n in range(1, 9)]
    aside = (1, -1, -1, 1, 1, -1, -1, 1)  # leaves mean and slope as they are
    rough = [(hours, value + 0.12 * sign) for (hours, value), sign in zip(many, aside, strict=True)]
    sure, unsure = over(many).crossing, over(rough).crossing
    assert sure is not None
    assert unsure is not None
    assert sure.earliest is not None
    assert sure.latest is not None
    assert unsure.earliest is not None
    assert unsure.latest is not None
    assert unsure.latest - unsure.earliest > sure.latest - sure.earliest


@pytest.mark.parametrize(
    ("pairs", "outcome"),
    [
        (RISING[:2], "few"),
        ([(1000, 3.5), (1000, 3.6), (1000, 3.7)], "few"),
        ([(1000, 3.5), (3000, 3.52), (5000, 3.48), (7000, 3.51)], "steady"),
        ([(1000, 3.9), (3000, 3.8), (5000, 3.7), (7000, 3.6)], "away"),
        ([(1000, 3.4), (3000, 3.7), (5000, 4.0), (7000, 4.4)], "past"),
        ([(1000, 3.4), (3000, 4.4)], "past"),
        ([(1000, 2.0), (1200, 2.1), (1400, 2.2), (1600, 2.3)], "far"),
    ],
)
def test_what_can_be_said(over: Callable[..., ResultTrend], pairs: list[tuple[float, float]], outcome: str) -> None:
    assert over(pairs).outcome == outcome


def test_a_fall_goes_to_the_lower_limit(over: Callable[..., ResultTrend]) -> None:
    found = over(
        [(1000, 4.2), (3000, 4.1), (5000, 4.0), (7000, 3.9), (9000, 3.8)], "{{test: pilot-pressure, pressure: {} MPa}}"
    )
    assert (found.outcome, found.side) == ("crosses", "min")
    assert found.crossing is not None
    assert found.crossing.at == pytest.approx(13_000)


def test_a_trend_without_a_limit_is_said_to_have_none(over: Callable[..., ResultTrend]) -> None:
    temperature = "{{test: temperature, at: cooler, temperature: {} °C}}"
    assert over([(1000, 50), (3000, 60), (5000, 70), (7000, 80)], temperature).outcome == "unlimited"


def test_readings_that_are_not_valid_do_not_count(sheet: Made, knowledge: Knowledge) -> None:
    sheets = [sheet(CURL.format(value), head=f"hours: {hours}") for hours, value in RISING]
    cold = sheet(CURL.format(9.0), head="hours: 6000", oil=20)
    with_cold = trend([*sheets[:3], cold, sheets[3]], "hours", knowledge).results[0]
    plain = trend(sheets, "hours", knowledge).results[0]
    assert with_cold.line == plain.line
    assert [point.used for point in with_cold.points] == [True, True, True, False, True]


def test_other_holds_and_distances_are_brought_to_the_last(sheet: Made, knowledge: Knowledge) -> None:
    drift = "{{test: drift, cylinder: boom-cylinder, hold: {} min, moved: {} mm, oil-start: 55 °C}}"
    run = (
        "{{test: travel-time, direction: forward, range: high, distance: {} m, times: [{} s],"
        " veer: {{toward: right, offset: {} m}}}}"
    )
    early = sheet(drift.format(3, 3), run.format(10, 7, 0.1), head="hours: 100")
    late = sheet(drift.format(5, 6), run.format(20, 14, 0.4), head="hours: 900")
    values = {
        shown.id: [point.value for point in shown.points] for shown in trend([early, late], "hours", knowledge).results
    }
    assert values["drift/boom-cylinder"] == pytest.approx([0.005, 0.006])
    assert values["travel-time/forward/high"] == pytest.approx([14, 14])
    assert values["travel-veer/forward/high"] == pytest.approx([0.4, 0.4])  # with the square of the distance


def test_a_swing_from_rest_over_other_turns_is_shown_and_not_counted(sheet: Made, knowledge: Knowledge) -> None:
    swing = "{{test: swing-time, direction: left, turns: {}, start: rest, times: [{} s]}}"
    sheets = [sheet(swing.format(turns, 4.7 * turns), head=f"hours: {n}00") for n, turns in enumerate((2, 3, 3, 3), 1)]
    found = trend(sheets, "hours", knowledge).results[0]
    assert [point.used for point in found.points] == [False, True, True, True]
    assert found.notes


def test_signs_are_shown_and_have_no_line(sheet: Made, knowledge: Knowledge) -> None:
    sheets = [
        sheet(f"{{test: sign, sign: foamy-oil, seen: {seen}}}", head=f"hours: {n}")
        for n, seen in ((1, "false"), (2, "true"))
    ]
    found = trend(sheets, "hours", knowledge).results[0]
    assert found.outcome == "noted"
    assert [point.value for point in found.points] == [None, None]
    assert [point.result for point in found.points] == [
        sign_result({"sign": "foamy-oil"}, seen) for seen in (False, True)
    ]


def test_variants_are_apart_from_the_plain_test(sheet: Made, knowledge: Knowledge) -> None:
    cold = "{test: cycle-time, function: bucket-curl, variant: cold, times: [5.0 s]}"
    found = trend([sheet(CURL.format(3.5), cold, head="hours: 1")], "hours", knowledge)
    assert [shown.id for shown in found.results] == ["cycle-time/bucket-curl", "cycle-time/bucket-curl@cold"]


# --- order and sameness -----------------------------------------------------------------


def heads(sheet: Made, *lines: str) -> list[Sheet]:
    return [sheet(CURL.format(3.5), head=line, name=f"{number}.yaml") for number, line in enumerate(lines)]


def test_sheets_stand_by_hours(sheet: Made) -> None:
    ordered, axis, problems = placed(heads(sheet, "hours: 900", "hours: 100", "hours: 500\ndate: 2020-01-01"))
    assert ([one.hours for one in ordered], axis, problems) == ([100, 500, 900], "hours", ())


def test_without_hours_on_all_they_stand_by_date(sheet: Made, knowledge: Knowledge) -> None:
    given = heads(sheet, "date: 2026-03-01", "hours: 5\ndate: 2026-01-01", "date: 2026-02-01")
    ordered, axis, problems = placed(given)
    assert (axis, problems) == ("days", ())
    assert [one.date for one in ordered] == ["2026-01-01", "2026-02-01", "2026-03-01"]
    assert [one.at for one in trend(ordered, axis, knowledge).sheets] == [0, 31, 59]


def test_a_sheet_with_neither_is_a_problem(sheet: Made) -> None:
    ordered, _, (problem,) = placed(heads(sheet, "hours: 1", "complaint: none", "hours: 3"))
    assert (problem.file, problem.key) == ("1.yaml", "hours")
    assert [one.name for one in ordered] == ["0.yaml", "2.yaml"]


def test_hours_here_and_dates_there_do_not_meet(sheet: Made) -> None:
    _, axis, (problem,) = placed(heads(sheet, "date: 2026-01-01", "hours: 7"))
    assert (axis, problem.file, problem.key) == ("days", "1.yaml", "date")


@pytest.mark.parametrize("key", ["unit-number", "serial-number"])
def test_another_machine_is_a_problem(sheet: Made, key: str) -> None:
    ordered, _, (problem,) = placed(heads(sheet, f"hours: 1\n{key}: A", f"hours: 2\n{key}: B", "hours: 3"))
    assert (problem.file, problem.key) == ("1.yaml", key)
    assert [one.name for one in ordered] == ["0.yaml", "2.yaml"]


def test_another_machine_by_name_is_a_problem(sheet: Made) -> None:
    other = sheet(CURL.format(3.5), head="hours: 2", name="b.yaml", machine=MACHINE.replace("Invented", "Another"))
    _, _, (problem,) = placed([sheet(CURL.format(3.5), head="hours: 1"), other])
    assert (problem.file, problem.key) == ("b.yaml", "machine")


def test_the_order_of_the_sheets_as_typed_changes_nothing(sheet: Made, knowledge: Knowledge) -> None:
    sheets = [sheet(CURL.format(value), head=f"hours: {hours}") for hours, value in RISING]

    def told(given: Sequence[Sheet]) -> Trend:
        ordered, axis, _ = placed(given)
        return trend(ordered, axis, knowledge)

    assert told(sheets) == told(sheets[::-1])


def test_no_sheets_give_no_trend(knowledge: Knowledge) -> None:
    with pytest.raises(ValueError, match="needs a sheet"):
        trend([], "hours", knowledge)


def test_a_crossing_in_the_past_of_a_reading_that_does_not_fail_is_in_sight(over: Callable[..., ResultTrend]) -> None:
    found = over([(1000, 3.7), (3000, 3.8), (5000, 3.9), (7000, 4.05)])
    assert found.last.verdict == "near"
    assert found.outcome == "crosses"
    assert replace(found, notes=()) == found
