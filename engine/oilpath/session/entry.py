"""A sheet filled in step by step: what is asked for, what an answer means, and how it gets into the file.

Each answer is written at once, whole or not at all; so a session ends anywhere and goes on where it was. There are no
sentences here: who shows the steps says them, and asks for the next line.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from oilpath.documents.edit import Document, open_document
from oilpath.documents.load import load_sheet
from oilpath.documents.sheet import Sheet
from oilpath.documents.writing import Disk
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.fields import number_value, quantity_value, text_value
from oilpath.knowledge.testkind import TestKey
from oilpath.session.lines import Unclear, code_of, found_by, head_value, is_amount, number_of, pieces, taken, word_of
from oilpath.session.named import SIDES, place_named, signs_named
from oilpath.session.slots import Slot
from oilpath.units import QUANTITIES

HEAD: Final = ("unit-number", "hours", "date", "technician", "complaint")
HISTORY: Final = "history"
"""asked for as well, one entry a line"""
OIL: Final = "oil-temperature"
MEASURED_CONDITIONS: Final = {OIL: "temperature", "engine-speed": "rotation"}
_MOST: Final = 9
_READINGS: Final = "readings"
_NO: Final = "no"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that is asked for.

    kind: `head` a key of the sheet, `condition` one of its conditions, `sign` and `code` what is found, `reading` what
    a slot measures, `more` another key of its reading; the others are of a machine file. words: those that are taken.
    """

    kind: Literal[
        "head", "condition", "sign", "code", "reading", "more",
        "name", "speed", "pump", "cylinder", "dimension", "limit",
    ]  # fmt: skip
    name: str
    slot: Slot | None = None
    quantity: str | None = None
    words: tuple[str, ...] = ()
    test: str = ""


@dataclass(frozen=True, slots=True)
class Given:
    """What became of an answer. stay: the same step is asked again, for more of its kind or a choice of `choices`."""

    step: Step
    id: str | None = None
    stay: bool = False
    choices: tuple[str, ...] = ()
    sign: str | None = None
    seen: bool = True


def steps_of(
    room: Sequence[Slot], noted: Sequence[str], conditions: Mapping[str, tuple[str, ...]], knowledge: Knowledge
) -> tuple[Step, ...]:
    """All steps of a sheet: its head, its conditions, what is found, then each reading and what adds to it.

    `noted` are the tests without a value that the day begins with, `conditions` those asked for with their words.
    """
    found: list[Step] = [Step("head", key) for key in (*HEAD, HISTORY)]
    for name, words in conditions.items():
        found.append(Step("condition", name, quantity=MEASURED_CONDITIONS.get(name), words=words))
    for test in noted:
        found.append(Step("sign" if "sign" in knowledge.tests[test].id else "code", test, test=test))
    for slot in room:
        found += [Step("more", name, slot, _key(slot, name, knowledge).quantity, test=slot.test) for name in slot.asked]
        found.append(Step("reading", slot.value or "", slot, slot.quantity, test=slot.test))
        for name in slot.offered:
            found.append(Step("more", name, slot, _key(slot, name, knowledge).quantity, test=slot.test))
    return tuple(found)


def _key(slot: Slot, name: str, knowledge: Knowledge) -> TestKey:
    return knowledge.tests[slot.test].keys[name]


class Entry:
    """A sheet on its way: its file, its steps, and where it is.

    A document that stands in no file is not saved: who made the entry keeps `document`. read: how its text becomes a
    sheet; that of a file by default.
    """

    def __init__(
        self, document: Document, steps: Sequence[Step], knowledge: Knowledge, units: Mapping[str, str],
        disk: Disk | None = None, read: Callable[[Document], Sheet] | None = None,
    ) -> None:  # fmt: skip
        self.document, self.steps, self.knowledge = document, tuple(steps), knowledge
        self._units, self._disk, self._reader = dict(units), disk, read
        self._pending: dict[str, dict[str, Any]] = {}
        self._passed: set[tuple[str, str]] = set()
        self._choices: tuple[str, ...] = ()
        self._seen, self._there = True, dict[str, str]()
        self._data: Any = document.as_read
        self.sheet: Sheet = self._read(document)
        self.oil = self._last_oil()
        self.at = self._first()

    # --- where it is ----------------------------------------------------------------

    @property
    def step(self) -> Step | None:
        """What is asked for now; None at the end."""
        return self.steps[self.at] if self.at < len(self.steps) else None

    def answered(self, step: Step) -> bool:
        """Whether the sheet holds an answer to a step."""
        return self.current(step) is not None

    def current(self, step: Step) -> Any:
        """What the sheet holds for a step; None if nothing."""
        match step.kind:
            case "head":
                return self._data.get(step.name)
            case "condition":
                return (self._data.get("conditions") or {}).get(step.name)
            case "sign" | "code":
                return next((one for one in self._readings() if one.get("test") == step.name), None)
        number = self._number(step.slot)
        return None if number is None else self._readings()[number].get(step.name)

    def left(self) -> tuple[int, ...]:
        """What a complete sheet still lacks, as numbers of steps: readings, and keys of the head but the history."""
        wanted = (n for n, one in enumerate(self.steps) if one.kind in ("head", "reading") and one.name != HISTORY)
        return tuple(n for n in wanted if not self.answered(self.steps[n]))

    def done(self) -> tuple[int, int]:
        """How many readings are made, of how many."""
        readings = [one for one in self.steps if one.kind == "reading"]
        return sum(self.answered(one) for one in readings), len(readings)

    def back(self) -> None:
        """To the step before that can be asked."""
        self.at = next((n for n in range(self.at - 1, -1, -1) if self._asked(n, back=True)), self.at)
        self._choices = ()

    def skip(self) -> None:
        """To the next step; what is skipped for one reading is not asked for with the others of its test."""
        step = self.step
        if step is not None and step.kind == "more" and not self.answered(step):
            self._passed.add((step.test, step.name))
        self._choices = ()
        self._on()

    def go(self, text: str) -> None:
        """To the first reading whose id has these words, or their beginnings. Raises Unclear if there is none."""
        readings = ((n, one.slot) for n, one in enumerate(self.steps) if one.kind == "reading" and one.slot is not None)
        self.at = found_by(text, ((number, slot.id) for number, slot in readings))
        self._choices = ()

    def _on(self) -> None:
        self.at = next((n for n in range(self.at + 1, len(self.steps)) if self._asked(n)), len(self.steps))

    def _asked(self, number: int, *, back: bool = False) -> bool:
        """Whether a step makes sense now: what adds to a reading does where that is made."""
        step = self.steps[number]
        if step.kind != "more" or step.slot is None:
            return True
        if step.name in step.slot.asked:
            return self._number(step.slot) is None or back
        return self._number(step.slot) is not None and (back or (step.test, step.name) not in self._passed)

    def _first(self) -> int:
        """The first step that is open behind the last that is answered; the first of the head where no other is."""
        last = max((n for n, one in enumerate(self.steps) if one.kind != "head" and self.answered(one)), default=-1)
        behind = [n for n in range(last + 1, len(self.steps)) if self._asked(n)]
        return next((n for n in behind if last >= 0 or not self.answered(self.steps[n])), len(self.steps))

    def _last_oil(self) -> str | None:
        for reading in reversed(self._readings()):
            stated = (reading.get("conditions") or {}).get(OIL)
            if stated is not None:
                return str(stated)
        return None

    def _readings(self) -> list[dict[str, Any]]:
        return self._data.get(_READINGS) or []

    def _number(self, slot: Slot | None) -> int | None:
        """Which reading of the sheet fills a slot."""
        if slot is None:
            return None
        return next((n for n, one in enumerate(self.sheet.readings) if one.id == slot.id), None)

    # --- answers --------------------------------------------------------------------------

    def give(self, line: str) -> Given:
        """Take an answer to the present step and write it.

        Raises Unclear for one that means nothing here; OSError and UnusableInput where it cannot be written. Then the
        sheet is as it was.
        """
        step = self.step
        assert step is not None
        text = line.strip()
        match step.kind:
            case "head" if step.name == HISTORY:
                self._write(self.document.append((HISTORY,), taken(text_value, text)))
                return Given(step, stay=True)
            case "head":
                self._write(self.document.set((step.name,), head_value(step.name, text)))
            case "condition":
                self._write(self._with_condition(step, text))
            case "sign":
                return self._sign(step, text)
            case "code":
                self._write(self.document.append((_READINGS,), {"test": step.name, **code_of(text)}))
                return Given(step, self.sheet.readings[-1].id, stay=True)
            case "reading":
                self._write(self._with_reading(step, text))
            case "more":
                if step.slot is not None and step.name in step.slot.asked:
                    self._pending.setdefault(step.slot.test, {})[step.name] = self._amount(step, text)
                else:
                    self._write(self.document.set((*self._place(step), step.name), self._amount(step, text)))
        self._on()
        return Given(step, step.slot.id if step.slot is not None else None)

    def put(self, number: int, text: str) -> Given:
        """Take an answer to the step of this number, in whatever order; what adds to a reading goes to that reading.

        Raises as `give`.
        """
        self.at, step = number, self.steps[number]
        if step.kind != "more" or self._number(step.slot) is None:
            return self.give(text)
        self._write(self.document.set((*self._place(step), step.name), self._amount(step, text.strip())))
        return Given(step, step.slot.id if step.slot is not None else None)

    def clear(self, number: int) -> bool:
        """Take the answer to the step of this number out of the sheet; whether there was one."""
        self.at, step = number, self.steps[number]
        if not self.answered(step):
            return False
        match step.kind:
            case "head":
                self._write(self.document.remove((step.name,)))
            case "condition":
                self._write(self.document.remove(("conditions", step.name)))
            case "more":
                self._write(self.document.remove((*self._place(step), step.name)))
            case _:
                return self.remove()
        return True

    def put_document(self, document: Document) -> None:
        """The document changed by other means, checked as a whole. Raises UnusableInput, OSError."""
        self._write(document)

    def record(self, reading: Mapping[str, Any]) -> None:
        """A reading as the sheet has it, in place of one with the same id. Raises UnusableInput, OSError."""
        changed = self.document.append((_READINGS,), dict(reading))
        found = self._read_alone(reading)
        same = [n for n, one in enumerate(self.sheet.readings) if one.id == found]
        self._write(changed.remove((_READINGS, same[0])) if same else changed)

    def _read_alone(self, reading: Mapping[str, Any]) -> str:
        """The id of a reading, found by a sheet that has no other. Raises UnusableInput."""
        alone = self.document.set((_READINGS,), [dict(reading)])
        return self._read(alone).readings[0].id

    def note_at(self, number: int) -> Any:
        """The note with the reading of the step of this number; None if there is none."""
        at = self._number(self.steps[number].slot)
        return None if at is None else self._readings()[at].get("note")

    def note_of(self, number: int, text: str) -> None:
        """A note with the reading of the step of this number; none if `text` is empty. Raises Unclear."""
        at = self._number(self.steps[number].slot)
        if at is None:
            raise Unclear("no-reading")
        path = (_READINGS, at, "note")
        if text.strip():
            self._write(self.document.set(path, taken(text_value, text.strip())))
        elif "note" in self._readings()[at]:
            self._write(self.document.remove(path))

    def note(self, text: str) -> None:
        """A note with the reading that was made last. Raises Unclear if there is none."""
        if not self.sheet.readings:
            raise Unclear("no-reading")
        self._write(self.document.set((_READINGS, len(self.sheet.readings) - 1, "note"), taken(text_value, text)))

    def warm(self, text: str) -> str:
        """The oil's temperature from now on; gives it as it is written."""
        step = Step("condition", OIL, quantity="temperature")
        stated = str(self._amount(step, text))
        if self.current(step) is None:
            self._write(self._with_condition(step, text))
        else:
            self.oil = stated
        return stated

    def remove(self) -> bool:
        """Take the answer to the present step out of the sheet, of several the last; whether there was one."""
        step = self.step
        if step is not None and step.kind == "head":
            held = self.current(step)
            if held is None:
                return False
            last = step.name == HISTORY and len(held) > 1
            self._write(self.document.remove((step.name, len(held) - 1) if last else (step.name,)))
            return True
        number = self._number(step.slot) if step is not None and step.kind in ("reading", "more") else None
        if step is not None and step.kind in ("sign", "code"):
            own = [n for n, one in enumerate(self._readings()) if one.get("test") == step.name]
            number = own[-1] if own else None
        if number is None:
            return False
        self._write(self.document.remove((_READINGS, number)))
        return True

    def again(self) -> None:
        """To the reading given last, to give it again."""
        self.at = next((n for n in range(self.at - 1, -1, -1) if self.steps[n].kind == "reading"), self.at)

    def reload(self) -> None:
        """Read the file again, as somebody else has changed it. Raises UnusableInput."""
        assert self.document.path is not None
        document = open_document(self.document.path)
        self.sheet = self._read(document)
        self.document, self._data = document, document.as_read

    def _read(self, document: Document) -> Sheet:
        if self._reader is not None:
            return self._reader(document)
        path = document.path if document.path is not None else document.shown
        return load_sheet(path, self.knowledge, text=document.text)

    def _write(self, document: Document) -> None:
        """The changed document, checked as a whole and then saved."""
        sheet = self._read(document)
        try:
            saved = document.save(self._disk) if document.path is not None else document
        except OSError:
            # The folder alone may have failed: then the new file is there, and the next answer brings both to the disk.
            saved = open_document(document.path) if document.path is not None else document
            if saved.content != document.content:
                raise
        self.document, self.sheet, self._data = saved, sheet, saved.as_read

    def _place(self, step: Step) -> tuple[str, int]:
        number = self._number(step.slot)
        assert number is not None
        return _READINGS, number

    def _with_condition(self, step: Step, text: str) -> Document:
        value = self._amount(step, text) if step.quantity is not None else word_of(text, step.words)
        if isinstance(self._data.get("conditions"), dict):
            return self.document.set(("conditions", step.name), value)
        return self.document.set(("conditions",), {step.name: value})

    def _with_reading(self, step: Step, text: str) -> Document:
        slot = step.slot
        assert slot is not None
        key = _key(slot, step.name, self.knowledge)
        values = self._amounts(text, key.quantity or "", key.sign)
        if len(values) > 1 and not key.repeats:
            raise Unclear("one-value")
        value: Any = values if len(values) > 1 or slot.repeats > 1 else values[0]
        number = self._number(slot)
        if number is not None:
            return self.document.set((_READINGS, number, step.name), value)
        own = {"conditions": {OIL: self.oil}} if self.oil is not None and self.oil != self._stated_oil() else {}
        pending = {name: one for name, one in self._pending.get(slot.test, {}).items() if name in slot.asked}
        return self.document.append((_READINGS,), {**slot.stated, **pending, step.name: value, **own})

    def _stated_oil(self) -> Any:
        return (self._data.get("conditions") or {}).get(OIL)

    def _amount(self, step: Step, text: str) -> Any:
        """One value of a step: a quantity, a plain number, or a veer."""
        if step.slot is not None:
            key = _key(step.slot, step.name, self.knowledge)
            if key.is_ == "veer":
                return self._veer(text)
            if key.quantity is None:
                return taken(number_value, number_of(text), key.sign)
            (value,) = self._single(text, key.quantity, key.sign, self._as_the_slot(step))
            return value
        (value,) = self._single(text, step.quantity or "", "any")
        return value

    def _single(self, text: str, quantity: str, sign: str, usual: str | None = None) -> list[str]:
        values = self._amounts(text, quantity, sign, usual)
        if len(values) != 1:
            raise Unclear("one-value")
        return values

    def _veer(self, text: str) -> dict[str, str]:
        word, _, rest = text.partition(" ")
        side = SIDES.get(word.lower())
        if side is None and word[:1].lower() in SIDES and is_amount(word[1:]):  # l0.4
            side, rest = SIDES[word[:1].lower()], text[1:]
        if side is None:
            (offset,) = self._single(text, "distance", "nonnegative")
            if quantity_value(offset, "distance") == 0:
                return {"offset": offset}
            raise Unclear("no-side")
        (offset,) = self._single(rest, "distance", "nonnegative")
        return {"toward": side, "offset": offset}

    def _amounts(self, text: str, quantity: str, sign: str, usual: str | None = None) -> list[str]:
        """Some amounts as written: a unit holds for all before it; without one the usual unit, or the last one used."""
        found = list(pieces(text))
        typed = next((unit for _, unit in reversed(found) if unit), None)
        unit = typed or usual or self.unit(quantity)
        values = [f"{number} {own or unit}" for number, own in found]
        for value in values:
            taken(quantity_value, value, quantity, sign)
        if usual is None:
            self._units[quantity] = unit
        return values

    def unit(self, quantity: str) -> str:
        """The unit in which a quantity is given where none is typed."""
        return self._units.get(quantity) or QUANTITIES[quantity].unit

    def unit_of(self, step: Step) -> str:
        """The same for a step: a run-up is given in the unit of the distance, a drift in its own."""
        return self._as_the_slot(step) or self.unit(step.quantity or "")

    def _as_the_slot(self, step: Step) -> str | None:
        """The unit of a figure that the slot states, for what adds to its reading and is of the same quantity."""
        if step.kind != "more" or step.slot is None:
            return None
        for name, figure in step.slot.figures.items():
            if isinstance(figure, str) and _key(step.slot, name, self.knowledge).quantity == step.quantity:
                return figure.partition(" ")[2]
        return None

    # --- what is found --------------------------------------------------------------------

    def _sign(self, step: Step, text: str) -> Given:
        """A sign by words of it, or by its number among those that fitted before.

        `no …`: looked for, not there; `… @pump-1`: at this part, function or side.
        """
        said, at, place = text.partition("@")
        words = said.lower().split()
        if len(words) == 1 and words[0].isdecimal():
            number = int(words[0]) - 1
            if not 0 <= number < len(self._choices):
                raise Unclear("no-choice")
            fitting, seen = [self._choices[number]], self._seen
            where = place_named(place, self.sheet.machine) if at else self._there
        else:
            seen = words[:1] != [_NO]
            fitting, where = (
                signs_named(words if seen else words[1:], self.knowledge),
                place_named(place, self.sheet.machine) if at else {},
            )
        if not fitting:
            raise Unclear("no-sign")
        if len(fitting) > 1:
            self._choices, self._seen, self._there = tuple(fitting[:_MOST]), seen, where
            return Given(step, stay=True, choices=self._choices, seen=seen)
        self._choices = ()
        reading = {"test": step.name, "sign": fitting[0], **where}
        same = [
            n for n, one in enumerate(self._readings()) if {**one, **reading} == one and len(one) <= len(reading) + 1
        ]
        if same:
            self._write(self.document.set((_READINGS, same[0], "seen"), seen))
        else:
            self._write(self.document.append((_READINGS,), {**reading, "seen": seen}))
        found = self.sheet.readings[same[0] if same else -1]
        return Given(step, found.id, stay=True, sign=fitting[0], seen=seen)
