"""What follows from the rules that fired: asserted facts, suspicions, warnings, and the steps of the reasoning."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import field
from typing import TYPE_CHECKING, Literal, cast

from oilpath.flow import Fact, RuleWarning, Step, Suspicion, Suspicions
from oilpath.flow.notes import Filled
from oilpath.knowledge.rule import NARROWED, NOT_STATED, Rule, Term, asserted_by, read_term, slots_for, variables_in
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.knowledge.cause import Cause

Firing = tuple[Rule, tuple[int, ...]]
"""a rule and the numbers of the facts that met its conditions"""
Place = tuple[str, str]
"""a cause and the part where it is"""
Key = tuple[str, ...]
"""what a narrowing says: its words, in the order of the slots"""


def fits(term: Term, word: str, bound: Mapping[str, str]) -> bool:
    """Whether a word matches a term. A variable that is not bound, or bound to `-`, matches everything."""
    if term.name:
        wanted = bound.get(term.name, NOT_STATED)
        return wanted == NOT_STATED or (word == wanted) != term.negated
    return (word in term.words) != term.negated


class Fired:
    """The firings of one sheet so far, and the facts that they assert, each once, numbered after those of the sheet."""

    def __init__(self, facts: Sequence[Fact]) -> None:
        self.firings: list[Firing] = []
        self.facts = list(facts)
        self.narrowed: dict[int, Key] = {}
        """number of a fact that rules asserted → what it says"""
        self._known: dict[Key, int] = {}

    def take(self, firings: Iterable[Firing]) -> list[tuple[int, Fact]]:
        """Note firings; the facts that they assert and that are new."""
        new: list[tuple[int, Fact]] = []
        for rule, matched in firings:
            self.firings.append((rule, matched))
            for slots in asserted(rule, bound_in(rule, matched, self.facts)):
                key = tuple(slots.values())
                if key not in self._known:
                    number = self._known[key] = len(self.facts)
                    self.narrowed[number] = key
                    self.facts.append(Fact(NARROWED, slots))
                    new.append((number, self.facts[number]))
        return new

    def in_order(self, strata: Mapping[str, int]) -> list[Firing]:
        """The firings, lower strata first; the order does not depend on which was asserted when."""
        return sorted(self.firings, key=lambda one: (strata[one[0].id], one[0].id, *map(self._place, one[1])))

    def _place(self, number: int) -> tuple[int, Key]:
        key = self.narrowed.get(number)
        return (number, ()) if key is None else (-1, key)


def bound_in(rule: Rule, matched: Sequence[int], facts: Sequence[Fact]) -> dict[str, str]:
    """The word for each variable of a rule that fired on these facts."""
    bound: dict[str, str] = {}
    for condition, number in zip(rule.when, matched, strict=True):
        for slot, term in condition.terms().items():
            if term.name and not term.negated:
                bound.setdefault(term.name, facts[number].slots[slot])
    return bound


def asserted(rule: Rule, bound: Mapping[str, str]) -> Iterator[dict[str, str]]:
    """The slots of the narrowings that a rule asserts."""
    for narrowing in rule.asserts:
        terms = {slot: read_term(text) for slot, text in narrowing.items()}
        words = {slot: bound[term.name] if term.name else term.words[0] for slot, term in terms.items()}
        yield slots_for(NARROWED) | words


@dataclass(slots=True)
class _Gathered:
    """One step being put together: the numbers of the sheet's facts it rests on, and what it says."""

    rule: Rule
    says: Filled
    place: int
    numbers: set[int] = field(default_factory=set)
    own: set[int] = field(default_factory=set)
    after: set[int] = field(default_factory=set)
    suspects: dict[Place, None] = field(default_factory=dict)
    cleared: dict[Place, None] = field(default_factory=dict)


class Said:
    """Gathers what the firings say; `add` takes them lower strata first, as `Fired.in_order` gives them."""

    def __init__(self, fired: Fired, causes: Mapping[str, Cause], strata: Mapping[str, int]) -> None:
        self._fired = fired
        self._facts = fired.facts
        self._causes = causes
        self._strata = strata
        self._parts = [fact.slots for fact in fired.facts if fact.kind == "part"]
        self._stands: dict[str, list[Mapping[str, str]]] = {}
        """kind of cause → the facts of the parts at which it can stand"""
        self._found: dict[tuple[str, str, str], tuple[Rule, float | None, Filled, set[int]]] = {}
        self._warnings: dict[RuleWarning, None] = {}
        self._steps: dict[tuple[str, Filled, tuple[Key, ...]], _Gathered] = {}
        self._makers: dict[Key, list[_Gathered]] = {}
        """what was narrowed to → the steps that asserted it"""

    def add(self, rule: Rule, matched: tuple[int, ...]) -> None:
        """One firing: the rule and the numbers of its facts."""
        bound = bound_in(rule, matched, self._facts)
        own = {number for number in matched if number not in self._fired.narrowed}
        below = [step for n in matched if n not in own for step in self._makers[self._fired.narrowed[n]]]
        numbers = own.union(*(step.numbers for step in below))
        because = _filled(rule.because, bound)
        step = self._step(rule, _filled(rule.warn, bound) if rule.warn is not None else because, bound)
        step.own |= own
        step.numbers |= numbers
        step.after.update(one.place for one in below)
        if rule.warn is not None:
            self._warnings[RuleWarning(rule.id, step.says)] = None
        for suspect in rule.suspect:
            for part in self._places(suspect.cause, suspect.at, bound):
                key = rule.id, suspect.cause, part
                held = self._found.setdefault(key, (rule, suspect.likelihood, because, set()))
                held[3].update(numbers)
                if suspect.likelihood is None or suspect.likelihood >= 1:
                    step.suspects[suspect.cause, part] = None
        for cleared in rule.clears:
            for part in self._places(cleared.cause, cleared.at, bound):
                step.cleared[cleared.cause, part] = None

    def _step(self, rule: Rule, says: Filled, bound: Mapping[str, str]) -> _Gathered:
        """The step of a firing; what a rule says alike of several facts is one step."""
        keys = tuple(tuple(slots.values()) for slots in asserted(rule, bound))
        found = self._steps.get((rule.id, says, keys))
        if found is None:
            found = self._steps[rule.id, says, keys] = _Gathered(rule, says, len(self._steps))
            for key in keys:
                self._makers.setdefault(key, []).append(found)
        return found

    def _places(self, kind: str, at: Mapping[str, str], bound: Mapping[str, str]) -> Iterator[str]:
        """The parts of this machine that are as `at` says and where the cause can stand."""
        cause = self._causes.get(kind)
        if cause is None:
            return
        if kind not in self._stands:
            self._stands[kind] = [
                slots for slots in self._parts if slots["part"] in cause.at.parts or slots["class"] in cause.at.class_
            ]
        terms = {slot: read_term(text) for slot, text in at.items()}
        seen: set[str] = set()
        for slots in self._stands[kind]:
            part = slots["part"]
            if part in seen:
                continue
            if all(fits(term, slots[slot], bound) for slot, term in terms.items()):
                seen.add(part)
                yield part

    def all(self) -> Suspicions:
        """All that was said."""
        found = []
        for (name, cause, part), (rule, likelihood, because, numbers) in sorted(self._found.items()):
            kind = cast('Literal["pattern", "finding"]', rule.kind)
            found.append(Suspicion(name, kind, cause, part, because, self._results(numbers), likelihood))
        kept = [step for step in self._steps.values() if _says_something(step)]
        places = {step.place: number for number, step in enumerate(kept)}
        return Suspicions(tuple(found), tuple(self._warnings), tuple(self._whole(step, places) for step in kept))

    def _results(self, numbers: Iterable[int]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(result for number in sorted(numbers) for result in self._facts[number].results))

    def _whole(self, step: _Gathered, places: Mapping[int, int]) -> Step:
        rule, after = step.rule, tuple(places[place] for place in sorted(step.after))
        return Step(
            rule.id, self._strata[rule.id], step.says, self._results(step.numbers), self._results(step.own),
            tuple(step.suspects), tuple(step.cleared), asserted_by(rule), rule.asks, after,
            rule.warn is not None,
        )  # fmt: skip


def _says_something(step: _Gathered) -> bool:
    """Not a rule whose causes cannot stand on this machine, nor a pitfall that applies whatever was concluded."""
    if step.rule.warn is not None:
        return bool(step.after)
    return bool(step.suspects or step.cleared or step.rule.asserts or step.rule.asks)


def _filled(text: str, bound: Mapping[str, str]) -> Filled:
    return Filled(text, tuple((name, bound[name]) for name in variables_in(text)))
