"""P(outcome | cause) of one check, of an outcome on a sheet, and of all checks of a machine at all their parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from oilpath.arrays import Array, Mask
from oilpath.flow import CheckResult
from oilpath.knowledge.check import Check
from oilpath.outcomes.declared import CauseKey, Causes, asked, declared
from oilpath.outcomes.measured import Measured
from oilpath.outcomes.places import Places
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench

TELLING = 0.03
"""change in the probability of an outcome from which a measuring check counts for a cause"""


SOUND: CauseKey = ("none", "machine")
"""what is asked about as a cause that moves nothing"""


@dataclass(frozen=True, slots=True)
class Table:
    """All useful checks at all parts where they can be made.

    likelihood: (checks, outcomes, causes), zero for outcomes that a check lacks.
    affected: (checks, causes), the causes whose probability a check changes.
    """

    checks: tuple[tuple[Check, str], ...]
    likelihood: Array
    affected: Mask


def likelihoods(check: Check, part: str, bench: Bench, causes: Sequence[CauseKey]) -> Array:
    """P(outcome | cause) of a check made at a part, shape (outcomes, causes); every column adds up to 1.

    causes: kind and part of each; severities and variants are averaged over. `none`, `unknown` and whatever the check
    does not name have its `otherwise`; where the outcome is computed, what moves no reading.
    Raises LookupError if the machine has no such part, or the circuit model no such reading at it.
    """
    places = bench.places
    if part not in places.index:
        raise LookupError(f"the machine has no part {part}")
    known = bench.outcomes if check.measures else None
    if known is not None and known.columns(check, part) is None:
        raise LookupError(f"no reading of {check.check} is known at {part}")
    computed = known.probabilities(causes, ()) if known is not None else np.zeros((len(causes), 0))
    counted = bench.learned.outcomes.get(check.check)
    rows, _ = _rows(check, (part,), places, asked(places, causes), known, computed, counted)
    one: Array = rows[0]
    return one


def outcome_likelihood(result: CheckResult, bench: Bench) -> tuple[Array, float]:
    """P(the outcome on the sheet | hypothesis), shape (hypotheses,), and that of a sound machine.

    hypotheses: all of the bench; severities are averaged over. All have the same where the outcome is a reading that
    the circuit model does not know at the part. Raises LookupError if the knowledge base has no such check or
    outcome, or the machine no such part.
    """
    knowledge, hypotheses = bench.knowledge, bench.hypotheses
    name, part, outcome = result.check, result.part, result.outcome
    check = next((one for one in knowledge.checks if one.check == name), None)
    if check is None:
        raise LookupError(f"the knowledge base has no check {name}")
    words = [one.outcome for one in check.outcomes]
    if outcome not in words:
        raise LookupError(f"the check {name} has no outcome {outcome}")
    places = bench.places
    if part not in places.index:
        raise LookupError(f"the machine has no part {part}")
    which = words.index(outcome)
    about = asked(places, [*((h.cause.cause, h.part) for h in hypotheses), SOUND])
    said, named = declared(check, [places.index[part]], places, about, bench.learned.outcomes.get(name))
    chance: Array = said[0, which]
    if check.measures:
        known = bench.outcomes
        columns = known.columns(check, part)
        if columns is None:
            return np.full(len(hypotheses), 1 / len(words)), 1 / len(words)
        computed = np.append(known.of_hypotheses(columns)[:, which], known.sound[columns][which])
        chance = np.where(named[0], chance, computed)
    return chance[:-1], float(chance[-1])


def table(
    bench: Bench,
    causes: Sequence[CauseKey],
    nodes: Sequence[Sequence[float]] = (),
    skip: frozenset[CauseKey] = frozenset(),
) -> Table:
    """All checks that change the probability of at least one cause, by check and part, without `skip` (check, part).

    nodes: for every cause the weights of its severities that fit the sheet, as `RankedCause.nodes`; none: all alike.
    """
    places = bench.places
    knowledge, about = bench.knowledge, asked(places, causes)
    known = bench.outcomes
    computed = known.probabilities(causes, nodes)
    entries: list[tuple[Check, str]] = []
    rows: list[Array] = []
    affected: list[Mask] = []
    deepest = max((len(check.outcomes) for check in knowledge.checks), default=0)
    for check in sorted(knowledge.checks, key=lambda one: one.check):
        if not check.measures and not about.any_of(check):
            continue
        possible = known.parts.get(check.check, ()) if check.measures else places.of(check)
        parts = [part for part in possible if (check.check, part) not in skip]
        if not parts:
            continue
        counted = bench.learned.outcomes.get(check.check)
        likelihood, tells_of = _rows(check, parts, places, about, known, computed, counted)
        for row in np.flatnonzero(tells_of.any(axis=1)):
            entries.append((check, parts[row]))
            rows.append(likelihood[row])
            affected.append(tells_of[row])
    whole = np.zeros((len(entries), deepest, len(causes)))
    for number, row_ in enumerate(rows):
        whole[number, : len(row_)] = row_
    return Table(tuple(entries), whole, np.array(affected, dtype=np.bool_).reshape(len(entries), len(causes)))


def _rows(
    check: Check,
    parts: Sequence[str],
    places: Places,
    about: Causes,
    known: Measured | None,
    computed: Array,
    counted: Array | None,
) -> tuple[Array, Mask]:
    """P(outcome | cause), (parts, outcomes, causes), and which of them the check changes, (parts, causes).

    computed: (causes, columns) of all measuring checks. What such a check still names itself counts as declared.
    counted: as `declared` takes it.
    """
    if known is None or not check.measures:
        return declared(check, [places.index[part] for part in parts], places, about, counted)
    own, here = known.parts[check.check], known.at[check.check]
    at = [own.index(part) for part in parts]
    shape = (len(own), len(check.outcomes))
    chance = computed[:, here].reshape(-1, *shape)[:, at].transpose(1, 2, 0)
    sound = known.sound[here].reshape(shape)[at]
    affected: Mask = np.abs(chance - sound[:, :, None]).max(axis=1) > TELLING
    if check.tells and about.any_of(check):
        said, named = declared(check, [places.index[part] for part in parts], places, about, counted)
        chance = np.where(named[:, None, :], said, chance)
        affected |= named
    return chance, affected
