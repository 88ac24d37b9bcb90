"""The ranking's discrete form as a network of pyAgrum, a general library for Bayesian networks."""

import warnings
from importlib import import_module
from typing import Any

import numpy as np

from oilpath.arrays import Array
from oilpath.lab.discrete import Network


def inference_for(net: Network) -> Any:
    """An inference over the same nodes and tables; every reading is evidence, in its state 1 (observed).

    The library's nodes take a table whose last axis is the node itself, the axes before it its parents in the order in
    which they were joined. The gross node acts through one yes-or-no child for each reading, so that no reading needs
    all its states.
    """
    with warnings.catch_warnings():  # an import that warns while warnings are errors crashes the interpreter
        warnings.simplefilter("ignore")
        gum: Any = import_module("pyagrum")  # Any: checked alike where it is installed and where it is not
    bn = gum.BayesNet("sheet")
    h, s = net.severity.shape
    readings = range(len(net.parents))

    def add(name: str, states: int, parents: list[str], table: Array) -> None:
        bn.add(gum.LabelizedVariable(name, "", states))
        for parent in parents:
            bn.addArc(parent, name)
        for place in np.ndindex(*table.shape[:-1]):
            bn.cpt(name)[dict(zip(parents, (int(n) for n in place), strict=True))] = table[place].tolist()

    add("hypothesis", h, [], net.prior)
    add("severity", s, ["hypothesis"], net.severity)
    for k, weights in enumerate(net.hidden):
        add(f"hidden-{k}", len(weights), [], weights)
    add("gross", len(net.gross), [], net.gross)
    for i in readings:
        mistake = np.array([[0.0, 1.0] if n == i + 1 else [1.0, 0.0] for n in range(len(net.gross))])
        add(f"mistake-{i}", 2, ["gross"], mistake)
        chance = np.stack([net.observed[i], np.full_like(net.observed[i], net.mistaken[i])], axis=-1)
        above = ["hypothesis", "severity", *(f"hidden-{k}" for k in net.parents[i]), f"mistake-{i}"]
        add(f"reading-{i}", 2, above, np.stack([1 - chance, chance], axis=-1))
    inference = gum.LazyPropagation(bn)
    inference.addJointTarget({"hypothesis", "severity"})
    inference.setEvidence({f"reading-{i}": 1 for i in readings})
    return inference


def peer_posterior(inference: Any) -> Array:
    """P(hypothesis, severity | readings), shape (H, S)."""
    inference.makeInference()
    joint = inference.jointPosterior({"hypothesis", "severity"})
    place = [joint.names.index(name) for name in ("hypothesis", "severity")]
    values = np.asarray(joint.toarray(), dtype=np.float64)  # its axes run against its names
    shares: Array = values.transpose([len(place) - 1 - n for n in place])
    return shares
