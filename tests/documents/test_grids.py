"""Sheets as CSV and as workbooks, and back: nothing is lost, nothing in a file is run, and mistakes have their cell.

CSV is held against RFC 4180 as Python's own reader takes it, workbooks against ECMA-376 as openpyxl reads them.
"""

from __future__ import annotations

import csv
import io
import random
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from oilpath.documents.edit import Document, open_document
from oilpath.documents.grid import Grid, column_letters, grid_of, name_of, path_of
from oilpath.documents.grid_files import MAX_BYTES, csv_text, grid_from, xlsx_bytes
from oilpath.documents.load import load_grid, load_sheet
from oilpath.documents.sheet import Sheet
from oilpath.documents.sheet_text import from_folder, sheet_text
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.problems import Problem, UnusableInput

ROOT = Path(__file__).parents[2]
SHEETS = [path for folder in ("demo", "sound") for path in sorted((ROOT / "cases" / folder).glob("*.yaml"))]
FORMS: dict[str, Callable[[Grid], bytes]] = {
    "csv": lambda grid: csv_text(grid).encode(),
    "xlsx": xlsx_bytes,
}


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


KNOWN = load_knowledge()
MACHINE = ROOT / "cases/machines/trainer-22t.yaml"


def same(sheet: Sheet) -> Sheet:
    """A sheet without its name and lines, which say only where it was read."""
    readings = tuple(replace(one, line=1) for one in sheet.readings)
    return replace(sheet, name="-", readings=readings, earlier=())


# --- round trips ------------------------------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_the_sheets_that_ship_come_back_as_they_were(path: Path, form: str, knowledge: Knowledge) -> None:
    content = FORMS[form](grid_of(open_document(path).as_read, knowledge))
    sheet, data, empty = load_grid(path, knowledge, content=content)
    assert empty == 0
    assert same(sheet) == same(load_sheet(path, knowledge))
    assert same(load_sheet(path, knowledge, text=sheet_text(data))) == same(sheet)


texts = st.text(st.characters(exclude_categories=("Cs", "Cc", "Cn")), min_size=1, max_size=30).filter(
    lambda text: text.strip() and not any(char in text for char in "\u2028\u2029\ufeff\ufffe\uffff")
)
nasty = st.sampled_from(["=1+1", "+2", "-3", "@SUM(A1)", "'=x", "007", "1e5", "true", "null", "a,b;c\td", '"q"', "a\nb",
                         "_x0041_", "\uff1d1", " padded ", "2026-05-14", "#", "- x", "Test"])  # fmt: skip
free = texts | nasty
seconds = st.integers(100, 99999).map(lambda n: f"{n / 1000} s") | st.sampled_from(
    ["4.80 s", "4.8s", "1e1 s", "+5 s", "0.05 min"]
)


@st.composite
def sheets(draw: st.DrawFn) -> dict[str, Any]:
    """Plain data of a valid sheet."""
    readings: list[dict[str, Any]] = [
        {"test": "pilot-pressure", "pressure": draw(st.sampled_from(["3.9 MPa", "565 psi"]))}
    ]
    for function in draw(st.lists(st.sampled_from(["boom-raise", "arm-in", "bucket-curl"]), unique=True)):
        times: Any = draw(st.lists(seconds, min_size=1, max_size=4))
        readings.append({"test": "cycle-time", "function": function, "times": times if len(times) > 1 else times[0]})
        if draw(st.booleans()):
            readings[-1]["note"] = draw(free)
        if draw(st.booleans()):
            readings[-1]["conditions"] = {
                "oil-temperature": draw(st.sampled_from(["-5 °C", "54 °C"])),
                "auto-idle": "off",
            }
        if function != "boom-raise" and draw(st.booleans()):
            readings[-1]["with"] = draw(st.sampled_from([["boom-raise"], ["boom-raise", "swing-left"], "swing-left"]))
    if draw(st.booleans()):
        log = [{"after": f"{n} min", "moved": f"{2 * n} mm"} for n in range(1, draw(st.integers(1, 4)) + 1)]
        readings.append({"test": "drift", "cylinder": "boom-cylinder", "hold": "5 min", "moved": "9 mm", "log": log})
    if draw(st.booleans()):
        veer = {"toward": "left", "offset": draw(st.sampled_from(["0.4 m", "0 m", "1 ft"]))}
        readings.append({"test": "travel-time", "direction": "forward", "range": "high", "distance": "20 m",
                         "times": ["14 s"], "veer": veer})  # fmt: skip
    if draw(st.booleans()):
        readings.append(
            {"test": "swing-time", "direction": "left", "turns": draw(st.sampled_from([3, 2.5])), "times": "14 s"}
        )
    if draw(st.booleans()):
        readings.append({"test": "sign", "sign": "foamy-oil", "seen": draw(st.booleans())})
        readings.append({"test": "code", "text": draw(free), "active": True})
        readings.append({"test": "code", "spn": 520201, "fmi": 4, "active": False})
    sheet: dict[str, Any] = {"oilpath": "sheet/1", "machine": str(MACHINE)}
    for key in ("unit-number", "order-number", "technician", "complaint"):
        if draw(st.booleans()):
            sheet[key] = draw(free)
    if draw(st.booleans()):
        sheet["hours"] = draw(st.sampled_from([0, 8450, 8450.5, 0.1]))
        sheet["date"] = "2026-05-14"
        sheet["history"] = draw(st.lists(free, min_size=1, max_size=3))
        sheet["conditions"] = {"oil-temperature": "54 °C", "attachment": "empty"}
        sheet["instruments"] = {"time": {"resolution": "0.1 s"}, "pressure": {"span": "60 MPa", "class": 1.0}}
        sheet["confirmed"] = [{"cause": "pump.worn", "part": "pump-1", "how": draw(free)}]
    sheet["readings"] = draw(st.permutations(readings))
    return sheet


@pytest.mark.parametrize("form", FORMS)
@given(data=sheets())
@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
def test_any_sheet_comes_back_as_it_was(form: str, data: dict[str, Any]) -> None:
    text = sheet_text(data)
    before = load_sheet("s.yaml", KNOWN, text=text)
    grid = grid_of(Document("s.yaml", text).as_read, KNOWN)
    after, again, _ = load_grid("s.csv", KNOWN, content=FORMS[form](grid))
    assert same(after) == same(before)
    assert same(load_sheet("s.yaml", KNOWN, text=sheet_text(again))) == same(before)


@given(path=st.lists(st.from_regex(r"[a-z0-9]{1,6}(-[a-z0-9]{1,6})?", fullmatch=True) | st.integers(0, 50), min_size=1))
def test_names_say_their_paths(path: list[str | int]) -> None:
    ordered = tuple(
        step for n, step in enumerate(path) if isinstance(step, str) or (n and isinstance(path[n - 1], str))
    )
    if ordered and isinstance(ordered[0], str):
        assert path_of(name_of(ordered)) == ordered


def test_columns_are_lettered_as_in_a_spreadsheet() -> None:
    """Against openpyxl."""
    from openpyxl.utils import get_column_letter

    assert [column_letters(n) for n in range(800)] == [get_column_letter(n + 1) for n in range(800)]


def test_the_same_sheet_gives_the_same_bytes(knowledge: Knowledge) -> None:
    grid = grid_of(open_document(SHEETS[0]).as_read, knowledge)
    assert xlsx_bytes(grid) == xlsx_bytes(grid)


def test_files_that_a_sheet_names_are_found_from_another_folder(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b/c").mkdir(parents=True)
    (tmp_path / "m.yaml").touch()
    (tmp_path / "a/early.yaml").touch()
    data = {"machine": "../m.yaml", "baseline": ["early.yaml", "gone.yaml"], "confirmed": [{"after": "early.yaml"}]}
    assert from_folder(data, tmp_path / "a", tmp_path / "b/c") == {
        "machine": "../../m.yaml", "baseline": ["../../a/early.yaml", "gone.yaml"],
        "confirmed": [{"after": "../../a/early.yaml"}],
    }  # fmt: skip


# --- safety -----------------------------------------------------------------------------

HEAD = f"Oilpath,sheet/1\nMachine,{MACHINE}\n\n"
RISKY = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""what spreadsheets may take for a formula: the OWASP page on CSV injection, from memory"""


def problems(content: bytes, knowledge: Knowledge) -> tuple[Problem, ...]:
    with pytest.raises(UnusableInput) as raised:
        load_grid("table", knowledge, content=content)
    return raised.value.problems


def workbook(*rows: list[Any]) -> bytes:
    book = Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


START: list[list[Any]] = [["Oilpath", "sheet/1"], ["Machine", str(MACHINE)], [], ["Test", "Unit", "Reading 1", "Note"]]


@given(text=st.sampled_from(RISKY).flatmap(lambda start: texts.map(lambda text: start + text)))
@settings(max_examples=50)
def test_cells_that_begin_like_a_formula_are_safe(text: str) -> None:
    for cell in next(csv.reader(io.StringIO(csv_text([["Note", text]]), newline=""))):
        # A number is a number, whatever its sign.
        assert not cell.startswith(RISKY) or re.fullmatch(r"[+-]?[0-9.]+([eE][+-]?[0-9]+)?", cell)
    if "\r" not in text:
        (row,) = load_workbook(io.BytesIO(xlsx_bytes([["Note", text]]))).active.iter_rows()
        assert (row[1].data_type, row[1].value) == ("s", text)


def test_a_formula_is_a_problem_of_its_cell_and_is_not_worked_out(knowledge: Knowledge) -> None:
    (found,) = problems(workbook(*START, ["pilot-pressure", "MPa", "=3+0.9", None]), knowledge)
    assert (found.line, found.key) == (5, "C5")
    assert "formula" in found.message


def test_a_formula_in_a_csv_file_is_a_text_that_is_no_reading(knowledge: Knowledge) -> None:
    (found,) = problems(f"{HEAD}Test,Unit,Reading 1\npilot-pressure,MPa,=3+0.9\n".encode(), knowledge)
    assert (found.line, found.key) == (5, "C5 Reading 1")


def test_links_and_macros_are_not_followed(knowledge: Knowledge) -> None:
    """A part for macros, and a link to another workbook that does not exist."""
    content = io.BytesIO(workbook(*START, ["pilot-pressure", "MPa", 3.9, None]))
    with zipfile.ZipFile(content, "a") as archive:
        archive.writestr("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0 no macro at all")
        archive.writestr("xl/externalLinks/externalLink1.xml", b"<externalLink/>")
    sheet, _, _ = load_grid("table", knowledge, content=content.getvalue())
    assert sheet.readings[0].values == (3.9e6,)


def test_entities_and_archives_that_unpack_to_too_much_are_refused(knowledge: Knowledge) -> None:
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b" " * 60_000_000)
    entities = io.BytesIO(workbook(*START))
    with zipfile.ZipFile(entities, "a") as archive:
        archive.writestr("xl/more.xml", b'<!DOCTYPE x [<!ENTITY a "aaaa">]><x>&a;</x>')
    for content in (bomb.getvalue(), entities.getvalue(), b"x" * (MAX_BYTES + 1), b"PK\x03\x04 nothing"):
        assert len(problems(content, knowledge)) == 1


# --- what people write ------------------------------------------------------------------


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_usual_delimiters_encodings_and_words_are_taken(delimiter: str, encoding: str, knowledge: Knowledge) -> None:
    rows = ["Oilpath,sheet/1", f"MACHINE,{MACHINE}", "conditions: Oil Temperature,54 °C", "unit number,007", "",
            "test,Function,unit,Reading 1,reading 2,Note", "Cycle time,Boom raise,s,4.8,4.7,kühl"]  # fmt: skip
    content = "\r\n".join(row.replace(",", delimiter) for row in rows).encode(encoding)
    sheet, _, _ = load_grid("table", knowledge, content=content)
    (reading,) = sheet.readings
    assert (reading.id, reading.values, reading.note) == ("cycle-time/boom-raise", (4.8, 4.7), "kühl")
    assert sheet.unit_number == "007"
    assert sheet.conditions.oil_temperature == pytest.approx(327.15)


def test_numbers_dates_and_shares_of_a_workbook_are_taken(knowledge: Knowledge) -> None:
    import datetime

    content = workbook(["Oilpath", "sheet/1"], ["Machine", str(MACHINE)], ["Date", datetime.datetime(2026, 5, 14)],
                       ["Unit number", 123], ["Hours", 8450.0], [], ["Test", "Unit", "Reading 1"],
                       ["pilot-pressure", "MPa", 3.9])  # fmt: skip
    sheet, _, _ = load_grid("table", knowledge, content=content)
    assert (sheet.date, sheet.unit_number, sheet.hours) == ("2026-05-14", "123", 8450.0)


@pytest.mark.parametrize(
    ("rows", "line", "key", "fragment"),
    [
        ("Test,Unit,Reading 1\npilot-pressure,,3.9", 5, "C5 Reading 1", "no unit"),
        ('Test,Unit,Reading 1\npilot-pressure,MPa,"3,9"', 5, "C5 Reading 1", "comma"),
        ("Test,Reading 1\npilot-presure,3.9 MPa", 5, "A5 Test", "did you mean pilot-pressure"),
        ("Test,Colour,Reading 1\npilot-pressure,red,3.9 MPa", 5, "B5 Colour", "is not a key"),
        ("Test,Unit,Reading 1,Reading 2\npilot-pressure,MPa,3.9,x", 5, "D5 Reading 2", "number"),
        ("Test,Test,Reading 1\npilot-pressure,,3.9 MPa", 4, "B4 Test", "two columns"),
        ("Test,Reading 1\npilot-pressure,3.9 MPa,stray", 5, "C5", "without a name"),
        ("Test,Function,Unit,Reading 1\ncycle-time,,s,4.8", 5, "readings[0].function", "is missing"),
    ],
)
def test_mistakes_have_their_row_and_column(
    rows: str, line: int, key: str, fragment: str, knowledge: Knowledge
) -> None:
    found = problems((HEAD + rows + "\n").encode(), knowledge)
    fitting = [one for one in found if fragment in f"{one.message}; {one.accepted}"]
    assert [(one.line, one.key) for one in fitting] == [(line, key)], [str(one) for one in found]


def test_rows_without_a_reading_are_left_out_and_counted(knowledge: Knowledge) -> None:
    rows = "Test,Function,Sign,Seen,Unit,Reading 1,Limit\n"
    rows += "pilot-pressure,,,,MPa,3.9,x\ncycle-time,arm-in,,,s,,max 3 s\nsign,,foamy-oil,,,,\n"
    sheet, _, empty = load_grid("table", knowledge, content=(HEAD + rows).encode())
    assert [reading.id for reading in sheet.readings] == ["pilot-pressure"]
    assert empty == 2


# --- whatever is done to a good file ----------------------------------------------------


def mutated(content: bytes, rng: random.Random) -> bytes:
    """Bytes changed, taken out, put in, moved or cut off."""
    changed = bytearray(content)
    for _ in range(rng.randint(1, 6)):
        if not changed:
            break
        at = rng.randrange(len(changed))
        match rng.randrange(6):
            case 0:
                changed[at] = rng.randrange(256)
            case 1:
                del changed[at : at + rng.randint(1, 40)]
            case 2:
                changed[at:at] = rng.choice(
                    [b",", b'"', b"\n", b"=1+1", b";", b"Reading 1", b"#2", b": ", b"\x00", b"\xff", b"1e999"]
                )
            case 3:
                changed[at:at] = changed[: rng.randint(1, 60)]
            case 4:
                changed = changed[: max(1, at)]
            case _:
                end = rng.randrange(len(changed))
                changed[at : at + 20] = changed[end : end + 20]
    return bytes(changed)


def inside(content: bytes, rng: random.Random) -> bytes:
    """A workbook with one of its parts changed."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as archive, zipfile.ZipFile(out, "w") as made:
        names = archive.namelist()
        chosen = rng.choice([name for name in names if name.endswith(".xml")])
        for name in names:
            data = archive.read(name)
            made.writestr(name, mutated(data, rng) if name == chosen else data)
    return out.getvalue()


@pytest.mark.parametrize("form", FORMS)
def test_a_mutated_file_is_read_or_refused_with_row_and_column(form: str, knowledge: Knowledge) -> None:
    """150 of each form; a workbook's archive and what is packed in it."""
    rng = random.Random(7)
    good = FORMS[form](grid_of(open_document(SHEETS[0]).as_read, knowledge))
    read, refused = 0, []
    for number in range(150):
        content = inside(good, rng) if form == "xlsx" and number % 2 else mutated(good, rng)
        try:
            load_grid(SHEETS[0], knowledge, content=content)
            read += 1
        except UnusableInput as error:
            refused.append(error)
    assert read
    assert refused
    assert all(error.problems and all(one.line >= 1 for one in error.problems) for error in refused)


def test_an_empty_file_is_refused(knowledge: Knowledge) -> None:
    for content in (b"", b"\n\n", b",,,\n"):
        assert [one.key for one in problems(content, knowledge)] == ["machine"]
    assert grid_from(b"", "t") == []
