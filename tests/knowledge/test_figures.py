"""Assumed figures: a number with a range and a reason, one unknown wherever it is used, stated by a machine's file."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest
from pydantic_core import PydanticCustomError

from oilpath import diagnose, load_knowledge, load_machine, load_sheet
from oilpath.knowledge.figures import Figure, read_figure, stated
from oilpath.problems import UnusableInput

GRAVITY = {"value": 0.7, "from": 0.1, "to": 1.0, "because": "the weight or the pump"}


def test_a_figure_counts_as_its_value_and_keeps_its_range() -> None:
    figure = read_figure(GRAVITY)
    assert isinstance(figure, Figure)
    assert figure == 0.7
    assert (figure.low, figure.high, figure.because) == (0.1, 1.0, "the weight or the pump")
    assert np.array([figure]).dtype == np.float64
    assert repr(pickle.loads(pickle.dumps(figure))) == repr(figure)
    assert read_figure(0.5) == 0.5
    assert not isinstance(read_figure(0.5), Figure)


@pytest.mark.parametrize(
    "wrong",
    [{**GRAVITY, "from": 0.8}, {"value": 0.7}, {**GRAVITY, "what": 1}, "gravity", None, {**GRAVITY, "because": 3}],
)
def test_what_is_no_figure_is_refused_in_words(wrong: object) -> None:
    with pytest.raises(PydanticCustomError):
        read_figure(wrong)


@pytest.mark.parametrize(
    ("says", "value", "low", "high"),
    [(0.9, 0.9, 0.9, 0.9), ("90 %", 0.9, 0.9, 0.9), ([0.6, 0.8], 0.7, 0.6, 0.8), ([0.2, 0.4], 0.3, 0.2, 0.4)],
)
def test_a_machine_states_or_narrows_a_figure(says: object, value: float, low: float, high: float) -> None:
    figure = read_figure(GRAVITY)
    assert isinstance(figure, Figure)
    own = stated(says, figure)
    assert (float(own), own.low, own.high) == pytest.approx((value, low, high))


def test_one_figure_is_one_unknown_wherever_the_circuit_uses_it() -> None:
    circuit = load_knowledge().circuits["two-pump-excavator"]
    other = circuit.with_figures({"swing-start": 0.1})
    assert {other.functions[f"swing-{way}"].acceleration for way in ("left", "right")} == {0.1}
    assert other.values["swing-start"] == 0.1
    assert "swing-start" in circuit.figures
    assert "swing-start" not in other.figures  # known, so no longer in doubt
    assert other.content != circuit.content


def test_every_assumed_figure_says_why_and_has_a_range() -> None:
    for circuit in load_knowledge().circuits.values():
        for figure in circuit.figures.values():
            assert figure.because
            assert figure.low <= figure <= figure.high
            assert figure.low < figure.high


MACHINE = """oilpath: machine/1
name: Trainer, invented
circuit: two-pump-excavator
figures: {boom-lower-gravity: 90 %, torque-corner: [0.4, 0.5]}
"""


def test_the_answer_lists_the_figures_that_it_rests_on(tmp_path: Path) -> None:
    (tmp_path / "m.yaml").write_text(MACHINE)
    (tmp_path / "s.yaml").write_text("oilpath: sheet/1\nmachine: m.yaml\nreadings: []\n")
    answer = diagnose(load_sheet(tmp_path / "s.yaml"))
    listed = {one.name: one for one in answer.figures}
    assert (listed["boom-lower-gravity"].value, listed["boom-lower-gravity"].stated) == (0.9, True)
    assert (listed["torque-corner"].low, listed["torque-corner"].high) == (0.4, 0.5)
    assert not listed["swing-start"].stated


@pytest.mark.parametrize(
    ("wrong", "says"),
    [("gravty: 0.9", "figure of this circuit"), ("swing-start: much", "start with a number"),
     ("swing-start: 3", "out of range"),
     ("swing-start: [0.3, 0.1]", "above its end")],
)  # fmt: skip
def test_a_mistaken_figure_of_a_machine_is_named(tmp_path: Path, wrong: str, says: str) -> None:
    path = tmp_path / "m.yaml"
    path.write_text(MACHINE.replace("boom-lower-gravity: 90 %", wrong))
    with pytest.raises(UnusableInput) as found:
        load_machine(path)
    assert len(found.value.problems) == 1
    assert found.value.problems[0].line == 4
    assert says in found.value.problems[0].message
