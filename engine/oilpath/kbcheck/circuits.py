"""The circuits of a knowledge base: ids that they define, figures that can be, a way for every function's oil."""

from __future__ import annotations

from collections.abc import Iterator

from oilpath.documents.location import Location
from oilpath.documents.nodes import read_file
from oilpath.documents.yaml_data import top_of
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.circuit_check import at_place, check_circuit
from oilpath.knowledge.files import FolderContent
from oilpath.knowledge.lines import unused
from oilpath.problems import Problem, Problems


def check_circuits(known: Knowledge, content: FolderContent) -> Iterator[Problem]:
    """The same findings as for a circuit that a machine file names by its path, with their lines."""
    usual = [circuit.id for circuit in known.circuits.values() if circuit.usual]
    seen: dict[str, str] = {}
    for name, circuit in content.files.items():
        if not isinstance(circuit, Circuit):
            continue
        shown, problems, path = content.shown_name(name), Problems(), content.folder / name
        if circuit.id in seen:
            yield Problem(shown, 1, "id", f"{circuit.id} is there twice", f"see {seen[circuit.id]}")
        seen[circuit.id] = shown
        if circuit.usual and len(usual) > 1:
            yield Problem(shown, 1, "usual", f"stands in {len(usual)} circuits: {', '.join(usual)}", "one of them")
        top = top_of(read_file(path, shown), shown, path.parent, problems, path)
        if check_circuit(circuit, top, known):
            _check_use(circuit, top)
        yield from problems


def _check_use(circuit: Circuit, top: Location) -> None:
    lines, parts = unused(circuit)
    for number in lines:
        at_place(top, ("lines", number)).wrong("nothing follows from this line", "a line that something is asked of")
    for name in parts:
        at_place(top, ("parts", name)).wrong("is on no line", "a part that lines join with others")
