"""Checks that prove a cause at a part: those that it names, else those whose likeliest outcome speaks for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from oilpath.outcomes import likelihoods
from oilpath.outcomes.table import SOUND

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.knowledge.check import Check

PROVES: Final = 5.0
"""weight, in decibans, from which the outcome of a check at a part confirms its cause"""
_USUAL: Final = 0.5
"""least probability of that outcome under the cause"""


def proving(cause: str, part: str, bench: Bench) -> tuple[tuple[str, str], ...]:
    """Checks and the parts where they are made: those that the cause names, in its order.

    Where it names none, those at its part or a pair that it belongs to, fewest minutes first.
    """
    return bench.proofs.get((cause, part), lambda: _proving(cause, part, bench))


def _proving(cause: str, part: str, bench: Bench) -> tuple[tuple[str, str], ...]:
    kinds = {check.check: check for check in bench.knowledge.checks}
    near = {part, *(name for name, one in bench.circuit.parts.items() if part in one.members)}
    places = {name: bench.places.of(check) for name, check in kinds.items()}
    named = next((one.checks for one in bench.knowledge.causes if one.cause == cause), ())
    if named:  # one that is made elsewhere (at the gauge, at the pump) proves it there
        return tuple(
            (name, place)
            for name in named
            if name in kinds
            for place in ([one for one in places[name] if one in near] or places[name])
        )
    here = [(kinds[name], place) for name, where in places.items() for place in where if place in near]
    here = sorted((made for made in here if _speaks(*made, cause, part, bench)), key=lambda made: made[0].minutes)
    return tuple((check.check, place) for check, place in here)


def _speaks(check: Check, place: str, cause: str, part: str, bench: Bench) -> bool:
    """Whether the likeliest outcome under a cause is likely, and speaks clearly for it against a sound machine."""
    try:
        chance = likelihoods(check, place, bench, [(cause, part), SOUND])
    except LookupError:  # the model knows no such reading here
        return False
    best = chance[chance[:, 0].argmax()]
    return bool(best[0] >= _USUAL and best[0] >= 10 ** (PROVES / 10) * best[1])
