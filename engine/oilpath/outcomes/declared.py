"""P(outcome | cause) as a check declares it, with the causes that it names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from oilpath.arrays import Array, Indexes, Mask
from oilpath.knowledge.check import Check
from oilpath.outcomes.places import Places, columns
from oilpath.records import dataclass

CauseKey = tuple[str, str]
"""kind and part"""


@dataclass(frozen=True, slots=True)
class Causes:
    """Causes as columns: the part of each, and which ones belong to a kind or a family (`pump.*`)."""

    columns: Indexes
    present: Mask
    of: Mapping[str, Mask]

    def named(self, patterns: Sequence[str]) -> Mask | None:
        """Causes that one of the patterns names, None if there is none."""
        found = [self.of[pattern] for pattern in patterns if pattern in self.of]
        return np.logical_or.reduce(found) if found else None

    def any_of(self, check: Check) -> bool:
        """Whether a check names any of them."""
        return any(pattern in self.of for tells in check.tells for pattern in tells.causes)


def asked(places: Places, causes: Sequence[CauseKey]) -> Causes:
    """The causes of one machine as columns."""
    found, present = columns(places, [part for _, part in causes])
    of: dict[str, Mask] = {}
    for number, (kind, _) in enumerate(causes):
        for pattern in (kind, f"{kind.split('.')[0]}.*"):
            of.setdefault(pattern, np.zeros(len(causes), dtype=np.bool_))[number] = True
    return Causes(found, present, of)


def given_by(check: Check) -> Array:
    """The probabilities that a check gives, shape (1 + entries of `tells`, outcomes): `otherwise`, then each entry."""
    words = [one.outcome for one in check.outcomes]
    rows = (check.otherwise, *(tells.outcomes for tells in check.tells))
    return np.array([[row.get(word, 0.0) for word in words] for row in rows])


def declared(
    check: Check, at: Sequence[int], places: Places, causes: Causes, counted: Array | None = None
) -> tuple[Array, Mask]:
    """P(outcome | cause), shape (places, outcomes, causes), and which causes the check names, (places, causes).

    at: the parts where it is made, as indexes. What it does not name has its `otherwise`. counted: what closed jobs
    made of the probabilities that the check gives, (1 + entries, outcomes).
    """
    given = given_by(check) if counted is None else counted
    picked = picks(check, at, places, causes)
    by_cause: Array = given[picked]
    return by_cause.transpose(0, 2, 1), picked > 0


def picks(check: Check, at: Sequence[int], places: Places, causes: Causes) -> Indexes:
    """Which entry of a check is for each cause, shape (places, causes): the first that fits it, 0 if none does."""
    picked = np.zeros((len(at), len(causes.columns)), dtype=np.intp)
    for number, tells in enumerate(check.tells, 1):
        named = causes.named(tells.causes)
        if named is None:
            continue
        fits = named & (places.near(tells.here)[list(at)][:, causes.columns] & causes.present)
        picked[fits & (picked == 0)] = number
    return picked
