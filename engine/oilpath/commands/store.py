"""`oilpath store`: the workshop's database by itself, without its pages: files in and out, backup, ranking anew."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from oilpath.commands import options

if TYPE_CHECKING:
    from oilpath.store.checking import Checked
    from oilpath.store.opening import Store

_NAMES = ("import", "export", "backup", "restore", "check", "rank")
_HOMES = {name: f"oilpath.commands.store_{name}" for name in _NAMES}

command = options.Group(
    "store",
    help="See to the workshop's database: files in and out, backup, check.",
    homes=_HOMES,
    examples=("oilpath store import my-sheets", "oilpath store backup workshop-2026-05-14.db"),
)


@contextmanager
def opened(database: str | None, *, create: bool = False) -> Iterator[Store]:
    """The database of `--database`, closed at the end. Raises UnusableInput, also for what the database itself says."""
    from oilpath.store.opening import open_store, told_plainly

    store = open_store(database, create=create)
    try:
        with told_plainly(store.database.shown):
            yield store
    finally:
        store.close()


def holds(found: Checked) -> str:
    """What a database holds, on one line."""
    counts = ((found.machines, "machine"), (found.sheets, "sheet"), (found.circuits, "circuit"))
    said = [counted(number, word) for number, word in counts if number or word != "circuit"]
    return ", ".join([*said, counted(found.versions, "version"), counted(found.photos, "photo")])


def counted(number: int, word: str) -> str:
    """`1 sheet`, `2 sheets`."""
    return f"{number} {word}{'' if number == 1 else 's'}"
