"""The founding circuit with the real causes, a machine of it, and the means to change either."""

from collections.abc import Callable
from typing import Any

import pytest

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import Evidence
from oilpath.knowledge.base import Knowledge
from oilpath.machine.graph import CircuitGraph, circuit_graph
from oilpath.machine.hypotheses import Hypothesis
from oilpath.physics.predictions import Predictions
from tests import shipped

MachineOf = Callable[..., Machine]
EvidenceOf = Callable[..., Evidence]
Find = Callable[..., int]


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    """Circuits, causes and test kinds as they ship; the model needs nothing else."""
    return shipped.knowledge()


@pytest.fixture(scope="session")
def machine_of(knowledge: Knowledge) -> MachineOf:
    """A machine of the founding circuit with some keys of its own; `circuit` changes keys of the circuit."""

    def make(circuit: dict[str, Any] | None = None, **keys: Any) -> Machine:
        usual = knowledge.circuits["two-pump-excavator"]
        own = usual.model_copy(update=circuit) if circuit else usual
        return Machine(name="Yard trainer, invented", circuit=own, **keys)

    return make


@pytest.fixture(scope="session")
def machine(machine_of: MachineOf) -> Machine:
    return machine_of()


@pytest.fixture(scope="session")
def circuit(machine: Machine) -> CircuitGraph:
    return circuit_graph(machine)


@pytest.fixture(scope="session")
def model(machine: Machine, knowledge: Knowledge) -> Predictions:
    return bench_for(machine, knowledge).model


@pytest.fixture(scope="session")
def reading() -> EvidenceOf:
    """Evidence for one reading: what is observed, its load case, and its keys (`_` for `-`)."""

    def make(observe: str, load: str = "", *, scale: Any = "ratio", **keys: Any) -> Evidence:
        figures = keys.pop("figures", {})
        corrected, variant = keys.pop("corrected", ()), keys.pop("variant", "standard")
        return Evidence(observe, observe, observe, load, keys, scale, 0.0, 0.01, corrected, variant, figures)

    return make


@pytest.fixture(scope="session")
def usual(reading: EvidenceOf) -> tuple[Evidence, ...]:
    """The readings of a full set of performance tests."""
    ways = [(d, r) for d in ("forward", "reverse") for r in ("high", "low")]
    functions = ("boom-raise", "boom-lower", "arm-in", "arm-out", "bucket-curl", "bucket-dump")
    stalls = (("pump-1", "bucket-curl"), ("pump-1", "boom-raise"), ("pump-2", "arm-in"), ("pump-2", "swing-left"))
    return (
        *(reading("function-time", "cycle", function=f) for f in functions),
        *(reading("function-time", "swing", direction=d) for d in ("left", "right")),
        *(reading("travel-time", f"ground-{r}", direction=d, range=r) for d, r in ways),
        *(reading("veer", f"ground-{r}", scale="offset", direction=d, range=r) for d, r in ways),
        *(
            reading("track-time", f"raised-{r}", side=s, direction=d, range=r)
            for d, r in ways
            for s in ("left", "right")
        ),
        *(reading("drift", cylinder=f"{c}-cylinder") for c in ("boom", "arm", "bucket")),
        *(reading("stall-pressure", pump=p, function=f) for p, f in stalls),
        reading("pilot-pressure"),
        *(reading("case-drain", part=p) for p in ("pump-1", "pump-2", "swing-motor", "travel-left-motor")),
        reading("condition", "engine-speed", condition="engine-speed"),
        *(reading("engine-speed", state, state=state) for state in ("no-load", "stall-one-pump", "stall-both-pumps")),
        *(reading("swing-stop", "swing", direction=d) for d in ("left", "right")),
        *(reading("pressure", state, function=f, state=state) for f in functions for state in ("moving", "stall")),
        *(reading("flow", at=f"{p}-outlet", figures={"pressure-share": 0.7}) for p in ("pump-1", "pump-2")),
    )


@pytest.fixture(scope="session")
def find(model: Predictions) -> Find:
    """Number of the hypothesis of a cause at a part, in its first or a named variant."""

    def number(cause: str, part: str, variant: str | None = None) -> int:
        fits: list[int] = [
            n
            for n, h in enumerate(model.hypotheses)
            if h.cause.cause == cause and h.part == part and variant in (None, h.variant)
        ]
        return fits[0]

    return number


def name_of(h: Hypothesis) -> str:
    return f"{h.cause.cause} at {h.part} ({h.variant})"
