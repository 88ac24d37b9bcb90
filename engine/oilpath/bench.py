"""Everything that follows from one machine and one knowledge base, each part of it computed once.

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
    from oilpath.documents.sheet import Sheet
    from oilpath.flow import Fact
    from oilpath.judging.heard import Listener
    from oilpath.knowledge.base import Knowledge, Priors
    from oilpath.knowledge.closed import Closed
    from oilpath.learning.counts import Learned
    from oilpath.machine.hypotheses import Hypothesis
    from oilpath.outcomes.measured import Measured, Measures
    from oilpath.outcomes.places import Places
    from oilpath.physics.predictions import Predictions
    from oilpath.planning.checks import Wanted
    from oilpath.ranking.cause_index import CauseIndex
    from oilpath.rules.engine import Rules

MOST_BENCHES = 64
"""machines that are kept at most, the latest used ones"""
MOST_MODELS = 24
"""circuit models that are kept at most, some 8 MB each, for all machines that they cannot tell apart"""
MOST_PROOFS = 256
"""causes at parts whose proofs are kept at most"""
MOST_RULES = 8
"""knowledge bases whose compiled rules are kept at most"""

V = TypeVar("V")


class made_once(Generic[V]):  # noqa: N801  (used as a decorator)
    """An attribute of a bench that is computed when it is first asked for, by one thread while others wait."""

    def __init__(self, make: Callable[[Any], V]) -> None:
        self._make = make
        self.__doc__ = make.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, bench: None, owner: type) -> made_once[V]: ...
    @overload
    def __get__(self, bench: _Lazy, owner: type) -> V: ...
    def __get__(self, bench: _Lazy | None, owner: type) -> V | made_once[V]:
        if bench is None:
            return self
        held = bench.__dict__  # once there, Python finds it without coming here
        with bench.lock:
            if self._name not in held:
                held[self._name] = self._make(bench)
            value: V = held[self._name]
            return value


class _Lazy:
    """What has attributes that are `made_once`."""

    def __init__(self) -> None:
        self.lock = RLock()


class Model(_Lazy):
    """What machines share if they differ only in limits, names and figures that the circuit model does not use."""

    def __init__(self, machine: Machine, knowledge: Knowledge) -> None:
        super().__init__()
        self.machine = machine
        self.knowledge = knowledge

    @made_once
    def circuit(self) -> CircuitGraph:
        """The graph of the machine's circuit, without its absent parts."""
        return circuit_graph(self.machine)

    @made_once
    def predictions(self) -> Predictions:
        """What every reading would be under every hypothesis, against the sound machine."""
        from oilpath.physics.predictions import Predictions

        return Predictions(self.machine, self.knowledge, self.circuit)

    @made_once
    def causes(self) -> CauseIndex:
        """The causes that are ranked, with the hypotheses that stand for each."""
        from oilpath.ranking.cause_index import cause_index

        return cause_index(self.predictions)

    @made_once
    def places(self) -> Places:
        """Which parts stand near which."""
        from oilpath.outcomes.places import places_of

        return places_of(self.circuit)

    @made_once
    def measures(self) -> Measures:
        """What the measuring checks read."""
        from oilpath.outcomes.measured import Measures

        return Measures(self.predictions, self.places, self.knowledge)

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


class Bench(_Lazy):
    """What follows from one machine and one knowledge base. `bench_for` keeps and shares them.

    apart: ids of closed jobs that do not count here.
    """

    def __init__(self, machine: Machine, knowledge: Knowledge, apart: frozenset[str] = frozenset()) -> None:
        super().__init__()
        self.machine = machine
        self.knowledge = knowledge
        self.apart = apart

    @property
    def shared(self) -> Model:
        """The model shared with similar machines. It is not held here, so that many benches keep few models."""
        return model_for(self.machine, self.knowledge)

    @property
    def circuit(self) -> CircuitGraph:
        """The graph of the machine's circuit, without its absent parts."""
        return self.shared.circuit

    @property
    def model(self) -> Predictions:
        """What every reading would be under every hypothesis, against the sound machine."""
        return self.shared.predictions

    @property
    def hypotheses(self) -> tuple[Hypothesis, ...]:
        """Every cause at every part where it can stand, in each of its variants."""
        return self.model.hypotheses

    @property
    def causes(self) -> CauseIndex:
        """The causes that are ranked, with the hypotheses that stand for each."""
        return self.shared.causes

    @property
    def places(self) -> Places:
        """Which parts stand near which."""
        return self.shared.places

    @made_once
    def outcomes(self) -> Measured:
        """How probable the outcomes of all measuring checks are under every cause."""
        return self.shared.measures.on(self.machine.limits)

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """For each check the results that make it needless."""
        return self.shared.wanted

    @property
    def part_facts(self) -> tuple[Fact, ...]:
        """The facts about the machine's parts, the same on every sheet."""
        return self.shared.part_facts

    @made_once
    def priors(self) -> Priors:
        """Those of the knowledge base, on this kind of machine."""
        return self.knowledge.priors.on(self.machine.circuit)

    @property
    def jobs(self) -> tuple[Closed, ...]:
        """The closed jobs that count here."""
        return tuple(job for job in self.knowledge.closed if job.id not in self.apart)

    @made_once
    def learned(self) -> Learned:
        """What closed jobs say about machines of this kind."""
        from oilpath.learning.counts import NOTHING, learned

        return learned(self.jobs, self) if self.jobs else NOTHING

    @made_once
    def proofs(self) -> Latest[tuple[str, str], tuple[tuple[str, str], ...]]:
        """The checks that prove a cause at a part, those last asked for."""
        return Latest(MOST_PROOFS)

    @made_once
    def listener(self) -> Listener:
        """What finds the phrases of the vocabulary in the words of a sheet."""
        from oilpath.judging.heard import Listener

        return Listener(self.knowledge.vocabulary, self.circuit)

    @made_once
    def rules(self) -> Rules:
        """The compiled rules; they follow from the knowledge base alone and are shared by all its benches."""
        return rules_for(self.knowledge)


_BENCHES: Latest[tuple[str, str, frozenset[str]], Bench] = Latest(MOST_BENCHES)
_MODELS: Latest[tuple[str, str], Model] = Latest(MOST_MODELS)
_RULES: Latest[str, Rules] = Latest(MOST_RULES)


def bench_for(machine: Machine, knowledge: Knowledge, apart: frozenset[str] = frozenset()) -> Bench:
    """The bench of a machine with a knowledge base: the same one for equal content, from whatever thread.

    apart: ids of closed jobs that do not count.
    """
    return _BENCHES.get((machine.content, knowledge.content, apart), lambda: Bench(machine, knowledge, apart))


def bench_of(sheet: Sheet, knowledge: Knowledge) -> Bench:
    """The bench for a sheet: that of its machine, where the jobs that this sheet was closed as do not count."""
    if not knowledge.closed:
        return bench_for(sheet.machine, knowledge)
    from oilpath.learning.counts import own_jobs

    return bench_for(sheet.machine, knowledge, own_jobs(sheet, knowledge.closed))


def model_for(machine: Machine, knowledge: Knowledge) -> Model:
    """The model shared by all machines that the circuit model cannot tell apart."""
    alike = machine.modelled
    return _MODELS.get((alike.content, knowledge.content), lambda: Model(alike, knowledge))


def rules_for(knowledge: Knowledge) -> Rules:
    """The compiled rules of a knowledge base. Raises KnowledgeError, RuleEngineMissing."""
    from oilpath.rules.engine import Rules

    return _RULES.get(knowledge.content, lambda: Rules(knowledge))
