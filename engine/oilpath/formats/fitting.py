"""Which tests a kind of machine can be put to: it has the parts, the movements and the answers that a test asks for."""

from __future__ import annotations

from collections.abc import Mapping

from oilpath.formats.machine import Machine
from oilpath.formats.testkind import TestKind

RESPONSE = "response"
"""`observe` of tests that only circuits with a response for them can be put to"""
_GROUNDS: Mapping[str, str] = {"function": "functions", "cylinder": "holds"}


def can_be_put_to(test: str, kind: TestKind, machine: Machine) -> bool:
    """Whether a machine has what a test is made at."""
    circuit = machine.circuit
    classes = {part.class_ for name, part in circuit.parts.items() if name not in machine.absent}
    if kind.needs and not classes & set(kind.needs):
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
