"""Sheets of one to six readings: what no reading shows does not lead, and the order of readings changes nothing."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.documents.sheet import Sheet
from oilpath.flow import Diagnosis
from oilpath.reports.json_ import to_data
from oilpath.reports.text import to_text
from oilpath.reports.words import Words

KNOWN = load_knowledge()
MACHINE = Path(__file__).parents[2] / "cases/machines/trainer-22t.yaml"
HEAD = (
    "conditions: {oil-temperature: 54 °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off,"
    " working-setting: full}"
)
#: Readings of our own machine; {0} is a factor on a value in order.
READINGS = (
    ("{{test: cycle-time, function: boom-raise, times: [{0:.2f} s]}}", 4.2),
    ("{{test: cycle-time, function: bucket-curl, times: [{0:.2f} s]}}", 3.3),
    ("{{test: cycle-time, function: arm-in, times: [{0:.2f} s]}}", 3.7),
    ("{{test: cycle-time, function: bucket-dump, times: [{0:.2f} s]}}", 2.4),
    ("{{test: swing-time, direction: left, turns: 3, times: [{0:.2f} s]}}", 14.0),
    ("{{test: swing-time, direction: right, turns: 3, times: [{0:.2f} s]}}", 14.0),
    ("{{test: track-time, side: left, direction: forward, range: high, turns: 3, times: [{0:.2f} s]}}", 18.2),
    ("{{test: track-time, side: right, direction: forward, range: high, turns: 3, times: [{0:.2f} s]}}", 18.2),
    ("{{test: track-time, side: right, direction: reverse, range: high, turns: 3, times: [{0:.2f} s]}}", 18.2),
    ("{{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: {0:.0f} mm}}", 4.0),
    ("{{test: drift, cylinder: bucket-cylinder, hold: 5 min, moved: {0:.0f} mm}}", 8.0),
    ("{{test: pilot-pressure, pressure: {0:.2f} MPa}}", 3.9),
)


def sheet(folder: Path, lines: list[str], complaint: str = "") -> Sheet:
    file = folder / "sheet.yaml"
    readings = "\n".join(f"  - {one}" for one in lines)
    said = f"complaint: {complaint}\n" if complaint else ""
    file.write_text(f"oilpath: sheet/1\nmachine: {MACHINE}\n{said}{HEAD}\nreadings:\n{readings}\n", encoding="utf-8")
    return load_sheet(file, KNOWN)


def drawn(seed: int) -> list[str]:
    draw = random.Random(seed)
    chosen = draw.sample(READINGS, draw.randint(1, 6))
    factors = [draw.choice((1.0, 1.0, 1.02, 1.15, 1.3, 1.8, 3.0)) for _ in chosen]
    return [text.format(value * factor) for (text, value), factor in zip(chosen, factors, strict=True)]


def measured_out(found: Diagnosis) -> bool:
    return any(one.verdict == "fail" and not one.id.startswith("condition/") for one in found.results)


@settings(max_examples=25)
@given(seed=st.integers(0, 10**6))
def test_no_heap_leads_where_something_is_out(tmp_path_factory: pytest.TempPathFactory, seed: int) -> None:
    read = sheet(tmp_path_factory.getbasetemp(), drawn(seed), "slow and weak")
    found = diagnose(read, KNOWN)
    assert sorted(n for group in found.groups for n in group.members) == list(range(len(found.causes)))
    if measured_out(found):
        assert not found.groups[0].silent
        assert all(not group.silent for group in found.groups[:-1])
        text = " ".join(to_text(found, Words(KNOWN, read.machine)).split())
        last = found.groups[-1]
        assert text.count("Causes that no reading on this sheet shows") == (last.silent and last.probability >= 0.01)


def test_what_no_reading_shows_is_one_line_with_what_would_tell(tmp_path: Path) -> None:
    read = sheet(tmp_path, ["{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 14 mm}"], "slow and weak")
    text = " ".join(to_text(diagnose(read, KNOWN), Words(KNOWN, read.machine)).split())
    assert "Causes that no reading on this sheet shows (" in text
    assert "What would tell most of them: " in text


@settings(max_examples=25)
@given(seed=st.integers(0, 10**6))
def test_the_order_of_readings_changes_nothing(tmp_path_factory: pytest.TempPathFactory, seed: int) -> None:
    folder, lines = tmp_path_factory.getbasetemp(), drawn(seed)
    one, other = sheet(folder, lines), sheet(folder, random.Random(seed).sample(lines, len(lines)))

    def told(read: Sheet) -> tuple[list[tuple[str, str, str]], list[list[int]]]:
        data = to_data(diagnose(read, KNOWN), Words(KNOWN, read.machine))
        causes = [(cause["cause"], cause["part"], cause["variant"]) for cause in data["causes"]]
        return causes, [group["members"] for group in data["groups"]]

    assert told(one) == told(other)
