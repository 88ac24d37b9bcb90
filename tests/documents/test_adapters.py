"""A sheet in another form becomes the same draft: a table with rows and columns, a form with fields.

The adapters here are as small as can be; they show that problems name the place where a person looks for them.
"""

import csv
import io
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_sheet, sheet_from
from oilpath.documents.location import TablePlaces
from oilpath.documents.sheet import Sheet
from oilpath.knowledge.base import Knowledge
from oilpath.problems import UnusableInput

TABLE = """\
machine,machine.yaml
hours,8450
complaint,Slow when digging
test,function,times,pressure
cycle-time,boom-raise,4.8 s | 4.7 s,
pilot-pressure,,,3.9 MPa
"""


def repeats(cell: str) -> str | list[str]:
    return cell.split(" | ") if " | " in cell else cell


def from_table(text: str, folder: Path, knowledge: Knowledge) -> Sheet:
    """Rows of `key,value`, then a row of headings, then a reading a row; repeats of a value are parted by a bar."""
    data: dict[str, Any] = {"oilpath": "sheet/1", "readings": []}
    rows: dict[tuple[str | int, ...], int] = {}
    names: dict[tuple[str | int, ...], str] = {}
    headings: list[str] = []
    for number, row in enumerate(csv.reader(io.StringIO(text)), start=1):
        if headings:
            place = ("readings", len(data["readings"]))
            cells = {
                key: cell.split(" | ") if " | " in cell else cell for key, cell in zip(headings, row, strict=False)
            }
            data["readings"].append({key: cell for key, cell in cells.items() if cell})
            rows[place], names[place] = number, f"row {number}"
            for column, key in enumerate(headings):
                names[*place, key] = f"{'ABCDEFG'[column]}{number} ({key})"
        elif row[0] == "test":
            headings = row
        else:
            data[row[0]] = float(row[1]) if row[0] == "hours" and row[1].isdigit() else row[1]
            rows[row[0],], names[row[0],] = number, f"B{number} ({row[0]})"
    return sheet_from(data, TablePlaces(rows, names), shown="sheet.csv", folder=folder, knowledge=knowledge)


def test_a_table_gives_the_sheet_that_a_file_gives(yard: Path, knowledge: Knowledge) -> None:
    written = (
        "oilpath: sheet/1\nmachine: machine.yaml\nhours: 8450\ncomplaint: Slow when digging\nreadings:\n"
        "  - {test: cycle-time, function: boom-raise, times: [4.8 s, 4.7 s]}\n"
        "  - {test: pilot-pressure, pressure: 3.9 MPa}\n"
    )
    file = load_sheet(yard / "sheet.yaml", knowledge, text=written)
    table = from_table(TABLE, yard, knowledge)
    assert table.machine.content == file.machine.content
    assert (table.hours, table.complaint) == (8450, "Slow when digging")
    assert [(one.id, one.values, one.keys) for one in table.readings] == [
        (one.id, one.values, one.keys) for one in file.readings
    ]
    assert [one.line for one in table.readings] == [5, 6]


def test_every_problem_of_a_table_names_its_row_and_cell(yard: Path, knowledge: Knowledge) -> None:
    broken = (
        TABLE.replace("8450", "many").replace("boom-raise", "boom-rise").replace("4.7 s", "4.7")
        + "cycletime,boom-raise,4 s,\npilot-pressure,,,3.8 MPa\n"
    )  # fmt: skip
    with pytest.raises(UnusableInput) as caught:
        from_table(broken, yard, knowledge)
    said = [(p.file, p.line, p.key, p.accepted) for p in caught.value.problems]
    assert [one[:3] for one in said] == [
        ("sheet.csv", 2, "B2 (hours)"),
        ("sheet.csv", 5, "B5 (function)"),
        ("sheet.csv", 5, "C5 (times)"),
        ("sheet.csv", 7, "A7 (test)"),
        ("sheet.csv", 8, "row 8"),
    ]
    assert said[1][3] == "did you mean boom-raise?"
    assert "on line 6" in caught.value.problems[4].message


def test_a_form_gives_the_field_that_is_wrong(yard: Path, knowledge: Knowledge) -> None:
    fields = {"machine": "machine.yaml", "date": "30.02.2026", "technician": " "}
    names: dict[tuple[str | int, ...], str] = {
        (key,): f"field {number}: {key.title()}" for number, key in enumerate(fields, start=1)
    }
    data = {"oilpath": "sheet/1", "readings": [], **fields}
    with pytest.raises(UnusableInput) as caught:
        sheet_from(data, TablePlaces({}, names), shown="form", folder=yard, knowledge=knowledge)
    assert [str(problem) for problem in caught.value.problems] == [
        "form:1: field 3: Technician: is empty; some text, or leave the key out",
        "form:1: field 2: Date: is not a date; YYYY-MM-DD, such as 2026-05-14",
    ]


def test_a_key_that_is_missing_is_one_problem_of_the_document(yard: Path, knowledge: Knowledge) -> None:
    with pytest.raises(UnusableInput) as caught:
        sheet_from({"oilpath": "sheet/1"}, TablePlaces({}, {}), shown="form", folder=yard, knowledge=knowledge)
    assert [(p.line, p.key) for p in caught.value.problems] == [(1, "machine"), (1, "readings")]
