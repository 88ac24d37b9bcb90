"""The units in which a machine's limits are written. People note their readings in the same ones."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

from oilpath.documents.edit import Document, open_document
from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.problems import UnusableInput

_AMOUNT: Final = re.compile(r"[+-]?[0-9][0-9.eE+-]*\s*([^\s0-9].*)")
_ENDS: Final = ("new", "max", "min")
_VEER: Final = "max-veer"


def limits_as_written(document: Document, machine: Machine) -> tuple[Mapping[str, Any], ...]:
    """The limits of a sheet's machine as written in its file; none if the file cannot be read."""
    stated = document.data.get("machine")
    if not isinstance(stated, dict):
        try:
            stated = open_document(machine.file).data
        except UnusableInput:
            return ()
    return tuple(one for one in stated.get("limits") or () if isinstance(one, dict))


def units_of_limits(limits: Iterable[Mapping[str, Any]], knowledge: Knowledge) -> dict[str, str]:
    """For each kind of quantity, the unit of the first limit."""
    found: dict[str, str] = {}
    for limit in limits:
        kind = knowledge.tests.get(str(limit.get("test")))
        for key in (*_ENDS, _VEER):
            quantity = "distance" if key == _VEER else kind.quantity if kind is not None else None
            written = _AMOUNT.fullmatch(str(limit.get(key, "")).strip())
            if quantity is not None and written is not None:
                found.setdefault(quantity, written.group(1))
    return found
