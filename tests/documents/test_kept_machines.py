"""Many sheets that name one machine file share what was read of it, and never what has changed since."""

from pathlib import Path

import yaml

from oilpath import load_knowledge, load_sheet
from oilpath.data import data_folder
from oilpath.knowledge.base import Knowledge

SHEET = """oilpath: sheet/1
machine: machine.yaml
readings:
  - {test: cycle-time, function: boom-raise, times: 3.2 s}
"""


def written(folder: Path, **keys: object) -> Path:
    """A sheet beside a machine file with these keys."""
    machine = {"oilpath": "machine/1", "name": "Invented", "circuit": "two-pump-excavator", **keys}
    (folder / "machine.yaml").write_text(yaml.safe_dump(machine), encoding="utf-8")
    (folder / "sheet.yaml").write_text(SHEET, encoding="utf-8")
    return folder / "sheet.yaml"


def test_a_machine_file_as_before_is_read_once(tmp_path: Path, knowledge: Knowledge) -> None:
    first = load_sheet(written(tmp_path), knowledge).machine
    assert load_sheet(written(tmp_path), knowledge).machine is first


def test_a_machine_file_that_was_edited_is_read_anew(tmp_path: Path, knowledge: Knowledge) -> None:
    first = load_sheet(written(tmp_path), knowledge).machine
    second = load_sheet(written(tmp_path, name="Another"), knowledge).machine
    assert (first.name, second.name) == ("Invented", "Another")


def test_another_knowledge_base_reads_it_anew(tmp_path: Path, knowledge: Knowledge) -> None:
    layer = tmp_path / "layer"
    (layer / "circuits").mkdir(parents=True)
    circuit = (data_folder("kb") / "circuits" / "two-pump-excavator.yaml").read_text(encoding="utf-8")
    (layer / "circuits" / "two-pump-excavator.yaml").write_text(f"{circuit}\n# changed\n", encoding="utf-8")
    first = load_sheet(written(tmp_path), knowledge).machine
    assert load_sheet(written(tmp_path), load_knowledge(layer)).machine is not first


def test_a_machine_with_a_circuit_of_its_own_sees_the_circuit_change(tmp_path: Path, knowledge: Knowledge) -> None:
    circuit = (data_folder("kb") / "circuits" / "two-pump-excavator.yaml").read_text(encoding="utf-8")
    (tmp_path / "own.yaml").write_text(circuit, encoding="utf-8")
    sheet = written(tmp_path, circuit="own.yaml")
    first = load_sheet(sheet, knowledge).machine
    (tmp_path / "own.yaml").write_text(circuit.replace("title: ", "title: Left ", 1), encoding="utf-8")
    assert load_sheet(sheet, knowledge).machine.circuit.content != first.circuit.content
