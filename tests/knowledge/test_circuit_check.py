"""Figures of a circuit: what cannot be is refused with its line, and whatever is accepted the model can take."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from oilpath import load_knowledge
from oilpath.bench import bench_for
from oilpath.documents.load import load_machine
from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit_check import VALUES, asked_values, circuit_faults
from oilpath.problems import UnusableInput

KB = Path(__file__).parents[2] / "kb/circuits"
EXCAVATOR = (KB / "two-pump-excavator.yaml").read_text(encoding="utf-8")
RIG = (KB / "hydraulic-test-rig.yaml").read_text(encoding="utf-8")

Wrong = Callable[[str, str, str], list[str]]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture
def wrong(tmp_path: Path, knowledge: Knowledge) -> Wrong:
    """Problems of a machine whose own circuit is one that ships, with one text replaced."""

    def read(circuit: str, old: str, new: str) -> list[str]:
        assert circuit.count(old) == 1
        (tmp_path / "own.yaml").write_text(circuit.replace(old, new), encoding="utf-8")
        (tmp_path / "m.yaml").write_text("oilpath: machine/1\nname: x\ncircuit: own.yaml\n", encoding="utf-8")
        try:
            load_machine(tmp_path / "m.yaml", knowledge)
        except UnusableInput as error:
            return [f"{p.line}: {p.key}: {p.message}; {p.accepted}" for p in error.problems]
        return []

    return read


@pytest.mark.parametrize(
    ("circuit", "old", "new", "said"),
    [
        (EXCAVATOR, "0.05, from: 0.03", "0.05, from: 0", "pump-leakage: cannot be 0; a number"),
        (EXCAVATOR, "{value: 0.5, from: 0.35", "{value: 0.5, from: -1", "torque-corner: cannot be -1; "),
        (EXCAVATOR, "speed: {value: 0.6, from: 0.5", "speed: {value: 0.6, from: 0", "low-range-speed: cannot be 0; "),
        (EXCAVATOR, "corner: {value: 0.5, from: 0.35", "corner: {value: 0.5, from: 0.55", "outside its own range"),
        (EXCAVATOR, "seal-flow: 0.002", "seal-flw: 0.002", "values.seal-flw: is not a figure that the model"),
        (EXCAVATOR, "seal-flow: 0.002", "seal-flw: 0.002", "did you mean seal-flow?"),
        (EXCAVATOR, "cap, load: boom-hold", "cap, load: -0.3", "holds.boom-cylinder.load: cannot be -0.3; "),
        (EXCAVATOR, "regeneration: regeneration-gain", "regeneration: 25", "arm-in.regeneration: cannot be 25; "),
        (EXCAVATOR, "gravity: boom-lower-gravity", "gravity: 70", "functions.boom-lower.gravity: cannot be 70; "),
        (EXCAVATOR, "gravity: boom-lower-gravity", "gravity: boom-weight", "`boom-weight` is not a figure of this"),
        (EXCAVATOR, "pressure: {cycle: raise-pressure}", "pressure: {cycle: 15.4}", "pressure.cycle: cannot be 15.4; "),
        (RIG, "scatter-freedom: 30", "scatter-freedom: 0", "values.scatter-freedom: cannot be 0; a number from 1 to"),
        (RIG, "uncertainty: 0.006", "uncertainty: -6", "values.pump-leakage-uncertainty: cannot be -6; "),
        (RIG, "test: cooler-efficiency", "test: cooler-eficiency", "did you mean cooler-efficiency?"),
        (RIG, "test: cooler-efficiency, at", "test: stall-pressure, at", "responses[0].test: `stall-pressure` is no"),
        (RIG, "test: oil-given-back, at: accumulator", "test: cooler-efficiency, at: cooler", "there twice"),
        (EXCAVATOR, "together: [ground-high", "together: [grund-high", "`grund-high` is not a load case"),
        (RIG, "power: 0.65", "power: 650", "responses[2].factors[0].power: cannot be 650; a number from -10 to 10"),
    ],
)  # fmt: skip
def test_a_figure_that_cannot_be_is_refused(circuit: str, old: str, new: str, said: str, wrong: Wrong) -> None:
    found = wrong(circuit, old, new)
    line = circuit[: circuit.index(old)].count("\n") + 1
    found = [one for one in found if said in one or "is not a figure that" not in one]  # a named one is left over
    assert len(found) == 1
    assert found[0].startswith(f"{line}: ")
    assert said in found[0]


def test_the_circuits_that_ship_have_no_fault(knowledge: Knowledge) -> None:
    asked = asked_values(knowledge)
    assert "pump-leakage" in asked
    assert {name: list(circuit_faults(one, asked)) for name, one in knowledge.circuits.items()} == {
        name: [] for name in knowledge.circuits
    }


def test_a_figure_that_a_test_asks_for_may_be_stated(knowledge: Knowledge) -> None:
    circuit = knowledge.circuits["wheel-loader"]
    own = circuit.model_copy(update={"values": {**circuit.values, "own-share": 0.2, "own-share-uncertainty": 0.1}})
    assert len(list(circuit_faults(own))) == 2
    assert list(circuit_faults(own, ["own-share"])) == []


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize("name", sorted(VALUES))
def test_the_model_takes_whatever_is_accepted(name: str, end: int, knowledge: Knowledge) -> None:
    circuit = knowledge.circuits["two-pump-excavator"]
    own = circuit.model_copy(update={"values": {**circuit.values, name: VALUES[name][end]}})
    made = bench_for(Machine(name="x", circuit=own), knowledge).model
    assert np.isfinite(made.positions).all()
    assert np.isfinite(made.steps).all()


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_a_function_may_leave_out_the_pressures_it_moves_at(knowledge: Knowledge) -> None:
    circuit = knowledge.circuits["wheel-loader"]
    functions = {name: one.model_copy(update={"pressure": {}}) for name, one in circuit.functions.items()}
    values = {name: value for name, value in circuit.values.items() if not name.endswith("-pressure")}
    own = circuit.model_copy(update={"functions": functions, "values": values})
    assert list(circuit_faults(own)) == []
    assert np.isfinite(bench_for(Machine(name="x", circuit=own), knowledge).model.positions).all()
