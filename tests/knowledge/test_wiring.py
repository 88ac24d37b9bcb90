"""What the lines say, kept: a compiled knowledge base says the same as its lines, without networkx."""

from __future__ import annotations

import json

import pytest

from oilpath.knowledge import lines
from oilpath.knowledge.compile import compile_knowledge, compiled
from oilpath.knowledge.lines import derive
from oilpath.knowledge.wiring import wiring_data, wiring_from
from tests import shipped

CIRCUITS = shipped.knowledge().circuits


@pytest.mark.parametrize("name", CIRCUITS)
def test_what_was_kept_as_json_is_the_same_in_the_same_order(name: str) -> None:
    wiring = derive(CIRCUITS[name])
    again = wiring_from(json.loads(json.dumps(wiring_data(wiring))), CIRCUITS[name])
    assert again == wiring
    assert repr(again) == repr(wiring)


def test_other_data_is_refused() -> None:
    circuit = CIRCUITS["wheel-loader"]
    data = wiring_data(derive(circuit))
    with pytest.raises(TypeError):
        wiring_from({**data, "unheard-of": {}}, circuit)
    with pytest.raises(TypeError):
        wiring_from({name: value for name, value in data.items() if name != "gauges"}, circuit)


def test_of_another_circuit_is_refused() -> None:
    with pytest.raises(LookupError):
        wiring_from(wiring_data(derive(CIRCUITS["wheel-loader"])), CIRCUITS["hydraulic-test-rig"])


@pytest.mark.parametrize("name", CIRCUITS)
@pytest.mark.parametrize("value", [0.0, 0.37])
def test_other_figures_leave_the_lines_as_they_are(name: str, value: float) -> None:
    """At 0 no function regenerates any more, and what its valve is follows anew."""
    circuit = CIRCUITS[name]
    figures = dict.fromkeys(circuit.figures_named, value)
    changed = circuit.with_figures(figures)
    assert figures
    assert changed != circuit
    assert repr(changed.wiring) == repr(derive(changed))


def test_a_compiled_knowledge_base_asks_no_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    text = compile_knowledge(shipped.KB)
    wanted = {name: derive(circuit) for name, circuit in compiled(text).circuits.items()}
    monkeypatch.setattr(lines, "derive", lambda circuit: pytest.fail("derived again"))
    known = compiled(text)
    assert {name: circuit.wiring for name, circuit in known.circuits.items()} == wanted
    assert [repr(circuit.wiring) for circuit in known.circuits.values()] == [repr(one) for one in wanted.values()]


def test_a_circuit_with_other_lines_has_a_wiring_of_its_own() -> None:
    circuit = compiled(compile_knowledge(shipped.KB)).circuits["wheel-loader"]
    fewer = circuit.model_copy(update={"lines": circuit.lines[1:]})
    assert fewer.wiring == derive(fewer) != circuit.wiring
