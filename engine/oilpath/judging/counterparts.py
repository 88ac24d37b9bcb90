"""Readings and their counterparts: left and right, forward and reverse, one pump and the other."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping

from oilpath.flow import ReadingResult, Result
from oilpath.flow.notes import Amount, Named, OfTest, note
from oilpath.judging.limits import Standard
from oilpath.judging.measured import Case
from oilpath.judging.verdicts import Thresholds
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.testkind import TestKey
from oilpath.uncertainty import combine, probability_out


def counterpart_of(case: Case, cases: Mapping[str, Case], circuit: Circuit, *, first: bool = False) -> Case | None:
    """The usable plain reading of the same test at the other one of two alike; None if there is none or several.

    first: only by the first key that the test kind names.
    """
    rules = case.kind.twin
    if rules is None or not _plain(case):
        return None
    same = [other for other in cases.values() if other.reading.test == case.reading.test]
    for by in rules.by[:1] if first else rules.by:
        found = [other for other in same if _paired(case, other, by, rules.across, circuit)]
        if len(found) == 1:
            return found[0]
    return None


def _plain(case: Case) -> bool:
    return case.usable and case.reading.variant == "standard" and not case.reading.together_with


def _paired(case: Case, other: Case, by: str, across: tuple[str, ...], circuit: Circuit) -> bool:
    if other.reading.id == case.reading.id or not _plain(other):
        return False
    mine, theirs = case.reading.keys, other.reading.keys
    free = {by, *across}
    if any(mine.get(key) != theirs.get(key) for key in case.kind.id if key not in free):
        return False
    if not _alike(mine.get(by, ""), theirs.get(by, ""), case.kind.keys[by], circuit):
        return False
    return "function" not in across or _shared_limit(case, other)


def _alike(one: str, two: str, key: TestKey, circuit: Circuit) -> bool:
    """Two words of a closed list, or two parts of a class at the same port, but not the same."""
    if key.is_ == "word":
        return one != two and one in key.words and two in key.words
    a, b = _part(one, key, circuit), _part(two, key, circuit)
    return a is not None and b is not None and a[0] != b[0] and a[1:] == b[1:]


def _part(name: str, key: TestKey, circuit: Circuit) -> tuple[str, str, str] | None:
    """Id, class and port of `pump-1-outlet`."""
    for port in ("", *key.ports):
        base = name.removesuffix(f"-{port}") if port else name
        if base in circuit.parts and (base != name or not port):
            return base, circuit.parts[base].class_, port
    return None


def _shared_limit(one: Case, two: Case) -> bool:
    """Functions for which the same limit would hold."""
    groups = one.kind.limits.default_functions
    functions = (one.function, two.function)
    return not groups or all(function is not None and function.group in groups for function in functions)


def from_counterpart(case: Case, counterpart: Case) -> Standard | None:
    """The worse of two is judged by the better, which itself passes for sound: both may be off alike."""
    rules = case.kind.twin
    if rules is None:
        return None
    scale = _amount(case) / _amount(counterpart)
    other, u = counterpart.value * scale, counterpart.u * scale
    ratio = case.kind.scale == "ratio"
    if ratio and other <= 0:
        return None
    higher = rules.worse == "higher"
    step = rules.tolerance * other if ratio else rules.tolerance
    worse = case.value > other if higher else case.value < other
    limit = other + step if higher else other - step
    named = Named("result", counterpart.reading.id)
    # Both are compared with the better one, and where that lies is not known: the pair says how it differs, no more.
    shares = {"twins": "|".join(sorted((case.reading.id, counterpart.reading.id)))}
    low, high = (None, limit) if higher else (limit, None)
    if worse:
        says = note("compared-with-counterpart", other=named)
        return Standard("twin", other, low, high, u=u, reference=other, shares=shares, notes=(says,))
    says = note("counterpart-is-worse", other=named)
    return Standard("twin", None, low, high, u=u, reference=case.value, shares=shares, notes=(says,))


def from_droop(case: Case, cases: Mapping[str, Case]) -> Standard | None:
    """A speed under load by that without load, as it was measured; None if there is no such reading, or no rule.

    It is no evidence of its own: where the speed without load should lie is not known by it.
    """
    rules = case.kind.droop
    if rules is None or case.reading.keys.get(rules.key) not in rules.of:
        return None
    for other in cases.values():
        if other.reading.test == case.reading.test and other.reading.keys.get(rules.key) == rules.below:
            if not _plain(other):
                continue
            kept = 1 - rules.most
            says = note("droop-from", other=Named("result", other.reading.id), most=Amount(rules.most, "ratio"))
            return Standard("twin", min=other.value * kept, u=other.u * kept, notes=(says,))
    return None


def _amount(case: Case) -> float:
    """Hold, distance or turns by which two readings of the same test are brought to the same."""
    per = case.kind.limits.per
    if per is None or case.kind.limits.scaling == "none":
        return 1.0
    return case.reading.figures.get(per, 1.0)


def differences(
    results: list[Result],
    cases: Mapping[str, Case],
    standards: Mapping[str, Standard | None],
    circuit: Circuit,
    thresholds: Thresholds,
) -> Iterator[Result]:
    """The results again, the worse of two marked where they differ by more than the limit's `max-difference`."""
    for result in results:
        case, standard = cases.get(result.id), standards.get(result.id)
        if case is not None and standard is not None and standard.difference is not None:
            counterpart = counterpart_of(case, cases, circuit, first=True)
            if counterpart is not None and isinstance(result, ReadingResult):
                yield _compared(result, case, counterpart, standard.difference, thresholds)
                continue
        yield result


def _compared(
    result: ReadingResult, case: Case, counterpart: Case, allowed: float, thresholds: Thresholds
) -> ReadingResult:
    scale = _amount(case) / _amount(counterpart)
    mean = (case.value + counterpart.value * scale) / 2
    worse_high = case.kind.twin is None or case.kind.twin.worse == "higher"
    apart = (case.value - counterpart.value * scale) / mean * (1 if worse_high else -1)
    if apart <= 0:
        return result
    probability = probability_out(apart, combine(case.u, counterpart.u * scale) / mean, None, allowed)
    if thresholds.verdict(probability) == "pass":
        return result
    highest = max(probability, result.probability_out or 0.0)
    says = note(
        "differs-from-counterpart" if thresholds.verdict(probability) == "fail" else "may-differ-from-counterpart",
        by=Amount(apart, "ratio"), way=(case.kind.more_is if worse_high else case.kind.less_is) or "",
        other=Named("result", counterpart.reading.id),
        value=OfTest(counterpart.value * scale, counterpart.reading.test),
        allowed=Amount(allowed, "ratio"),
    )  # fmt: skip
    return dataclasses.replace(
        result, verdict=thresholds.verdict(highest), probability_out=highest, notes=(*result.notes, says)
    )
