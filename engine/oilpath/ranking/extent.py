"""How bad a cause is, if it is the one: median and central 90 % of the parameter that it disturbs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from oilpath.arrays import Array, Indexes
from oilpath.documents.machine import Machine
from oilpath.flow import Severity
from oilpath.machine.hypotheses import Disturbance
from oilpath.physics.predictions import Predictions
from oilpath.ranking.evidence import censor
from oilpath.ranking.likelihood import approximate_robust, likelihood
from oilpath.ranking.posterior import Posterior
from oilpath.ranking.question import USUAL


def extents(chosen: Iterable[int], post: Posterior, machine: Machine) -> dict[int, Severity | None]:
    """Median and central 90 % of some hypotheses under the readings; None for what disturbs nothing, or to one value.

    Alone, or where a hypothesis is likelier together with others, with these at what fits best in the likeliest such
    set.
    """
    asked = list(chosen)
    beside = {number: others for number in asked if (others := _others(number, post)) is not None}
    joint = _together(beside, post)
    model = post.question.model
    return {number: _extent(number, *(joint.get(number) or _alone(number, post)), model, machine) for number in asked}


def _extent(number: int, nodes: Indexes, joint: Array, model: Predictions, machine: Machine) -> Severity | None:
    """nodes, ascending, and ln of how well each fits but for a constant."""
    h = model.hypotheses[number]
    if not h.disturbances or h.disturbances[0].start == h.disturbances[0].end or len(nodes) < 2:
        return None
    chance = np.exp(joint - joint.max())
    total = np.concatenate([[0.0], np.cumsum(chance)]) / chance.sum()
    # a node stands for all severities half way to its neighbours
    edges = np.concatenate([[nodes[0] - 0.5], nodes + 0.5])
    d, grid = h.disturbances[0], model.severities[number]
    at = np.clip(np.interp([0.5, 0.05, 0.95], total, edges), 0, len(grid) - 1)
    middle, low, high = (_possible(one, d) for one in np.interp(at, np.arange(len(grid)), grid).tolist())
    size = _size(d.part, model, machine) if d.quantity == "flow" else None
    if size is not None:
        middle, low, high = middle * size, low * size, high * size
    quantity = d.quantity if d.quantity != "flow" or size is not None else "ratio"
    return Severity(d.parameter, middle, min(low, high), max(low, high), quantity)


def _possible(value: float, d: Disturbance) -> float:
    """Never more than there is: a pump loses at most what it gives, cooling explains at most the whole drift."""
    if d.quantity == "flow":
        return min(value, 1.0)
    return value / (1 + value) if d.parameter == "cooling" else value  # of a sound machine's drift → of the measured


def _alone(number: int, post: Posterior) -> tuple[Indexes, Array]:
    first, last = np.searchsorted(post.rows.hypothesis, [number, number + 1])
    return post.rows.node[first:last], post.rows.joint[first:last]


def _others(number: int, post: Posterior) -> Array | None:
    """Effects (R,) of the other members of the likeliest set of a hypothesis; None if it is likelier alone."""
    together = [(chance, -place) for place, (inside, chance) in enumerate(post.sets) if number in inside]
    if sum(chance for chance, _ in together) <= post.single[number]:
        return None
    place, effects = -max(together)[1], post.question.effects
    rest = zip(post.sets[place][0], post.found[place].nodes, strict=True)
    return sum((effects[h, n] for h, n in rest if h != number), np.zeros(effects.shape[-1]))


def _together(beside: Mapping[int, Array], post: Posterior) -> dict[int, tuple[Indexes, Array]]:
    """How well each severity fits beside the others, all hypotheses in one call."""
    if not beside:
        return {}
    q = post.question
    effects = censor(q.effects[list(beside)] + np.stack(list(beside.values()))[:, None, :], q.readings.censored)
    h, s, r = effects.shape
    doubt = np.repeat(q.doubt[list(beside)], s)
    ahead = approximate_robust(q.scattered, effects.reshape(h * s, r), doubt).reshape(h, s)
    counts = ahead > ahead.max(axis=1, keepdims=True) - USUAL.near
    fits = likelihood(q.scattered, effects[counts], doubt=doubt.reshape(h, s)[counts]).robust
    rows = np.split(fits, np.cumsum(counts.sum(axis=1))[:-1])
    return {number: (np.flatnonzero(row), fit) for number, row, fit in zip(beside, counts, rows, strict=True)}


def _size(part: str, model: Predictions, machine: Machine) -> float | None:
    """Flow [m³/s] of one main pump at test speed, of which the model's flows are shares; None if it is not known."""
    pumps = model.circuit.main_pumps()
    pump = part if part in pumps else next((p for p in pumps if machine.parts.get(p)), "")
    data = machine.parts.get(pump)
    if data is None or data.displacement is None or machine.engine_speed is None:
        return None
    return float(data.displacement * machine.engine_speed.test * (data.speed_ratio or 1.0))
