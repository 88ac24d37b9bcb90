"""What can be explored: causes, parts, functions, signs, symptoms, checks and tests, each by its id or its title."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, Literal

from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.rule import Rule, read_term
from oilpath.records import dataclass
from oilpath.spelling import nearest_of

Kind = Literal["sign", "symptom", "test", "function", "part", "cause", "check"]
KINDS: Final[tuple[Kind, ...]] = ("sign", "symptom", "test", "function", "part", "cause", "check")

PART: Final = "{part}"
_NEAREST: Final = 4
_LOOSE: Final = re.compile(r"[^\w@/.]+")


@dataclass(frozen=True, slots=True)
class Topic:
    """One thing to explore. `part`: where a cause or check is asked about; `reading`: one reading of a test."""

    kind: Kind
    id: str
    part: str | None = None
    reading: str | None = None


class NoTopic(LookupError):
    """Nothing has this id or title; `nearest` are ids and titles that are like it."""

    def __init__(self, text: str, nearest: tuple[str, ...]) -> None:
        super().__init__(text)
        self.text, self.nearest = text, nearest


def find(text: str, knowledge: Knowledge) -> tuple[Topic, ...]:
    """The topics of an id or a title, in the order of `KINDS`: several where a check and a test have the same name.

    Taken are an id (`pump.worn`), a title, `CAUSE@PART`, `CHECK@PART`, the id of a result (`cycle-time/boom-raise`),
    and any id after its kind (`check/case-drain`). Case and hyphens do not count. Raises NoTopic.
    """
    known = names(knowledge)
    wanted = plain(text)
    found = known.get(wanted, ())
    if not found and "@" in text:
        name, _, at = text.partition("@")
        found = tuple(_at(name, at, known))
    if not found and "/" in text:
        found = tuple(_under(text, known, knowledge))
    if not found:
        raise NoTopic(text, _like(wanted, known))
    return tuple(sorted(found, key=lambda one: KINDS.index(one.kind)))


def _at(name: str, at: str, known: dict[str, tuple[Topic, ...]]) -> Iterator[Topic]:
    parts = [one.id for one in known.get(plain(at), ()) if one.kind == "part"]
    for topic in known.get(plain(name), ()):
        if parts and topic.kind in ("cause", "check"):
            yield Topic(topic.kind, topic.id, parts[0])


def _under(text: str, known: dict[str, tuple[Topic, ...]], knowledge: Knowledge) -> Iterator[Topic]:
    head, _, rest = text.strip().partition("/")
    if head in KINDS:
        yield from (one for one in known.get(plain(rest), ()) if one.kind == head)
    elif head in knowledge.tests:
        yield Topic("test", head, reading=text.strip())


def names(knowledge: Knowledge) -> dict[str, tuple[Topic, ...]]:
    """Every id and title, in the plain form in which they are compared, with what it names."""
    found: dict[str, dict[Topic, None]] = {}
    for text, topic in _names(knowledge):
        found.setdefault(plain(text), {})[topic] = None
    return {text: tuple(topics) for text, topics in found.items()}


def _names(knowledge: Knowledge) -> Iterator[tuple[str, Topic]]:
    for one, sign in knowledge.signs.items():
        yield from _both(Topic("sign", one), sign.title)
    for rule in knowledge.rules:
        signs = tuple(signs_in(rule)) if rule.kind == "finding" else ()
        if signs:
            yield rule.id, Topic("sign", signs[0])
        else:
            yield from _both(Topic("symptom", rule.id), rule.title)
    for one, test in knowledge.tests.items():
        if test.value is not None or test.observe:
            yield from _both(Topic("test", one), test.title)
    for circuit in knowledge.circuits.values():
        for one, part in circuit.parts.items():
            yield from _both(Topic("part", one), part.title)
        for one, function in circuit.functions.items():
            yield from _both(Topic("function", one), function.title)
    for cause in knowledge.causes:
        for title in (cause.title, *cause.titles.values()):
            yield from _placed(Topic("cause", cause.cause), title, cause.at.class_, cause.at.parts, knowledge)
    for check in knowledge.checks:
        yield from _placed(Topic("check", check.check), check.title, check.at.class_, check.at.parts, knowledge)


def titles(knowledge: Knowledge) -> Iterator[tuple[str, str]]:
    """Ids with their titles, `CAUSE@PART` and `CHECK@PART` among them; an id may come more than once."""
    for cause in knowledge.causes:
        yield cause.cause, cause_titled(cause)
    for check in knowledge.checks:
        yield check.check, general_title(check.title, check.at.class_)
    for text, topic in _names(knowledge):
        if topic.part is not None:
            yield f"{topic.id}@{topic.part}", text
        elif text != topic.id and topic.kind not in ("cause", "check"):
            yield topic.id, text


def signs_in(rule: Rule) -> Iterator[str]:
    """The signs that a rule asks to be seen."""
    for condition in rule.when:
        slots = condition.slots
        if condition.fact == "observed" and slots.get("kind") == "sign" and slots.get("value") == "seen":
            yield from read_term(slots.get("of", "-")).words


def _both(topic: Topic, title: str) -> Iterator[tuple[str, Topic]]:
    yield topic.id, topic
    yield title, topic


def _placed(
    topic: Topic, title: str, classes: tuple[str, ...], parts: tuple[str, ...], knowledge: Knowledge
) -> Iterator[tuple[str, Topic]]:
    """The id, the title with the class in place of the part, and the title at every part."""
    yield topic.id, topic
    if PART not in title:
        yield title, topic
        return
    for of in classes:
        yield title.replace(PART, of), topic
    for circuit in knowledge.circuits.values():
        for one, part in circuit.parts.items():
            if part.class_ in classes or one in parts:
                yield title.replace(PART, part.title), Topic(topic.kind, topic.id, one)


def general_title(title: str, classes: tuple[str, ...]) -> str:
    """A title with the class (`main pump`) in place of the part."""
    return title.replace(PART, (classes[0] if classes else "part").replace("-", " "))


def cause_titled(cause: Cause) -> str:
    """The title of a kind of cause, wherever it stands."""
    return general_title(cause.title, cause.at.class_)


def plain(text: str) -> str:
    """A name in the form in which names are compared: without case, hyphens and double spaces."""
    return _LOOSE.sub(" ", text.casefold().replace("_", " ").replace(PART, "part")).strip()


def _like(wanted: str, known: dict[str, tuple[Topic, ...]]) -> tuple[str, ...]:
    """Names like a word: those spelt nearly so, then titles that hold all its words; ids as they are written."""
    words = wanted.split()
    holding = [name for name in known if words and all(word in name for word in words)]
    close = nearest_of(wanted, known, _NEAREST)
    found: dict[str, None] = {}
    for name in (*close, *sorted(holding, key=lambda name: (len(name), name))):
        for topic in known[name]:
            found.setdefault(topic.id if topic.part is None else f"{topic.id}@{topic.part}")
    return tuple(found)[:_NEAREST]
