"""What do the results have in common? Facts for the rules, from the judged results and the circuit's graph.

Facts hold words only, every slot of their kind filled (`-` if nothing is stated), and say what was not measured
rather than leave it out. The vocabulary is `formats.rule.FACTS`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from oilpath.flow import Fact, Result
from oilpath.rules.facts.contrasts import contrasts
from oilpath.rules.facts.findings import findings, observations
from oilpath.rules.facts.groups import groups
from oilpath.rules.facts.readings import read_results
from oilpath.rules.facts.shared import shared_parts

if TYPE_CHECKING:
    from oilpath.bench import Bench

__all__ = ["relate"]


def relate(results: tuple[Result, ...], bench: Bench) -> tuple[Fact, ...]:
    """All facts of one sheet, in a fixed order: parts, findings, groups, shared parts, contrasts, observations.

    Parameters
    ----------
    results : the judged results of the sheet, in any order
    bench : the machine that they were measured on, with the knowledge base; its test kinds say what a result's id
        means and which way a test goes wrong

    Returns
    -------
    facts : a pure function of the arguments; each rests on the results that it names
    """
    circuit, machine, knowledge = bench.circuit, bench.machine, bench.knowledge
    readings = read_results(results, circuit, knowledge)
    return (
        *bench.part_facts,
        *findings(readings, circuit, knowledge),
        *groups(readings, circuit),
        *shared_parts(readings, circuit),
        *contrasts(readings, circuit, knowledge),
        *observations(results, machine, circuit),
    )
