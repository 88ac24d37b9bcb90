"""Signs and places of a machine by the words in which a person types them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.session.lines import Unclear

SIDES: Final = {"l": "left", "left": "left", "r": "right", "right": "right"}


def place_named(text: str, machine: Machine) -> dict[str, str]:
    """A side, function or part of the machine by its id or title, as a key of a reading. Raises Unclear."""
    word = " ".join(text.lower().split())
    if word in SIDES:
        return {"side": SIDES[word]}
    circuit = machine.circuit
    tables: Mapping[str, Mapping[str, Any]] = {"function": circuit.functions, "part": circuit.parts}
    for key, known in tables.items():
        for name, entry in known.items():
            if word in (name, name.replace("-", " "), entry.title.lower()) and name not in machine.absent:
                return {key: name}
    raise Unclear("no-place")


def signs_named(words: Sequence[str], knowledge: Knowledge) -> list[str]:
    """The signs whose titles have all these words; if there are none, those whose descriptions have them."""
    titles = {name: f"{name} {sign.title}".lower() for name, sign in knowledge.signs.items()}
    found = [name for name, text in titles.items() if words and all(word in text for word in words)]
    if found:
        return found
    whole = {name: f"{titles[name]} {sign.look}".lower() for name, sign in knowledge.signs.items()}
    return [name for name, text in whole.items() if words and all(word in text for word in words)]
