"""What could be wrong on one machine: every cause at every part where it can stand, in each of its variants."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from oilpath.knowledge.cause import Cause, Disturbs
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.parameters import PARAMETERS, Parameter
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.reach import Reach, reach


@dataclass(frozen=True, slots=True)
class Disturbance:
    """One parameter that a hypothesis disturbs at its part, for some functions; values run from `start` to `end`."""

    parameter: Parameter
    part: str
    functions: tuple[str, ...]
    start: float
    end: float
    sound: float
    quantity: str
    reach: Reach
    """what it acts on"""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One cause at one part in one variant (None: the whole of it)."""

    cause: Cause
    part: str
    variant: str | None
    disturbances: tuple[Disturbance, ...]
    share: float
    """its share of the prior of its kind on this machine"""


def places(cause: Cause, circuit: CircuitGraph) -> tuple[str, ...]:
    """Parts of this machine at which a cause can stand."""
    named = tuple(part for part in cause.at.parts if part in circuit.parts)
    return tuple(dict.fromkeys((*named, *circuit.of_class(*cause.at.class_))))


def hypotheses(causes: tuple[Cause, ...], circuit: CircuitGraph) -> tuple[Hypothesis, ...]:
    """All single-cause hypotheses of a machine, in the order of the knowledge base.

    A kind's prior is per machine: it is shared out evenly over the parts of that kind, and at each part over the
    variants. What has no place at its part is left to the model, which refuses it.
    """
    found: list[Hypothesis] = []
    for cause in causes:
        parts = places(cause, circuit)
        for part in parts:
            variants = _variants(cause, part, circuit)
            for variant, functions, disturbs in variants:
                disturbances = tuple(disturbance(d, part, functions, circuit) for d in disturbs)
                found.append(Hypothesis(cause, part, variant, disturbances, 1 / (len(parts) * len(variants))))
    return tuple(found)


def disturbance(disturbs: Disturbs, part: str, functions: tuple[str, ...], circuit: CircuitGraph) -> Disturbance:
    """What a cause disturbs at a part, for some of the functions that the part serves."""
    parameter = disturbs.parameter
    if disturbs.only is not None:
        functions = tuple(name for name in functions if part in getattr(circuit.functions[name], disturbs.only))
    return Disturbance(
        parameter, part, functions, disturbs.from_, disturbs.to, PARAMETERS[parameter].sound, disturbs.quantity,
        reach(parameter, part, functions, circuit),
    )  # fmt: skip


def misplaced(h: Hypothesis, circuit: Circuit) -> tuple[Disturbance, ...]:
    """What a hypothesis disturbs at its part though it has no place there, and no response of the circuit names it."""
    named = {(factor.parameter, factor.part) for response in circuit.responses for factor in response.factors}
    return tuple(d for d in h.disturbances if not d.reach and (d.parameter, d.part) not in named)


def fitting_classes(parameter: Parameter, circuits: Iterable[CircuitGraph]) -> tuple[str, ...]:
    """Classes of the parts at which a parameter has a place, in alphabetical order."""
    found = {
        part.class_
        for circuit in circuits
        for name, part in circuit.parts.items()
        if reach(parameter, name, circuit.functions_of(name), circuit)
    }
    return tuple(sorted(found))


Variant = tuple[str | None, tuple[str, ...], tuple[Disturbs, ...]]


def _variants(cause: Cause, part: str, circuit: CircuitGraph) -> list[Variant]:
    functions = circuit.functions_of(part)
    if cause.ways:
        return [(way, functions, disturbs) for way, disturbs in cause.ways.items()]
    whole: list[Variant] = [(None, functions, cause.disturbs)]
    if cause.variants == "functions" and len(functions) > 1:
        return whole + [(name, (name,), cause.disturbs) for name in functions]
    if cause.variants == "sides":
        sides = dict.fromkeys(circuit.functions[name].side for name in functions)
        return [
            (side, tuple(name for name in functions if circuit.functions[name].side == side), cause.disturbs)
            for side in sides
            if side
        ] or whole
    return whole
