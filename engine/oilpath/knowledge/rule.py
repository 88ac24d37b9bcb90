"""The files of `kb/rules/`, `oilpath: rule/1`, one rule each: when these facts hold together, suspect these causes.

A condition names a kind of fact and words for its slots; `FACTS` below is the whole vocabulary, the same for the rules
and for `oilpath.rules.facts`, which makes the facts. Facts of kind `narrowed` are made by rules: what a rule asserts,
rules of a higher stratum ask for, so that rules reason in steps. The word for a slot is one of

- `word`, `a or b` (either), `not word` (any other);
- `$name`: binds a variable at its first use and must be the same word at every later one; never binds `-`;
- `any $name`: binds `-` (not stated) as well;
- `not $name`: another word than the one bound before.
"""

import re
from collections.abc import Iterable, Mapping
from functools import cache, lru_cache
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from oilpath.knowledge.fields import Entry, Id, PositiveNumber, Text, problem
from oilpath.problems import nearest
from oilpath.records import dataclass

#: What a slot holds if nothing is stated: said, never left out.
NOT_STATED = "-"

STATES = ("in", "near", "out", "invalid", "unmeasured")
GROUP_STATES = ("all-out", "some-out", "one-out", "none-out", "unmeasured")
GROUP_KINDS = (
    "pump", "pump-loaded", "pump-alone", "two-pump", "merge", "function", "direction", "side", "range", "raised",
    "ground", "ground-range", "veer", "all", "all-loaded", "drift", "stall", "drain",
)  # fmt: skip
DEVIATIONS = ("slow", "fast", "high", "low", "left", "right")
PAIRS = (
    "ground-raised", "hot-cold", "left-right", "forward-reverse", "single-combined", "running-stopped",
    "usual-reversed", "loaded-empty", "idle-full", "boosted-standard",
)  # fmt: skip
RELATIONS = ("alike", "first-worse", "second-worse", "unknown")
ROLES = ("spool", "pilot", "merge", "gate", "supply", "exhaust", "actuator", "drag", "regeneration", "shunt", "own")

#: The kinds of fact, their slots, and the closed lists of words (empty: any word).
FACTS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "part": {
        "part": (), "class": (), "pump": (), "side": ("left", "right"), "of": (), "end": ("cap", "rod"),
        "carries": ("load", "no-load"), "group": (), "function": (), "actuator": (), "role": ROLES, "title": (),
    },
    "finding": {
        "result": (), "test": (), "function": (), "group": (), "cylinder": (), "side": ("left", "right", "both"),
        "direction": (), "range": (), "pump": (), "part": (), "class": (), "case": (), "end": ("cap", "rod"),
        "variant": (), "together": ("yes", "no"), "state": STATES, "deviation": DEVIATIONS,
        "size": ("slight", "clear", "gross"), "repeats": ("steady", "scattered", "single"),
        "cooling": ("most", "some", "little"),
    },
    "group": {
        "kind": GROUP_KINDS, "of": (), "pump": (), "side": ("left", "right"), "class": (), "deviation": DEVIATIONS,
        "state": GROUP_STATES, "only": ("yes", "no", "unknown"), "opposite": ("in", "near", "out", "unmeasured"),
        "back": (), "near": ("yes", "no"),
    },
    "shared": {"part": (), "class": (), "of": (), "side": ("left", "right"), "pump": (), "among": ("one", "several")},
    "contrast": {"pair": PAIRS, "of": (), "relation": RELATIONS},
    "observed": {
        "kind": ("sign", "code", "check"), "of": (), "part": (), "class": (), "function": (), "group": (), "side": (),
        "pump": (), "actuator": (), "value": (),
    },
    "narrowed": {
        "to": (), "pump": (), "side": (), "group": (), "function": (), "actuator": (), "part": (), "class": (),
    },
}  # fmt: skip

FactKind = Literal["part", "finding", "group", "shared", "contrast", "observed", "narrowed"]
NARROWED = "narrowed"
#: Slots that say what a reading showed, with the words under which something may be cleared.
MEASURED: Mapping[tuple[str, str], tuple[str, ...]] = {
    ("finding", "state"): ("in", "out"),
    ("group", "state"): ("none-out", "all-out", "some-out", "one-out"),
    ("group", "opposite"): ("in", "out"),
    ("contrast", "relation"): ("alike", "first-worse", "second-worse"),
    ("observed", "kind"): ("sign", "code", "check"),
}
_WORD = r"[a-z0-9]+(?:[-.][a-z0-9]+)*|-"
_TERM = re.compile(rf"(?P<any>any )?(?P<not>not )?(?:\$(?P<name>[a-z]+)|(?P<words>(?:{_WORD})(?: or (?:{_WORD}))*))")
_FILLED = re.compile(r"\$([a-z]+)")


@dataclass(frozen=True, slots=True)
class Term:
    """What a slot must hold: one of `words`, or the variable `name`; `negated` turns it round."""

    words: tuple[str, ...] = ()
    name: str | None = None
    negated: bool = False
    not_stated_too: bool = False


@lru_cache(maxsize=4096)
def read_term(text: str) -> Term:
    """The grammar above. Raises ValueError if the text does not follow it."""
    match = _TERM.fullmatch(text)
    if match is None or (match["any"] and (match["not"] or not match["name"])):
        raise ValueError(text)
    words = tuple(match["words"].split(" or ")) if match["words"] else ()
    if match["not"] and len(words) > 1:
        raise ValueError(text)
    return Term(words, match["name"], bool(match["not"]), bool(match["any"]))


def variables_in(text: str) -> tuple[str, ...]:
    """Names of the variables that a sentence fills in (`$pump` → `pump`)."""
    return tuple(dict.fromkeys(_FILLED.findall(text)))


def fill_in(text: str, words: Mapping[str, str]) -> str:
    """The sentence with its variables replaced by words for people."""
    return _FILLED.sub(lambda match: words[match[1]], text)


def _term(value: object) -> str:
    try:
        if isinstance(value, str):
            read_term(value)
            return value
    except ValueError:
        pass
    raise problem("is not a word for a slot", "word, a or b, not word, $name, any $name or not $name")


def _fixed_words(fact: str, slots: Mapping[str, str]) -> None:
    """Raise where a slot is unknown for this kind of fact, or a word is not in the slot's closed list."""
    known = FACTS[fact]
    for slot, text in slots.items():
        if slot not in known:
            like = nearest(slot, known)
            raise problem(f"{slot} is not a slot of {fact}", f"did you mean {like}?" if like else ", ".join(known))
        for word in read_term(text).words:
            if known[slot] and word not in (*known[slot], NOT_STATED):
                raise problem(f"{slot}: {word} never stands there", ", ".join(known[slot]))


Slots = dict[Id, Annotated[str, BeforeValidator(_term)]]


class Condition(Entry):
    """One fact that must hold, written `{fact: group, kind: pump, of: $pump, state: all-out}`."""

    fact: FactKind
    slots: Slots

    @model_validator(mode="before")
    @classmethod
    def _flat(cls, value: object) -> object:
        if isinstance(value, dict) and "slots" not in value:
            return {"fact": value.get("fact"), "slots": {k: v for k, v in value.items() if k != "fact"}}
        return value

    @model_validator(mode="after")
    def _known(self) -> Self:
        _fixed_words(self.fact, self.slots)
        return self

    def terms(self) -> dict[str, Term]:
        """The slots with their terms read."""
        return {slot: read_term(text) for slot, text in self.slots.items()}


def _places(value: Slots) -> Slots:
    _fixed_words("part", value)
    return value


class Suspect(Entry):
    """A cause to suspect at every part whose slots are as `at` says; no `at`: wherever the cause can stand.

    A variable bound to `-` asks for nothing. A part where the cause cannot stand is passed over.
    """

    cause: Annotated[str, Field(pattern=r"^[a-z0-9-]+\.[a-z0-9-]+$")]
    at: Annotated[Slots, AfterValidator(_places)] = {}
    likelihood: PositiveNumber | None = None
    """finding rules only: P(observation | cause) / P(observation | not this cause)"""


def _narrowing(value: Slots) -> Slots:
    _fixed_words(NARROWED, value)
    term = read_term(value["to"]) if "to" in value else None
    if term is None or len(term.words) != 1 or term.negated:
        raise problem("a narrowing says what it narrows to", "to: one word, then slots: {to: one-pump, pump: $pump}")
    return value


Narrowing = Annotated[Slots, AfterValidator(_narrowing)]
"""what a rule asserts for rules above it, written `{to: one-pump, pump: $pump}`"""


class Cleared(Entry):
    """A cause that the rule's readings clear, at every part whose slots are as `at` says."""

    cause: Annotated[str, Field(pattern=r"^[a-z0-9-]+\.[a-z0-9-]+$")]
    at: Annotated[Slots, AfterValidator(_places)] = {}


class RuleCase(Entry):
    """A small case: result ids with what they show, on a machine of the named circuit, else of the usual one.

    Words: `in`, `near`, `invalid`, `unjudged`, `out` (the way the test goes wrong), a deviation (`slow`, `low`,
    `left` …), each with `near-`, `slight-` or `gross-` before it if wanted; `seen`/`not-seen`, `active`/`stored`, an
    outcome; for a variant `better`, `same`, `worse`.
    """

    says: Text
    circuit: Id | None = None
    """where left out the usual one of the knowledge base"""
    absent: tuple[Id, ...] = ()
    codes: dict[str, Id] = {}
    """the machine's own codes with the part that each names"""
    results: dict[str, str]
    suspects: tuple[str, ...] = ()
    """cases that must fire: some of what they must suspect, as `cause at part`"""
    clears: tuple[str, ...] = ()
    """cases that must fire: some of what they must clear, as `cause at part`"""


def _many(value: object) -> object:
    return value if isinstance(value, list | tuple) else [value]


class Rule(Entry):
    """One rule.

    `pattern`: what the readings have in common gives candidates, never odds. `finding`: what no model predicts (signs,
    codes) speaks for causes, each with a likelihood. `pitfall`: warns of a wrong conclusion.
    """

    oilpath: Literal["rule/1"]
    id: Id
    kind: Literal["pattern", "finding", "pitfall"]
    title: Text
    when: tuple[Condition, ...] = Field(min_length=1, max_length=4)
    suspect: Annotated[tuple[Suspect, ...], BeforeValidator(_many)] = ()
    asserts: Annotated[tuple[Narrowing, ...], BeforeValidator(_many)] = ()
    """what the rule narrows it to, for rules that ask for it"""
    clears: Annotated[tuple[Cleared, ...], BeforeValidator(_many)] = ()
    """what the readings clear; only a rule that asks for something measured clears anything"""
    asks: tuple[Id, ...] = ()
    """tests, not made yet, that would narrow it further"""
    because: Text
    """why, with `$name` filled in"""
    warn: Text | None = None
    """pitfall rules only: what is said, with `$name` filled in"""
    source: Text
    fires: tuple[RuleCase, ...] = Field(min_length=1)
    silent: tuple[RuleCase, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _sound(self) -> Self:
        for wrong, accepted in _faults(self):
            raise problem(wrong, accepted)
        return self


def _faults(rule: Rule) -> Iterable[tuple[str, str]]:
    """What is wrong with a rule as a whole: (what, what is accepted)."""
    if (rule.kind == "pitfall") != (rule.warn is not None):
        yield "warn belongs to pitfall rules, and every pitfall rule has it", "warn: …"
    if rule.kind == "pitfall" and (rule.asserts or rule.clears or rule.asks):
        yield "a pitfall warns and concludes nothing", "no asserts, clears and asks"
    if (rule.kind == "pitfall" and rule.suspect) or (rule.kind == "finding" and not rule.suspect):
        yield "suspect belongs to pattern and finding rules, and each of them has it", "suspect: [{cause: …, at: …}]"
    if rule.kind == "pattern" and not (rule.suspect or rule.asserts or rule.clears or rule.asks):
        yield "suspect belongs to pattern rules, or else asserts, clears or asks", "suspect: [{cause: …, at: …}]"
    if rule.clears and not _rests_on_measured(rule):
        yield "clears something that nothing measured clears", "a condition on what was measured, such as state: in"
    for condition in rule.when:
        if condition.fact == NARROWED and not asked_of(condition):
            yield "a condition on a narrowing names it", "to: one-pump, or several words with `or`"
    for suspect in rule.suspect:
        if (rule.kind == "finding") != (suspect.likelihood is not None):
            yield "likelihood belongs to the suspects of finding rules, and each of them has it", "likelihood: 5"
    bound: set[str] = set()
    for condition in rule.when:
        terms = condition.terms().values()
        for term in terms:
            if term.negated and term.name and term.name not in bound:
                yield f"${term.name} is not bound before it is compared", "a condition before this one that binds it"
        names = [term.name for term in terms if term.name and not term.negated]
        if len(names) != len(set(names)):
            yield "a variable stands twice in one condition", "one slot for each variable of a condition"
        bound.update(names)
    places = [*(suspect.at for suspect in rule.suspect), *(cleared.at for cleared in rule.clears), *rule.asserts]
    asked = {term.name for at in places for term in map(read_term, at.values()) if term.name}
    said = {name for text in (rule.because, rule.warn or "") for name in variables_in(text)}
    for name in sorted((asked | said) - bound):
        there = ", ".join(f"${known}" for known in sorted(bound))
        yield f"${name} is bound by no condition", there or "a condition that binds it, such as part: any $part"


def _rests_on_measured(rule: Rule) -> bool:
    """Whether a condition asks for what a reading, sign, code or check showed, and none for what was not measured."""
    rests = False
    for condition in rule.when:
        for slot, term in condition.terms().items():
            allowed = MEASURED.get((condition.fact, slot))
            if allowed is None:
                continue
            if term.negated or not term.words or not set(term.words) <= set(allowed):
                return False
            rests = True
    return rests


def asked_of(condition: Condition) -> tuple[str, ...]:
    """The narrowings that a condition asks for; none if it is about another kind of fact."""
    term = condition.terms().get("to", Term()) if condition.fact == NARROWED else Term()
    return () if term.negated else term.words


def asserted_by(rule: Rule) -> tuple[str, ...]:
    """The narrowings that a rule asserts."""
    return tuple(dict.fromkeys(narrowing["to"] for narrowing in rule.asserts))


_NOTHING_STATED: Mapping[str, dict[str, str]] = {
    fact: dict.fromkeys(slots, NOT_STATED) for fact, slots in FACTS.items()
}


@cache
def _slot(name: str) -> str:
    """The slot for which a Python name stands."""
    return name.rstrip("_").replace("_", "-")


def slots_for(fact: str, **words: Any) -> dict[str, str]:
    """All slots of a kind of fact: the words given, `-` for the rest. Python names stand for keys (`class_`)."""
    slots = _NOTHING_STATED[fact].copy()
    for name, value in words.items():
        if value is not None:
            slot = _slot(name)
            if slot not in slots:
                raise KeyError(f"{fact} has no slot {slot}")
            slots[slot] = value
    return slots
