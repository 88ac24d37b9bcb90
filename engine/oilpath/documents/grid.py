"""A test sheet as a grid of cells, for CSV files and workbooks: columns whose names are words, and back.

The head stands first, one key a row with its values beside it. Then come the readings under a row of column names that
begins with `Test`. A key within another is `Veer: offset`, an entry of a list `Log #1: after`. What a test measures
stands in `Reading 1`, `Reading 2` …; a bare number there has the unit of the column `Unit`. The column `Limit` is for
people and is not read.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import field
from typing import Any, Final

from oilpath.documents.location import KeyPath
from oilpath.documents.scalars import BadScalar, resolved
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.fields import TEXT_KEYS
from oilpath.problems import Problems
from oilpath.records import dataclass

Cell = str | int | float | bool | None
Grid = list[list[Cell]]

TEST: Final = "Test"
UNIT: Final = "Unit"
LIMIT: Final = "Limit"
READING: Final = "Reading"
MAX_ROWS: Final = 4000
MAX_COLUMNS: Final = 400
_MOST_READINGS: Final = 100
_LAST: Final = ("note",)
_WORDS_OF: Final = ("readings", "conditions")
"""keys under which a word may be written with blanks and capitals"""
_WORD: Final = re.compile(r"[A-Za-z][A-Za-z0-9 -]*")
_AMOUNT: Final = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?) (\S.*)")
_NUMBER: Final = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?")
_NUMBERED: Final = re.compile(r"(.*?)\s*#\s*([0-9]{1,4})")
_READING: Final = re.compile(r"reading\s*([0-9]{1,3})?")


class NoName(ValueError):
    """A key that no column name can say."""


# --- names ------------------------------------------------------------------------------


def name_of(path: KeyPath) -> str:
    """What a column or a row of the head is called: `Oil start`, `Veer: offset`, `Log #1: after`."""
    said: list[str] = []
    for step in path:
        if isinstance(step, int):
            said[-1] += f" #{step + 1}"
        else:
            said.append(step.replace("-", " "))
    name = ": ".join(said)
    if path_of(name) != path:
        raise NoName(name)
    return name[:1].upper() + name[1:]


def path_of(name: str) -> KeyPath:
    """The path that a name stands for."""
    path: list[str | int] = []
    for piece in name.split(":"):
        found = _NUMBERED.fullmatch(piece.strip())
        path.append(_slug(found.group(1) if found else piece))
        if found:
            path.append(max(0, int(found.group(2)) - 1))
    return tuple(path)


def _slug(text: str) -> str:
    return re.sub(r"\s+", "-", text.strip()).lower()


def column_letters(number: int) -> str:
    """The letters of a column from 0: A, B … Z, AA."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


# --- a sheet as a grid ------------------------------------------------------------------


def grid_of(data: Mapping[str, Any], knowledge: Knowledge) -> Grid:
    """The grid of a valid sheet's plain data. Raises NoName for a key that no name can say."""
    head = [
        [name_of(path), *values]
        for key, value in data.items()
        if key != "readings"
        for path, values in _flat(value, (key,))
    ]
    rows = [_row(reading, knowledge) for reading in data.get("readings") or ()]
    columns = _columns(rows)
    return [*head, [], list(columns), *([row.get(name) for name in columns] for row in rows)]


def _flat(value: Any, path: KeyPath) -> Iterator[tuple[KeyPath, list[Cell]]]:
    """Every value below a key with its path; a list of plain values is one entry."""
    if isinstance(value, Mapping):
        for key, one in value.items():
            yield from _flat(one, (*path, key))
    elif isinstance(value, list):
        if not any(isinstance(one, Mapping | list) for one in value):
            if kept := [one for one in value if one is not None]:
                yield path, kept
            return
        for number, one in enumerate(value):
            yield from _flat(one, (*path, number))
    elif value is not None:
        yield path, [value]


def _row(reading: Mapping[str, Any], knowledge: Knowledge) -> dict[str, Cell]:
    """The cells of a reading by the names of their columns."""
    kind = knowledge.tests.get(str(reading.get("test")))
    measured = kind.value if kind is not None else None
    row: dict[str, Cell] = {}
    for key, value in reading.items():
        if key == measured:
            row.update(_readings(value))
            continue
        for path, values in _flat(value, (key,)):
            if isinstance(value, list) and path == (key,):
                row.update({name_of((key, number)): one for number, one in enumerate(values)})
            else:
                row[name_of(path)] = values[0]
    return row


def _readings(value: Any) -> dict[str, Cell]:
    values = value if isinstance(value, list) else [value]
    found = [_AMOUNT.fullmatch(one) if isinstance(one, str) else None for one in values]
    units = {match.group(2) for match in found if match is not None}
    if len(units) == 1 and None not in found:
        numbers = [match.group(1) for match in found if match is not None]
        return {UNIT: units.pop(), **{f"{READING} {n}": number for n, number in enumerate(numbers, 1)}}
    return {f"{READING} {n}": one for n, one in enumerate(values, 1)}


def _columns(rows: Iterable[Mapping[str, Cell]]) -> tuple[str, ...]:
    """The columns in their order: the test, what places it, unit and readings, what lies within a key, the note."""
    names = list(dict.fromkeys(name for row in rows for name in row))

    def place(name: str) -> tuple[int, int]:
        numbered = _READING.fullmatch(name.lower())
        if numbered and numbered.group(1):
            return 3, int(numbered.group(1))
        special = {TEST: 0, UNIT: 2, LIMIT: 5}.get(name)
        if special is not None:
            return special, 0
        if path_of(name) == _LAST:
            return 6, 0
        return (4 if ":" in name or "#" in name else 1), names.index(name)

    return tuple(sorted(dict.fromkeys((TEST, *names)), key=place))


# --- a grid as a sheet ------------------------------------------------------------------


@dataclass(slots=True)
class Gridded:
    """What a grid says: plain data, the row of every path, the cell of every value, rows that hold no reading."""

    data: dict[str, Any] = field(default_factory=dict)
    rows: dict[KeyPath, int] = field(default_factory=dict)
    names: dict[KeyPath, str] = field(default_factory=dict)
    empty: int = 0


class _Taken(Exception):
    """A place that another cell has filled, or that holds another kind of entry."""


def data_of_grid(grid: Sequence[Sequence[Cell]], knowledge: Knowledge, shown: str, problems: Problems) -> Gridded:
    """The plain data of a grid with its places; what cannot be read is added to `problems`, by row and column."""
    found = Gridded()
    if len(grid) > MAX_ROWS or any(len(row) > MAX_COLUMNS for row in grid):
        problems.add(shown, 1, "-", f"more than {MAX_ROWS:,} rows or {MAX_COLUMNS} columns", "a smaller table")
        return found
    first = next((n for n, row in enumerate(grid) if row and _is(row[0], TEST)), len(grid))
    for number, row in enumerate(grid[:first], 1):
        _head(number, row, found, shown, problems)
    if first < len(grid):
        _body(grid, first, found, knowledge, shown, problems)
    found.data = _with_lists(found.data, (), found)
    found.data.setdefault("oilpath", "sheet/1")
    found.data.setdefault("readings", [])
    found.rows.setdefault((), 1)
    return found


def _is(cell: Cell, name: str) -> bool:
    return isinstance(cell, str) and cell.strip().lower() == name.lower()


def _blank(cell: Cell) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _head(number: int, row: Sequence[Cell], found: Gridded, shown: str, problems: Problems) -> None:
    if not row or all(_blank(cell) for cell in row):
        return
    cells = [(column, cell) for column, cell in enumerate(row) if column and not _blank(cell)]
    if not isinstance(row[0], str) or _blank(row[0]):
        key = f"{column_letters(cells[0][0])}{number}" if cells else f"A{number}"
        problems.add(shown, number, key, "has no key beside it", "the name of a key in column A, such as Unit number")
        return
    path = path_of(row[0])
    if not cells:
        return
    for place, (column, cell) in enumerate(cells):
        own = path if len(cells) == 1 else (*path, place)
        _put(own, cell, number, column, row[0].strip(), found, shown, problems)


def _body(
    grid: Sequence[Sequence[Cell]], first: int, found: Gridded, knowledge: Knowledge, shown: str, problems: Problems
) -> None:
    names = [str(cell).strip() if not _blank(cell) else "" for cell in grid[first]]
    for column, name in enumerate(names):
        if not name or name.lower() not in (one.lower() for one in names[:column]):
            continue
        key = f"{column_letters(column)}{first + 1} {name}"
        problems.add(shown, first + 1, key, "two columns have this name", "each column once")
    count = 0
    for number, row in enumerate(grid[first + 1 :], first + 2):
        cells = {column: cell for column, cell in enumerate(row) if not _blank(cell)}
        if not cells:
            continue
        if _reading(count, number, cells, names, found, knowledge, shown, problems):
            count += 1
        else:
            found.empty += 1


def _reading(
    count: int, number: int, cells: Mapping[int, Cell], names: Sequence[str], found: Gridded, knowledge: Knowledge,
    shown: str, problems: Problems,
) -> bool:  # fmt: skip
    """One row of readings; False if nothing is filled in but what says which reading it is."""
    by_name = {names[column].lower(): cell for column, cell in cells.items() if column < len(names)}
    test = _slug(str(by_name.get("test", "")))
    kind = knowledge.tests.get(test)
    measured = [column for column in cells if column < len(names) and _READING.fullmatch(names[column].lower())]
    said = (
        bool(measured) if kind is not None and kind.value is not None
        else any(name in by_name for name in ("seen", "active", "outcome")) or kind is None
    )  # fmt: skip
    others = {"test", "limit", "unit", *kind.id, *kind.keys} if kind is not None else set()
    if not said and not any(path_of(name)[0] not in others for name in by_name):
        return False
    base: KeyPath = ("readings", count)
    found.rows[base] = number
    unit = by_name.get("unit")
    place = 0
    for column, cell in cells.items():
        name = names[column] if column < len(names) else ""
        if name.lower() in ("unit", "limit"):
            continue
        if column in measured:
            own = ("reading",) if kind is None or kind.value is None else (kind.value,)
            cell = _with_unit(cell, unit)
            path = (*base, *own) if len(measured) == 1 else (*base, *own, place)
            place += 1
        elif not name:
            key = f"{column_letters(column)}{number}"
            problems.add(shown, number, key, "stands in a column without a name", "a name in the row of column names")
            continue
        else:
            path = (*base, *path_of(name))
        _put(path, cell, number, column, name, found, shown, problems)
    return True


def _with_unit(cell: Cell, unit: Cell) -> Cell:
    bare = isinstance(cell, int | float) and not isinstance(cell, bool)
    bare = bare or (isinstance(cell, str) and _NUMBER.fullmatch(cell.strip()) is not None)
    return f"{str(cell).strip()} {str(unit).strip()}" if bare and not _blank(unit) else cell


def _put(
    path: KeyPath, cell: Cell, number: int, column: int, name: str, found: Gridded, shown: str, problems: Problems
) -> None:
    """One cell at its path."""
    key = f"{column_letters(column)}{number} {name}"
    holder: dict[Any, Any] = found.data
    try:
        for step in path[:-1]:
            holder = holder.setdefault(step, {})
            if not isinstance(holder, dict):
                raise _Taken
        if path[-1] in holder:
            raise _Taken
    except _Taken:
        problems.add(shown, number, key, "stands twice, or both alone and with something below it", "each name once")
        return
    holder[path[-1]] = _value(cell, path)
    found.rows[path] = number
    found.names[path] = key
    for length in range(1, len(path)):
        found.rows.setdefault(path[:length], number)


def _value(cell: Cell, path: KeyPath) -> Any:
    """The value of a cell as it would be read from a file."""
    key = next((step for step in reversed(path) if isinstance(step, str)), "")
    if key in TEXT_KEYS:
        return ("true" if cell else "false") if isinstance(cell, bool) else str(cell)
    if not isinstance(cell, str):
        return int(cell) if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15 else cell
    text = cell.strip()
    try:
        value = resolved(text)
    except BadScalar:
        return text
    if isinstance(value, str) and path[0] in _WORDS_OF and _WORD.fullmatch(value):
        return _slug(value)
    return value


def _with_lists(value: Any, path: KeyPath, found: Gridded) -> Any:
    """Mappings by number as lists; a gap closes, and the places move with it."""
    if not isinstance(value, dict):
        return value
    if value and all(isinstance(key, int) for key in value):
        made = []
        for number, key in enumerate(sorted(value)):
            if number != key:
                _move(found, (*path, key), (*path, number))
            made.append(_with_lists(value[key], (*path, number), found))
        return made
    return {str(key): _with_lists(one, (*path, key), found) for key, one in value.items()}


def _move(found: Gridded, old: KeyPath, new: KeyPath) -> None:
    tables: tuple[dict[KeyPath, Any], ...] = (found.rows, found.names)
    for table in tables:
        for path in [one for one in table if one[: len(old)] == old]:
            table[(*new, *path[len(old) :])] = table.pop(path)
