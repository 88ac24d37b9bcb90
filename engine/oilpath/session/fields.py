"""A sheet as fields that can be filled in in any order, by several people at once.

Each field has a key, such as ``reading:cycle-time/boom-raise`` or ``head:hours``, and holds what would be typed into
it. A change says what was typed and what the field held where it was read: a field that somebody else has filled in
differently meanwhile is not overwritten.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from oilpath.documents.edit import Document
from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Sheet
from oilpath.knowledge.base import Knowledge
from oilpath.problems import UnusableInput
from oilpath.records import dataclass
from oilpath.session.day import DayPlan
from oilpath.session.entry import OIL, Entry, Step, steps_of
from oilpath.session.lines import Unclear
from oilpath.session.slots import Slot, slots, slots_of

Typed = tuple[str, ...]
NOTE: Final = "note"
HEAD: Final = ("unit-number", "hours", "date", "technician", "order-number", "serial-number", "complaint")
WORDS: Final = {
    "attachment": ("empty", "loaded", "other"),
    "auto-idle": ("off", "on"),
    "working-setting": ("full", "reduced"),
}
LONGEST: Final = 4000


@dataclass(frozen=True, slots=True)
class Change:
    """What was typed into a field; `was` is what it held where it was read, None where that is not known."""

    key: str
    typed: Typed
    was: Typed | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a change: `kept` on the sheet now; `unclear`: it cannot be taken; `other`: somebody else has
    filled the field in meanwhile, with `now`."""

    change: Change
    kept: bool
    unclear: Unclear | None = None
    problem: UnusableInput | None = None
    now: Typed | None = None

    @property
    def other(self) -> bool:
        """Whether somebody else was there first."""
        return self.now is not None

    @property
    def early(self) -> bool:
        """Whether it goes with a reading that is not there yet."""
        return self.unclear is not None and self.unclear.message in ("reading-first", "no-reading")


def entry_of(
    document: Document, machine: Machine, plan: DayPlan, knowledge: Knowledge, units: Mapping[str, str],
    read: Callable[[Document], Sheet],
) -> Entry:  # fmt: skip
    """The entry of a sheet with all its fields: those of the day, and those of tests beside it."""
    tests = [test for test in plan.tests if test.variant is None]
    asked: dict[str, tuple[str, ...]] = {OIL: ()} if plan.oil_temperature else {}
    if plan.engine_speed is not None:
        asked["engine-speed"] = ()
    asked["ambient-temperature"] = ()
    asked |= {key: words for key, words in WORDS.items() if any(key in test.demands.words for test in tests)}
    noted = [test.test for test in tests if knowledge.tests[test.test].value is None]
    room = (*slots(plan, machine, knowledge), *_beside(plan, machine, knowledge))
    steps = steps_of(room, noted, asked, knowledge)
    steps = tuple(
        Step(one.kind, one.name, quantity="temperature") if one.name == "ambient-temperature" else one for one in steps
    )
    head = tuple(Step("head", name) for name in HEAD)
    return Entry(document, (*head, *(one for one in steps if one.kind != "head")), knowledge, units, read=read)


def _beside(plan: DayPlan, machine: Machine, knowledge: Knowledge) -> Iterable[Slot]:
    """Readings that the day leaves out and the machine could be put to as well."""
    for test in plan.left_out:
        if test.variant is None:
            yield from slots_of(test, machine, knowledge)


class Fields:
    """The fields of one entry."""

    def __init__(self, entry: Entry) -> None:
        self.entry = entry
        self._coming: set[str] = set()
        self.numbers = {
            key_of(step): number
            for number, step in enumerate(entry.steps)
            if step.kind in ("head", "condition", "reading", "more")
        }
        self.numbers |= {
            f"{NOTE}:{step.slot.id}": number
            for number, step in enumerate(entry.steps)
            if step.kind == "reading" and step.slot is not None
        }

    def typed(self, key: str) -> Typed:
        """What a field holds, as it would be typed; empty where it is empty."""
        number = self.numbers[key]
        step = self.entry.steps[number]
        if key.startswith(f"{NOTE}:"):
            note = self.entry.note_at(number)
            return () if note is None else (str(note),)
        return tuple(_typed(self.entry.current(step), self.unit(step)))

    def unit(self, step: Step) -> str | None:
        """The unit of a field where none is typed; None where it holds no quantity."""
        from oilpath.units import QUANTITIES

        if step.quantity in QUANTITIES and step.quantity is not None:
            return self.entry.unit_of(step)
        return self.entry.unit("distance") if step.name == "veer" else None

    def all(self) -> dict[str, Typed]:
        """What every field that is not empty holds."""
        return {key: typed for key in self.numbers if (typed := self.typed(key))}

    def take(self, changes: Sequence[Change], oil: str = "") -> tuple[Outcome, ...]:
        """Take what was typed, as far as it can be taken; `oil` is the oil's temperature from these readings on.

        Nothing is saved: the changed text is the entry's `document`.
        """
        if oil.strip():
            self.entry.warm(oil)
        order = {change.key: self._order(change.key) for change in changes}
        self._coming = {change.key for change in changes if change.typed}
        found = {change.key: self._take(change) for change in sorted(changes, key=lambda one: order[one.key])}
        return tuple(found[change.key] for change in changes)

    def _order(self, key: str) -> int:
        """What a reading needs comes before it, what is added to it after it."""
        number = self.numbers.get(key)
        if number is None:
            return -1
        if key.startswith(f"{NOTE}:"):
            return 3
        step = self.entry.steps[number]
        if step.kind == "more" and step.slot is not None:
            return 0 if step.name in step.slot.asked else 2
        return 1

    def _take(self, change: Change) -> Outcome:
        number = self.numbers.get(change.key)
        if number is None:
            return Outcome(change, False, Unclear("no-field"))
        now = self.typed(change.key)
        typed = tuple(piece for one in change.typed if (piece := " ".join(one.split())))
        if typed == now:
            return Outcome(change, True)
        if change.was is not None and typed == change.was:
            return Outcome(change, True)  # nothing was typed: what somebody else wrote stays
        if change.was is not None and now != change.was:
            return Outcome(change, False, now=now)
        try:
            self._put(change.key, number, typed)
        except Unclear as error:
            return Outcome(change, False, error)
        except UnusableInput as error:
            return Outcome(change, False, problem=error)
        return Outcome(change, True)

    def _put(self, key: str, number: int, typed: Typed) -> None:
        text = " ".join(typed)
        if len(text) > LONGEST:
            raise Unclear("too-long")
        if key.startswith(f"{NOTE}:"):
            self.entry.note_of(number, text)
        elif text:
            if self._early(key, number):
                raise Unclear("reading-first")
            self.entry.put(number, text)
        else:
            self.entry.clear(number)

    def _early(self, key: str, number: int) -> bool:
        """Whether this goes with a reading that is not on the sheet; what a reading asks for may come along with it."""
        step = self.entry.steps[number]
        if step.kind != "more" or step.slot is None or any(one.id == step.slot.id for one in self.entry.sheet.readings):
            return False
        return step.name not in step.slot.asked or f"reading:{step.slot.id}" not in self._coming


def key_of(step: Step) -> str:
    """The key of a field."""
    if step.slot is None:
        return f"{step.kind}:{step.name}"
    return f"reading:{step.slot.id}" if step.kind == "reading" else f"more:{step.slot.id}:{step.name}"


def _typed(value: Any, unit: str | None) -> Iterable[str]:
    if value is None:
        return
    if isinstance(value, Mapping):  # a veer
        side = str(value.get("toward", ""))[:1]
        yield " ".join(piece for piece in (side, *_typed(value.get("offset"), unit)) if piece)
        return
    for one in value if isinstance(value, list) else [value]:
        text = f"{one:g}" if isinstance(one, float) else str(one)
        number, blank, own = text.rpartition(" ")
        yield number if blank and own == unit else text
