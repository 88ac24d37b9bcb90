"""P(outcome | cause) as the checks declare it: of one check, of an outcome on a sheet, of all checks of a machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from oilpath.arrays import Array, Indexes, Mask
from oilpath.circuit.graph import CircuitGraph, circuit_graph
from oilpath.flow import Result
from oilpath.formats.check import Check
from oilpath.formats.knowledge import Knowledge
from oilpath.formats.machine import Machine
from oilpath.planning.places import Places, columns, places_of

Cause = tuple[str, str]
"""kind and part"""


@dataclass(frozen=True, slots=True)
class _Causes:
    """Causes to be asked about: their parts as columns, and which of them are of a kind or of a family (`pump.*`)."""

    columns: Indexes
    present: Mask
    of: Mapping[str, Mask]

    def named(self, patterns: Sequence[str]) -> Mask | None:
        """Causes that one of the patterns names, None where there is none."""
        found = [self.of[pattern] for pattern in patterns if pattern in self.of]
        return np.logical_or.reduce(found) if found else None


def _causes(places: Places, causes: Sequence[Cause]) -> _Causes:
    found, present = columns(places, [part for _, part in causes])
    of: dict[str, Mask] = {}
    for number, (kind, _) in enumerate(causes):
        for pattern in (kind, f"{kind.split('.')[0]}.*"):
            of.setdefault(pattern, np.zeros(len(causes), dtype=np.bool_))[number] = True
    return _Causes(found, present, of)


def _rows(check: Check, at: list[int], places: Places, causes: _Causes) -> tuple[Array, Mask]:
    """P(outcome | cause), shape (places, outcomes, causes), and which causes the check tells of, (places, causes)."""
    words = [one.outcome for one in check.outcomes]
    many = len(causes.columns)
    # One row for `otherwise`, then one for each entry: every cause picks the first entry that fits it.
    given = np.array([[row[word] for word in words] for row in (check.otherwise, *(t.outcomes for t in check.tells))])
    picked = np.zeros((len(at), many), dtype=np.intp)
    for number, tells in enumerate(check.tells, 1):
        named = causes.named(tells.causes)
        if named is None:
            continue
        fits = named & (places.near(tells.here)[at][:, causes.columns] & causes.present)
        picked[fits & (picked == 0)] = number
    by_cause: Array = given[picked]
    return by_cause.transpose(0, 2, 1), picked > 0


def likelihoods(check: Check, part: str, graph: CircuitGraph, causes: Sequence[Cause]) -> Array:
    """P(outcome | cause) of a check made at a part, shape (outcomes, causes); every column adds up to 1.

    causes: kind and part of each; `none`, `unknown` and whatever the check does not name have its `otherwise`.
    Raises LookupError where the machine has no such part.
    """
    places = places_of(graph)
    if part not in places.index:
        raise LookupError(f"the machine has no part {part}")
    rows, _ = _rows(check, [places.index[part]], places, _causes(places, causes))
    one: Array = rows[0]
    return one


def outcome_likelihood(result: Result, machine: Machine, knowledge: Knowledge, causes: Sequence[Cause]) -> Array:
    """P(the outcome on the sheet | cause) for a result of the test `check`, shape (causes,).

    Raises LookupError where the knowledge base has no such check or outcome, or the machine no such part.
    """
    name, part, outcome = result.keys["check"], result.keys["part"], result.value
    check = next((one for one in knowledge.checks if one.check == name), None)
    if check is None:
        raise LookupError(f"the knowledge base has no check {name}")
    words = [one.outcome for one in check.outcomes]
    if outcome not in words:
        raise LookupError(f"the check {name} has no outcome {outcome}")
    return np.asarray(likelihoods(check, part, circuit_graph(machine), causes)[words.index(str(outcome))])


@dataclass(frozen=True, slots=True)
class Table:
    """Every check worth a thought, at every part where it can be made.

    likelihood: (checks, outcomes, causes), zero for outcomes that a check lacks.
    told: (checks, causes), the causes that a check tells of.
    """

    checks: tuple[tuple[Check, str], ...]
    likelihood: Array
    told: Mask


def table(checks: Sequence[Check], graph: CircuitGraph, causes: Sequence[Cause], skip: frozenset[Cause]) -> Table:
    """All checks that tell of at least one of the causes, in order of check and part, without `skip` (check, part)."""
    places, asked = places_of(graph), _causes(places_of(graph), causes)
    entries: list[tuple[Check, str]] = []
    rows: list[Array] = []
    told: list[Mask] = []
    deepest = max((len(check.outcomes) for check in checks), default=0)
    for check in sorted(checks, key=lambda one: one.check):
        if not any(pattern in asked.of for tells in check.tells for pattern in tells.causes):
            continue
        parts = [part for part in places.of(check) if (check.check, part) not in skip]
        if not parts:
            continue
        likelihood, tells_of = _rows(check, [places.index[part] for part in parts], places, asked)
        for row in np.flatnonzero(tells_of.any(axis=1)):
            entries.append((check, parts[row]))
            rows.append(likelihood[row])
            told.append(tells_of[row])
    whole = np.zeros((len(entries), deepest, len(causes)))
    for number, row_ in enumerate(rows):
        whole[number, : len(row_)] = row_
    return Table(tuple(entries), whole, np.array(told, dtype=np.bool_).reshape(len(entries), len(causes)))
