"""Sheets and machines read from the database: what they name is sought there, never on the disk of the server."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from oilpath.documents.load import load_machine, load_sheet
from oilpath.problems import UnusableInput

if TYPE_CHECKING:
    from oilpath.documents.machine import Machine
    from oilpath.documents.sheet import Sheet
    from oilpath.knowledge.base import Knowledge
    from oilpath.store.opening import Store


def read_from(store: Store, name: str, content: bytes) -> tuple[str, ...]:
    """The versions of all that a document reads, as a key."""
    from oilpath.store.columns import references

    seen: dict[str, str] = {}
    todo = [(name, content)]
    while todo:
        own, held = todo.pop()
        for other in references(own, held):
            if other not in seen:
                found = store.documents.latest(other)
                seen[other] = "" if found is None else found.version.digest
                if found is not None:
                    todo.append((other, found.content))
    return tuple(f"{other} {digest}" for other, digest in sorted(seen.items()))


@contextmanager
def _laid_out(store: Store, name: str, content: str) -> Iterator[Path]:
    from oilpath.store.columns import references

    with tempfile.TemporaryDirectory(prefix="oilpath-") as folder:
        seen = {name}
        todo = [(name, content.encode())]
        while todo:
            own, held = todo.pop()
            path = Path(folder, own)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(held)
            for other in references(own, held):
                found = store.documents.latest(other) if other not in seen else None
                seen.add(other)
                if found is not None:
                    todo.append((other, found.content))
        try:
            yield Path(folder, name)
        except UnusableInput as error:
            found_at = f"{folder}{os.sep}"
            raise UnusableInput(replace(one, file=one.file.replace(found_at, "")) for one in error.problems) from None


def load_sheet_from(store: Store, name: str, content: str, knowledge: Knowledge) -> Sheet:
    """A sheet of the database. Raises UnusableInput."""
    with _laid_out(store, name, content) as path:
        return replace(load_sheet(path, knowledge, text=content), name=name)


def load_machine_from(store: Store, name: str, content: str, knowledge: Knowledge) -> Machine:
    """A machine of the database. Raises UnusableInput."""
    with _laid_out(store, name, content) as path:
        return load_machine(path, knowledge, text=content)
