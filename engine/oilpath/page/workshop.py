"""What all pages of one workshop share: its knowledge base, its database, answers that are kept, templates."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from oilpath.diagnosis import diagnose
from oilpath.documents.sheet import Sheet
from oilpath.flow import Diagnosis
from oilpath.knowledge.base import Knowledge
from oilpath.latest import Latest
from oilpath.page.templating import Templates
from oilpath.page.visit import Refused
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.documents.edit import Document
    from oilpath.documents.machine import Machine
    from oilpath.store.documents import Held
    from oilpath.store.opening import Store

_KEPT: Final = 64
_TRENDS: Final = 16


@dataclass(frozen=True, slots=True)
class Answered:
    """A version of a sheet as it is read, with its answer."""

    held: Held
    sheet: Sheet
    answer: Diagnosis


class Workshop:
    """One workshop: used by several threads at once."""

    def __init__(self, store: Store, knowledge: Knowledge) -> None:
        self.store, self.knowledge = store, knowledge
        self.templates = Templates()
        self._answers: Latest[tuple[str, ...], Diagnosis] = Latest(_KEPT)
        self.trends: Latest[tuple[Any, ...], Any] = Latest(_TRENDS)
        """what `views/looking.py` keeps: its page and its picture are asked for one after the other"""

    # --- documents --------------------------------------------------------------------

    def held(self, name: str, kind: str, number: int | None = None) -> Held:
        """A document of the database. Raises Refused."""
        documents = self.store.documents
        found = documents.latest(name) if number is None else documents.version(name, number)
        if found is None or found.version.kind != kind or found.version.removed:
            raise Refused(404, f"There is no such {kind} here.")
        return found

    def sheet(self, name: str, text: str | None = None, number: int | None = None) -> Sheet:
        """A sheet with its machine, both from the database; with `text` that instead of its own.

        Raises Refused, UnusableInput.
        """
        content = text if text is not None else self.held(name, "sheet", number).text
        return self.store.answers.try_sheet(name, content, self.knowledge)

    def machine(self, name: str) -> Machine:
        """A machine of the database. Raises Refused, UnusableInput."""
        return self.machine_of(name, self.held(name, "machine").text)

    def machine_of(self, name: str, text: str) -> Machine:
        """A machine from its text. Raises UnusableInput."""
        return self.store.answers.machine(name, self.knowledge, text=text)

    def limits_as_written(self, name: str, document: Document) -> tuple[Mapping[str, Any], ...]:
        """The limits of a sheet's machine as its file has them; none where it cannot be read."""
        from oilpath.documents.edit import Document
        from oilpath.store.names import resolved

        stated = document.data.get("machine")
        if isinstance(stated, str):
            found = resolved(name, stated)
            held = self.store.documents.latest(found) if found is not None else None
            stated = Document(name, held.text).data if held is not None else None
        limits = stated.get("limits") if isinstance(stated, dict) else None
        return tuple(one for one in limits or () if isinstance(one, dict))

    def answered(self, name: str, number: int | None = None) -> Answered:
        """A version of a sheet with its answer. Raises Refused, UnusableInput."""
        held = self.held(name, "sheet", number)
        sheet = self.sheet(name, held.text)
        key = (name, held.version.digest, *self._read_from(name, held.content))
        found = self._answers.find(key)
        if found is None:
            found = diagnose(sheet, self.knowledge)
            made = found
            self._answers.get(key, lambda: made)
        return Answered(held, sheet, found)

    def _read_from(self, name: str, content: bytes) -> tuple[str, ...]:
        """The versions of all that a document reads, as a key."""
        from oilpath.store.columns import references

        seen: dict[str, str] = {}
        waiting = [(name, content)]
        while waiting:
            own, held = waiting.pop()
            for other in references(own, held):
                if other not in seen:
                    found = self.store.documents.latest(other)
                    seen[other] = "" if found is None else found.version.digest
                    if found is not None:
                        waiting.append((other, found.content))
        return tuple(f"{other} {digest}" for other, digest in sorted(seen.items()))


def free_name(store: Store, folder: str, wanted: str) -> str:
    """A name for a new document that no other has: `sheets/pit-07.yaml`, `sheets/pit-07-2.yaml`."""
    import re
    import unicodedata

    plain = unicodedata.normalize("NFKD", wanted).encode("ascii", "ignore").decode().lower()
    base = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or "sheet"
    number = 1
    while True:
        name = f"{folder}/{base}{'' if number == 1 else f'-{number}'}.yaml"
        if store.documents.version(name) is None:
            return name
        number += 1


def relative(name: str, other: str) -> str:
    """How the document `name` calls the document `other`."""
    import posixpath

    return posixpath.relpath(other, posixpath.dirname(name) or ".")
