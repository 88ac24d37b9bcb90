"""The test sheet, `oilpath: sheet/1`: its head, its machine, its readings and the earlier sheets that it names.

All problems are found at once. Earlier sheets are read in the same way, but sheets that they name are not opened.
"""

from __future__ import annotations

import hashlib
from collections.abc import Hashable, Mapping, Sequence
from typing import TypeVar

from oilpath.documents.drafts import (
    ConfirmedDraft,
    InstrumentDraft,
    ReadingDraft,
    RemedyDraft,
    SheetDraft,
    WorkDraft,
)
from oilpath.documents.location import Location
from oilpath.documents.machine_reader import ReadMachine, read_machine
from oilpath.documents.machine_scope import MachineScope
from oilpath.documents.paths import (
    find_named,
    is_kind,
    named_sheets,
    open_named,
    same_file,
    sheet_names,
    top_of_named,
)
from oilpath.documents.reading_reader import bound_conditions, read_reading
from oilpath.documents.sheet import Confirmed, InstrumentData, Reading, Remedy, Sheet, Work
from oilpath.documents.validate import drafted
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.layers import machine_file
from oilpath.latest import Latest
from oilpath.units import sample

D = TypeVar("D", ConfirmedDraft, RemedyDraft, WorkDraft)

_MOST_MACHINES = 64
"""machines that are kept at most, the latest used ones: many sheets name the same machine file"""
_MACHINES: Latest[tuple[bytes, str, str], ReadMachine] = Latest(_MOST_MACHINES)


def read_sheet(location: Location, name: str, knowledge: Knowledge) -> Sheet | None:
    """The sheet at `location` with its machine and earlier sheets; None after noting all that is wrong."""
    return _Reader(knowledge).sheet(location, name)


class _Reader:
    """Reads one sheet and the earlier ones that it names; a machine file that they share is read once."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.machines: dict[Hashable, ReadMachine] = {}

    def sheet(self, location: Location, name: str, *, follow: bool = True) -> Sheet | None:
        """The sheet at `location`. An earlier one is read with `follow` false: no other sheet is opened for it."""
        return _sheet(location, name, self, follow)

    def machine(self, location: Location) -> ReadMachine:
        """The machine of the file that a sheet names."""
        found = find_named(location, "machine", lambda name: machine_file(name, self.knowledge))
        if found is None:
            return ReadMachine()
        key = found.shelf.key(found.path)
        if key in self.machines:
            return self.machines[key]
        content = hashlib.sha256(found.content).digest(), found.shown, self.knowledge.content
        read = _MACHINES.find(content)
        if read is None:
            top = top_of_named(location, "machine", found)
            if top is None:
                return ReadMachine()
            read = read_machine(top, self.knowledge)
            if _stands_alone(top, read, self.knowledge):
                _MACHINES.get(content, lambda: read)
        self.machines[key] = read
        return read

    def earlier(
        self, own: Location, named: tuple[Location, ...], of_machine: tuple[Location, ...]
    ) -> tuple[Sheet, ...]:
        """The baseline sheets named by a sheet and its machine file, each once."""
        sheets: dict[Hashable, Sheet | None] = {}
        for place in (*named, *of_machine):
            top = open_named(place, "sheet")
            if top is None or top.file.path is None:
                continue
            if same_file(own.file, top.file.path):
                if place not in of_machine:  # a machine file may well name the sheet that is being looked at
                    place.wrong("the sheet names itself", "another sheet of this machine")
                continue
            key = top.file.shelf.key(top.file.path)
            if key not in sheets:
                sheets[key] = self.sheet(top, top.file.shown, follow=False)
        return tuple(sheet for sheet in sheets.values() if sheet is not None)


def _sheet(location: Location, name: str, reader: _Reader, follow: bool) -> Sheet | None:
    knowledge = reader.knowledge
    if not is_kind(location, "sheet"):
        return None
    before = len(location.file.problems)
    draft = drafted(SheetDraft, location)
    assert draft is not None
    read = _machine(location.get("machine"), reader)
    readings = _readings(location.below("readings"), draft.readings or (), read.scope, knowledge)
    instruments = _instruments(location.below("instruments"), draft.instruments or {}, knowledge)
    baseline = sheet_names(location.get("baseline"))
    earlier = reader.earlier(location, baseline, read.baseline) if follow else ()
    sisters = reader.earlier(location, sheet_names(location.get("sister")), ()) if follow else ()
    confirmed = _confirmed(location.below("confirmed"), draft.confirmed or (), read.scope, follow)
    remedies = _remedies(location.below("remedies"), draft.remedies or (), read.scope, follow)
    work = _work(location.below("work"), draft.work or (), read.scope)
    if len(location.file.problems) > before or read.machine is None:
        return None
    return Sheet(
        name=name, machine=read.machine, readings=readings, conditions=bound_conditions(draft.conditions),
        instruments=instruments, unit_number=draft.unit_number, order_number=draft.order_number,
        serial_number=draft.serial_number, technician=draft.technician, hours=draft.hours, date=draft.date,
        complaint=draft.complaint, history=draft.history or (), baseline=tuple(str(one.value) for one in baseline),
        earlier=earlier, sisters=sisters, confirmed=confirmed, remedies=remedies, work=work,
    )  # fmt: skip


def _machine(location: Location | None, reader: _Reader) -> ReadMachine:
    """The machine, from the file that the sheet names or inline."""
    if location is None:
        return ReadMachine()
    if isinstance(location.value, dict):
        return read_machine(location, reader.knowledge, inline=True)
    if same_file(location.file, location.file.folder / location.value if isinstance(location.value, str) else None):
        location.wrong("the sheet names itself as its machine", "the path of a machine file, relative to this file")
        return ReadMachine()
    return reader.machine(location)


def _stands_alone(top: Location, read: ReadMachine, knowledge: Knowledge) -> bool:
    """Whether a machine is valid and depends on its own file and the knowledge base only, not on other files."""
    return read.machine is not None and not read.baseline and top.below("circuit").value in knowledge.circuits


def _readings(
    location: Location, drafts: Sequence[ReadingDraft | None], scope: MachineScope | None, knowledge: Knowledge
) -> tuple[Reading, ...]:
    readings: dict[str, Reading] = {}
    for number, draft in enumerate(drafts):
        item = location.below(number)
        reading = read_reading(item, draft, scope, knowledge) if draft is not None else None
        if draft is None and item.value is None:
            item.mapping(ReadingDraft.called)
        if reading is None:
            continue
        first = readings.setdefault(reading.id, reading)
        if first is not reading:
            item.wrong(
                f"{reading.id} stands on the sheet already, on line {first.line}",
                "repeats of one measurement as a list in one reading; otherwise another variant",
            )
    return tuple(readings.values())


def _instruments(
    location: Location, drafts: Mapping[str, InstrumentDraft | None], knowledge: Knowledge
) -> Mapping[str, InstrumentData]:
    if not isinstance(location.value, Mapping):
        return {}
    kinds = knowledge.tests.values()
    known = sorted({kind.quantity for kind in kinds if kind.quantity is not None and not kind.derived})
    location.close(known, "the instruments")
    named = {quantity: drafts.get(quantity) for quantity in known}
    return {
        quantity: _instrument(location.below(quantity), draft, quantity)
        for quantity, draft in named.items()
        if draft is not None
    }


def _instrument(location: Location, draft: InstrumentDraft, quantity: str) -> InstrumentData:
    # A thermometer resolves a difference of temperatures, not a temperature; so does its span.
    measured = "temperature-difference" if quantity == "temperature" else quantity
    resolution, span, grade = location.get("resolution"), location.get("span"), location.get("class")
    if grade is not None and span is None:
        grade.wrong("a class is a share of the span, which is missing", f"span: {sample(measured)}")
    return InstrumentData(
        resolution=resolution.quantity(measured, "positive") if resolution is not None else None,
        span=span.quantity(measured, "positive") if span is not None else None,
        accuracy_class=draft.class_,
    )


def _confirmed(
    location: Location, drafts: Sequence[ConfirmedDraft | None], scope: MachineScope | None, follow: bool
) -> tuple[Confirmed, ...]:
    found = _at_parts(location, drafts, ConfirmedDraft, scope, follow)
    return tuple(
        Confirmed(d.cause, part, d.how, after, d.grade, d.minutes) for d, part, after in found if d.cause is not None
    )


def _remedies(
    location: Location, drafts: Sequence[RemedyDraft | None], scope: MachineScope | None, follow: bool
) -> tuple[Remedy, ...]:
    found = _at_parts(location, drafts, RemedyDraft, scope, follow)
    return tuple(Remedy(d.action, part, d.helped, after) for d, part, after in found if d.action is not None)


def _work(location: Location, drafts: Sequence[WorkDraft | None], scope: MachineScope | None) -> tuple[Work, ...]:
    for number, draft in enumerate(drafts):
        if draft is not None and draft.turns is not None and draft.what not in (None, "setting"):
            location.below(number, "turns").wrong("belongs to a setting alone", "what: setting")
    found = _at_parts(location, drafts, WorkDraft, scope, follow=False)
    return tuple(
        Work(d.what, part, d.turns, d.undo, d.minutes, d.check, d.note) for d, part, _ in found if d.what is not None
    )


def _at_parts(
    location: Location, drafts: Sequence[D | None], kind: type[D], scope: MachineScope | None, follow: bool
) -> list[tuple[D, str, str | None]]:
    """Entries about a part, each with the part's id and the sheet it names under `after`; all problems are noted."""
    found: list[tuple[D, str, str | None]] = []
    for number, draft in enumerate(drafts):
        item = location.below(number)
        if draft is None:
            if item.value is None:
                item.mapping(kind.called)
            continue
        for key, accepted in draft.needed.items():
            item.need(key, draft.called, accepted)
        part, after = item.get("part"), item.get("after")
        place = scope.name(part, "part") if part is not None and scope is not None else None
        sheets = named_sheets([after]) if after is not None and follow else ()
        if place is not None:
            found.append((draft, place, sheets[0] if sheets else None))
    return found
