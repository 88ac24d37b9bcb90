"""One machine with one knowledge base on the bench: everything that follows from the two, each worked out once.

Benches are kept by the value of machine and knowledge base, not by the objects: a machine file that is read again, or
a thousand sheets that name it, find the same bench. What a bench holds never depends on a sheet, so an answer is the
same whatever was asked before.
"""

from __future__ import annotations

from collections.abc import Callable
from threading import RLock
from typing import TYPE_CHECKING, Any, Generic, TypeVar, overload

from oilpath.latest import Latest
from oilpath.machine.graph import CircuitGraph, circuit_graph

if TYPE_CHECKING:
    from oilpath.documents.machine import Machine
    from oilpath.flow import Fact
    from oilpath.knowledge.base import Knowledge, Priors
    from oilpath.machine.hypotheses import Hypothesis
    from oilpath.outcomes.measured import Measured
    from oilpath.outcomes.places import Places
    from oilpath.physics.predictions import Predictions
    from oilpath.planning.checks import Wanted
    from oilpath.ranking.cause_index import CauseIndex
    from oilpath.rules.engine import Rules

MOST_BENCHES = 64
"""machines that are kept at most, the latest used ones"""
MOST_RULES = 8
"""knowledge bases whose compiled rules are kept at most"""

V = TypeVar("V")


class made_once(Generic[V]):  # noqa: N801  (used as a decorator)
    """An attribute of a bench that is worked out when it is first asked for, by one thread while others wait."""

    def __init__(self, make: Callable[[Any], V]) -> None:
        self._make = make
        self.__doc__ = make.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, bench: None, owner: type) -> made_once[V]: ...
    @overload
    def __get__(self, bench: Bench, owner: type) -> V: ...
    def __get__(self, bench: Bench | None, owner: type) -> V | made_once[V]:
        if bench is None:
            return self
        held = bench.__dict__  # once there, Python finds it without coming here
        with bench.lock:
            if self._name not in held:
                held[self._name] = self._make(bench)
            value: V = held[self._name]
            return value


class Bench:
    """What follows from one machine and one knowledge base. `bench_for` keeps and shares them."""

    def __init__(self, machine: Machine, knowledge: Knowledge) -> None:
        self.machine = machine
        self.knowledge = knowledge
        self.lock = RLock()

    @made_once
    def circuit(self) -> CircuitGraph:
        """The graph of the machine's circuit, without its absent parts."""
        return circuit_graph(self.machine)

    @made_once
    def model(self) -> Predictions:
        """What every reading would be under every hypothesis, against the sound machine."""
        from oilpath.physics.predictions import Predictions

        return Predictions(self.machine, self.knowledge, self.circuit)

    @property
    def hypotheses(self) -> tuple[Hypothesis, ...]:
        """Every cause at every part where it can stand, in each of its variants."""
        return self.model.hypotheses

    @made_once
    def causes(self) -> CauseIndex:
        """The causes that are ranked, with the hypotheses that stand for each."""
        from oilpath.ranking.cause_index import cause_index

        return cause_index(self.model)

    @made_once
    def places(self) -> Places:
        """Which parts stand near which."""
        from oilpath.outcomes.places import places_of

        return places_of(self.circuit)

    @made_once
    def outcomes(self) -> Measured:
        """How probable the outcomes of all measuring checks are under every cause."""
        from oilpath.outcomes.measured import measured

        return measured(self.model, self.places, self.knowledge)

    @made_once
    def wanted(self) -> tuple[Wanted, ...]:
        """For each check the results that make it needless."""
        from oilpath.planning.checks import wanted_results

        return wanted_results(self.places, self.knowledge)

    @made_once
    def part_facts(self) -> tuple[Fact, ...]:
        """The facts about the machine's parts, the same on every sheet."""
        from oilpath.rules.facts.parts import part_facts

        return part_facts(self.circuit)

    @made_once
    def priors(self) -> Priors:
        """Those of the knowledge base, on this kind of machine."""
        return self.knowledge.priors.on(self.machine.circuit)

    @made_once
    def rules(self) -> Rules:
        """The compiled rules; they follow from the knowledge base alone and are shared by all its benches."""
        return rules_for(self.knowledge)


_BENCHES: Latest[tuple[str, str], Bench] = Latest(MOST_BENCHES)
_RULES: Latest[str, Rules] = Latest(MOST_RULES)


def bench_for(machine: Machine, knowledge: Knowledge) -> Bench:
    """The bench of a machine with a knowledge base: the same one for equal content, from whatever thread."""
    return _BENCHES.get((machine.content, knowledge.content), lambda: Bench(machine, knowledge))


def rules_for(knowledge: Knowledge) -> Rules:
    """The compiled rules of a knowledge base. Raises KnowledgeError, RuleEngineMissing."""
    from oilpath.rules.engine import Rules

    return _RULES.get(knowledge.content, lambda: Rules(knowledge))
