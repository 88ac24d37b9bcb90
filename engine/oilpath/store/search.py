"""Lists of machines and sheets: searched for, sorted, a page at a time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, Literal, get_args

import sqlalchemy as sql

from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.columns import folded
from oilpath.store.opening import Database

Order = Literal["newest", "oldest", "hours", "share", "saved", "name"]
MOST_WORDS: Final = 8


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A sheet in a list. machine: the name of its machine's document, None where it is inline; cause to stop_use are of
    its latest answer, None before the first; stale: that answer was made from what has changed since, or by another
    knowledge base; usable: False where the sheet had problems."""

    name: str
    number: int
    machine: str | None
    machine_title: str
    unit_number: str | None
    order_number: str | None
    serial_number: str | None
    hours: float | None
    date: str | None
    complaint: str | None
    readings: int
    closed: bool
    saved_at: str
    stale: bool
    usable: bool | None
    cause: str | None
    part: str | None
    title: str | None
    share: float | None
    stop_use: bool | None


@dataclass(frozen=True, slots=True)
class MachineRow:
    """A machine in a list, with how many sheets it has and the latest hours and date on them."""

    name: str
    number: int
    title: str
    circuit: str | None
    sheets: int
    hours: float | None
    date: str | None


@dataclass(frozen=True, slots=True)
class ConfirmedRow:
    """A confirmed cause of a closed job, as its sheet has it."""

    cause: str
    part: str | None
    how: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class Sheets:
    """A page of a list of sheets, and how many there are in all."""

    rows: tuple[SheetRow, ...]
    total: int


class Search:
    """What is looked for in one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def sheets(
        self,
        words: str = "",
        *,
        machine: str | None = None,
        unit_number: str | None = None,
        cause: str | None = None,
        stop_use: bool | None = None,
        closed: bool | None = None,
        answered_by: str | None = None,
        order: Order = "newest",
        start: int = 0,
        most: int = 50,
    ) -> Sheets:
        """A page of sheets.

        Parameters
        ----------
        words : str, each must stand in the sheet's name, numbers, date, complaint, history or in its machine's name
        machine : str, optional, the name of the machine's document
        unit_number, cause : str, optional
        stop_use, closed : bool, optional
        answered_by : str, optional, answers of another knowledge base count as stale
        order : by date from the newest or the oldest on, by hours, by the leading cause's share, by when it was saved
        start, most : int, the rows to give
        """
        sheet, document = tables.sheet.c, tables.document.c
        wanted: list[sql.ColumnElement[bool]] = [_has(word) for word in folded(words).split()[:MOST_WORDS]]
        for column, value in (
            (sheet.machine, machine), (sheet.unit_number, unit_number), (sheet.leading_cause, cause),
            (sheet.stop_use, stop_use), (sheet.closed, closed),
        ):  # fmt: skip
            if value is not None:
                wanted.append(column == value)
        rows = (
            sql.select(tables.sheet, document.name, document.head)
            .join(tables.document)
            .where(*wanted)
            .order_by(*_ORDERS[order], document.name)
            .offset(start)
            .limit(most)
        )
        count = sql.select(sql.func.count()).select_from(tables.sheet).where(*wanted)
        with self._database.reading() as connection:
            found = connection.execute(rows).all()
            total = connection.execute(count).scalar_one()
        return Sheets(tuple(_sheet_row(row, answered_by) for row in found), total)

    def count(self) -> int:
        """How many sheets there are."""
        with self._database.reading() as connection:
            return connection.execute(sql.select(sql.func.count()).select_from(tables.sheet)).scalar_one()

    def machines(self, words: str = "") -> tuple[MachineRow, ...]:
        """Machines by their titles, those that have all words in their name or title."""
        machine, document, sheet = tables.machine.c, tables.document.c, tables.sheet.c
        counts = (
            sql.select(
                sheet.machine,
                sql.func.count().label("sheets"),
                sql.func.max(sheet.hours).label("hours"),
                sql.func.max(sheet.date).label("date"),
            )
            .group_by(sheet.machine)
            .subquery()
        )
        query = (
            sql.select(
                document.name, document.head, machine.title, machine.circuit, counts.c.sheets, counts.c.hours,
                counts.c.date,
            )
            .join(tables.document)
            .outerjoin(counts, counts.c.machine == document.name)
            .where(*(machine.words.contains(word, autoescape=True) for word in folded(words).split()[:MOST_WORDS]))
        )  # fmt: skip
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        found = (MachineRow(r.name, r.head, r.title, r.circuit, r.sheets or 0, r.hours, r.date) for r in rows)
        return tuple(sorted(found, key=lambda one: (folded(one.title), one.name)))

    def over_time(self, machine: str, unit_number: str | None = None) -> tuple[SheetRow, ...]:
        """The sheets of one machine from the oldest to the latest, by hours, then by date: what a trend is made of."""
        sheet, document = tables.sheet.c, tables.document.c
        query = sql.select(tables.sheet, document.name, document.head).join(tables.document)
        query = query.where(sheet.machine == machine)
        if unit_number is not None:
            query = query.where(sheet.unit_number == unit_number)
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        found = [_sheet_row(row, None) for row in rows]
        return tuple(sorted(found, key=lambda one: (one.hours or 0.0, one.date or "", one.name)))

    def confirmed(self, names: Sequence[str]) -> dict[str, tuple[ConfirmedRow, ...]]:
        """The confirmed causes of some sheets, those of a sheet in the order in which it has them."""
        here, document = tables.confirmed.c, tables.document.c
        query = sql.select(document.name, here.cause, here.part, here.how, here.after).join_from(
            tables.confirmed, tables.document
        )
        found: dict[str, tuple[ConfirmedRow, ...]] = {}
        with self._database.reading() as connection:
            for name, *row in connection.execute(query.where(document.name.in_(names)).order_by(here.id)):
                found[name] = (*found.get(name, ()), ConfirmedRow(*row))
        return found

    def causes_found(self) -> tuple[tuple[str, int], ...]:
        """Confirmed causes of closed cases and how often each was found, the most frequent first."""
        cause, number = tables.confirmed.c.cause, sql.func.count().label("number")
        query = sql.select(cause, number).group_by(cause).order_by(number.desc(), cause)
        with self._database.reading() as connection:
            return tuple((row.cause, row.number) for row in connection.execute(query))


_BY_DATE: Final[Sequence[Any]] = (tables.sheet.c.date.desc().nulls_last(), tables.sheet.c.saved_at.desc())
_ORDERS: Final[dict[Order, Sequence[Any]]] = {
    "newest": _BY_DATE,
    "oldest": (tables.sheet.c.date.asc().nulls_last(), tables.sheet.c.saved_at.asc()),
    "hours": (tables.sheet.c.hours.desc().nulls_last(), *_BY_DATE),
    "share": (tables.sheet.c.share.desc().nulls_last(), *_BY_DATE),
    "saved": (tables.sheet.c.saved_at.desc(),),
    "name": (),
}
assert set(_ORDERS) == set(get_args(Order))


def _has(word: str) -> sql.ColumnElement[bool]:
    """A sheet with a word in itself or in its machine."""
    machines = (
        sql.select(tables.document.c.name)
        .join(tables.machine)
        .where(tables.machine.c.words.contains(word, autoescape=True))
    )
    return tables.sheet.c.words.contains(word, autoescape=True) | tables.sheet.c.machine.in_(machines)


def _sheet_row(row: Any, answered_by: str | None) -> SheetRow:
    other = row.answered_by is not None and answered_by is not None and row.answered_by != answered_by
    return SheetRow(
        row.name, row.head, row.machine, row.machine_title, row.unit_number, row.order_number, row.serial_number,
        row.hours, row.date, row.complaint, row.readings, bool(row.closed), row.saved_at, bool(row.stale) or other,
        row.usable, row.leading_cause, row.leading_part, row.leading_title, row.share, row.stop_use,
    )  # fmt: skip
