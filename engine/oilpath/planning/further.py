"""Readings that are not on the sheet yet, rated by what they would tell. Each is treated as a check that takes it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

import numpy as np

from oilpath.flow import RankedCause
from oilpath.knowledge.cause import CausePlace
from oilpath.knowledge.check import Check, CheckOutcome, Gives, Measure
from oilpath.outcomes.measured import Measures
from oilpath.planning.checks import LEAST_BITS, PLANNED
from oilpath.planning.plan_tree import Choices, bits
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.session.slots import Slot

_ID = "reading"
_PLACE = "machine"
_LOW, _USUAL, _HIGH = "low", "usual", "high"


@dataclass(frozen=True, slots=True)
class Worth:
    """What a reading would tell: expected information in bits, and the probabilities that it is low or high."""

    slot: Slot
    bits: float
    low: float
    high: float


def worth_of(
    slots: Sequence[Slot], causes: Sequence[RankedCause], bench: Bench, made: Collection[str]
) -> tuple[Worth, ...]:
    """The readings of `slots` whose id is not in `made`, most information first; those that tell nothing left out.

    causes: as ranked; each other is taken to move nothing.
    """
    wanted = {f"{_ID}-{n}": slot for n, slot in enumerate(slots) if slot.id not in made and slot.value is not None}
    asked = [cause for cause in causes if cause.probability >= PLANNED]
    if not wanted or not asked:
        return ()
    checks = tuple(_check(name, slot) for name, slot in wanted.items())
    known = Measures(bench.model, bench.places, bench.knowledge.model_copy(update={"checks": checks}))
    table = known.on(bench.machine.limits)
    shares = np.array([cause.probability for cause in asked])
    prior = np.append(shares, max(sum(cause.probability for cause in causes) - float(shares.sum()), 0.0))
    prior /= prior.sum()
    chance = table.probabilities(
        [*((one.cause, one.part) for one in asked), ("", "")], [*(one.nodes for one in asked), ()]
    )
    columns = {check.check: table.columns(check, _PLACE) for check in checks}
    weighed = [(wanted[name], where) for name, where in columns.items() if where is not None]
    if not weighed:
        return ()
    likelihood = np.stack([chance[:, where].T for _, where in weighed])
    one = np.ones(len(weighed))
    gain = bits(Choices(likelihood, one, one, np.arange(len(prior), dtype=np.intp)), prior)
    out = likelihood @ prior
    found = [
        Worth(slot, float(gain[n]), float(out[n, 0]), float(out[n, 2]))
        for n, (slot, _) in enumerate(weighed)
        if gain[n] >= LEAST_BITS
    ]
    return tuple(sorted(found, key=lambda worth: -round(worth.bits, 9)))


def _check(name: str, slot: Slot) -> Check:
    """The reading as a check that is made at the machine: lower than usual, as usual, higher."""
    return Check(
        check=name,
        title=name,
        at=CausePlace(parts=(_PLACE,)),
        minutes=1.0,
        intrusiveness=0,
        tools=(name,),
        cautions=(),
        how=(name,),
        outcomes=tuple(CheckOutcome(outcome=word, says=word) for word in (_LOW, _USUAL, _HIGH)),
        measures={_ID: Measure(test=(slot.test,), keys=dict(slot.keys))},
        gives=(
            Gives(outcome=_LOW, when={_ID: ("below",)}),
            Gives(outcome=_HIGH, when={_ID: ("above",)}),
            Gives(outcome=_USUAL),
        ),
        source=name,
    )
