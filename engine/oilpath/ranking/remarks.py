"""Where rules and ranking differ: likely, but not foreseen by a rule; suspected, but unlikely, and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from oilpath.flow import RankedCause, Suspicion, Suspicions
from oilpath.flow.notes import Named, Note, note
from oilpath.ranking.cause_index import CauseKey
from oilpath.ranking.weights import Weights

UNFORESEEN, UNLIKELY = 0.2, 0.02
"""presence from which a cause should have been suspected, and below which a suspicion has come to nothing"""
MOST = 3
"""remarks that an answer shows"""


def _suspected(suspicions: Suspicions) -> dict[CauseKey, Suspicion]:
    return {(s.cause, s.part): s for s in suspicions.suspicions if s.accuses}


def came_to_nothing(present: Mapping[CauseKey, float], suspicions: Suspicions) -> tuple[CauseKey, ...]:
    """Causes that a rule suspects and the readings do not support, in the order of `present`.

    Not those of a rule of which another suspicion leads: that one has done its work.
    """
    suspected = _suspected(suspicions)
    leading = {one.rule for key, one in suspected.items() if present.get(key, 0.0) > UNFORESEEN}
    return tuple(
        key
        for key, there in present.items()
        if there < UNLIKELY and key in suspected and suspected[key].rule not in leading
    )


def remarks(
    causes: Iterable[RankedCause], suspicions: Suspicions, against: Mapping[CauseKey, Weights]
) -> tuple[Note, ...]:
    """What to say of it; against: the weights of the causes that came to nothing."""
    suspected = _suspected(suspicions)
    said = [
        note("not-foreseen", cause=Named("cause", cause.cause, cause.part))
        for cause in causes
        if cause.present > UNFORESEEN and "." in cause.cause and (cause.cause, cause.part) not in suspected
    ]
    for cause in causes:
        _, speaks_against = against.get((cause.cause, cause.part), ((), ()))
        if speaks_against and len(said) < MOST:
            against_it = Named("result", speaks_against[0].result)
            said.append(note("suspected-but", cause=Named("cause", cause.cause, cause.part), result=against_it))
    return tuple(said)
