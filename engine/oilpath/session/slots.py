"""The readings of a day of testing: one slot for each target of each test, with its limit.

Blank sheet, printed form, table and guided entry all ask for this list, in the order of the day.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import product
from typing import Any, Final

from oilpath.documents.machine import Limit, Machine
from oilpath.documents.sheet import Reading
from oilpath.flow.ids import placed_by, result_id
from oilpath.judging.limits import choose
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKey, TestKind
from oilpath.knowledge.wiring import wire
from oilpath.records import dataclass
from oilpath.session.day import DayPlan, DayTest
from oilpath.units import figure, parse, to_unit

REPEATS: Final = 3
"""repeats that a timed test is made for"""
OUTLET: Final = "outlet"
BOTH: Final = "both"


@dataclass(frozen=True, slots=True)
class Slot:
    """Room for one reading.

    keys: the words that place it. figures: what else is stated of it, as written (hold, turns, distance). value: the
    key of what is measured, None for a sign, code or check. asked: further keys that must be stated, offered: that may.
    limit: the machine's, None if it states none.
    """

    id: str
    test: str
    keys: Mapping[str, str]
    figures: Mapping[str, str | float]
    value: str | None
    quantity: str | None
    repeats: int
    asked: tuple[str, ...]
    offered: tuple[str, ...]
    limit: Limit | None

    @property
    def stated(self) -> dict[str, Any]:
        """The reading as it would be written, without its value."""
        return {"test": self.test, **self.keys, **self.figures}


def slots_of(test: DayTest, machine: Machine, knowledge: Knowledge) -> tuple[Slot, ...]:
    """A slot for every target of a test; none for signs and codes, which are noted when they are found."""
    kind = knowledge.tests[test.test]
    if kind.value is None:
        return ()
    return tuple(_slot(test.test, keys, kind, machine, knowledge) for keys in _targets(test.test, kind, machine))


def slots(plan: DayPlan, machine: Machine, knowledge: Knowledge) -> tuple[Slot, ...]:
    """A slot for every reading of the day, in order; without variants, and without tests left out of the plan."""
    return tuple(slot for test in plan.tests if test.variant is None for slot in slots_of(test, machine, knowledge))


def _slot(test: str, keys: dict[str, str], kind: TestKind, machine: Machine, knowledge: Knowledge) -> Slot:
    assert kind.value is not None
    found = result_id(test, placed_by(kind.id, keys))
    limit = choose(test, kind, Reading(id=found, test=test, kind=kind, keys=keys), machine)
    figures = dict(_figures(kind, limit))
    rest = {name: kind.keys[name] for name in _in_order(kind) if name not in {*keys, *figures, kind.value}}
    value = kind.keys[kind.value]
    return Slot(
        id=found, test=test, keys=keys, figures=figures, value=kind.value, quantity=value.quantity,
        repeats=REPEATS if kind.timed and value.repeats else 1,
        asked=tuple(name for name, key in rest.items() if key.required),
        offered=tuple(name for name, key in rest.items() if not key.required and _is_short(key)),
        limit=limit,
    )  # fmt: skip


def _in_order(kind: TestKind) -> tuple[str, ...]:
    """The keys of a reading, those of the cooling in the order in which they are read."""
    cooling = (kind.cooling.start, kind.cooling.end, kind.cooling.column) if kind.cooling is not None else ()
    return tuple(dict.fromkeys((*cooling, *kind.keys)))


def _is_short(key: TestKey) -> bool:
    """Whether one short answer states it."""
    return key.is_ in ("quantity", "number", "veer")


def _figures(kind: TestKind, limit: Limit | None) -> Iterator[tuple[str, str | float]]:
    """Hold, turns or distance: that of the limit, else the usual one."""
    for name, key in kind.keys.items():
        if not key.required or name == kind.value or key.is_ not in ("quantity", "number"):
            continue
        per = limit.per if limit is not None and name == kind.limits.per else None
        usual = key.usual
        if per is not None and (usual is None or not math.isclose(_in_si(usual, key), per, rel_tol=1e-9)):
            yield name, _written(per, key)
        elif usual is not None:
            yield name, int(usual) if isinstance(usual, float) and usual == int(usual) else usual


def _in_si(usual: str | float, key: TestKey) -> float:
    return parse(usual, key.quantity) if isinstance(usual, str) and key.quantity else float(usual)


def _written(value: float, key: TestKey) -> str | float:
    """A figure as people write it: in minutes or metres if it comes out whole."""
    if key.quantity is None:
        return int(value) if value == int(value) else value
    for unit in {"time": ("min", "s"), "length": ("m", "mm"), "pressure": ("MPa",)}.get(key.quantity, ()):
        amount = to_unit(value, unit)
        if unit in ("MPa", "s", "mm") or math.isclose(amount, round(amount), rel_tol=1e-9):
            return f"{figure(amount, 12)} {unit}"
    return f"{figure(value, 12)} {key.quantity}"


# --- targets ----------------------------------------------------------------------------


def _targets(test: str, kind: TestKind, machine: Machine) -> Iterator[dict[str, str]]:
    """Every combination of keys that places a reading of this test on this machine; those with limits come first."""
    choices: dict[str, tuple[str, ...]] = {}
    for name in kind.id:
        key = kind.keys[name]
        if not key.required:
            continue
        of_limits = tuple(limit.where[name] for limit in machine.limits if limit.test == test and name in limit.where)
        # Of the parts only those that a limit names: nobody drains every motor where the limits are for the pumps.
        known = of_limits if of_limits and key.is_ == "part" else _words(test, key, kind, machine)
        choices[name] = tuple(dict.fromkeys((*of_limits, *known)))
    for chosen in product(*choices.values()):
        keys = dict(zip(choices, chosen, strict=True))
        pump, function = keys.get("pump"), keys.get("function")
        if pump is None or function is None or _feeds(pump, function, machine):
            yield keys


def _words(test: str, key: TestKey, kind: TestKind, machine: Machine) -> tuple[str, ...]:
    pumps = tuple(machine.allocation.pumps)
    match key.is_:
        case "word":
            return tuple(word for word in key.words if len(pumps) > 1 or BOTH not in word.split("-"))
        case "function":
            return _functions(kind, machine)
        case "cylinder":
            return tuple(name for name in machine.circuit.holds if name not in machine.absent)
        case "part":
            responding = (one.at for one in machine.circuit.responses if one.test == test)
            found = tuple(dict.fromkeys(at for at in responding if at not in machine.absent))
            return found or tuple(f"{pump}-{OUTLET}" if OUTLET in key.ports else pump for pump in pumps)
        case _:
            return pumps


def _functions(kind: TestKind, machine: Machine) -> tuple[str, ...]:
    """The functions that a test is made with: those that move under its load.

    A test of groups (stall: a group shares its relief) takes of each the one that works against most pressure.
    """
    wired, absent = wire(machine.circuit).functions, set(machine.absent)
    there = {
        name: function
        for name, function in machine.circuit.functions.items()
        if not {wired[name].actuator, wired[name].spool} & absent
    }
    if not kind.limits.default_functions:
        loaded = tuple(name for name, function in there.items() if kind.load in function.pressure)
        return loaded or tuple(there)
    of_group: dict[str, list[str]] = {}
    for name, function in there.items():
        of_group.setdefault(function.group, []).append(name)
    return tuple(
        max(names, key=lambda name: max(there[name].pressure.values(), default=0.0))
        for group, names in of_group.items()
        if group in kind.limits.default_functions
    )


def _feeds(pump: str, function: str, machine: Machine) -> bool:
    return machine.circuit.functions[function].group in machine.allocation.pumps.get(pump, ())
