"""What do the results have in common? Facts for the rules, from the judged results and the circuit's graph.

Facts hold words only, every slot of their kind filled (`-` where nothing is stated), and say what was not measured
rather than leave it out. The vocabulary is `formats.rule.FACTS`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from oilpath.documents.machine import Machine
from oilpath.flow import Fact, Result
from oilpath.machine.graph import circuit_graph
from oilpath.rules.facts.contrasts import contrasts
from oilpath.rules.facts.findings import findings, observations
from oilpath.rules.facts.groups import groups
from oilpath.rules.facts.parts import part_facts
from oilpath.rules.facts.readings import read_results

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge

__all__ = ["relate"]


def relate(results: tuple[Result, ...], machine: Machine, knowledge: Knowledge) -> tuple[Fact, ...]:
    """All facts of one sheet, in a fixed order: parts, findings, groups, contrasts, observations.

    Parameters
    ----------
    results : the judged results of the sheet, in any order
    machine : the machine that they were measured on, with its circuit
    knowledge : the knowledge base; its test kinds say what a result's id means and which way a test goes wrong

    Returns
    -------
    facts : a pure function of the arguments; each rests on the results that it names
    """
    circuit = circuit_graph(machine)
    readings = read_results(results, circuit, knowledge)
    return (
        *part_facts(circuit),
        *findings(readings, circuit, knowledge),
        *groups(readings, circuit),
        *contrasts(readings, circuit, knowledge),
        *observations(results, machine, circuit),
    )
