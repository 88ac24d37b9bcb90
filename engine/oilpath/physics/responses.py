"""Readings that go with parameters of single parts, as the circuit file says: no law of pumps and flows tells them.

A cooler's efficiency goes with its effectiveness, the pressure behind a valve as it opens with how fast it switches,
the oil that an accumulator gives back with its charge. Part, parameter and power are data (`responses`).
"""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array
from oilpath.documents.machine import Machine
from oilpath.flow import Evidence
from oilpath.knowledge.circuit import Response
from oilpath.knowledge.parameters import PARAMETERS
from oilpath.physics.flows import Flows

LEAST = 1e-3
"""least value of a factor, so that what is lost stays finite"""


def find_response(test: str, part: str | None, machine: Machine) -> Response | None:
    """The response of a machine's circuit to a test at a part; None if it states none."""
    return next((one for one in machine.circuit.responses if (one.test, one.at) == (test, part)), None)


def response(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    """Π parameter^power for every row, shape (rows,); None if the circuit states no response for the reading."""
    found = find_response(e.test, e.keys.get("part"), machine)
    if found is None or found.at not in flows.state.circuit.parts:
        return None
    value = np.ones(flows.state.rows)
    for factor in found.factors:
        own = flows.state.named[factor.parameter, factor.part]
        share = own if not PARAMETERS[factor.parameter].adds else 1 - own
        value = value * np.maximum(share, LEAST) ** factor.power
    return value
