"""The strata of the rules. Only rules of a higher stratum may ask for what a rule asserts: no reasoning is circular."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from oilpath.knowledge.rule import Rule, asked_of, asserted_by


class CircularRules(ValueError):
    """Rules that rest on each other; `rules` are their ids."""

    def __init__(self, rules: Sequence[str]) -> None:
        super().__init__(f"the rules {', '.join(rules)} rest on each other")
        self.rules = tuple(rules)


def strata(rules: Iterable[Rule]) -> Mapping[str, int]:
    """The stratum of each rule, by its id: 1 where it asks for readings alone, else above all that it rests on.

    A narrowing that no rule asserts lifts nothing: whoever asks for it never fires. Raises CircularRules.
    """
    known = {rule.id: rule for rule in rules}
    makers: dict[str, list[str]] = {}
    for rule in known.values():
        for word in asserted_by(rule):
            makers.setdefault(word, []).append(rule.id)
    below = {
        rule.id: sorted({maker for one in rule.when for word in asked_of(one) for maker in makers.get(word, ())})
        for rule in known.values()
    }
    found: dict[str, int] = {}
    while len(found) < len(below):
        ready = [name for name, under in below.items() if name not in found and all(one in found for one in under)]
        if not ready:
            raise CircularRules(sorted(name for name in below if name not in found))
        found |= {name: 1 + max((found[one] for one in below[name]), default=0) for name in ready}
    return found


def unasserted(rules: Iterable[Rule]) -> Mapping[str, tuple[str, ...]]:
    """For each rule, the narrowings it asks for that no rule asserts."""
    known = tuple(rules)
    there = {word for rule in known for word in asserted_by(rule)}
    asked = {rule.id: tuple(w for one in rule.when for w in asked_of(one) if w not in there) for rule in known}
    return {name: words for name, words in asked.items() if words}
