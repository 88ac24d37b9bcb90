"""Readings made otherwise on purpose (`@hot`, `+arm-in`): compared with the plain reading, never with the limit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from oilpath.flow import SHARED_TIME, Evidence
from oilpath.flow.notes import Amount, Named, Note, OfTest, note
from oilpath.judging.limits import Standard
from oilpath.judging.measured import Case
from oilpath.judging.verdicts import evidence_of
from oilpath.knowledge.circuit import Circuit
from oilpath.uncertainty import combine

STANDARD = "standard"


def is_plain(case: Case) -> bool:
    """A reading that a limit can be for: the standard variant, alone."""
    return case.reading.variant == STANDARD and not case.reading.together_with


def plain_of(case: Case, cases: Mapping[str, Case]) -> Case | None:
    """The reading that a variant, or a reading with functions worked at the same time, is compared with."""
    own = case.reading
    wanted = own.together_with if own.variant != STANDARD else ()
    for other in cases.values():
        reading = other.reading
        if reading.test != own.test or reading.variant != STANDARD or reading.together_with != wanted:
            continue
        if all(reading.keys.get(key) == own.keys.get(key) for key in case.kind.id):
            return other
    return None


def compared(case: Case, cases: Mapping[str, Case], circuit: Circuit) -> tuple[Note, Evidence | None]:
    """What to say of a variant beside its plain reading, and the evidence in it.

    Functions worked at the same time give no evidence, as what they take depends on the levers; but one that is served
    first should keep its speed.
    """
    plain = plain_of(case, cases)
    if plain is None:
        return note("nothing-to-compare-with"), None
    named = Named("result", plain.reading.id)
    if not plain.usable:
        return note("not-compared-invalid", other=named), None
    scale = _scale(case, plain)
    if scale is None:
        return note("not-compared-other-stretch", other=named), None
    other, u = plain.value * scale, plain.u * scale
    value = OfTest(other, case.reading.test)
    alone = case.reading.variant == STANDARD
    if case.kind.scale == "offset":
        apart = case.value - other
        by = OfTest(abs(apart), case.reading.test, difference=True)
        says = note("more-than-plain" if apart > 0 else "less-than-plain", by=by, other=named, value=value)
        return says, None if alone else evidence_of(case, apart, combine(case.u, u))
    floor = max(case.resolution / 2, 0.0)
    mine, theirs = max(case.value, floor), max(other, floor)
    if mine <= 0 or theirs <= 0:
        return note("no-ratio-to-plain", other=named, value=value), None
    says = note("times-plain", factor=Amount(mine / theirs), other=named, value=value)
    u = combine(case.u / mine, u / theirs)
    if not alone:
        return says, evidence_of(case, math.log(mine / theirs), u)
    rules = case.kind.together
    if rules is None or not is_served_first(case, circuit):
        return says, None
    found = evidence_of(case, math.log(mine / theirs), combine(u, math.log(rules.within)))
    return says, replace(found, observe=SHARED_TIME)


def together_standard(case: Case, cases: Mapping[str, Case], circuit: Circuit) -> Standard | None:
    """What a movement with others at work is judged by: the same movement alone, and a factor; None if it is not."""
    rules = case.kind.together
    alone = plain_of(case, cases) if case.reading.variant == STANDARD and case.reading.together_with else None
    if rules is None or alone is None or not alone.usable or not case.usable or case.kind.scale != "ratio":
        return None
    scale = _scale(case, alone)
    if scale is None or alone.value <= 0:
        return None
    first = is_served_first(case, circuit)
    most = alone.value * scale * (rules.first if first else rules.shared)
    says = note("served-first-together" if first else "shares-flow-together", other=Named("result", alone.reading.id))
    relative = alone.u / alone.value
    return Standard("twin", max=most, u=most * relative, notes=(says,), factor=rules.within)


def is_served_first(case: Case, circuit: Circuit) -> bool:
    """Whether its movement gets its oil before all others."""
    return case.function is not None and case.function.group in circuit.served_first


def _scale(case: Case, plain: Case) -> float | None:
    rules = case.kind.limits
    own, other = case.reading.figures.get(rules.per or ""), plain.reading.figures.get(rules.per or "")
    if own is None or other is None or rules.scaling == "none" or math.isclose(own, other, rel_tol=1e-9):
        return 1.0
    both = (case.reading, plain.reading)
    if any(reading.keys.get(key) == word for key, word in rules.unscaled.items() for reading in both):
        return None
    return own / other
