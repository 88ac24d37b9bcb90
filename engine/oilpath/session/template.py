"""The table to fill in for one machine: a row for each reading of the day, its unit and limit filled in."""

from __future__ import annotations

from collections.abc import Callable

from oilpath.documents.grid import LIMIT, READING, TEST, UNIT, Cell, Grid, name_of
from oilpath.knowledge.base import Knowledge
from oilpath.session.day import DayPlan
from oilpath.session.slots import REPEATS, Slot

HEAD = ("unit-number", "order-number", "serial-number", "technician", "hours", "date", "complaint", "history")
CONDITIONS = ("oil-temperature", "engine-speed", "ambient-temperature", "attachment", "auto-idle", "working-setting")
NOTE = "note"


def template(
    plan: DayPlan, room: tuple[Slot, ...], named: str, knowledge: Knowledge, limit: Callable[[Slot], str],
    unit: Callable[[Slot], str],
) -> Grid:  # fmt: skip
    """The grid of a blank table; `limit` and `unit` say what is in those columns of a reading's row."""
    rows: list[dict[str, Cell]] = []
    placing: dict[str, None] = {}
    added: dict[str, None] = {}
    for slot in room:
        row: dict[str, Cell] = {name_of((key,)): value for key, value in slot.stated.items()}
        placing.update(dict.fromkeys(row))
        for key in (*slot.asked, *slot.offered):
            names = [name_of((key, part)) for part in ("toward", "offset")] if key == "veer" else [name_of((key,))]
            added.update(dict.fromkeys(names))
        rows.append({**row, UNIT: unit(slot), LIMIT: limit(slot) or None})
    for test in plan.tests:
        if test.variant is None and knowledge.tests[test.test].value is None:
            noted = _noted(test.test, knowledge)
            added.update(dict.fromkeys(name for row in noted for name in row))
            rows += noted
    repeats = [f"{READING} {number}" for number in range(1, REPEATS + 1)]
    note = name_of((NOTE,))
    first = [TEST, *(name for name in placing if name != TEST), UNIT, *repeats, LIMIT]
    columns = [*first, *(name for name in added if name not in first and name != note), note]
    head: Grid = [["Oilpath", "sheet/1"], ["Machine", named]]
    head += [[name_of((key,))] for key in HEAD]
    head += [[name_of(("conditions", key))] for key in CONDITIONS]
    return [*head, [], list(columns), *([row.get(name) for name in columns] for row in rows)]


def _noted(test: str, knowledge: Knowledge) -> list[dict[str, Cell]]:
    """Rows for every sign, and one for a code."""
    kind = knowledge.tests[test]
    if "sign" in kind.id:
        return [{TEST: test, "Sign": sign, "Part": None, "Side": None, "Seen": None} for sign in knowledge.signs]
    return [{TEST: test, **{name_of((key,)): None for key in kind.keys}}]
