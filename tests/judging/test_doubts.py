"""Is this meant? Slips of writing in readings and limits are asked about, with what was probably meant.

What a slip does to a value follows from the units alone: 1 MPa = 10 bar = 145.04 psi, 1 in = 25.4 mm, 1 US gallon =
3.7854 L (NIST SP 811, appendix B.8). That these slips happen is common practice.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.bench import bench_for
from oilpath.documents.sheet import Sheet
from oilpath.flow import Diagnosis, Measured
from oilpath.judging import judge
from oilpath.reports.json_ import to_data
from oilpath.reports.text import to_text
from oilpath.reports.words import Words

MACHINE = Path(__file__).parents[2] / "cases/machines/trainer-22t.yaml"
KNOWN = load_knowledge()
HEAD = (
    "conditions: {oil-temperature: 54 °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off,"
    " working-setting: full}"
)
SOUND = (
    "{test: cycle-time, function: boom-raise, times: [4.2 s, 4.2 s, 4.3 s]}",
    "{test: cycle-time, function: boom-lower, times: [2.9 s, 2.8 s, 2.9 s]}",
    "{test: cycle-time, function: arm-in, times: [3.7 s, 3.7 s, 3.8 s]}",
    "{test: cycle-time, function: bucket-dump, times: [2.4 s, 2.4 s, 2.4 s]}",
    "{test: swing-time, direction: right, turns: 3, times: [14.0 s, 14.1 s]}",
    "{test: stall-pressure, pump: pump-2, function: arm-in, pressure: 34.3 MPa}",
)


def sheet(tmp_path: Path, *readings: str, machine: str | None = None, head: str = HEAD) -> Sheet:
    lines = "\n".join(f"  - {one}" for one in readings)
    file = tmp_path / "sheet.yaml"
    file.write_text(f"oilpath: sheet/1\nmachine: {machine or MACHINE}\n{head}\nreadings:\n{lines}\n", encoding="utf-8")
    return load_sheet(file, KNOWN)


def words(answer: Sheet) -> Words:
    return Words(KNOWN, answer.machine)


def questions(tmp_path: Path, *readings: str, **more: str) -> list[tuple[str, str, str | None]]:
    read = sheet(tmp_path, *readings, **more)
    data = to_data(diagnose(read, KNOWN), words(read))
    return [(one["result"], one["asks"], one["likely"]) for one in data["questions"]]


@pytest.mark.parametrize(
    ("reading", "asks", "likely"),
    [
        ("{test: pilot-pressure, pressure: 3.9 bar}", "unit", "3.9 MPa"),
        ("{test: pilot-pressure, pressure: 39 MPa}", "unit", "3.9 MPa"),
        ("{test: pilot-pressure, pressure: 39 psi}", "unit", "3.9 MPa"),  # 39 bar was meant
        ("{test: pilot-pressure, pressure: 566 bar}", "unit", "3.9 MPa"),  # 566 psi was meant
        ("{test: stall-pressure, pump: pump-1, function: boom-raise, pressure: 34.3 bar}", "unit", "34.3 MPa"),
        ("{test: cycle-time, function: bucket-curl, times: [33 s]}", "decimal", "3.3 s"),
        ("{test: cycle-time, function: bucket-curl, times: [0.33 s]}", "decimal", "3.3 s"),
        ("{test: swing-time, direction: left, turns: 3, times: [4.7 s]}", "turns", "14.1 s"),
        ("{test: track-time, side: left, direction: forward, range: high, turns: 3, times: [6 s]}", "turns", "18 s"),
        ("{test: cycle-time, function: bucket-curl, times: [3.3 s, 3.3 s, 33 s]}", "repeat", "3.3 s"),
        ("{test: cycle-time, function: bucket-curl, times: [3.3 s, 6.6 s]}", "repeat", None),
        ("{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 1.5 m}", "impossible", None),
        ("{test: stall-pressure, pump: pump-1, function: boom-raise, pressure: 0 MPa}", "impossible", None),
        ("{test: engine-speed, state: high-idle, speed: 190 rpm}", "decimal", "1900 rpm"),
    ],
)  # fmt: skip
def test_a_likely_slip_is_asked_about(tmp_path: Path, reading: str, asks: str, likely: str | None) -> None:
    found = questions(tmp_path, reading)
    assert [(one[1], one[2]) for one in found] == [(asks, likely)]


@pytest.mark.parametrize(
    "reading",
    [
        "{test: cycle-time, function: bucket-curl, times: [9.9 s]}",  # a third of the flow
        "{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 60 mm}",
        "{test: stall-pressure, pump: pump-1, function: boom-raise, pressure: 12 MPa}",
        "{test: pilot-pressure, pressure: 1.2 MPa}",
        "{test: case-drain, part: pump-1, flow: 70 L/min}",
        "{test: cycle-time, function: bucket-curl, times: [3.0 s, 3.6 s, 3.3 s]}",
    ],
)
def test_what_faults_do_is_not_asked_about(tmp_path: Path, reading: str) -> None:
    assert questions(tmp_path, reading) == []


def test_an_oil_temperature_in_the_wrong_unit_is_asked_about(tmp_path: Path) -> None:
    head = HEAD.replace("54 °C", "130 °C")
    assert questions(tmp_path, SOUND[0], head=head) == [("condition/oil-temperature", "unit", "54.4 °C")]
    assert questions(tmp_path, SOUND[0], head=HEAD.replace("54 °C", "200 °C"))[0][2] == "93.3 °C"
    drift = "{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 3 mm, oil-start: 131 °C, oil-end: 52 °C}"
    assert questions(tmp_path, drift) == [("drift/boom-cylinder", "unit", "55 °C")]


def test_the_reading_keeps_its_verdict_and_no_part_is_blamed(tmp_path: Path) -> None:
    wild = "{test: cycle-time, function: bucket-curl, times: [0.33 s]}"
    read = sheet(tmp_path, *SOUND, wild)
    answer = diagnose(read, KNOWN)
    assert result(answer, "cycle-time/bucket-curl").value == pytest.approx(0.33)
    assert answer.causes[0].cause == "none"
    pressure = "{test: stall-pressure, pump: pump-1, function: boom-raise, pressure: 34.3 bar}"
    answer = diagnose(sheet(tmp_path, *SOUND, pressure), KNOWN)
    assert result(answer, "stall-pressure/pump-1/boom-raise").verdict == "fail"


def result(answer: Diagnosis, name: str) -> Measured:
    found = next(one for one in answer.results if one.id == name)
    assert isinstance(found, Measured)
    return found


@pytest.mark.parametrize(
    "wild",
    [
        "{test: cycle-time, function: bucket-curl, times: [33 s]}",
        "{test: cycle-time, function: bucket-curl, times: [0.33 s]}",
        "{test: swing-time, direction: left, turns: 3, times: [4.7 s]}",
        "{test: cycle-time, function: bucket-curl, times: [3.3 s, 3.3 s, 33 s]}",
    ],
)
def test_one_wild_reading_on_a_sound_sheet_is_to_be_repeated(tmp_path: Path, wild: str) -> None:
    read = sheet(tmp_path, *SOUND, wild)
    text = " ".join(to_text(diagnose(read, KNOWN), words(read)).split())
    first_screen = text.split("FINDINGS")[0]
    assert "Repeat this reading first" in first_screen
    assert len(diagnose(read, KNOWN).questions) == 1
    assert "No fault stands out" not in text
    assert "These readings show no fault" not in text


def test_a_limit_that_no_sound_machine_has_is_asked_about(tmp_path: Path) -> None:
    machine = "{name: Ours, circuit: two-pump-excavator, engine-speed: 1900 rpm, limits: [LIMIT]}"
    pilot = "{test: pilot-pressure, pressure: 3.9 MPa}"
    low = machine.replace("LIMIT", "{test: pilot-pressure, new: 3.9 bar, min: 3.6 bar, max: 4.3 bar}")
    assert questions(tmp_path, pilot, machine=low) == [("pilot-pressure", "unit", "3.9 MPa")]
    answer = diagnose(sheet(tmp_path, pilot, machine=low), KNOWN)
    evidence = result(answer, "pilot-pressure").evidence
    assert evidence is not None
    assert evidence.e == pytest.approx(0.0, abs=1e-9)  # against what was probably meant
    assert result(answer, "pilot-pressure").verdict == "fail"
    slow = machine.replace("LIMIT", "{test: cycle-time, function: boom-raise, new: 4.2 s, max: 49 s}")
    assert questions(tmp_path, SOUND[0], machine=slow) == [("cycle-time/boom-raise", "decimal", "4.9 s")]


def test_left_and_right_exchanged_are_asked_about(tmp_path: Path) -> None:
    """A machine pulls to the side whose track is slow (common practice)."""
    tracks = [
        f"{{test: track-time, side: {side}, direction: {way}, range: high, turns: 3, times: [{time} s]}}"
        for side, time in (("left", 18.2), ("right", 24.0))
        for way in ("forward", "reverse")
    ]
    travel = "{test: travel-time, direction: forward, range: high, distance: 20 m, times: [16.0 s], veer: VEER}"
    to_left = travel.replace("VEER", "{toward: left, offset: 1.9 m}")
    to_right = travel.replace("VEER", "{toward: right, offset: 1.9 m}")
    assert questions(tmp_path, *tracks, to_right) == []
    assert questions(tmp_path, *tracks, to_left) == [("travel-veer/forward/high", "side", "1.9 m right")]


FACTORS = st.sampled_from([10.0, 0.1])


@settings(max_examples=30)
@given(new=st.floats(2.0, 9.0), factor=FACTORS)
def test_whatever_was_read_in_the_wrong_place_of_the_decimal_point_is_found(
    tmp_path_factory: pytest.TempPathFactory, new: float, factor: float
) -> None:
    tmp = tmp_path_factory.getbasetemp()
    machine = (
        "{name: Ours, circuit: two-pump-excavator, engine-speed: 1900 rpm, limits: [{test: cycle-time, function:"
        f" boom-raise, new: {new:.3f} s, max: {new * 1.2:.3f} s}}]}}"
    )
    read = sheet(tmp, f"{{test: cycle-time, function: boom-raise, times: [{new * factor:.4f} s]}}", machine=machine)
    found = judge(read, bench_for(read.machine, KNOWN))[0]
    assert isinstance(found, Measured)
    assert [one.asks for one in found.questions] == ["decimal"]
    evidence = found.evidence
    assert evidence is not None
    meant = evidence.e if evidence.as_meant else evidence.e + evidence.slips[0].shift
    assert meant == pytest.approx(0.0, abs=math.log(1.01))
