"""Blank sheets and machine files, and the looking over of both."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path

import pytest

from oilpath.documents.load import load_machine, load_sheet
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.session.day import prepare
from oilpath.session.slots import slots
from tests.running import Run, in_process

ROOT = Path(__file__).parents[2]
MACHINES = sorted((ROOT / "cases/machines").glob("*.yaml"))
DEMO = ROOT / "cases/demo/pump-1-slow.yaml"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return in_process(monkeypatch, capsys)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


# --- blank sheets -----------------------------------------------------------------------


def filled_in(text: str) -> str:
    """A blank with the marks taken away that stand before readings, and a figure before each unit."""
    text = re.sub(r"(?m)^  # (\{test: .*)$", r"  \1", text)
    text = re.sub(r"(?m)^  # ((?:oil-temp|engine-speed|ambient|attach|auto|working).*)$", r"  \1", text)
    return re.sub(r"([:\[,]) {1,2}(s|mm|m|MPa|psi|rpm|L/min|gpm|°C|°F|deg|mL|in3|%|in|ft)(?=[,\]}])", r"\1 50 \2", text)


@pytest.mark.parametrize("machine", MACHINES, ids=lambda path: path.stem)
@pytest.mark.parametrize("units", ["si", "us"])
def test_a_blank_sheet_is_valid_before_and_after(
    machine: Path, units: str, tmp_path: Path, knowledge: Knowledge, run: Run
) -> None:
    blank = tmp_path / "sheet.yaml"
    assert run("sheet", "new", str(machine), "-o", str(blank), "--units", units).status == 0
    assert load_sheet(blank, knowledge).readings == ()
    text = blank.read_text(encoding="utf-8")
    text = re.sub(r"(?m)^  # \{test: code, text.*\n", "", filled_in(text))  # the same code said in another way
    sheet = load_sheet(tmp_path / "filled.yaml", knowledge, text=text)
    found = load_machine(machine, knowledge)
    wanted = [slot.id for slot in slots(prepare(found, knowledge), found, knowledge)]
    measured = [reading.id for reading in sheet.readings if reading.values]
    assert measured[: len(wanted)] == wanted
    assert {reading.keys["sign"] for reading in sheet.readings if reading.test == "sign"} == set(knowledge.signs)


def test_a_blank_sheet_names_its_machine_beside_it(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "jobs").mkdir()
    machine = tmp_path / "m.yaml"
    machine.write_text("oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\n", encoding="utf-8")
    sheet = tmp_path / "jobs/s.yaml"
    assert run("sheet", "new", "m.yaml", "-o", "jobs/s.yaml").status == 0
    assert '\nmachine: "../m.yaml"\n' in sheet.read_text(encoding="utf-8")
    before = sheet.read_bytes()
    again = run("sheet", "new", str(machine), "-o", str(sheet))
    assert (again.status, again.out) == (2, "")
    assert sheet.read_bytes() == before


def test_limits_and_cautions_stand_beside_the_readings(run: Run) -> None:
    text = run("sheet", "new", str(ROOT / "cases/machines/trainer-22t.yaml")).out
    assert "pressure:  MPa},   # 3.6 to 4.3 MPa, new 3.9 MPa" in text
    assert text.index("# ! Nobody under raised parts") < text.index("test: drift")


def test_a_blank_sheet_names_only_tests_that_the_machine_has(run: Run) -> None:
    text = run("sheet", "new", str(ROOT / "cases/machines/loader-11t.yaml")).out
    assert "travel-time" not in text
    assert "swing" not in re.sub(r"(?m)^.*sign: .*$", "", text)
    assert "steer-left" in text


# --- blank machine files ----------------------------------------------------------------


@pytest.mark.parametrize("circuit", sorted(load_knowledge().circuits))
def test_a_blank_machine_is_valid_before_and_after(
    circuit: str, tmp_path: Path, knowledge: Knowledge, run: Run
) -> None:
    blank = tmp_path / "machine.yaml"
    assert run("machine", "new", circuit, "-o", str(blank)).status == 0
    assert load_machine(blank, knowledge).circuit.id == circuit
    text = re.sub(r"(?m)^( *)# (\{test: .*|engine-speed: .*|oil: .*|feeds: .*|control: .*|dimensions: .*)$", r"\1\2",
                  blank.read_text(encoding="utf-8"))  # fmt: skip
    text = re.sub(r"# (.*\{(?:displacement|count))", r"\1", text).replace("rod:  mm", "rod: 40 mm")
    for unit in ("cm3/rev", "mm", "m", "s", "MPa", "rpm", "L/min", "°C", "deg", "mL"):
        for key, value in (
            ("new", 5),
            ("min", 4),
            ("max", 6),
            ("bore", 50),
            ("stroke", 50),
            ("displacement", 50),
            ("settled", 5),
            ("step", 5),
        ):
            text = text.replace(f"{key}:  {unit},", f"{key}: {value} {unit},")
            text = text.replace(f"{key}:  {unit}}}", f"{key}: {value} {unit}}}")
    text = re.sub(r"(new|min|max|max-difference):  %", r"\1: 5 %", text).replace("max-veer:  m", "max-veer: 1 m")
    if circuit == "hydraulic-test-rig":
        text = re.sub(r"(?m)^(control: fixed.*)$", r"# \1", text)
    machine = load_machine("-", knowledge, text=text)
    assert len(machine.limits) == len(re.findall(r"(?m)^  \{test: ", text)) > 4
    assert machine.parts


def test_an_unknown_circuit_is_named_with_the_nearest(run: Run) -> None:
    done = run("machine", "new", "two-pump-excavater")
    assert (done.status, done.out) == (2, "")
    assert "did you mean two-pump-excavator?" in done.err


# --- looking over -----------------------------------------------------------------------


def test_a_sheet_in_order_is_said_to_be_usable(run: Run) -> None:
    done = run("sheet", "check", str(DEMO))
    assert (done.status, done.err) == (0, "")
    assert "can be used; 19 readings." in done.out
    assert "out" not in done.out  # no diagnosis


def test_a_sheet_check_says_what_diagnose_refuses(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "s.yaml"
    sheet.write_text("oilpath: sheet/1\nmachine: none.yaml\nreadings: [{test: pilot-presure}]\n", encoding="utf-8")
    done, diagnosed = run("sheet", "check", str(sheet)), run("diagnose", str(sheet))
    assert (done.status, done.out) == (diagnosed.status, diagnosed.out) == (2, "")
    assert done.err == diagnosed.err


def test_readings_that_are_not_valid_and_conditions_not_stated_are_remarks(run: Run) -> None:
    done = run("sheet", "check", str(ROOT / "cases/sound/quarry-short-holds.yaml"))
    assert done.status == 0
    assert "at least 3 min" in " ".join(done.out.split())
    data = json.loads(run("sheet", "check", str(ROOT / "cases/sound/no-conditions.yaml"), "-f", "json").out)
    assert data["oilpath"] == "check/1"
    assert data["problems"] == []
    said = {one["text"]: one["results"] for one in data["warnings"]}
    (text,) = (one for one in said if "attachment" in one)
    assert "cycle-time/boom-raise" in said[text]


def test_several_sheets_as_json_hold_the_problems_of_a_bad_one(run: Run, tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("oilpath: sheet/1\nmachine: none.yaml\nreadings: []\n", encoding="utf-8")
    done = run("sheet", "check", str(DEMO), str(bad), "--format", "json")
    first, second = json.loads(done.out)
    assert done.status == 2
    assert first["problems"] == []
    assert [one["line"] for one in second["problems"]] == [2]


def test_a_machine_check_asks_about_a_limit_that_no_sound_machine_has(run: Run, tmp_path: Path) -> None:
    text = (ROOT / "cases/machines/loader-11t.yaml").read_text(encoding="utf-8")
    slip = tmp_path / "slip.yaml"
    slip.write_text(text.replace("new: 5.7 s, max: 6.8 s", "new: 57 s, max: 68 s"), encoding="utf-8")
    assert "is 5.7 s meant?" in " ".join(run("machine", "check", str(slip)).out.split())
    assert "meant?" not in run("machine", "check", str(ROOT / "cases/machines/loader-11t.yaml")).out


def test_a_machine_check_counts_limits_and_names_readings_without_one(run: Run) -> None:
    done = run("machine", "check", str(ROOT / "cases/machines/trainer-22t.yaml"))
    assert done.status == 0
    assert "18 limits" in done.out
    assert "Engine speed, high idle" in done.out
    assert run("machine", "check", str(DEMO)).status == 2


# --- tables -----------------------------------------------------------------------------


@pytest.mark.parametrize("end", ["csv", "xlsx"])
def test_a_sheet_goes_into_a_table_and_back(end: str, tmp_path: Path, knowledge: Knowledge, run: Run) -> None:
    table, sheet = tmp_path / f"t.{end}", tmp_path / "s.yaml"
    assert run("sheet", "export", str(DEMO), "-o", str(table)).status == 0
    assert run("sheet", "import", str(table), "-o", str(sheet)).status == 0
    before, after = (load_sheet(path, knowledge) for path in (DEMO, sheet))
    assert [(one.id, one.values, one.figures) for one in after.readings] == [
        (one.id, one.values, one.figures) for one in before.readings
    ]
    assert (after.machine.name, after.history, after.conditions) == (
        before.machine.name,
        before.history,
        before.conditions,
    )


def test_a_blank_table_filled_in_is_a_sheet(tmp_path: Path, knowledge: Knowledge, run: Run) -> None:
    from openpyxl import load_workbook

    table, sheet = tmp_path / "t.xlsx", tmp_path / "s.yaml"
    machine = ROOT / "cases/machines/trainer-22t.yaml"
    assert run("sheet", "export", str(machine), "-o", str(table)).status == 0
    book = load_workbook(table)
    page = book.worksheets[0]
    names = next([cell.value for cell in row] for row in page.iter_rows() if row[0].value == "Test")
    filled = 0
    for row in page.iter_rows():
        if row[0].value == "cycle-time":
            row[names.index("Reading 1")].value = 3.9
            filled += 1
        if row[0].value == "sign" and filled and row[names.index("Sign")].value == "foamy-oil":
            row[names.index("Seen")].value = True
    book.save(table)
    done = run("sheet", "import", str(table), "-o", str(sheet))
    assert done.status == 0
    assert "rows without a reading are left out" in done.err
    read = load_sheet(sheet, knowledge)
    assert [one.test for one in read.readings] == ["cycle-time"] * 6 + ["sign"]
    assert read.readings[0].values == (3.9,)


def test_a_table_without_a_machine_takes_the_one_that_is_named(tmp_path: Path, run: Run) -> None:
    table = tmp_path / "t.csv"
    table.write_text("Test,Unit,Reading 1\npilot-pressure,MPa,3.9\n", encoding="utf-8")
    assert run("sheet", "import", str(table)).status == 2
    done = run("sheet", "import", str(table), "--machine", str(ROOT / "cases/machines/trainer-22t.yaml"))
    assert done.status == 0
    assert "{test: pilot-pressure, pressure: 3.9 MPa}" in done.out


def test_a_mistake_in_a_table_writes_nothing(tmp_path: Path, run: Run) -> None:
    table, sheet = tmp_path / "t.csv", tmp_path / "s.yaml"
    table.write_text(
        f"Machine,{DEMO.parents[1]}/machines/trainer-22t.yaml\nTest,Unit,Reading 1\npilot-pressure,s,3.9\n",
        encoding="utf-8",
    )
    done = run("sheet", "import", str(table), "-o", str(sheet))
    assert (done.status, done.out) == (2, "")
    assert f"{table}:3: C3 Reading 1: " in done.err
    assert not sheet.exists()


def test_a_table_needs_a_form_that_is_known(tmp_path: Path, run: Run) -> None:
    assert "neither .csv nor .xlsx" in run("sheet", "export", str(DEMO), "-o", str(tmp_path / "t.ods")).err
    assert "goes to a file" in run("sheet", "export", str(DEMO), "--format", "xlsx").err


def test_a_limit_that_the_pumps_cannot_reach_is_told(tmp_path: Path, run: Run) -> None:
    """Two cylinders of 120 mm bore and 1.26 m stroke, two pumps of 112 cm3 at 1900 rpm: 4.02 s by A·s/Q."""
    machine = tmp_path / "m.yaml"
    text = (
        "oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\nengine-speed: 1900 rpm\nparts:\n"
        "  pump-1: {displacement: 112 cm3/rev}\n  pump-2: {displacement: 112 cm3/rev}\n"
        "  boom-cylinder: {count: 2, bore: 120 mm, rod: 85 mm, stroke: 1260 mm}\n"
        "limits: [{test: cycle-time, function: boom-raise, max: 2.6 s}]\n"
    )
    machine.write_text(text, encoding="utf-8")
    assert "takes 4.02 s at the least" in " ".join(run("machine", "check", str(machine)).out.split())
    machine.write_text(text.replace("2.6 s", "4.6 s"), encoding="utf-8")
    assert "at the least" not in run("machine", "check", str(machine)).out


# --- question and answer ----------------------------------------------------------------


def test_a_sheet_is_begun_filled_and_gone_on_with(tmp_path: Path, knowledge: Knowledge, run: Run) -> None:
    machine, sheet = ROOT / "cases/machines/trainer-22t.yaml", tmp_path / "s.yaml"
    head = "PIT-7\n8450\nt\nA. Tester\nslow\noil new\nin winter\n\n"
    first = run("sheet", "fill", str(machine), "-o", str(sheet), text=f"{head}57\n1890\ne\nof\nf\n\n\n1950\n")
    assert first.status == 0
    assert "1950 rpm: not judged" in first.out
    assert f"To go on: oilpath sheet fill {sheet}" in first.out
    second = run("sheet", "fill", str(machine), "-o", str(sheet), text="\n\n\n39\n3.9\n9\nq\n")
    assert "1 of 33 readings made" in second.out
    assert "Is this meant?" in second.out
    assert "3.9 MPa (3.6 to 4.3 MPa): in order" in second.out
    read = load_sheet(sheet, knowledge)
    assert [one.id for one in read.readings] == ["engine-speed/high-idle", "pilot-pressure", "drift/boom-cylinder"]
    assert (read.unit_number, read.hours, read.complaint) == ("PIT-7", 8450.0, "slow")
    assert (read.technician, read.history) == ("A. Tester", ("oil new", "in winter"))
    assert read.date is not None
    assert (date.today() - date.fromisoformat(read.date)).days in (0, 1)  # midnight may pass
    assert read.conditions.working_setting == "full"


def test_cautions_come_before_the_first_reading_of_their_test(tmp_path: Path, run: Run) -> None:
    machine, sheet = ROOT / "cases/machines/trainer-22t.yaml", tmp_path / "s.yaml"
    out = run("sheet", "fill", str(machine), "-o", str(sheet), text="\n" * 40).out
    for caution, title in (("Nobody under raised parts", "Cylinder drift, boom"), ("swing circle", "Swing time, left")):
        assert 0 < out.index(caution) < out.index(f"{title}")
    assert "STOP" not in out


def test_a_dangerous_sign_says_stop(tmp_path: Path, run: Run) -> None:
    machine, sheet = ROOT / "cases/machines/trainer-22t.yaml", tmp_path / "s.yaml"
    out = run("sheet", "fill", str(machine), "-o", str(sheet), text="\n" * 12 + "boom-falls\nq\n").out
    assert f"STOP: {load_knowledge().signs['boom-falls'].stop_use}" in " ".join(out.split())


def test_filling_needs_a_file_to_write(tmp_path: Path, run: Run) -> None:
    machine = str(ROOT / "cases/machines/trainer-22t.yaml")
    assert "say --output" in run("sheet", "fill", machine).err
    assert run("sheet", "fill", "-").status == 2
    assert run("sheet", "fill", machine, "-o", str(tmp_path / "no/s.yaml")).status == 2
    bad = tmp_path / "bad.yaml"
    bad.write_text("oilpath: sheet/1\nmachine: none.yaml\nreadings: []\n", encoding="utf-8")
    done = run("sheet", "fill", str(bad), text="1\n")
    assert (done.status, done.out) == (2, "")
    assert "bad.yaml:2: machine" in done.err


def test_a_check_asks_whether_a_slip_is_meant(tmp_path: Path, run: Run) -> None:
    sheet = tmp_path / "s.yaml"
    text = f"oilpath: sheet/1\nmachine: {ROOT}/cases/machines/trainer-22t.yaml\n"
    sheet.write_text(text + "readings:\n  - {test: pilot-pressure, pressure: 39 MPa}\n", encoding="utf-8")
    assert "was 3.9 MPa meant?" in " ".join(run("sheet", "check", str(sheet)).out.split())
