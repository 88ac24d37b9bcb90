# ruff: noqa: E501 (readings as they are written)
"""Reading test sheets. The format is the project's own; units are checked against published values elsewhere."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_sheet
from oilpath.documents.sheet import Conditions, Confirmed, InstrumentData, LogPoint, Reading, Veer
from oilpath.flow.ids import slug
from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem

Loader = Callable[..., tuple[Any, tuple[Problem, ...]]]

HEAD = "oilpath: sheet/1\nmachine: machine.yaml\nreadings:\n"
#: One reading of every test, and the result id, values and words that it must have.
READINGS: dict[str, tuple[str, tuple[float, ...], dict[str, str]]] = {
    "{test: cycle-time, function: boom-raise, times: [4.8 s, 4.7 s, 0.08 min]}": (
        "cycle-time/boom-raise", (4.8, 4.7, 4.8), {"function": "boom-raise"},
    ),
    "{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 9 mm, oil-start: 55 °C, extension: 700 mm, measured-at: rod}": (
        "drift/boom-cylinder", (0.009,), {"cylinder": "boom-cylinder", "measured-at": "rod"},
    ),
    "{test: swing-time, direction: left, turns: 3, start: rest, times: [14.0 s]}": (
        "swing-time/left", (14.0,), {"direction": "left", "start": "rest"},
    ),
    "{test: travel-time, direction: forward, range: high, distance: 20 m, run-up: 5 m, times: [14.2 s, 14.1 s]}": (
        "travel-time/forward/high", (14.2, 14.1), {"direction": "forward", "range": "high"},
    ),
    "{test: track-time, side: left, direction: reverse, range: low, turns: 3, times: [31.0 s]}": (
        "track-time/left/reverse/low", (31.0,), {"side": "left", "direction": "reverse", "range": "low"},
    ),
    "{test: stall-pressure, pump: pump-1, function: bucket-curl, pressure: 4975 psi}": (
        "stall-pressure/pump-1/bucket-curl", (34301417.5,), {"pump": "pump-1", "function": "bucket-curl"},
    ),
    "{test: pilot-pressure, pressure: 3.9 MPa}": ("pilot-pressure", (3.9e6,), {}),
    "{test: case-drain, part: pump-1, flow: 9 L/min, pressure: 20 MPa}": (
        "case-drain/pump-1", (1.5e-4,), {"part": "pump-1"},
    ),
    "{test: engine-speed, state: stall-both-pumps, speed: 1820 rpm}": (
        "engine-speed/stall-both-pumps", (1820 / 60,), {"state": "stall-both-pumps"},
    ),
    "{test: swing-stop, direction: left, angle: 180 deg}": (
        "swing-stop/left", (3.14159265358979,), {"direction": "left"},
    ),
    "{test: creep, of: swing, moved: 0 mm, hold: 3 min}": ("creep/swing", (0.0,), {"of": "swing"}),
    "{test: pressure, at: boom-cylinder-rod, state: moving, function: boom-raise, pressure: 1.2 MPa}": (
        "pressure/boom-cylinder-rod/moving/boom-raise", (1.2e6,),
        {"at": "boom-cylinder-rod", "state": "moving", "function": "boom-raise"},
    ),
    "{test: pressure, at: pump-1, state: neutral, pressure: 3 MPa}": (
        "pressure/pump-1/neutral", (3e6,), {"at": "pump-1", "state": "neutral"},
    ),
    "{test: flow, at: pump-1-outlet, flow: 195 L/min, pressure: 20 MPa}": (
        "flow/pump-1-outlet", (3.25e-3,), {"at": "pump-1-outlet"},
    ),
    "{test: temperature, at: travel-left-motor, temperature: 131 degF}": (
        "temperature/travel-left-motor", (328.15,), {"at": "travel-left-motor"},
    ),
    "{test: code, spn: 520201, fmi: 4, active: true}": ("code/520201-4", (), {"spn": "520201", "fmi": "4"}),
    "{test: code, text: E 52 / Low Flow, active: false}": ("code/e-52-low-flow", (), {}),
    "{test: sign, sign: foamy-oil, seen: true}": ("sign/foamy-oil", (), {"sign": "foamy-oil"}),
    "{test: sign, sign: foamy-oil, seen: false, part: tank}": (
        "sign/foamy-oil/tank", (), {"sign": "foamy-oil", "part": "tank"},
    ),
    "{test: sign, sign: milky-oil, seen: false, side: left}": (
        "sign/milky-oil/left", (), {"sign": "milky-oil", "side": "left"},
    ),
    "{test: check, check: plug-loaded-line, part: boom-cylinder, outcome: rod-moves}": (
        "check/plug-loaded-line/boom-cylinder", (),
        {"check": "plug-loaded-line", "part": "boom-cylinder", "outcome": "rod-moves"},
    ),
    "{test: cycle-time, function: boom-raise, variant: cold, times: 5.6 s}": (
        "cycle-time/boom-raise@cold", (5.6,), {"function": "boom-raise"},
    ),
    "{test: cycle-time, function: boom-raise, variant: hot, with: [swing-left, arm-in], times: 5.6 s}": (
        "cycle-time/boom-raise@hot+arm-in+swing-left", (5.6,), {"function": "boom-raise"},
    ),
    "{test: travel-time, direction: forward, range: high, with: [arm-in], distance: 20 m, times: [19.0 s]}": (
        "travel-time/forward/high+arm-in", (19.0,), {"direction": "forward", "range": "high"},
    ),
}  # fmt: skip


def one(read: Loader, entry: str) -> Reading:
    sheet, problems = read(f"{HEAD}  - {entry}\n")
    assert problems == ()
    (reading,) = sheet.readings
    assert isinstance(reading, Reading)
    return reading


@pytest.mark.parametrize("entry", READINGS)
def test_every_test_has_its_id_values_and_words(entry: str, read: Loader) -> None:
    identity, values, keys = READINGS[entry]
    reading = one(read, entry)
    assert reading.id == identity
    assert reading.values == pytest.approx(values)
    assert dict(reading.keys) == keys
    assert reading.line == 4


def test_all_of_them_on_one_sheet(read: Loader) -> None:
    sheet, problems = read(HEAD + "".join(f"  - {entry}\n" for entry in READINGS))
    assert problems == ()
    assert [reading.id for reading in sheet.readings] == [identity for identity, _, _ in READINGS.values()]
    assert [reading.line for reading in sheet.readings] == list(range(4, 4 + len(READINGS)))


def test_figures_flags_text_and_kind(read: Loader, knowledge: Knowledge) -> None:
    drift = one(
        read, "{test: drift, cylinder: arm-cylinder, hold: 5 min, moved: 9 mm, oil-start: 55 °C, oil-end: 51 °C}"
    )
    assert dict(drift.figures) == pytest.approx({"hold": 300, "oil-start": 328.15, "oil-end": 324.15})
    assert drift.kind is knowledge.tests["drift"]
    assert dict(one(read, "{test: swing-time, direction: left, turns: 3, times: 14 s}").figures) == {"turns": 3.0}
    code = one(read, "{test: code, text: 0052, active: false, note: 12}")
    assert (code.text, dict(code.flags), code.note) == ("0052", {"active": False}, "12")
    assert dict(one(read, "{test: sign, sign: milky-oil, seen: true}").flags) == {"seen": True}


def test_a_veer_is_positive_to_the_right(read: Loader) -> None:
    entry = "{{test: travel-time, direction: forward, range: high, distance: 20 m, times: 14 s, veer: {}}}"
    assert one(read, entry.format("{toward: left, offset: 0.4 m, from: chord}")).veer == Veer(-0.4, "chord")
    assert one(read, entry.format("{toward: right, offset: 0.4 m}")).veer == Veer(0.4, "start-line")
    assert one(read, entry.format("{offset: 0 m}")).veer == Veer(0.0, "start-line")
    assert one(read, entry.format("null")).veer is None


def test_a_drift_log(read: Loader) -> None:
    entry = "{test: drift, cylinder: arm-cylinder, hold: 5 min, moved: 9 mm, log: [{after: 1 min, moved: 4 mm}]}"
    (point,) = one(read, entry).log
    assert isinstance(point, LogPoint)
    assert (point.after, point.moved) == pytest.approx((60.0, 0.004))


def test_the_head_of_a_sheet(read: Loader, yard: Path) -> None:
    (yard / "old.yaml").write_text("oilpath: sheet/1\nmachine: machine.yaml\nreadings: []\n", encoding="utf-8")
    sheet, problems = read(
        "oilpath: sheet/1\nmachine: machine.yaml\nunit-number: 007\norder-number: 1e3\nserial-number: 2026-05-14\n"
        "technician: true\nhours: 8450\ndate: '2026-05-14'\ncomplaint: 12.50\nhistory: Came on slowly\n"
        "instruments: {time: {resolution: 0.1 s}, temperature: {resolution: 1 °C}, pressure: {span: 60 MPa, class: 1.0}}\n"
        "baseline: [old.yaml]\nconfirmed: [{cause: cylinder.seal-leak, part: boom-cylinder-left, after: old.yaml}]\n"
        "readings: []\n"
    )
    assert problems == ()
    written = (sheet.unit_number, sheet.order_number, sheet.serial_number, sheet.technician, sheet.complaint)
    assert written == ("007", "1e3", "2026-05-14", "true", "12.50")
    assert (sheet.hours, sheet.date, sheet.history) == (8450.0, "2026-05-14", ("Came on slowly",))
    assert sheet.instruments["time"] == InstrumentData(resolution=0.1)
    assert sheet.instruments["temperature"] == InstrumentData(resolution=1.0)  # a difference
    assert sheet.instruments["pressure"] == InstrumentData(span=60e6, accuracy_class=1.0)
    assert sheet.baseline == ("old.yaml",)
    assert sheet.confirmed == (Confirmed("cylinder.seal-leak", "boom-cylinder-left", None, "old.yaml"),)
    assert sheet.name.endswith("sheet-read.yaml")
    assert sheet.machine.name == "Gravel-pit trainer"


def test_a_bare_date_and_a_month_of_29_days(read: Loader) -> None:
    sheet, problems = read("oilpath: sheet/1\nmachine: machine.yaml\ndate: 2028-02-29\nreadings: []\n")
    assert problems == ()
    assert sheet.date == "2028-02-29"


@pytest.mark.parametrize(("written", "meant"), [("off", "off"), ("on", "on"), ("true", "on"), ("false", "off")])
def test_auto_idle_words_and_truth_alike(written: str, meant: str, read: Loader) -> None:
    sheet, _ = read(f"oilpath: sheet/1\nmachine: machine.yaml\nconditions: {{auto-idle: {written}}}\nreadings: []\n")
    assert sheet.conditions == Conditions(auto_idle=meant)


def test_a_reading_keeps_its_own_conditions_apart(read: Loader) -> None:
    """Judging puts them over the sheet's, key by key."""
    sheet, _ = read(
        "oilpath: sheet/1\nmachine: machine.yaml\nconditions: {oil-temperature: 54 °C, attachment: empty}\nreadings:\n"
        "  - {test: pilot-pressure, pressure: 3.9 MPa}\n"
        "  - {test: engine-speed, state: low-idle, speed: 900 rpm, conditions: {oil-temperature: 28 °C, auto-idle: on}}\n"
    )
    usual, own = sheet.readings
    assert sheet.conditions.oil_temperature == pytest.approx(327.15)
    assert (sheet.conditions.attachment, sheet.conditions.auto_idle) == ("empty", None)
    assert usual.conditions == Conditions()
    assert (own.conditions.attachment, own.conditions.auto_idle) == (None, "on")
    assert own.conditions.oil_temperature == pytest.approx(301.15)


def test_null_means_not_stated(read: Loader) -> None:
    keys = (
        "unit-number",
        "hours",
        "date",
        "complaint",
        "history",
        "conditions",
        "instruments",
        "baseline",
        "confirmed",
    )
    text = "oilpath: sheet/1\nmachine: machine.yaml\nreadings: []\n"
    sheet, problems = read(text + "".join(f"{key}: null\n" for key in keys))
    assert problems == ()
    assert (sheet.unit_number, sheet.history, sheet.conditions) == (None, (), Conditions())


def test_the_machine_inline(read: Loader) -> None:
    sheet, problems = read("oilpath: sheet/1\nmachine: {name: Inline, circuit: two-pump-excavator}\nreadings: []\n")
    assert problems == ()
    assert sheet.machine.name == "Inline"


def test_a_sheet_as_text_seeks_its_machine_in_the_working_folder(
    yard: Path, knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(yard)
    sheet = load_sheet("-", knowledge, text=b"oilpath: sheet/1\nmachine: machine.yaml\nreadings: []\n")
    assert sheet.name == "-"
    assert sheet.machine.file == "machine.yaml"


def test_the_path_is_kept_as_typed(yard: Path, knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    (yard / "jobs").mkdir()
    (yard / "jobs/s.yaml").write_text("oilpath: sheet/1\nmachine: ../machine.yaml\nreadings: []\n", encoding="utf-8")
    monkeypatch.chdir(yard)
    sheet = load_sheet("./jobs/s.yaml", knowledge)
    assert sheet.name == "./jobs/s.yaml"
    assert sheet.machine.file == "machine.yaml"


@pytest.mark.parametrize(
    ("text", "expected"), [("P0420", "p0420"), ("  Überdruck! 3 ", "uberdruck-3"), ("x" * 99, "x" * 60)]
)
def test_a_free_code_as_a_step_of_an_id(text: str, expected: str) -> None:
    assert slug(text) == expected


def test_a_free_code_in_another_script_still_has_an_id() -> None:
    assert slug("油温") != slug("油压")
    assert slug("油温").startswith("text-")
