"""What applies to a machine: tests that its parts and movements allow, cautions, conditions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKind

RESPONSE = "response"
"""`observe` of tests that only circuits with a response for them can be put to"""
_GROUNDS: Mapping[str, str] = {"function": "functions", "cylinder": "holds"}


def has_any(classes: Iterable[str], machine: Machine) -> bool:
    """Whether a machine has a part of any of these classes. No classes: always true."""
    wanted = tuple(classes)
    return not wanted or not machine.classes.isdisjoint(wanted)


def cautions_on(names: Iterable[str], knowledge: Knowledge, machine: Machine | None) -> tuple[str, ...]:
    """The cautions (ids) that apply to a machine, each once; all of them if there is no machine."""
    return tuple(
        name
        for name in dict.fromkeys(names)
        if (caution := knowledge.cautions.get(name)) and (machine is None or has_any(caution.needs, machine))
    )


def can_be_put_to(test: str, kind: TestKind, machine: Machine) -> bool:
    """Whether the machine has the parts or movements that a test needs."""
    circuit = machine.circuit
    if not has_any(kind.needs, machine):
        return False
    if kind.observe == RESPONSE and not any(
        one.test == test and one.at not in machine.absent for one in circuit.responses
    ):
        return False
    asked = {key.is_ for key in kind.keys.values() if key.required}
    if "pump" in asked and not machine.allocation.pumps:
        return False
    if not all(getattr(circuit, held) for word, held in _GROUNDS.items() if word in asked):
        return False
    fixed = bool(kind.load) and "{" not in kind.load
    return not fixed or any(kind.load in function.pressure for function in circuit.functions.values())
