"""Whether every parameter that a cause disturbs has an effect at every part where the cause can be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.files import Entry
from oilpath.knowledge.parameters import parameter_words
from oilpath.machine.graph import circuit_graph
from oilpath.machine.hypotheses import fitting_classes, hypotheses, misplaced
from oilpath.problems import Problem


def check_scopes(known: Knowledge, entries: Iterable[Entry]) -> Iterator[Problem]:
    """A finding for each parameter of a cause that has no place at a part, with the classes of part that would do."""
    machines = [Machine(name=name, circuit=circuit) for name, circuit in known.circuits.items()]
    graphs = [circuit_graph(machine) for machine in machines]
    for entry in entries:
        if not isinstance(entry.value, Cause):
            continue
        wrong: dict[str, dict[str, None]] = {}
        for machine, graph in zip(machines, graphs, strict=True):
            for h in hypotheses((entry.value,), graph):
                for d in misplaced(h, machine.circuit):
                    wrong.setdefault(d.parameter, {})[d.part] = None
        for parameter, parts in wrong.items():
            words = parameter_words().get(parameter)
            meaning = f" ({words.says})" if words else ""
            what = f"disturbs `{parameter}`{meaning} at {', '.join(list(parts)[:3])}, where it has no place"
            would_do = ", ".join(fitting_classes(parameter, graphs))  # type: ignore[arg-type]
            yield Problem(entry.file, entry.line, entry.key, what, f"at a part of class {would_do}")
