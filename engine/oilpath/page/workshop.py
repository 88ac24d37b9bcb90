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
from oilpath.problems import UnusableInput
from oilpath.records import dataclass
from oilpath.store.answers import answer_of
from oilpath.store.work import Ranker

if TYPE_CHECKING:
    from oilpath.documents.edit import Document
    from oilpath.documents.machine import Machine
    from oilpath.store.documents import Held
    from oilpath.store.opening import Store

_KEPT: Final = 64
_PRACTISED: Final = 16
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
        self.ranker = Ranker(store, knowledge)
        self._answers: Latest[tuple[str, ...], Diagnosis] = Latest(_KEPT)
        self.trends: Latest[tuple[Any, ...], Any] = Latest(_TRENDS)
        """what `views/looking.py` keeps: its page and its picture are asked for one after the other"""
        self.hidden: Latest[tuple[Any, ...], Any] = Latest(_PRACTISED)
        """what `views/practice.py` keeps of the machines and drills that are practised now"""

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
        """A version of a sheet with its answer, which lists show where it is that of the latest.

        Raises Refused, UnusableInput.
        """
        held = self.held(name, "sheet", number)
        answers = self.store.answers
        material = answers.read(name, self.knowledge, held.version.number)
        if material.sheet is None:
            raise UnusableInput(material.problems)
        key = (name, material.made_of)
        found = self._answers.find(key)
        if found is None:
            made = found = diagnose(material.sheet, self.knowledge)
            self._answers.get(key, lambda: made)
        if number is None and not answers.fresh(name, self.knowledge):
            answers.keep(material, answer_of(material, material.sheet, found, self.knowledge))
        return Answered(held, material.sheet, found)


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
