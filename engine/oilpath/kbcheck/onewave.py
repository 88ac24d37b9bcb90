"""Names, rules on their cases and simulated causes together, each as far as the mistakes of the others let it go."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cached_property
from typing import Any, Final

from oilpath.kbcheck.cases import try_rules
from oilpath.kbcheck.entries import Entry
from oilpath.kbcheck.measuring import try_measures
from oilpath.kbcheck.names import check_layer
from oilpath.kbcheck.proved import excused_of, is_excused, unproved
from oilpath.kbcheck.simulated import Proof, Tried, Wanted, tried_causes
from oilpath.kbcheck.tolerant import Read, names_in_dropped
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.knowledge.layers import State, known_from, state_of
from oilpath.knowledge.rule import Rule, RuleCase
from oilpath.problems import Problem
from oilpath.records import dataclass
from oilpath.reports.layers import lost_words

_MISSING: Final = re.compile(r"names the .* (\S+), which does not exist")
_HARMLESS: Final = re.compile(r"names the (source|caution|check) ")
_NEEDED: Final = {
    "cause": {"at", "disturbs", "ways", "variants"},
    "rule": {"when", "suspect"},
    "check": {"at", "outcomes", "tells", "measures", "gives", "otherwise", "needs"},
}
"""keys without which an entry cannot be tried"""
_GROUND: Final = ("test", "variant", "circuit", "scatter")
"""kinds of entries without which nothing can be tried"""


@dataclass(frozen=True)
class OneWave:
    """What is checked: knowledge that was read with stand-ins for what is wrong in it, and what lies below its layers.

    below: None if a whole knowledge base is checked.
    """

    known: Knowledge
    reads: tuple[Read, ...]
    below: Knowledge | None

    def reviewed(self) -> tuple[list[Problem], list[Problem], tuple[Proof, ...]]:
        """(findings, notes) beyond what reading found, and what is proved of a whole knowledge base."""
        findings = [*self._names, *self._lost()]
        if self.below is None and any(kind in _GROUND for kind, _ in self._unsound):
            return findings, [], ()
        rules, brought = try_rules(self._sound, [entry for entry in self._tried if self._has_cases(entry)])
        if self.below is not None:
            brought |= self._brought_below()
        tried = tried_causes(self._sound, self._tried, brought, self._wanted(), self._elsewhere)
        measuring = [one for one in self._tried if isinstance(one.value, Check) and one.value.measures]
        measures = try_measures(self._sound, measuring) if measuring else ()
        unproved_too = [*unproved(tried.proofs, self._entries)] if self.below is None else []
        found = [*findings, *rules, *self._unexcused(tried), *measures, *unproved_too]
        proofs = tried.proofs if self.below is None else ()
        return found, [*tried.notes, *self._silent_signs()], proofs

    def _unexcused(self, tried: Tried) -> Iterator[Problem]:
        """Findings on causes that are not all excused where they hold."""
        excuses = [one for _, one in excused_of(self._entries)]
        for problem in tried.findings:
            of = [one for one in tried.proofs if one.cause == problem.key]
            lacking = [("not-suspected", one) for one in of if not one.suspected]
            lacking += [("not-leading", one) for one in of if not one.leads]
            if not lacking or not all(
                is_excused((what, one.cause, None, one.circuit), excuses) for what, one in lacking
            ):
                yield problem

    def replaced(self) -> Iterator[Problem]:
        """The entries of the layers that replace others."""
        for one in self.known.replaced:
            if (one.kind, one.id) in self._places:
                yield Problem(one.file, one.line, one.id, f"replaces the {one.kind} of this id", "")

    # --- names --------------------------------------------------------------------------

    @property
    def _entries(self) -> list[Entry]:
        return [entry for read in self.reads for entry in read.content.entries]

    @cached_property
    def _places(self) -> dict[tuple[str, str], Entry]:
        return {(entry.kind, entry.key): entry for entry in self._entries}

    @cached_property
    def _names(self) -> list[Problem]:
        """Names that do not exist and figures that cannot be; not of what could not be read, though it seems there."""
        found = [one for read in self.reads for one in check_layer(self.known, read.content)]
        found += [one for read in self.reads for one in names_in_dropped(read, self.known)]
        return [one for one in found if not self._claimed(one)]

    def _claimed(self, problem: Problem) -> bool:
        named = _MISSING.match(problem.message)
        return named is not None and any(read.claimed(named[1]) for read in self.reads)

    def _lost(self) -> Iterator[Problem]:
        """What protects people and a layer takes away."""
        for one in self.known.replaced:
            if one.lost and (one.kind, one.id) in self._places:
                what = f"replaces the {one.kind} of this id and takes away {'; '.join(lost_words(one.lost))}"
                yield Problem(one.file, one.line, one.id, what, "what it replaces says this; every answer names it")

    def _silent_signs(self) -> Iterator[Problem]:
        """Signs of a layer that no rule speaks of."""
        spoken = {condition.slots.get("of") for rule in self.known.rules for condition in rule.when}
        unread = " ".join(repr(one.data) for read in self.reads for one in read.dropped)
        for (kind, name), entry in self._places.items():
            if repr(name) in unread:
                continue
            if kind == "sign" and self.below is not None and name not in spoken:
                what = "no rule says what this sign speaks for, so it changes no probability"
                yield Problem(entry.file, entry.line, name, what, f"oilpath kb new rule {name}")

    # --- what is sound enough to be tried ------------------------------------------------

    @cached_property
    def _unsound(self) -> set[tuple[str, str]]:
        """Entries that cannot be tried."""
        bad = {key for read in self.reads for key, keys in read.spoilt.items() if keys & _NEEDED.get(key[0], set())}
        wrong = {(one.file, one.key) for one in self._names if not _HARMLESS.match(one.message)}
        files = {one.file for one in self._names}
        for entry in self._entries:
            named = (entry.file, entry.key) in wrong and entry.kind != "rule"
            if named or (entry.kind == "circuit" and entry.file in files):
                bad.add((entry.kind, entry.key))
        return bad

    @cached_property
    def _sound(self) -> Knowledge:
        """The knowledge without what cannot be tried: what lies below it in its place, where there is such."""
        if not self._unsound and not self._names and not any(read.dropped for read in self.reads):
            return self.known
        state = state_of(self.known)
        below = state_of(self.below) if self.below is not None else {}
        for kind, name in self._unsound:
            if kind in ("rule", "cause", "check", "circuit", "sign") or name in below.get(kind, {}):
                state[kind].pop(name, None)
                if name in below.get(kind, {}):
                    state[kind][name] = below[kind][name]
        state["rule"] = self._rules(state, below.get("rule", {}))
        more: dict[str, Any] = {"version": f"{self.known.version}-tried", "always": self.known.always}
        return known_from(state, **more)

    def _rules(self, state: State, below: dict[str, Any]) -> dict[str, Any]:
        """The rules, those of what is checked without suspects that do not exist."""
        rules: dict[str, Any] = {}
        for name, rule in state["rule"].items():
            own = ("rule", name) in self._places and ("rule", name) not in self._unsound
            tried = _without(rule, set(state["cause"])) if own else rule
            if tried is not None or name in below:
                rules[name] = tried if tried is not None else below[name]
        return rules

    @cached_property
    def _tried(self) -> list[Entry]:
        """The entries that are tried, as they are tried."""
        state = state_of(self._sound)
        return [
            Entry(one.file, one.line, one.key, state[one.kind][one.key], one.kind, one.layer)
            for one in self._entries
            if (one.kind, one.key) not in self._unsound and one.key in state.get(one.kind, {})
        ]

    def _has_cases(self, entry: Entry) -> bool:
        spoilt = frozenset[str]().union(*(read.spoilt.get((entry.kind, entry.key), ()) for read in self.reads))
        return isinstance(entry.value, Rule) and not spoilt & {"fires", "silent"}

    # --- what is tried of a layer --------------------------------------------------------

    def _wanted(self) -> Wanted | None:
        """The causes of the layers, those that what they replace brought up, and all on the circuits of the layers."""
        if self.below is None:
            return None
        tried = {(entry.kind, entry.key) for entry in self._tried}
        causes = {name for kind, name in tried if kind == "cause"}
        for rule in self.below.rules:
            if ("rule", rule.id) in tried:
                causes |= {one.cause for one in rule.suspect}
        for check in self.below.checks:
            if ("check", check.check) in tried:
                causes |= {name for tells in check.tells for name in tells.causes}
        circuits = {name for kind, name in tried if kind == "circuit"}
        return Wanted(frozenset(causes), frozenset(circuits))

    def _brought_below(self) -> frozenset[str]:
        """Causes of the layers that cases of rules below them bring up."""
        causes = {entry.key for entry in self._tried if entry.kind == "cause"}
        rules = [
            Entry("", 1, rule.id, rule, "rule")
            for rule in self._sound.rules
            if rule.kind == "finding" and any(one.cause in causes for one in rule.suspect)
        ]
        return try_rules(self._sound, rules)[1]

    def _elsewhere(self, cause: str, where: str) -> Entry:
        """The entry of a layer by which a finding on a cause below it has come about."""
        for entry in self._tried:
            if entry.kind == "circuit" and entry.key in where:
                return entry
        below = self.below if self.below is not None else self.known
        changed = {rule.id for rule in below.rules if any(one.cause == cause for one in rule.suspect)}
        changed |= {check.check for check in below.checks if any(cause in tells.causes for tells in check.tells)}
        return next((one for one in self._tried if one.key in changed), self._tried[0])


def _without(rule: Rule, causes: set[str]) -> Rule | None:
    """A rule with those of its suspects that exist; None if it is left with none."""
    if all(one.cause in causes for one in rule.suspect):
        return rule

    def case(one: RuleCase) -> RuleCase:
        there = tuple(text for text in one.suspects if text.partition(" at ")[0] in causes)
        return one.model_copy(update={"suspects": there})

    left = tuple(one for one in rule.suspect if one.cause in causes)
    changed = {"suspect": left, "fires": tuple(map(case, rule.fires)), "silent": tuple(map(case, rule.silent))}
    return rule.model_copy(update=changed) if left else None
