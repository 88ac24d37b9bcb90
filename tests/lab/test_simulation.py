"""Simulated sheets: always readable, repeatable, and showing what their cause does.

What a cause does to a reading is common practice (a worn pump slows its own group and pulls the machine to its side).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath import load_knowledge, load_machine, load_sheet
from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.documents.machine import Machine
from oilpath.flow import Measured, evidence_in
from oilpath.judging import judge
from oilpath.lab.simulation import SimulatedCause, simulate

MACHINES = data_folder("cases") / "machines"
TRAINER = MACHINES / "trainer-22t.yaml"


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load_machine(TRAINER)


def _judged(machine: Machine, *causes: tuple[SimulatedCause, float], seed: int = 1, **more: object) -> dict[str, Any]:
    sheet = simulate(machine, load_knowledge(), causes, seed, path=str(TRAINER), **more)  # type: ignore[arg-type]
    read = load_sheet(MACHINES / "simulated.yaml", text=json.dumps({**sheet, "machine": TRAINER.name}))
    return {result.id: result for result in judge(read, bench_for(read.machine, load_knowledge()))}


def _e(result: Measured) -> float:
    assert result.evidence is not None
    return result.evidence.e


@settings(max_examples=60)
@given(data=st.data())
def test_every_simulated_sheet_is_read(data: st.DataObject) -> None:
    knowledge = load_knowledge()
    path = data.draw(st.sampled_from(sorted(MACHINES.glob("*.yaml"))))
    machine = load_machine(path, knowledge)
    count = len(bench_for(machine, knowledge).model.hypotheses)
    causes = data.draw(st.lists(st.tuples(st.integers(0, count - 1), st.floats(0, 1)), max_size=2))
    sheet = simulate(
        machine, knowledge, causes, data.draw(st.integers(0, 2**32)), gross=data.draw(st.floats(0, 1)),
        scatter=data.draw(st.floats(0, 3)), distort=data.draw(st.floats(0, 1)),
        units=data.draw(st.sampled_from(["metric", "us"])), path=path.name,
    )  # fmt: skip
    read = load_sheet(MACHINES / "simulated.yaml", knowledge, text=json.dumps(sheet))
    assert len(read.readings) == len(sheet["readings"]) > 2
    # engine speed and temperature can make readings invalid, nothing else can; nothing lacks a limit (a condition that
    # no test of the machine demands has none)
    judged = [result for result in judge(read, bench_for(read.machine, knowledge)) if result.test != "condition"]
    assert {result.verdict for result in judged} <= {"pass", "near", "fail", "invalid"}


def test_a_quantity_that_a_new_test_brings_is_written_in_its_usual_unit(machine: Machine) -> None:
    """A test kind with a quantity that no test had so far; 52.5 kW are 52.5e3 W."""
    from oilpath.documents.machine import Limit
    from oilpath.knowledge.base import Knowledge

    known = load_knowledge()
    kind = known.tests["pilot-pressure"].model_copy(update={"quantity": "power", "instrument": None})
    changed = Knowledge.model_copy(known, update={"tests": {**known.tests, "pilot-pressure": kind}})
    limit = Limit(test="pilot-pressure", new=52.5e3, min=50e3, max=55e3)
    sheet = simulate(machine.model_copy(update={"limits": (limit,)}), changed, [], 1, scatter=0.0)
    assert sheet["readings"] == [{"test": "pilot-pressure", "pressure": "52.5 kW"}]


def test_same_seed_same_bytes(machine: Machine) -> None:
    def text(seed: int) -> str:
        return json.dumps(simulate(machine, load_knowledge(), [(("pump.worn", "pump-1", None), 0.5)], seed, gross=0.5))

    assert text(7) == text(7)
    assert text(7) != text(8)


def test_every_limit_of_the_machine_is_measured(machine: Machine) -> None:
    results = _judged(machine)
    for limit in machine.limits:
        assert any(
            result.test == limit.test and all(result.keys.get(k) == w for k, w in limit.where.items())
            for result in results.values()
        ), limit
    # both pumps at every function that both of them feed
    assert {"stall-pressure/pump-1/boom-raise", "stall-pressure/pump-2/boom-raise"} <= set(results)
    assert "stall-pressure/pump-1/swing-left" not in results


def test_only_some_readings(machine: Machine) -> None:
    results = _judged(machine, only=["cycle-time/*", "pilot-pressure"])
    assert {result.test for result in results.values()} == {"cycle-time", "pilot-pressure", "condition"}


def test_sound_machine_without_scatter_reads_as_new(machine: Machine) -> None:
    results = _judged(machine, scatter=0.0)
    for evidence in evidence_in(results.values()):
        assert abs(evidence.e) < 5 * max(evidence.u, 0.02), evidence.result


def test_worn_pump_slows_its_group_and_pulls_to_its_side(machine: Machine) -> None:
    results = _judged(machine, (("pump.worn", "pump-1", None), 0.8), scatter=0.0)
    assert _e(results["cycle-time/bucket-curl"]) > 0.1
    assert abs(_e(results["swing-time/left"])) < 0.03  # fed by the other pump
    veer = results["travel-veer/forward/high"]
    assert isinstance(veer.value, float)
    assert 2.0 < veer.value <= 6.0  # to the right, where its track is; the operator stops


def test_low_engine_speed_is_written_down_as_a_condition(machine: Machine) -> None:
    results = _judged(machine, (("engine.low-speed", "engine", None), 0.4))
    speed = results["condition/engine-speed"]
    assert speed.verdict == "fail"
    assert results["cycle-time/boom-raise"].verdict == "invalid"


def test_two_causes_both_show(machine: Machine) -> None:
    results = _judged(
        machine, (("main-relief.low", "main-relief", None), 0.5),
        (("holding-valve.leaking", "boom-holding-valve", None), 0.6),
    )  # fmt: skip
    assert results["stall-pressure/pump-2/arm-in"].verdict == "fail"
    assert results["drift/boom-cylinder"].verdict == "fail"
    assert results["drift/arm-cylinder"].verdict != "fail"


def test_gross_mistake_strikes_one_reading(machine: Machine) -> None:
    struck = []
    for seed in range(20):
        plain, gross = _judged(machine, seed=seed), _judged(machine, seed=seed, gross=1.0)
        struck.append([one.result for one in evidence_in(plain.values()) if one.e != _e(gross[one.result])])
    assert {len(readings) for readings in struck} == {1}
    assert len({readings[0] for readings in struck}) > 5


def test_distorted_effects_differ_from_the_models(machine: Machine) -> None:
    cause = (("pump.worn", "pump-1", None), 0.9)
    true, wrong = _judged(machine, cause, scatter=0.0), _judged(machine, cause, scatter=0.0, distort=0.5)
    assert abs(_e(true["cycle-time/bucket-curl"]) - _e(wrong["cycle-time/bucket-curl"])) > 0.03


@pytest.mark.parametrize(
    ("cause", "severity", "says"),
    [
        (("pump.worn", "boom-cylinder", None), 0.5, "nothing that this machine can have"),
        (("pump.worn", "pump-1", "left"), 0.5, "nothing that this machine can have"),
        (9999, 0.5, "no number 9999"),
        (0, 1.5, "severity"),
    ],
)
def test_what_cannot_be_simulated_is_refused(
    machine: Machine, cause: SimulatedCause, severity: float, says: str
) -> None:
    with pytest.raises(ValueError, match=says):
        simulate(machine, load_knowledge(), [(cause, severity)], 1)


def test_a_sheet_names_its_machine_file_by_itself() -> None:
    path = Path(TRAINER)
    machine = load_machine(path)
    assert simulate(machine, load_knowledge(), [], 1)["machine"] == machine.file
