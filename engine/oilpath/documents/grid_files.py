"""Grids in files: CSV (RFC 4180) and workbooks of Office Open XML (ECMA-376, .xlsx).

Nothing in a file is run or followed: a formula is a problem of its cell, links and macros are not looked at. A text
that a spreadsheet would take for a formula is written so that it stays a text.
"""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
from collections.abc import Sequence
from pathlib import PurePath
from typing import Any, Final, Literal

from oilpath.documents.grid import MAX_COLUMNS, MAX_ROWS, READING, TEST, Cell, Grid, column_letters
from oilpath.problems import Problem, Problems, UnusableInput

Form = Literal["csv", "xlsx"]
MAX_BYTES: Final = 4 * 1024 * 1024
_UNPACKED: Final = 48 * 1024 * 1024
_MEMBERS: Final = 1000

#: What a spreadsheet may take for the start of a formula, full-width forms included, and our own mark.
_RISKY: Final = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20", "'")
_MARK: Final = "'"
_NUMBER: Final = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?")
_DECIMALS: Final = re.compile(r"0\.(0{1,9})")
_ODD: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_EPOCH: Final = (1980, 1, 1, 0, 0, 0)  # the earliest that a ZIP archive can state
_STAMP: Final = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
_DOCTYPE: Final = (b"<!DOCTYPE", "<!DOCTYPE".encode("utf-16-le"), "<!DOCTYPE".encode("utf-16-be"))


def form_of(name: str) -> Form | None:
    """The form of a file by the end of its name."""
    return {".csv": "csv", ".tsv": "csv", ".xlsx": "xlsx", ".xlsm": "xlsx"}.get(PurePath(name).suffix.lower())  # type: ignore[return-value]


def grid_from(content: bytes, shown: str) -> Grid:
    """The grid of a CSV file or a workbook; its first bytes say which. Raises UnusableInput."""
    if len(content) > MAX_BYTES:
        raise UnusableInput([Problem(shown, 1, "-", "the file is larger than 4 MiB", "a smaller table")])
    return _workbook(content, shown) if content.startswith(b"PK") else _csv(content, shown)


# --- CSV --------------------------------------------------------------------------------


def csv_text(grid: Sequence[Sequence[Cell]]) -> str:
    """The grid as CSV with the line ends of RFC 4180."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    width = max((len(row) for row in grid), default=0)
    for row in grid:
        writer.writerow([_safe(cell) for cell in (*row, *([None] * (width - len(row))))])
    return out.getvalue()


def _safe(cell: Cell) -> str:
    """A cell as text that no spreadsheet takes for a formula."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if not isinstance(cell, str):
        return repr(cell)
    return f"{_MARK}{cell}" if cell.startswith(_RISKY) and not _NUMBER.fullmatch(cell) else cell


def _csv(content: bytes, shown: str) -> Grid:
    text = _decoded(content, shown)
    odd = _ODD.search(text)
    if odd is not None:
        row = 1 + text.count("\n", 0, odd.start())
        raise UnusableInput([Problem(shown, row, "-", "holds a character that is not text", "a CSV file in UTF-8")])
    if text[:5].lower().startswith("sep=") and "\n" in text:  # a hint that some spreadsheets write
        text = text[text.index("\n") + 1 :]
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text)))
    except csv.Error as error:
        raise UnusableInput([Problem(shown, 1, "-", f"cannot be read as CSV: {error}", "a CSV file")]) from None
    return [[cell[1:] if cell.startswith(_MARK) else cell or None for cell in row] for row in rows]


def _decoded(content: bytes, shown: str) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return content.decode("utf-16")
        except UnicodeDecodeError:
            raise UnusableInput([Problem(shown, 1, "-", "the text is no UTF-16", "a CSV file in UTF-8")]) from None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")  # what spreadsheets on many a desk write as plain CSV


def _delimiter(text: str) -> str:
    """The first of the usual ones outside quotes."""
    found = re.search(r"[,;\t]", re.sub(r'"[^"]*"', "", text))
    return found.group() if found else ","


# --- workbooks --------------------------------------------------------------------------


def xlsx_bytes(grid: Sequence[Sequence[Cell]], title: str = "Test sheet") -> bytes:
    """The grid as a workbook, the same bytes for the same grid. A text that begins like a formula is a text."""
    from openpyxl import Workbook
    from openpyxl.styles import Font, PatternFill
    from openpyxl.utils import get_column_letter

    book = Workbook()
    sheet: Any = book.active
    sheet.title = title
    heads = [number for number, row in enumerate(grid, 1) if row and row[0] == TEST]
    names = list(grid[heads[0] - 1]) if heads else []
    for number, row in enumerate(grid, 1):
        for column, value in enumerate(row, 1):
            if value is None:
                continue
            cell = sheet.cell(number, column)
            name = names[column - 1] if heads and number > heads[0] and column <= len(names) else None
            _fill(cell, value, str(name or ""))
            if number in heads or (column == 1 and (not heads or number < heads[0])):
                cell.font = Font(bold=True)
            if number in heads:
                cell.fill = PatternFill("solid", fgColor="FFE8E8E8")
    for column in range(1, max((len(row) for row in grid), default=0) + 1):
        widest = max(
            (len(str(row[column - 1])) for row in grid if len(row) >= column and row[column - 1] is not None), default=6
        )
        sheet.column_dimensions[get_column_letter(column)].width = min(40, max(8, widest + 2))
    if heads:
        sheet.freeze_panes = f"B{heads[0] + 1}"
    out = io.BytesIO()
    book.save(out)
    return _same_each_time(out.getvalue())


def _fill(cell: Any, value: Cell, name: str) -> None:
    if isinstance(value, str) and name.startswith(READING) and _NUMBER.fullmatch(value):
        decimals = len(value.partition(".")[2]) if "e" not in value.lower() else 0
        cell.number_format = f"0.{'0' * decimals}" if decimals else "General"
        value = float(value)
    cell.value = value
    if isinstance(value, str):
        cell.data_type = "s"
        cell.quotePrefix = value.startswith(_RISKY)


def _same_each_time(content: bytes) -> bytes:
    """The archive without the time at which it was made."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as made, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as kept:
        for name in made.namelist():
            data = (
                _STAMP.sub(rb"\g<1>2000-01-01T00:00:00Z", made.read(name))
                if name == "docProps/core.xml"
                else made.read(name)
            )
            kept.writestr(zipfile.ZipInfo(name, _EPOCH), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _workbook(content: bytes, shown: str) -> Grid:
    wanted = "a workbook saved as .xlsx"
    try:
        _look_into(content)
    except _Refused as error:
        raise UnusableInput([Problem(shown, 1, "-", str(error), wanted)]) from None
    except Exception:  # whatever a broken archive makes the library raise
        raise UnusableInput([Problem(shown, 1, "-", "cannot be read as a workbook", wanted)]) from None
    problems = Problems()
    try:
        grid = _cells(content, shown, problems)
    except Exception:  # whatever a broken workbook makes the library raise
        raise UnusableInput([Problem(shown, 1, "-", "cannot be read as a workbook", wanted)]) from None
    problems.raise_if_any()
    return grid


class _Refused(Exception):
    """An archive that is not unpacked."""


def _look_into(content: bytes) -> None:
    """Refuse what unpacks to too much, and entities, of which a workbook has none."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        members = archive.infolist()
        if len(members) > _MEMBERS or sum(one.file_size for one in members) > _UNPACKED:
            raise _Refused("unpacks to too much")
        for one in members:
            if one.filename.endswith((".xml", ".rels")):
                with archive.open(one) as file:
                    if any(mark in file.read(_UNPACKED) for mark in _DOCTYPE):
                        raise _Refused("declares a document type")


def _cells(content: bytes, shown: str, problems: Problems) -> Grid:
    import warnings

    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of extensions that the library leaves out
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False, keep_vba=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()  # what a file states of its size need not be so
        grid: Grid = []
        for number, row in enumerate(sheet.iter_rows(), 1):
            if number > MAX_ROWS or len(row) > MAX_COLUMNS:
                problems.add(
                    shown, number, "-", f"more than {MAX_ROWS:,} rows or {MAX_COLUMNS} columns", "a smaller table"
                )
                break
            grid.append([_cell(cell, number, column, shown, problems) for column, cell in enumerate(row)])
        book.close()
    while grid and all(cell is None for cell in grid[-1]):
        grid.pop()
    return grid


def _cell(cell: Any, row: int, column: int, shown: str, problems: Problems) -> Cell:
    value = cell.value
    kind = getattr(cell, "data_type", "n")
    key = f"{column_letters(column)}{row}"
    if value is None:
        return None
    if kind == "f" or not isinstance(value, str | int | float | datetime.date | datetime.time | datetime.timedelta):
        problems.add(shown, row, key, "holds a formula, which is not worked out", "the value itself")
        return None
    if kind == "e":
        problems.add(shown, row, key, "holds an error of the spreadsheet", "the value itself")
        return None
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return _number(value, str(cell.number_format))
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, datetime.timedelta):
        return str(value)
    if _ODD.search(value):
        problems.add(shown, row, key, "holds a character that is not text", "printable text")
        return None
    return value


def _number(value: int | float, format_: str) -> Cell:
    if value != value or value in (float("inf"), float("-inf")):
        return str(value)
    if format_.endswith("%"):
        return f"{value * 100:.12g} %"
    shown = _DECIMALS.fullmatch(format_)
    if shown is not None and float(text := f"{value:.{len(shown.group(1))}f}") == value:
        return text  # the zeros at the end that were written
    return value
