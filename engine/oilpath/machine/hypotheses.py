"""What could be wrong on one machine: every cause at every part where it can stand, in each of its variants."""

from __future__ import annotations

from dataclasses import dataclass

from oilpath.knowledge.cause import Cause, Disturbs
from oilpath.machine.graph import CircuitGraph


@dataclass(frozen=True, slots=True)
class Disturbance:
    """One parameter that a hypothesis disturbs at its part, for some functions; values run from `start` to `end`."""

    parameter: str
    part: str
    functions: tuple[str, ...]
    start: float
    end: float
    sound: float
    quantity: str


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One cause at one part in one variant (None: the whole of it)."""

    cause: Cause
    part: str
    variant: str | None
    disturbances: tuple[Disturbance, ...]
    share: float
    """its share of the prior of its kind on this machine"""


#: The value of each parameter on a sound machine (ratios 1, additions 0).
SOUND = {
    "speed": 1.0, "drive-speed": 1.0, "viscosity": 1.0, "fill": 1.0, "stroke": 1.0, "leakage": 0.0, "bypass": 0.0,
    "torque": 1.0, "opening": 1.0, "drag": 0.0, "back-pressure": 0.0, "setting": 1.0, "regeneration": 1.0, "shift": 0.0,
    "held-leak": 0.0, "seal-leak": 0.0, "creep": 0.0, "offset": 1.0, "offset-all": 1.0,
    "merging": 1.0, "scatter": 0.0, "cooling": 0.0, "load": 1.0,
    "heat": 1.0, "effectiveness": 1.0, "switching": 1.0, "charge": 1.0, "none": 0.0,
}  # fmt: skip


def places(cause: Cause, circuit: CircuitGraph) -> tuple[str, ...]:
    """Parts of this machine at which a cause can stand."""
    named = tuple(part for part in cause.at.parts if part in circuit.parts)
    return tuple(dict.fromkeys((*named, *circuit.of_class(*cause.at.class_))))


def hypotheses(causes: tuple[Cause, ...], circuit: CircuitGraph) -> tuple[Hypothesis, ...]:
    """All single-cause hypotheses of a machine, in the order of the knowledge base.

    A kind's prior is per machine: it is shared out evenly over the parts of that kind, and at each part over the
    variants.
    """
    found: list[Hypothesis] = []
    for cause in causes:
        parts = places(cause, circuit)
        for part in parts:
            variants = _variants(cause, part, circuit)
            for variant, functions, disturbs in variants:
                disturbances = tuple(_disturbance(d, part, functions, circuit) for d in disturbs)
                found.append(Hypothesis(cause, part, variant, disturbances, 1 / (len(parts) * len(variants))))
    return tuple(found)


def _disturbance(disturbs: Disturbs, part: str, functions: tuple[str, ...], circuit: CircuitGraph) -> Disturbance:
    if disturbs.only is not None:
        functions = tuple(name for name in functions if part in getattr(circuit.functions[name], disturbs.only))
    sound = SOUND[disturbs.parameter]
    return Disturbance(disturbs.parameter, part, functions, disturbs.from_, disturbs.to, sound, disturbs.quantity)


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
