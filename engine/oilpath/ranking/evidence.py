"""The readings of one sheet as numbers for the likelihood: deviations, their variances, the scatter they share."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field

import numpy as np

from oilpath.arrays import Array
from oilpath.flow import Evidence, Measured, Result
from oilpath.knowledge.base import Knowledge, SharedScatter
from oilpath.machine.graph import CircuitGraph
from oilpath.records import dataclass

NOTHING = -math.log(50.0)
"""ln ratio below which a reading only says "next to nothing": the model knows no less"""
GROSS = 3.0
"""how widely gross readings lie, most of them in this width: ln ratio from a quarter to fivefold, or m (from memory)"""


@dataclass(frozen=True, slots=True)
class Readings:
    """R readings that the model knows.

    `e` (R,) deviations from the sound machine (ln ratio, or SI), `variance` (R,) of each alone, `shared` (R, K) the
    factor L of the scatter that they share, `out` (R,) the failing or nearly failing ones, `spread` (R,) how far the
    hypothesis `unknown` lets each lie, `width` (R,) one over the density of a gross reading, `censored` (R,) the value
    beyond which a reading only says "much". `kinds` (R, J) is 1 where a reading belongs to a kind whose predicted
    effects are off alike, `off` (R,) by what share of the effect; `beyond` (R,) how probably each is beyond its limit.
    """

    evidence: tuple[Evidence, ...]
    e: Array
    variance: Array
    shared: Array
    out: np.ndarray
    spread: Array
    width: Array
    censored: Array
    kinds: Array = field(default_factory=lambda: np.zeros((0, 0)))
    off: Array = field(default_factory=lambda: np.zeros(0))
    beyond: Array = field(default_factory=lambda: np.zeros(0))


def censor(values: Array, limits: Array) -> Array:
    """Values (…, R) beyond ±limits (R,) only say «much», measured and predicted alike (a veer that is corrected)."""
    clipped: Array = np.clip(values, -limits, limits)
    return clipped


@dataclass(frozen=True, slots=True)
class Sources:
    """What scatters R readings, whatever their values: all of it but what they themselves say.

    `own` (R,) the scatter of each alone between sound machines, `spread` (R,), and the rest as in `Readings`; `alone`
    (R,) the variance that a source adds which no other reading shares; `least` (R,) the least deviation that counts.
    """

    own: Array
    alone: Array
    shared: Array
    spread: Array
    censored: Array
    least: Array
    kinds: Array
    off: Array


def sources_of(evidence: Sequence[Evidence], circuit: CircuitGraph, knowledge: Knowledge) -> Sources:
    """The sources of scatter of some readings."""
    tests = knowledge.tests
    words = [_words(x, circuit) for x in evidence]
    columns = _shared(evidence, words, knowledge.scatter)
    alone = (np.abs(columns) > 0).sum(axis=0) == 1 if columns.size else np.zeros(0, dtype=bool)
    own = np.array([_own(tests[x.test].scatter) for x in evidence])
    offset = np.array([x.scale == "offset" for x in evidence], dtype=bool)
    kinds, off = _kinds(evidence, words, knowledge.scatter)
    return Sources(
        own=own,
        alone=(columns[:, alone] ** 2).sum(axis=1),
        shared=columns[:, ~alone],
        spread=np.where(offset, 4 * own, knowledge.priors.unknown_spread),
        censored=np.array([tests[x.test].censored_at or np.inf for x in evidence]),
        least=np.where(offset, -np.inf, NOTHING),
        kinds=kinds,
        off=off,
    )


def readings(
    results: Sequence[Result],
    evidence: Sequence[Evidence],
    circuit: CircuitGraph,
    knowledge: Knowledge,
    sources: Sources | None = None,
) -> Readings:
    """Put the evidence of a sheet into arrays.

    A reading whose new value was guessed from its limit is as uncertain as that guess. sources: where they are known.
    """
    by_id = {result.id: result for result in results}
    s = sources_of(evidence, circuit, knowledge) if sources is None else sources
    e = np.maximum(censor(np.array([x.e for x in evidence]), s.censored), s.least)
    u = np.array([x.u for x in evidence])
    variance = u**2 + s.own**2 + s.alone
    # a condition that was not met has only the causes that are known for it
    out = np.array(
        [by_id[x.result].verdict in ("fail", "near") and x.observe != "condition" and not x.as_meant for x in evidence],
        dtype=bool,
    )
    width = _gross_width(e, np.maximum(GROSS, 20 * s.own))
    # what is probably a slip of the pen is out for a reason of its own
    beyond = np.where(out, np.array([0.0 if x.slips else _beyond(by_id[x.result]) for x in evidence]), 0.0)
    return Readings(tuple(evidence), e, variance, s.shared, out, s.spread, width, s.censored, s.kinds, s.off, beyond)


def _beyond(one: Result) -> float:
    """How probably a result is beyond a limit that the machine's file states."""
    return (one.probability_out or 0.0) if isinstance(one, Measured) and one.basis == "limit" else 0.0


def _gross_width(e: Array, usual: Array) -> Array:
    """One over the density of a gross mistake at a deviation: the larger, the rarer.

    The density is 1/(w·(1 + |e|/w)³), which integrates to one, with w a quarter of the usual width. It falls faster
    than what a cause's own spread (a share of its effect) lets its density fall, so a worse reading never speaks for a
    mistake rather than for the cause that predicts it.
    """
    w = usual / 4
    width: Array = w * (1 + np.abs(e) / w) ** 3
    return width


def _own(scatter: object) -> float:
    return float(getattr(scatter, "own", 0.05))


def _kinds(
    evidence: Sequence[Evidence], words: Sequence[Mapping[str, str]], scatter: Sequence[SharedScatter]
) -> tuple[Array, Array]:
    """Which readings have their predicted effects off alike, shape (R, J), and by what share, shape (R,)."""
    sources = [source for source in scatter if source.of == "effect"]
    number: dict[tuple[str, ...], int] = {}
    kind, off = [], []
    for place, x in enumerate(evidence):
        at = (s for s in sources if x.observe in s.observes and all(key in words[place] for key in s.by))
        source = next(at, None)
        key = ("", str(place)) if source is None else (source.id, *(words[place][key] for key in source.by))
        kind.append(number.setdefault(key, len(number)))
        off.append(0.0 if source is None else source.sd)
    return np.eye(len(number))[kind] if kind else np.zeros((0, 0)), np.array(off)


def _shared(
    evidence: Sequence[Evidence], words: Sequence[Mapping[str, str]], scatter: Sequence[SharedScatter]
) -> Array:
    """Factor L: one column for each shared source of scatter and each value of the keys that split it.

    Sources that the same readings share are one.
    """
    together: dict[tuple[int, ...], float] = {}
    for source in scatter:
        if source.of != "reading":
            continue
        split: dict[tuple[str, ...], list[int]] = {}
        for number, x in enumerate(evidence):
            if x.observe in source.observes and all(key in words[number] for key in source.by):
                split.setdefault(tuple(words[number][key] for key in source.by), []).append(number)
        for members in map(tuple, split.values()):
            together[members] = together.get(members, 0.0) + source.sd**2
    columns = np.zeros((len(evidence), len(together)))
    for place, (members, variance) in enumerate(together.items()):
        columns[list(members), place] = math.sqrt(variance)
    return columns


def _words(x: Evidence, circuit: CircuitGraph) -> Mapping[str, str]:
    """Keys of a reading with those that follow from the circuit: its function, group and main pump."""
    words = dict(x.keys)
    here = (words.get("direction"), words.get("side"))
    placed = (key for key, f in circuit.functions.items() if f.direction and (f.direction, f.side) == here)
    name = words.get("function") or next(placed, "")
    if name in circuit.functions:
        words.setdefault("function", name)
        words.setdefault("group", circuit.functions[name].group)
        pumps = circuit.pumps(name)
        if pumps:
            words.setdefault("pump", pumps[0])
    return words
