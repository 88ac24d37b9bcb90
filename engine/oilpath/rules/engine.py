"""The rules at work: facts in, suspicions and warnings out. durable-rules lives here and nowhere else.

What the engine is good at, matching and joining facts, is all that it does here: its actions only note what fired, and
everything else is computed afterwards. It has traps (each has a test in tests/test_suspicion.py), so it is fenced in:
one private host for the process that starts no threads, a copy of the rules that it may change, one lock, a session of
its own for every sheet that is deleted afterwards, facts asserted one by one, and a rule that takes every fact, because
a fact that no condition meets would be dropped, and deleting its session then crashes the interpreter. How comparisons
must stand in a condition is said at `engine_form`. What rules assert becomes facts of the same session, for the rules
of a higher stratum.
"""

from __future__ import annotations

import copy
import itertools
import threading
import time
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from typing import TYPE_CHECKING, Any

from oilpath.flow import Fact, Suspicions
from oilpath.knowledge.rule import NOT_STATED, Condition, Rule, Term
from oilpath.records import dataclass
from oilpath.rules.said import Fired, Firing, Said, fits
from oilpath.rules.strata import CircularRules, strata

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge
    from oilpath.knowledge.cause import Cause

#: Limits of one ruleset, measured on durable-rules 2.0.28; beyond them it crashes, hangs or fails silently.
MOST_JOINED, MOST_MET, MOST_SAME, MOST_WORDS, MOST_KEYS = 16, 64, 255, 511, 252
CATCH_ALL = "every-fact"
KEPT_FACTS = 20_000


class KnowledgeError(ValueError):
    """A rule that cannot be compiled or that raised: a fault of the knowledge base, not of the sheet."""


class RuleEngineMissing(ImportError):
    """durable-rules is not installed, or was built so that it cannot be loaded."""


def suspect(facts: Sequence[Fact], rules: Rules) -> Suspicions:
    """What the rules of a knowledge base say of these facts.

    Returns
    -------
    suspicions : sorted by rule, cause and part, each once with all results that fired it; warnings of the pitfall
        rules; the steps of the reasoning. A cause at a part that the facts do not name, or where it cannot stand, is
        left out.

    Raises
    ------
    KnowledgeError : a rule raised while it fired
    """
    fired = _LOCKED_HOST.run(rules, facts)
    said = Said(fired, rules.causes, rules.strata)
    for rule, matched in fired.in_order(rules.strata):
        try:
            said.add(rule, matched)
        except Exception as error:
            raise KnowledgeError(f"rule {rule.id}: {error}") from error
    return said.all()


def engine_limits(rules: Sequence[Rule]) -> list[str]:
    """Where these rules, split into runs, exceed the limits of the engine; empty if nowhere."""
    return [fault for ruleset in split_rules(rules) for fault in over_limits(ruleset)]


def split_rules(rules: Sequence[Rule]) -> tuple[tuple[Rule, ...], ...]:
    """Split the rules into as few runs as possible, each below half of the engine's limits."""
    if len(rules) < 2 or not over_limits(rules, share=0.5):
        return (tuple(rules),) if rules else ()
    middle = len(rules) // 2
    return split_rules(rules[:middle]) + split_rules(rules[middle:])


def over_limits(rules: Sequence[Rule], *, share: float = 1.0) -> list[str]:
    """Where a single ruleset of these rules exceeds this share of the engine's limits."""
    faults: list[str] = []
    conditions = [condition for rule in rules for condition in rule.when]

    def count(number: int, most: int, what: str) -> None:
        if number > most * share:
            faults.append(f"{number} {what}, at most {most} are borne")

    for rule in rules:
        count(len(rule.when), MOST_JOINED, f"conditions joined in rule {rule.id}")
    same = max(Counter(_text_of(condition) for condition in conditions).values(), default=0)
    count(same, MOST_SAME, "rules on the very same condition")
    count(_most_met(conditions), MOST_MET, "conditions that one fact can meet")
    words = {word for condition in conditions for term in condition.terms().values() for word in term.words}
    count(len(words | {condition.fact for condition in conditions}), MOST_WORDS, "distinct words compared")
    keys = max((len(slots) for slots in _used_slots(rules).values()), default=0) + 4
    count(keys, MOST_KEYS, "keys on one fact")
    return faults


def _text_of(condition: Condition) -> tuple[str, ...]:
    return (condition.fact, *(f"{slot}={text}" for slot, text in sorted(condition.slots.items())))


def _most_met(conditions: Iterable[Condition]) -> int:
    """At most this many separate conditions can be met by one fact, the one that takes every fact included.

    Conditions that want different words in the same slot cannot both be met, so for every slot the largest number
    that agree in it, with those that leave it open, is a bound; the least of these bounds counts.
    """
    by_kind: dict[str, dict[tuple[str, ...], Condition]] = {}
    for condition in conditions:
        by_kind.setdefault(condition.fact, {})[_text_of(condition)] = condition
    return 1 + max((_bound([c.terms() for c in of.values()]) for of in by_kind.values()), default=0)


def _bound(conditions: Sequence[Mapping[str, Term]]) -> int:
    best = len(conditions)
    for slot in {slot for terms in conditions for slot in terms}:
        fixed: dict[str, int] = {}
        open_ = 0
        for terms in conditions:
            term = terms.get(slot, Term())
            if term.negated or not term.words:
                open_ += 1
            for word in () if term.negated else term.words:
                fixed[word] = fixed.get(word, 0) + 1
        best = min(best, open_ + max(fixed.values(), default=0))
    return best


# ------------------------------------------------------------------------------------------------ compiling


@dataclass(slots=True)
class _Ruleset:
    """One ruleset of the engine: its rules, the slots that they look at, its conditions by kind of fact.

    Each condition has a bit of its own; `wants` holds the bits of each rule. `met` keeps which conditions take a fact,
    by kind and words: most facts of a sheet come again on the next.
    """

    name: str
    rules: tuple[Rule, ...]
    slots: Mapping[str, tuple[str, ...]]
    asks: Mapping[str, tuple[tuple[int, Mapping[str, Term]], ...]]
    wants: tuple[int, ...]
    met: dict[tuple[str, ...], int] = field(default_factory=dict)


@dataclass(slots=True)
class _Session:
    """One sheet at one ruleset: which conditions some fact meets, variables aside, and what the engine was shown.

    The engine is shown only facts that meet a condition of a rule of which every condition is met: others can fire
    nothing, and to show a fact costs more than all else.
    """

    ruleset: _Ruleset
    id: str
    begun: bool = False
    met: int = 0
    waiting: list[tuple[int, Fact, int]] = field(default_factory=list)

    def take(self, facts: Iterable[tuple[int, Fact]]) -> list[tuple[int, Fact]]:
        """The facts to show to the engine now, from the new ones and those held back before."""
        for number, fact in facts:
            bits = _met_by(fact, self.ruleset)
            if bits:
                self.met |= bits
                self.waiting.append((number, fact, bits))
        alive = 0
        for wanted in self.ruleset.wants:
            if wanted & self.met == wanted:
                alive |= wanted
        shown = [(number, fact) for number, fact, bits in self.waiting if bits & alive]
        self.waiting = [one for one in self.waiting if not one[2] & alive]
        return shown


class Rules:
    """The rules of one knowledge base, compiled and ready to run. Raises KnowledgeError, RuleEngineMissing."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.causes: Mapping[str, Cause] = {cause.cause: cause for cause in knowledge.causes}
        try:
            self.strata = strata(knowledge.rules)
        except CircularRules as error:
            raise KnowledgeError(str(error)) from error
        self.rulesets = tuple(_compile(rules) for rules in split_rules(knowledge.rules))


def _compile(rules: tuple[Rule, ...]) -> _Ruleset:
    bits: dict[tuple[str, ...], int] = {}
    asks: dict[str, list[tuple[int, Mapping[str, Term]]]] = {}
    wants: list[int] = []
    for rule in rules:
        wanted = 0
        for condition in rule.when:
            text = _text_of(condition)
            if text not in bits:
                bits[text] = 1 << len(bits)
                asks.setdefault(condition.fact, []).append((bits[text], condition.terms()))
            wanted |= bits[text]
        wants.append(wanted)
    name = f"rules-{next(_NUMBERS)}"
    _LOCKED_HOST.add(name, rules)
    shared = tuple(dict.fromkeys(wants))
    return _Ruleset(name, rules, _used_slots(rules), {kind: tuple(terms) for kind, terms in asks.items()}, shared)


def _used_slots(rules: Iterable[Rule]) -> dict[str, tuple[str, ...]]:
    """For each kind of fact the slots that some condition looks at: no others are shown to the engine."""
    used: dict[str, dict[str, None]] = {}
    for condition in (condition for rule in rules for condition in rule.when):
        used.setdefault(condition.fact, {}).update(dict.fromkeys(condition.slots))
    return {kind: tuple(slots) for kind, slots in used.items()}


#: Ends the comparisons of a condition, always true. Where the last comparison of an `$and` fails, the engine looks for
#: the end of the condition beyond it, in whatever memory comes next; the last one must not fail. The key is one of ours
#: on every fact: `id` and `sid` must not be compared, the engine keeps no copy of their text.
NEVER_FAILS: dict[str, Any] = {"$neq": {"never": {"c0": "fact"}}}
NEVER = {"never": "."}


def engine_form(rule: Rule) -> list[dict[str, Any]]:
    """A rule's conditions as the engine wants them: `[{"c0": {"$and": [{"fact": "group"}, …]}}, …]`.

    A variable becomes a comparison with the slot of the earlier condition that bound it. Comparisons stand before any
    `$or`, since the engine leaves out those behind it. Never `any`: it over-fires. Made again at each call, because the
    engine changes what it is given.
    """
    bound: dict[str, dict[str, str]] = {}
    form: list[dict[str, Any]] = []
    for number, condition in enumerate(rule.when):
        alias = f"c{number}"
        binds: dict[str, dict[str, str]] = {}
        fixed: list[dict[str, Any]] = [{"fact": condition.fact}]
        compared: list[dict[str, Any]] = []
        either: list[dict[str, Any]] = []
        for slot, term in condition.terms().items():
            if term.name and term.name in bound:
                place = bound[term.name]
                compared.append({"$neq": {slot: place}} if term.negated else {slot: place})
            elif term.name:
                binds[term.name] = {alias: slot}
                fixed += [] if term.not_stated_too else [{"$neq": {slot: NOT_STATED}}]
            elif len(term.words) > 1:
                either.append({"$or": [{slot: word} for word in term.words]})
            else:
                fixed.append({"$neq": {slot: term.words[0]}} if term.negated else {slot: term.words[0]})
        wants = fixed + ([*compared, copy.deepcopy(NEVER_FAILS)] if compared else []) + either
        form.append({alias: {"$and": wants} if len(wants) > 1 else wants[0]})
        bound |= binds
    return form


# ------------------------------------------------------------------------------------------------ running


class _LockedHost:
    """The one host of this process. Everything that touches the engine happens under its lock."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._host: Any = None
        self._engine: Any = None
        self._fired: list[Firing] = []
        self._errors: list[tuple[Rule, BaseException]] = []

    def add(self, name: str, rules: Sequence[Rule]) -> None:
        """Compile one ruleset. Raises KnowledgeError, RuleEngineMissing."""
        with self._lock:
            self._start()
            try:
                self._host.set_rulesets({name: self._definition(rules)})
            except Exception as error:
                raise KnowledgeError(f"{self._culprit(rules)} cannot be compiled: {error}") from error

    def _start(self) -> None:
        if self._host is None:
            engine = _load_engine()

            class Host(engine.Host):  # type: ignore[name-defined, misc]
                def _run(self) -> None:
                    """No timer threads: they would run actions beside us."""

            self._engine, self._host = engine, Host()

    def _definition(self, rules: Sequence[Rule]) -> dict[str, Any]:
        definition = {rule.id: {"all": engine_form(rule), "run": self._noting(rule)} for rule in rules}
        definition[CATCH_ALL] = {"all": [{"m": {"$ex": {"fact": 1}}}], "run": lambda _: None}
        return definition

    def _culprit(self, rules: Sequence[Rule]) -> str:
        """The first rule that the engine does not take by itself."""
        for rule in rules:
            try:
                self._host.set_rulesets({f"trial-{next(_NUMBERS)}": self._definition([rule])})
            except Exception:
                return f"rule {rule.id}"
        return f"the rules {rules[0].id} to {rules[-1].id} together"

    def _noting(self, rule: Rule) -> Any:
        def note(closure: Any) -> None:
            try:
                self._fired.append((rule, matched_facts(rule, closure)))
            except BaseException as error:  # the engine would swallow it, an interrupt too
                self._errors.append((rule, error))

        return note

    def run(self, compiled: Rules, facts: Sequence[Fact]) -> Fired:
        """What fires on these facts, and on what the rules that fire assert, until nothing new is asserted.

        Nothing is ever taken back, so what fires does not depend on the order: the engine has no truth maintenance.
        """
        fired = Fired(facts)
        with self._lock:
            self._fired, self._errors = [], []
            sessions = [_Session(ruleset, f"s{next(_NUMBERS)}") for ruleset in compiled.rulesets]
            try:
                self._post(sessions, tuple(enumerate(facts)))
                while self._fired and not self._errors:
                    now, self._fired = self._fired, []
                    if new := fired.take(now):
                        self._post(sessions, new)
            finally:
                for session in sessions:
                    if session.begun:  # one that never began cannot be deleted
                        self._host.delete_state(session.ruleset.name, session.id)
            errors = self._errors
            self._fired, self._errors = [], []
        for rule, error in errors:
            if not isinstance(error, Exception):
                raise error
            raise KnowledgeError(f"rule {rule.id}: {error}") from error
        return fired

    def _post(self, sessions: Sequence[_Session], facts: Sequence[tuple[int, Fact]]) -> None:
        for session in sessions:
            for number, fact in session.take(facts):
                session.begun = True
                self._assert(session.ruleset, session.id, number, fact)

    def _assert(self, ruleset: _Ruleset, session: str, number: int, fact: Fact) -> None:
        shown = {slot: fact.slots[slot] for slot in ruleset.slots[fact.kind]}
        for letter in "fgh":  # very rarely the engine takes a fact for another one: then it gets another id
            try:
                self._host.assert_fact(
                    ruleset.name, {**shown, **NEVER, "fact": fact.kind, "id": f"{letter}{number}", "sid": session}
                )
                return
            except self._engine.MessageObservedException:
                continue
            except self._engine.MessageNotHandledException:
                return  # the rule that takes every fact has it


def matched_facts(rule: Rule, closure: Any) -> tuple[int, ...]:
    """Numbers of the facts that met the rule's conditions, in their order."""
    message = closure._m
    return tuple(int(message[f"c{number}"]["id"][1:]) for number in range(len(rule.when)))


def _met_by(fact: Fact, ruleset: _Ruleset) -> int:
    """The conditions that take this fact, variables aside."""
    slots = ruleset.slots.get(fact.kind)
    if slots is None:
        return 0
    key = (fact.kind, *map(fact.slots.__getitem__, slots))
    known = ruleset.met.get(key)
    if known is None:
        if len(ruleset.met) >= KEPT_FACTS:
            ruleset.met.clear()
        known = 0
        for bit, terms in ruleset.asks[fact.kind]:
            if all(fits(term, fact.slots[slot], {}) for slot, term in terms.items()):
                known |= bit
        ruleset.met[key] = known
    return known


def _load_engine() -> Any:
    try:
        from durable import engine
    except ImportError as error:
        raise RuleEngineMissing(
            "the rule engine durable-rules cannot be loaded; build it anew for this Python with: "
            "CPPFLAGS=-DPyEval_CallObject=PyObject_CallObject "
            "pip install --force-reinstall --no-cache-dir --no-binary durable-rules durable-rules"
        ) from error
    # Its own clock warns from Python 3.12 on, and jumps with the local time. It serves for differences alone.
    engine._unix_now = time.time
    return engine


_NUMBERS = itertools.count(1)
_LOCKED_HOST = _LockedHost()
