"""How far the pattern of a parameter's effects differs between machines: figures drawn from the ranges of the circuits.

The ranges are from memory of the trade (`because` of each figure); nothing here is fitted to answers.
"""

import numpy as np
import pytest

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.parameters import PARAMETERS, PLAIN, Parameter
from oilpath.machine.graph import circuit_graph
from oilpath.physics.predictions import Predictions

from .conftest import BLANK

DRAWN = 8
TIMES = [e for e in BLANK if e.observe == "function-time"]


@pytest.fixture(scope="module")
def spread(machine: Machine, knowledge: Knowledge) -> dict[Parameter, float]:
    """By parameter, the largest share by which the effects on the times differ, at the middle of the severities."""
    random, tables = np.random.default_rng(5), []
    figures = {name: one for name, one in machine.circuit.figures.items() if one.in_doubt}
    assert len(figures) > 10
    for _ in range(DRAWN):
        drawn = {name: one.at(float(random.uniform(one.low, one.high))) for name, one in figures.items()}
        other = machine.model_copy(update={"circuit": machine.circuit.with_figures(drawn)})
        model = Predictions(other, knowledge, circuit_graph(other))
        tables.append(model.predict(TIMES)[0][:, 8])
    effects, found = np.stack(tables), dict[Parameter, float]()
    for number, h in enumerate(model.hypotheses):
        middle = effects[:, number].mean(axis=0)
        if len(h.disturbances) == 1 and np.abs(middle).max() > 0.05:
            off = effects[:, number].std(axis=0)
            share = float(np.sqrt((off**2).sum() / (middle**2).sum()))
            parameter = h.disturbances[0].parameter
            found[parameter] = max(found.get(parameter, 0.0), share)
    return found


def test_what_is_plain_keeps_its_pattern(spread: dict[Parameter, float]) -> None:
    plain = {name: share for name, share in spread.items() if PARAMETERS[name].doubt == PLAIN}
    assert {"speed", "fill", "opening"} <= set(plain)
    assert max(plain.values()) < 0.15, plain


@pytest.mark.parametrize("parameter", ["torque", "leakage"])
def test_what_depends_on_working_pressures_does_not(spread: dict[Parameter, float], parameter: Parameter) -> None:
    assert spread[parameter] > 0.3
    assert PARAMETERS[parameter].doubt == 1
