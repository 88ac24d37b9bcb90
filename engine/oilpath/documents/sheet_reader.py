"""The test sheet, `oilpath: sheet/1`: its head, its machine, its readings and the earlier sheets that it names.

All problems are found at once. Earlier sheets are read as this one is, but for what they name themselves.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from oilpath.documents import walk
from oilpath.documents.machine_reader import ReadMachine, read_machine
from oilpath.documents.machine_scope import MachineScope
from oilpath.documents.paths import is_kind, named_sheets, open_named, same_file, sheet_names
from oilpath.documents.reading_reader import read_conditions, read_reading
from oilpath.documents.sheet import Confirmed, InstrumentData, Reading, Sheet
from oilpath.documents.walk import Fields, Location
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.layers import machine_file
from oilpath.units import sample

KEYS: Final = (
    "oilpath", "machine", "unit-number", "order-number", "serial-number", "technician", "hours", "date", "complaint",
    "history", "conditions", "instruments", "readings", "baseline", "confirmed",
)  # fmt: skip
_CAUSE: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*\.[a-z0-9]+(?:-[a-z0-9]+)*|unknown|none")
_MOST_HOURS: Final = 200_000.0
_MOST_CLASS: Final = 20.0


def read_sheet(location: Location, name: str, knowledge: Knowledge) -> Sheet | None:
    """The sheet at `location` with its machine and earlier sheets; None after noting all that is wrong."""
    return _Reader(knowledge).sheet(location, name)


class _Reader:
    """Reads one sheet and the earlier ones that it names; a machine file that they share is read once."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.machines: dict[Path, ReadMachine] = {}

    def sheet(self, location: Location, name: str, *, follow: bool = True) -> Sheet | None:
        """The sheet at `location`. An earlier one is read with `follow` false: no other sheet is opened for it."""
        return _sheet(location, name, self, follow)

    def machine(self, top: Location) -> ReadMachine:
        """The machine of a file that a sheet names."""
        path = top.file.path
        assert path is not None
        key = path.resolve()
        if key not in self.machines:
            self.machines[key] = read_machine(top, self.knowledge)
        return self.machines[key]

    def earlier(
        self, own: Location, named: tuple[Location, ...], of_machine: tuple[Location, ...]
    ) -> tuple[Sheet, ...]:
        """The sheets that a sheet and its machine file name as its baseline, each once."""
        sheets: dict[Path, Sheet | None] = {}
        for place in (*named, *of_machine):
            top = open_named(place, "sheet")
            if top is None or top.file.path is None:
                continue
            if same_file(top.file.path, own.file.path):
                if place not in of_machine:  # a machine file may well name the sheet that is being looked at
                    place.wrong("the sheet names itself", "another sheet of this machine")
                continue
            key = top.file.path.resolve()
            if key not in sheets:
                sheets[key] = self.sheet(top, top.file.shown, follow=False)
        return tuple(sheet for sheet in sheets.values() if sheet is not None)


def _sheet(location: Location, name: str, reader: _Reader, follow: bool) -> Sheet | None:
    knowledge = reader.knowledge
    if not is_kind(location, "sheet"):
        return None
    fields = Fields(location, "a sheet")
    before = len(location.file.problems)
    fields.close(KEYS)
    read = _machine(fields, reader)
    conditions = read_conditions(fields.get("conditions"))
    readings = _readings(fields, read.scope, knowledge)
    unit, order, serial, technician, complaint = (
        _text(fields, key) for key in ("unit-number", "order-number", "serial-number", "technician", "complaint")
    )
    hours, date, history = fields.get("hours"), fields.get("date"), fields.get("history")
    worked = walk.number(hours, "nonnegative", most=_MOST_HOURS) if hours is not None else None
    day = walk.date(date) if date is not None else None
    told = walk.texts(history, "the history") if history is not None else ()
    instruments = _instruments(fields, knowledge)
    baseline = sheet_names(fields.get("baseline"))
    earlier = reader.earlier(location, baseline, read.baseline) if follow else ()
    confirmed = _confirmed(fields, read.scope, follow)
    if len(location.file.problems) > before or read.machine is None:
        return None
    return Sheet(
        name=name, machine=read.machine, readings=readings, conditions=conditions, instruments=instruments,
        unit_number=unit, order_number=order, serial_number=serial, technician=technician, hours=worked, date=day,
        complaint=complaint, history=told, baseline=tuple(str(one.value) for one in baseline), earlier=earlier,
        confirmed=confirmed,
    )  # fmt: skip


def _text(fields: Fields, key: str) -> str | None:
    location = fields.get(key)
    return walk.text(location) if location is not None else None


def _machine(fields: Fields, reader: _Reader) -> ReadMachine:
    """The machine, from the file that the sheet names or inline."""
    location = fields.need("machine", "the path of a machine file, or the whole machine inline")
    if location is None:
        return ReadMachine()
    if isinstance(location.value, dict):
        return read_machine(location, reader.knowledge, inline=True)
    if same_file(
        location.file.path, location.file.folder / location.value if isinstance(location.value, str) else None
    ):
        location.wrong("the sheet names itself as its machine", "the path of a machine file, relative to this file")
        return ReadMachine()
    top = open_named(location, "machine", lambda name: machine_file(name, reader.knowledge))
    return reader.machine(top) if top is not None else ReadMachine()


def _readings(fields: Fields, scope: MachineScope | None, knowledge: Knowledge) -> tuple[Reading, ...]:
    location = fields.need("readings", "a list of readings, which may be empty: []")
    readings: dict[str, Reading] = {}
    for item in (location.items("a list of readings") or ()) if location is not None else ():
        reading = read_reading(item, scope, knowledge)
        if reading is None:
            continue
        first = readings.setdefault(reading.id, reading)
        if first is not reading:
            item.wrong(
                f"{reading.id} stands on the sheet already, on line {first.line}",
                "repeats of one measurement as a list in one reading; otherwise another variant",
            )
    return tuple(readings.values())


def _instruments(fields: Fields, knowledge: Knowledge) -> Mapping[str, InstrumentData]:
    location = fields.get("instruments")
    inside = location.fields("the instruments") if location is not None else None
    if inside is None:
        return {}
    kinds = knowledge.tests.values()
    known = sorted({kind.quantity for kind in kinds if kind.quantity is not None and not kind.derived})
    inside.close(known)
    return {quantity: _instrument(found, quantity) for quantity in known if (found := inside.get(quantity)) is not None}


def _instrument(location: Location, quantity: str) -> InstrumentData:
    fields = location.fields("an instrument")
    if fields is None:
        return InstrumentData()
    fields.close(("resolution", "span", "class"))
    # A thermometer resolves a difference of temperatures, not a temperature; so does its span.
    measured = "temperature-difference" if quantity == "temperature" else quantity
    resolution, span, grade = fields.get("resolution"), fields.get("span"), fields.get("class")
    if grade is not None and span is None:
        grade.wrong("a class is a share of the span, which is missing", f"span: {sample(measured)}")
    return InstrumentData(
        resolution=walk.quantity(resolution, measured, "positive") if resolution is not None else None,
        span=walk.quantity(span, measured, "positive") if span is not None else None,
        accuracy_class=walk.number(grade, most=_MOST_CLASS) if grade is not None else None,
    )


def _confirmed(fields: Fields, scope: MachineScope | None, follow: bool) -> tuple[Confirmed, ...]:
    location = fields.get("confirmed")
    found: list[Confirmed] = []
    for item in (location.items("a list of confirmed causes") or ()) if location is not None else ():
        entry = item.fields("a confirmed cause")
        if entry is None:
            continue
        entry.close(("cause", "part", "how", "after"))
        cause, part = (
            entry.need("cause", "a cause such as pump.worn"),
            entry.need("part", "the part that it was found at"),
        )
        kind = cause.value if cause is not None else None
        if cause is not None and not (isinstance(kind, str) and _CAUSE.fullmatch(kind)):
            cause.wrong("is no cause", "PART-KIND.FAULT, such as pump.worn; or none or unknown")
        place = scope.name(part, "part") if part is not None and scope is not None else None
        after = entry.get("after")
        sheets = named_sheets([after]) if after is not None and follow else ()
        if isinstance(kind, str) and place is not None:
            found.append(Confirmed(kind, place, _text(entry, "how"), sheets[0] if sheets else None))
    return tuple(found)
