"""A machine file made by question and answer. The machine and its figures are invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from oilpath.documents.edit import Document
from oilpath.documents.load import load_machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.session.lines import Unclear
from oilpath.session.machine_entry import UNNAMED, MachineEntry
from tests.running import Run, in_process


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return in_process(monkeypatch, capsys)


def begun(folder: Path, knowledge: Knowledge, circuit: str = "two-pump-excavator") -> MachineEntry:
    path = folder / "m.yaml"
    text = f"oilpath: machine/1\nname: {UNNAMED}\ncircuit: {circuit}\n"
    return MachineEntry(Document(str(path), text, path).save(), knowledge, {})


def at(entry: MachineEntry, kind: str, name: str = "", test: str = "", where: str = "") -> None:
    def fits(number: int) -> bool:
        step = entry.steps[number]
        named = not where or where in entry.limits[step.name].where.values() if step.kind == "limit" else True
        return step.kind == kind and step.test == test and (not name or step.name == name) and named

    entry.at = next(number for number in range(len(entry.steps)) if fits(number))


def test_answers_make_a_machine(tmp_path: Path, knowledge: Knowledge) -> None:
    entry = begun(tmp_path, knowledge)
    for line in ("Yard digger", "1900", "112", "112"):
        entry.give(line)
    at(entry, "cylinder", "boom-cylinder")
    entry.give("120 85 1260 2")
    at(entry, "dimension", "length")
    entry.give("31 ft")
    at(entry, "limit", test="pilot-pressure")
    entry.give("3.9 3.6 4.3")
    at(entry, "limit", test="stall-pressure")
    entry.give("4830 5120 psi")
    at(entry, "limit", test="drift", where="boom-cylinder")
    entry.give("12")
    machine = load_machine(tmp_path / "m.yaml", knowledge)
    assert machine.name == "Yard digger"
    assert machine.parts["boom-cylinder"].count == 2
    assert machine.parts["boom-cylinder"].rod == pytest.approx(0.085)
    limits = {limit.test: limit for limit in machine.limits}
    assert (limits["pilot-pressure"].new, limits["pilot-pressure"].max) == (3.9e6, 4.3e6)
    assert (limits["stall-pressure"].new, limits["stall-pressure"].where) == (None, {})
    assert (limits["drift"].new, limits["drift"].per) == (None, 300.0)
    assert limits["drift"].max == pytest.approx(0.012)


@pytest.mark.parametrize("line", ["80 120", "120 85 1260 2.5", "120 85 1260 2 3", "x", "0"])
def test_a_cylinder_that_cannot_be_is_not_taken(line: str, tmp_path: Path, knowledge: Knowledge) -> None:
    entry = begun(tmp_path, knowledge)
    before = (tmp_path / "m.yaml").read_bytes()
    at(entry, "cylinder", "boom-cylinder")
    with pytest.raises(Unclear):
        entry.give(line)
    assert (tmp_path / "m.yaml").read_bytes() == before


def test_a_volume_is_asked_about_where_one_per_revolution_is_meant(tmp_path: Path, knowledge: Knowledge) -> None:
    entry = begun(tmp_path, knowledge)
    at(entry, "pump")
    with pytest.raises(Unclear) as found:
        entry.give("120 cc")
    assert found.value.likely == "120 cc/rev"
    assert entry.unit("displacement") == "cm3/rev"  # what is not taken makes no habit
    entry.give("120 cc/rev")
    assert entry.unit("displacement") == "cc/rev"


def test_an_answer_is_replaced_or_taken_out(tmp_path: Path, knowledge: Knowledge) -> None:
    entry = begun(tmp_path, knowledge)
    at(entry, "limit", test="pilot-pressure")
    entry.give("4.3 3.6 4.9")
    entry.back()
    entry.give("3.9 3.6 4.3")
    assert len(load_machine(tmp_path / "m.yaml", knowledge).limits) == 1
    entry.back()
    assert entry.remove()
    assert load_machine(tmp_path / "m.yaml", knowledge).limits == ()


def test_it_goes_on_behind_the_last_answer(tmp_path: Path, knowledge: Knowledge) -> None:
    entry = begun(tmp_path, knowledge)
    entry.give("Yard digger")
    entry.give("1900")
    again = MachineEntry(entry.document, knowledge, {})
    assert again.step is not None
    assert (again.step.kind, again.step.name) == ("pump", "pump-1")
    assert again.done()[0] == 2


@pytest.mark.parametrize("circuit", sorted(load_knowledge().circuits))
def test_every_circuit_can_be_asked_through(circuit: str, tmp_path: Path, run: Run) -> None:
    machine = tmp_path / "m.yaml"
    done = run("machine", "new", circuit, "--ask", "-o", str(machine), text="Mine\n" + "\n" * 80)
    assert done.status == 0
    assert f"oilpath machine check {machine}" in done.out
    assert load_machine(machine).name == "Mine"


def test_asking_needs_a_file(tmp_path: Path, run: Run) -> None:
    assert "--ask writes each answer at once" in run("machine", "new", "wheel-loader", "--ask").err
    assert run("machine", "new", "wheel-loader", "--ask", "-o", str(tmp_path / "no/m.yaml")).status == 2
