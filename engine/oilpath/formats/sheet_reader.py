"""The test sheet, `oilpath: sheet/1`: its head, its machine and its readings, all problems at once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from oilpath.formats import walk
from oilpath.formats.ground import Ground
from oilpath.formats.knowledge import Knowledge
from oilpath.formats.machine_reader import ReadMachine, read_machine
from oilpath.formats.paths import is_kind, named_sheets, open_named, same_file
from oilpath.formats.reading_reader import read_conditions, read_reading
from oilpath.formats.sheet import Confirmed, InstrumentData, Reading, Sheet
from oilpath.formats.walk import Fields, Spot

KEYS: Final = (
    "oilpath", "machine", "unit-number", "order-number", "serial-number", "technician", "hours", "date", "complaint",
    "history", "conditions", "instruments", "readings", "baseline", "confirmed",
)  # fmt: skip
_CAUSE: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*\.[a-z0-9]+(?:-[a-z0-9]+)*|unknown|none")
_MOST_HOURS: Final = 200_000.0
_MOST_CLASS: Final = 20.0


def read_sheet(spot: Spot, name: str, knowledge: Knowledge) -> Sheet | None:
    """The sheet at `spot`; None after noting all that is wrong."""
    if not is_kind(spot, "sheet"):
        return None
    fields = Fields(spot, "a sheet")
    before = len(spot.paper.problems)
    fields.close(KEYS)
    read = _machine(fields, knowledge)
    conditions = read_conditions(fields.get("conditions"))
    readings = _readings(fields, read.ground, knowledge)
    unit, order, serial, technician, complaint = (
        _text(fields, key) for key in ("unit-number", "order-number", "serial-number", "technician", "complaint")
    )
    hours, date, history = fields.get("hours"), fields.get("date"), fields.get("history")
    worked = walk.number(hours, "nonnegative", most=_MOST_HOURS) if hours is not None else None
    day = walk.date(date) if date is not None else None
    told = walk.texts(history, "the history") if history is not None else ()
    instruments = _instruments(fields, knowledge)
    baseline = fields.get("baseline")
    sheets = baseline.one_or_many("a list of sheets") or [] if baseline is not None else []
    earlier = named_sheets(sheets)
    confirmed = _confirmed(fields, read.ground)
    if len(spot.paper.problems) > before or read.machine is None:
        return None
    return Sheet(
        name=name, machine=read.machine, readings=readings, conditions=conditions, instruments=instruments,
        unit_number=unit, order_number=order, serial_number=serial, technician=technician, hours=worked, date=day,
        complaint=complaint, history=told, baseline=earlier, confirmed=confirmed,
    )  # fmt: skip


def _text(fields: Fields, key: str) -> str | None:
    spot = fields.get(key)
    return walk.text(spot) if spot is not None else None


def _machine(fields: Fields, knowledge: Knowledge) -> ReadMachine:
    """The machine, from the file that the sheet names or inline."""
    spot = fields.need("machine", "the path of a machine file, or the whole machine inline")
    if spot is None:
        return ReadMachine()
    if isinstance(spot.value, dict):
        return read_machine(spot, knowledge, inline=True)
    if same_file(spot.paper.path, spot.paper.folder / spot.value if isinstance(spot.value, str) else None):
        spot.wrong("the sheet names itself as its machine", "the path of a machine file, relative to this file")
        return ReadMachine()
    top = open_named(spot, "machine")
    return read_machine(top, knowledge) if top is not None else ReadMachine()


def _readings(fields: Fields, ground: Ground | None, knowledge: Knowledge) -> tuple[Reading, ...]:
    spot = fields.need("readings", "a list of readings, which may be empty: []")
    readings: dict[str, Reading] = {}
    for item in (spot.items("a list of readings") or ()) if spot is not None else ():
        reading = read_reading(item, ground, knowledge)
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
    spot = fields.get("instruments")
    inside = spot.fields("the instruments") if spot is not None else None
    if inside is None:
        return {}
    kinds = knowledge.tests.values()
    known = sorted({kind.quantity for kind in kinds if kind.quantity is not None and not kind.derived})
    inside.close(known)
    return {quantity: _instrument(found, quantity) for quantity in known if (found := inside.get(quantity)) is not None}


def _instrument(spot: Spot, quantity: str) -> InstrumentData:
    fields = spot.fields("an instrument")
    if fields is None:
        return InstrumentData()
    fields.close(("resolution", "span", "class"))
    # A thermometer resolves a difference of temperatures, not a temperature; so does its span.
    measured = "temperature-difference" if quantity == "temperature" else quantity
    resolution, span, grade = fields.get("resolution"), fields.get("span"), fields.get("class")
    if grade is not None and span is None:
        grade.wrong("a class is a share of the span, which is missing", f"span: {walk.sample(measured)}")
    return InstrumentData(
        resolution=walk.quantity(resolution, measured, "positive") if resolution is not None else None,
        span=walk.quantity(span, measured, "positive") if span is not None else None,
        accuracy_class=walk.number(grade, most=_MOST_CLASS) if grade is not None else None,
    )


def _confirmed(fields: Fields, ground: Ground | None) -> tuple[Confirmed, ...]:
    spot = fields.get("confirmed")
    found: list[Confirmed] = []
    for item in (spot.items("a list of confirmed causes") or ()) if spot is not None else ():
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
        place = ground.name(part, "part") if part is not None and ground is not None else None
        after = entry.get("after")
        sheets = named_sheets([after]) if after is not None else ()
        if isinstance(kind, str) and place is not None:
            found.append(Confirmed(kind, place, _text(entry, "how"), sheets[0] if sheets else None))
    return tuple(found)
