"""How bad a cause is, if it is the one: median and central 90 % of the parameter that it disturbs."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array, Indexes
from oilpath.circuit.model import Predictions
from oilpath.flow import Severity
from oilpath.ranking.evidence import censor
from oilpath.ranking.likelihood import likelihood
from oilpath.ranking.posterior import Posterior


def extent(number: int, post: Posterior, model: Predictions) -> Severity | None:
    """Median and central 90 % under the readings; None where the hypothesis disturbs nothing, or to one value."""
    h = model.hypotheses[number]
    if not h.disturbances or h.disturbances[0].start == h.disturbances[0].end:
        return None
    nodes, joint = _fits(number, post)
    if len(nodes) < 2:
        return None
    chance = np.exp(joint - joint.max())
    total = np.concatenate([[0.0], np.cumsum(chance)]) / chance.sum()
    # a node stands for all severities half way to its neighbours
    edges = np.concatenate([[nodes[0] - 0.5], nodes + 0.5])
    d, grid = h.disturbances[0], model.severities[number]
    at = np.clip(np.interp([0.5, 0.05, 0.95], total, edges), 0, len(grid) - 1)
    middle, low, high = np.interp(at, np.arange(len(grid)), grid).tolist()
    size = _size(d.part, model) if d.quantity == "flow" else None
    if size is not None:
        middle, low, high = middle * size, low * size, high * size
    quantity = d.quantity if d.quantity != "flow" or size is not None else "ratio"
    return Severity(d.parameter, middle, min(low, high), max(low, high), quantity)


def _fits(number: int, post: Posterior) -> tuple[Indexes, Array]:
    """Severity nodes of a hypothesis, ascending, and ln of how well each fits but for a constant.

    Alone, or where it is likelier together with others, with these at what fits best in the likeliest such set.
    """
    together = [(chance, -place) for place, (inside, chance) in enumerate(post.sets) if number in inside]
    if sum(chance for chance, _ in together) <= post.single[number]:
        first, last = np.searchsorted(post.rows.hypothesis, [number, number + 1])
        return post.rows.node[first:last], post.rows.joint[first:last]
    place = -max(together)[1]
    rest = zip(post.sets[place][0], post.nodes[place], strict=True)
    others = sum((post.effects[h, n] for h, n in rest if h != number), np.zeros(post.effects.shape[-1]))
    effects = censor(post.effects[number] + others, post.censored)
    return np.arange(len(effects)), likelihood(post.scattered, effects).robust


def _size(part: str, model: Predictions) -> float | None:
    """Flow [m³/s] of one main pump at test speed, of which the model's flows are shares; None where it is not known."""
    machine, pumps = model.machine, model.circuit.main_pumps()
    pump = part if part in pumps else next((p for p in pumps if machine.parts.get(p)), "")
    data = machine.parts.get(pump)
    if data is None or data.displacement is None or machine.engine_speed is None:
        return None
    return float(data.displacement * machine.engine_speed.test * (data.speed_ratio or 1.0))
