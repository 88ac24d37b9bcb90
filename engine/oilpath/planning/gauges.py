"""Where to fit a gauge: the point on the path of a slow function that splits the suspects best."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from oilpath.flow import GaugePoint, RankedCause, Result
from oilpath.machine.way import splits
from oilpath.rules.facts.readings import read_results

if TYPE_CHECKING:
    from oilpath.bench import Bench

MOST_POINTS = 3
LEAST_SHARE = 0.1
"""share of the suspects that a point must leave on either side; else a gauge there tells next to nothing"""


def gauge_points(causes: Sequence[RankedCause], results: Sequence[Result], bench: Bench) -> tuple[GaugePoint, ...]:
    """The best gauge point on the path of each slow function, the most even split first. Each part is named once."""
    circuit = bench.circuit
    shares: dict[str, float] = {}
    for cause in causes:
        shares[cause.part] = shares.get(cause.part, 0.0) + cause.probability
    readings = read_results([one for one in results if one.verdict == "fail"], circuit, bench.knowledge)
    slow = dict.fromkeys(one.function for one in readings if one.usual and one.kind.timed and one.is_out("slow"))
    best = [point for name in slow if name for point in splits(name, shares, circuit)[:1]]
    telling = sorted(
        (one for one in best if min(one.before, one.after) >= LEAST_SHARE),
        key=lambda one: round(abs(one.before - one.after), 9),
    )
    return tuple({one.behind: one for one in reversed(telling)}.values())[::-1][:MOST_POINTS]
