"""A machine file filled in step by step. Each answer is written at once, as with a sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from oilpath.documents.edit import Document, open_document
from oilpath.documents.load import load_machine
from oilpath.documents.machine import Machine
from oilpath.documents.writing import Disk
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.fields import quantity_value, text_value
from oilpath.problems import UnusableInput
from oilpath.session.entry import Given, Step
from oilpath.session.limit_room import LimitRoom, limit_room
from oilpath.session.lines import Unclear, found_by, pieces, taken
from oilpath.units import QUANTITIES, QuantityError, parse

_PER_TURN: Final = "displacement"
UNNAMED: Final = "My machine"
CYLINDER: Final = ("bore", "rod", "stroke")
_ONLY: Final = {1: (("max",), ("min",), ("new",)), 2: (("new", "max"), ("new", "min"), ("min", "max"))}


class MachineEntry:
    """A machine file on its way: the name, the engine's speed, pumps, cylinders, dimensions, then limits."""

    def __init__(
        self, document: Document, knowledge: Knowledge, units: Mapping[str, str], disk: Disk | None = None
    ) -> None:
        self.document, self.knowledge = document, knowledge
        self._units, self._disk = dict(units), disk
        self._data: Any = document.as_read
        machine = self._read(document)
        # Only what belongs to every day of testing: the rest of the limits is for an editor.
        self.limits = {f"{number}": room for number, room in enumerate(limit_room(machine, knowledge)) if room.routine}
        self.steps: tuple[Step, ...] = tuple(self._steps(machine.circuit))
        last = max((n for n, one in enumerate(self.steps) if self.current(one) is not None), default=-1)
        self.at = last + 1

    def _steps(self, circuit: Circuit) -> Iterator[Step]:
        yield Step("name", "name")
        yield Step("speed", "engine-speed", quantity="rotation")
        for pump in circuit.feeds.pumps:
            yield Step("pump", pump, quantity="displacement")
        for cylinder in dict.fromkeys(one.actuator for one in circuit.functions.values() if one.end):
            yield Step("cylinder", cylinder, quantity="length")
        if any(one.side for one in circuit.functions.values()):  # tracks or wheels apart by side
            yield Step("dimension", "track-gauge", quantity="distance")
        yield Step("dimension", "length", quantity="distance")
        for number, room in self.limits.items():
            yield Step("limit", number, quantity=self.knowledge.tests[room.test].quantity, test=room.test)

    # --- where it stands ------------------------------------------------------------------

    @property
    def step(self) -> Step | None:
        """What is asked for now; None at the end."""
        return self.steps[self.at] if self.at < len(self.steps) else None

    def current(self, step: Step) -> Any:
        """What the file holds for a step; None where nothing."""
        match step.kind:
            case "name":
                return None if self._data.get("name") == UNNAMED else self._data.get("name")
            case "speed":
                return self._data.get(step.name)
            case "pump" | "cylinder":
                return (self._data.get("parts") or {}).get(step.name)
            case "dimension":
                return (self._data.get("dimensions") or {}).get(step.name)
        number = self._number(self.limits[step.name])
        return None if number is None else self._data["limits"][number]

    def _number(self, room: LimitRoom) -> int | None:
        """The number of the file's limit for a place; None if there is none."""
        names = {"test": room.test, **room.where}
        values = {"new", "min", "max", "max-veer", "max-difference", room.per[0] if room.per is not None else ""}
        for number, one in enumerate(self._data.get("limits") or ()):
            if {key: value for key, value in one.items() if key not in values} == names:
                return number
        return None

    def done(self) -> tuple[int, int]:
        """How many steps have an answer, of how many."""
        return sum(self.current(one) is not None for one in self.steps), len(self.steps)

    def left(self) -> tuple[int, ...]:
        """The steps without an answer, by number."""
        return tuple(n for n, one in enumerate(self.steps) if self.current(one) is None)

    def back(self) -> None:
        """To the step before."""
        self.at = max(0, self.at - 1)

    def skip(self) -> None:
        """To the next step."""
        self.at += 1

    def go(self, text: str) -> None:
        """To the first step whose name has these words, or their beginnings. Raises Unclear if there is none."""
        self.at = found_by(text, ((number, self._called(step)) for number, step in enumerate(self.steps)))

    def _called(self, step: Step) -> str:
        if step.kind != "limit":
            return step.name
        room = self.limits[step.name]
        return " ".join([room.test, *map(str, room.where.values())])

    def reload(self) -> None:
        """Read the file anew, as somebody else has changed it. Raises UnusableInput."""
        assert self.document.path is not None
        document = open_document(self.document.path)
        self._read(document)
        self.document, self._data = document, document.as_read

    def unit(self, quantity: str) -> str:
        """The unit in which a quantity is given where none is typed."""
        return self._units.get(quantity) or QUANTITIES[quantity].unit

    # --- answers ----------------------------------------------------------------------------

    def give(self, line: str) -> Given:
        """Take an answer to the present step and write it. Raises as that of a sheet does."""
        step = self.step
        assert step is not None
        text = line.strip()
        match step.kind:
            case "name":
                self._write(self.document.set(("name",), taken(text_value, text)))
            case "speed":
                self._write(self.document.set((step.name,), self._one(text, step)))
            case "pump":
                self._write(self._below("parts", step.name, {"displacement": self._one(text, step)}))
            case "cylinder":
                self._write(self._below("parts", step.name, self._cylinder(text, step)))
            case "dimension":
                self._write(self._below("dimensions", step.name, self._one(text, step)))
            case _:
                self._write(self._limit(text, step))
        self.skip()
        return Given(step)

    def remove(self) -> bool:
        """Take the answer to the present step out of the file; whether there was one."""
        step = self.step
        if step is None or step.kind in ("name",) or self.current(step) is None:
            return False
        match step.kind:
            case "speed":
                self._write(self.document.remove((step.name,)))
            case "pump" | "cylinder":
                self._write(self.document.remove(("parts", step.name)))
            case "dimension":
                self._write(self.document.remove(("dimensions", step.name)))
            case _:
                number = self._number(self.limits[step.name])
                assert number is not None
                self._write(self.document.remove(("limits", number)))
        return True

    def note(self, text: str) -> None:
        """A machine file has no notes. Raises Unclear."""
        raise Unclear("no-reading")

    def warm(self, text: str) -> str:
        """A machine file has no oil temperature. Raises Unclear."""
        raise Unclear("no-reading")

    def _read(self, document: Document) -> Machine:
        path = document.path if document.path is not None else document.shown
        return load_machine(path, self.knowledge, text=document.text)

    def _write(self, document: Document) -> None:
        try:
            self._read(document)
        except UnusableInput as error:  # what only the whole file shows, such as a rod thicker than its bore
            first = error.problems[0]
            raise Unclear(first.message, first.accepted) from None
        self.document = document.save(self._disk)
        self._data = self.document.as_read

    def _below(self, key: str, name: str, value: Any) -> Document:
        if isinstance(self._data.get(key), dict):
            return self.document.set((key, name), value)
        return self.document.set((key,), {name: value})

    def _amounts(self, found: list[tuple[str, str]], quantity: str) -> list[str]:
        unit = next((unit for _, unit in reversed(found) if unit), None) or self.unit(quantity)
        values = [f"{number} {own or unit}" for number, own in found]
        for value in values:
            try:
                taken(quantity_value, value, quantity)
            except Unclear as error:
                if quantity == _PER_TURN and _is_volume(value):
                    raise Unclear("per-turn", likely=f"{value}/rev") from None
                raise Unclear(error.message, error.accepted) from None
        self._units[quantity] = unit
        return values

    def _one(self, text: str, step: Step) -> str:
        found = list(pieces(text))
        if len(found) != 1:
            raise Unclear("one-value")
        return self._amounts(found, step.quantity or "")[0]

    def _cylinder(self, text: str, step: Step) -> dict[str, Any]:
        """Bore, rod and stroke, then perhaps how many of it there are."""
        found = list(pieces(text))
        if len(found) > len(CYLINDER) + 1:
            raise Unclear("cylinder")
        count = {"count": int(found[3][0])} if len(found) == 4 and found[3][0].isdecimal() else {}
        if len(found) == 4 and not count:
            raise Unclear("cylinder")
        return {**count, **dict(zip(CYLINDER, self._amounts(found[:3], step.quantity or ""), strict=False))}

    def _limit(self, text: str, step: Step) -> Document:
        """Read a limit: new, then the accepted end or ends. If figures are missing, they are taken as the ends."""
        room = self.limits[step.name]
        found = list(pieces(text))
        if len(found) > len(room.ends):
            raise Unclear("limit")
        ends = next((one for one in _ONLY.get(len(found), ()) if set(one) <= set(room.ends)), room.ends)
        if len(room.ends) == 3 and len(found) == 2:
            ends = ("min", "max")
        values = dict(zip(ends, self._amounts(found, step.quantity or ""), strict=True))
        number = self._number(room)
        if number is None:
            return self.document.append(("limits",), {**room.stated, **values})
        return self.document.set(("limits", number), {**room.stated, **values})


def _is_volume(text: str) -> bool:
    try:
        parse(text, "volume")
    except QuantityError:
        return False
    return True
