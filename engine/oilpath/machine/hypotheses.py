"""What could be wrong on one machine: every cause at every part where it can stand, in each of its variants."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from oilpath.knowledge.cause import Cause, Disturbs, Frequency
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.parameters import PARAMETERS, Parameter
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.reach import Reach, reach
from oilpath.records import dataclass


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
    frequency: Frequency
    """how frequent what it is a share of is"""

    @property
    def title(self) -> str:
        """Of the knowledge base; `{part}` stands for its part's title."""
        return self.cause.titles.get(self.variant or "", self.cause.title)


def places(cause: Cause, circuit: CircuitGraph) -> tuple[str, ...]:
    """Parts of this machine at which a cause can be. None if the cause affects several alike and there is only one."""
    if not any(_has_place(d, circuit) for d in (cause.ways.values() if cause.ways else [cause.disturbs])):
        return ()
    named = tuple(part for part in cause.at.parts if part in circuit.parts)
    return tuple(dict.fromkeys((*named, *circuit.of_class(*cause.at.class_))))


def hypotheses(causes: tuple[Cause, ...], circuit: CircuitGraph) -> tuple[Hypothesis, ...]:
    """All single-cause hypotheses of a machine, in the order of the knowledge base.

    A kind's prior is per machine: it is shared out evenly over the parts of that kind, and at each part over the
    variants; a way with a frequency of its own over the parts alone. What disturbs all parts of a class alike is one
    hypothesis, at the first of its places. What has no place at its part is left to the model, which refuses it.
    """
    found: list[Hypothesis] = []
    for cause in causes:
        parts = places(cause, circuit)
        at_part = {part: _variants(cause, part, circuit, first=part == parts[0]) for part in parts}
        for part, variants in at_part.items():
            usual = sum(variant not in cause.frequencies for variant, _, _ in variants)
            for variant, functions, disturbs in variants:
                own = cause.frequencies.get(variant or "")
                alike = usual if own is None else 1
                where = (
                    sum(any(v == variant for v, _, _ in others) for others in at_part.values()) if own else len(parts)
                )
                disturbances = tuple(one for d in disturbs for one in _disturbances(d, part, functions, circuit))
                found.append(
                    Hypothesis(cause, part, variant, disturbances, 1 / (where * alike), own or cause.frequency)
                )
    return tuple(found)


def _disturbances(
    disturbs: Disturbs, part: str, functions: tuple[str, ...], circuit: CircuitGraph
) -> Iterator[Disturbance]:
    """What a cause disturbs: at its part, or at all parts of a class alike."""
    if disturbs.of is None:
        yield disturbance(disturbs, part, functions, circuit)
    else:
        for name in circuit.of_class(disturbs.of):
            yield disturbance(disturbs, name, circuit.functions_of(name), circuit)


def disturbance(disturbs: Disturbs, part: str, functions: tuple[str, ...], circuit: CircuitGraph) -> Disturbance:
    """What a cause disturbs at a part, for some of the functions that the part serves."""
    parameter = disturbs.parameter
    if disturbs.only is not None:
        functions = tuple(name for name in functions if part in getattr(circuit.functions[name], disturbs.only))
    return Disturbance(
        parameter, part, functions, disturbs.from_, disturbs.to, PARAMETERS[parameter].sound, disturbs.quantity,
        reach(parameter, part, functions, circuit),
    )  # fmt: skip


def _has_place(disturbs: Iterable[Disturbs], circuit: CircuitGraph, *, first: bool = True) -> bool:
    """Whether there are several parts of each class that is disturbed as a whole; one alone is a cause of its own."""
    classes = [d.of for d in disturbs if d.of is not None]
    return not classes or (first and all(len(circuit.of_class(name)) > 1 for name in classes))


def misplaced(h: Hypothesis, circuit: Circuit) -> tuple[Disturbance, ...]:
    """Disturbances that have no effect at the part of the hypothesis, and that no response of the circuit names."""
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


def _variants(cause: Cause, part: str, circuit: CircuitGraph, *, first: bool) -> list[Variant]:
    functions = circuit.functions_of(part)
    if cause.ways or any(d.of is not None for d in cause.disturbs):
        ways: list[tuple[str | None, tuple[Disturbs, ...]]] = [*cause.ways.items()] or [(None, cause.disturbs)]
        return [(way, functions, d) for way, d in ways if _has_place(d, circuit, first=first)]
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
