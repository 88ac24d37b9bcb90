"""The trend as text, Markdown and a picture."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from itertools import pairwise

import pytest

from oilpath.documents.load import load_sheet
from oilpath.documents.machine import Machine
from oilpath.knowledge.compile import load_knowledge
from oilpath.reports.chart import draw, frame_of
from oilpath.reports.markdown import blocks_to_markdown
from oilpath.reports.text import blocks_to_text
from oilpath.reports.trend import lay_out_trend, place, rate, says, verdict
from oilpath.reports.trend_svg import to_svg
from oilpath.reports.words import Words
from oilpath.session.history import ResultTrend, Trend, placed, trend

KNOWLEDGE = load_knowledge()
SHEET = """
oilpath: sheet/1
machine:
  name: Invented <b>machine</b> & more
  circuit: two-pump-excavator
  engine-speed: 1900 rpm
  limits:
    - {{test: cycle-time, function: bucket-curl, new: 3.4 s, max: 4.0 s}}
    - {{test: travel-time, range: high, distance: 20 m, new: 14.1 s, max: 15.9 s, max-veer: 1.2 m}}
{when}
conditions:
  {{oil-temperature: {oil} °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off, working-setting: full}}
readings:
  - {{test: cycle-time, function: bucket-curl, times: [{curl} s, {curl} s, {curl} s]}}
  - {{test: travel-time, direction: forward, range: high, distance: 20 m, times: [14 s],
     veer: {{toward: left, offset: {veer} m}}}}
"""


def made(values: Sequence[tuple[str, float, float]], oil: Sequence[float] = ()) -> Trend:
    sheets = [
        load_sheet("-", KNOWLEDGE, text=SHEET.format(when=when, curl=curl, veer=veer, oil=(*oil, *[55] * 9)[number]))
        for number, (when, curl, veer) in enumerate(values)
    ]
    ordered, axis, _ = placed(sheets)
    return trend(ordered, axis, KNOWLEDGE)


WORDS = Words(KNOWLEDGE, load_sheet("-", KNOWLEDGE, text=SHEET.format(when="", curl=3, veer=0, oil=55)).machine)
TREND = made(
    [("hours: 1000", 3.4, 0.1), ("hours: 3000", 3.5, 0.4), ("hours: 5000", 3.6, 0.9), ("hours: 7000", 3.7, 1.8)]
)
BY_DATE = made([(f"date: 20{year}-05-01", 3.4 + 0.1 * n, 0.1) for n, year in enumerate((20, 21, 22, 23))])


def text(shown: Trend = TREND, **rest: bool) -> str:
    return blocks_to_text(lay_out_trend(shown, WORDS, **rest))


def flat(shown: str) -> str:
    return " ".join(shown.split())


def curl(shown: Trend) -> ResultTrend:
    return shown.results[0]


def test_it_says_when_the_limit_is_reached() -> None:
    said = verdict(TREND, WORDS)
    assert "Beyond the limit already: Travel veer, forward, high range." in said
    assert "Cycle time, bucket curl reaches its limit (max 4 s) at about 13000 h, 6000 h from the last sheet" in said
    assert re.search(r"from \d+ h to \d+ h, 19 times in 20", said)
    assert rate(curl(TREND), TREND, WORDS).startswith("+0.05 ± ")
    assert rate(curl(TREND), TREND, WORDS).endswith(" s in 1000 h")


def test_by_date_a_day_is_said() -> None:
    """0.1 s a year from 3.4 s in May 2020: 4.0 s in 2026."""
    assert "at about 2026-0" in says(curl(BY_DATE), BY_DATE, WORDS)
    assert rate(curl(BY_DATE), BY_DATE, WORDS).endswith(" s in a year")
    assert place(0, BY_DATE) == "2020-05-01"
    assert place(1e9, BY_DATE) == "a date far off"


def test_two_sheets_are_too_few() -> None:
    said = flat(text(made([("hours: 1", 3.4, 0.1), ("hours: 900", 3.5, 0.1)])))
    assert "Too few sheets for a trend: each result needs 3 readings that count." in said


def test_every_value_stands_with_its_limit() -> None:
    said = text()
    row = next(line for line in said[said.index("EVERY RESULT") :].splitlines() if line.startswith("Cycle time"))
    assert re.findall(r"3\.\d s", row) == ["3.4 s", "3.5 s", "3.6 s"]
    assert row.endswith("max 4 s")
    assert "EVERY RESULT, LATER SHEETS" in said
    assert "0.1 m left" in said


def test_what_is_not_valid_stands_in_brackets() -> None:
    shown = made([("hours: 1", 3.4, 0.1), ("hours: 2", 9.9, 0.1)], oil=(55, 20))
    said = text(shown, all_results=True)
    assert "(9.9 s)" in said
    assert "In brackets: not valid" in flat(said)


def test_text_fits_80_columns_holds_charts_and_cautions_and_steers_nothing() -> None:
    said = text()
    assert max(len(line) for line in said.splitlines()) <= 80
    assert "\x1b" not in said
    assert "└──" in said
    assert "! Nobody beside the tracks" in said  # of a test that is named
    assert "does not replace them" in said


def test_cautions_are_those_of_the_machine() -> None:
    """Common practice: who has no tracks is not told to keep away from them."""
    loader = Machine(name="Invented", circuit=KNOWLEDGE.circuits["wheel-loader"])
    said = flat(blocks_to_text(lay_out_trend(TREND, Words(KNOWLEDGE, loader))))
    assert "Nobody beside the tracks" not in said
    assert "Never feel for a leak" in said


def test_a_chart_shows_readings_line_and_limit_in_their_places() -> None:
    lines = draw(curl(TREND), ("top", "low"), ("left", "right"), 60)
    assert all(len(line) <= 60 for line in lines)
    limit = next(number for number, line in enumerate(lines) if "────" in line)
    rows = [number for number, line in enumerate(lines) if "o" in line.partition("│")[2]]
    assert len(rows) == 4  # a rise: one reading a row, the last one highest
    assert limit < rows[0]
    frame = frame_of(curl(TREND))
    assert frame is not None
    assert frame.bottom < 3.4 < 4.0 < frame.top
    assert frame.right > 13_000  # the crossing is in the picture


def test_markdown_holds_the_tables_and_escapes_other_peoples_text() -> None:
    said = blocks_to_markdown(lay_out_trend(TREND, WORDS, columns=100))
    assert "| Result | 1000 h | 3000 h | 5000 h | 7000 h | Limit |" in said
    assert "```text" in said
    assert "<b>" not in said


def test_the_picture_is_sound_svg_and_asks_no_other_host() -> None:
    drawn = to_svg(TREND, WORDS)
    root = ET.fromstring(drawn)
    space = "{http://www.w3.org/2000/svg}"
    assert root.tag == f"{space}svg"
    groups = root.findall(f"{space}g")
    assert len(groups) == 3  # bucket curl, travel time, veer
    assert [len(group.findall(f"{space}circle")) for group in groups] == [4, 4, 4]
    limits = [[path for path in group.findall(f"{space}path") if path.get("class") == "l"] for group in groups]
    assert [len(found) for found in limits] == [1, 1, 2]
    title = root.find(f"{space}title")
    assert title is not None
    assert title.text is not None
    assert "Invented <b>machine</b> & more" in title.text  # as text, not as markup
    assert drawn.count("http") == 1  # the name of the namespace
    assert to_svg(TREND, WORDS) == drawn


def test_places_in_the_picture_go_with_the_values() -> None:
    """Hours to the right, values upward, all within their panel."""
    root = ET.fromstring(to_svg(TREND, WORDS))
    space = "{http://www.w3.org/2000/svg}"
    circles = root.findall(f"{space}g")[0].findall(f"{space}circle")
    x, y = ([float(circle.get(key) or "nan") for circle in circles] for key in ("cx", "cy"))
    assert x == sorted(x)
    assert y == sorted(y, reverse=True)
    steps = [b - a for a, b in pairwise(x)]
    assert steps == pytest.approx([steps[0]] * 3, abs=0.2)
