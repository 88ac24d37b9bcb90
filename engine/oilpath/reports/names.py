"""Names of results, causes and parts in words, and text that is safe to show, for the steps and the reports alike.

Titles come from the knowledge base and the machine's circuit; nothing here knows a part, a function or a cause.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from oilpath.documents.machine import Machine
from oilpath.flow import (
    CheckResult,
    CodeResult,
    ConditionFigure,
    ConditionWord,
    Group,
    RankedCause,
    Result,
    SignResult,
    StopUse,
)
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.testkind import TestKey
from oilpath.reports.phrases import STANDING

# Escape sequences of terminals as a whole (ECMA-48: CSI, strings such as OSC and DCS, two-character ones), 7 and 8 bit,
# so that no remains such as `[31m` are left.
_ESCAPES: Final = re.compile(
    r"(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]?"
    r"|(?:\x1b[PX\]^_]|[\x90\x98\x9d-\x9f])[^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)?"
    r"|\x1b[ -/]*[0-~]?"
)
_JOINERS: Final = "\u200c\u200d"  # spelling of some scripts needs them; they reorder and hide nothing
_BLANKS: Final = re.compile(r"\s+")


class Titles:
    """The vocabulary of one knowledge base and, where known, one machine's circuit."""

    def __init__(self, knowledge: Knowledge, machine: Machine | None = None) -> None:
        self.knowledge, self.machine = knowledge, machine
        circuits: tuple[Circuit, ...] = (machine.circuit,) if machine else tuple(knowledge.circuits.values())
        self._parts = {name: part.title for circuit in reversed(circuits) for name, part in circuit.parts.items()}
        self._functions = {
            name: function.title for circuit in reversed(circuits) for name, function in circuit.functions.items()
        }
        self._codes = {code: safe(meaning.says) for code, meaning in machine.codes.items()} if machine else {}

    # --- names ------------------------------------------------------------------------

    def part(self, name: str) -> str:
        """A part in words; a port of one (`pump-1-outlet`) as the part and the port."""
        if name in self._parts:
            return safe(self._parts[name])
        head, _, port = name.rpartition("-")
        return f"{safe(self._parts[head])} {port}" if head in self._parts else spaced(name)

    def function(self, name: str) -> str:
        """A function in words."""
        return safe(self._functions.get(name) or spaced(name))

    def place(self, name: str) -> str:
        """A function or a part in words."""
        return self.function(name) if name in self._functions else self.part(name)

    def cause(self, ranked: RankedCause) -> str:
        """A cause's title, with its variant if the title does not say it."""
        title = safe(cause_title(ranked))
        if ranked.variant is None:
            return title
        variant = self.place(ranked.variant)
        return title if variant.casefold() in title.casefold() else f"{title} ({variant})"

    def check(self, check: str, part: str) -> str:
        """A check's title, with its part filled in."""
        known = next((entry for entry in self.knowledge.checks if entry.check == check), None)
        return safe(known.title.replace("{part}", self.part(part))) if known is not None else spaced(check)

    def caution(self, caution: str) -> str:
        """A caution's text from its id; text stays as it is."""
        known = self.knowledge.cautions.get(caution)
        return safe(known.says if known else caution)

    def brief_caution(self, caution: str) -> str:
        """A caution, by its id or its text, in a few words; in full where the knowledge base has none."""
        known = self.knowledge.cautions.get(caution)
        known = known or next((one for one in self.knowledge.cautions.values() if one.says == caution), None)
        return safe(known.brief) if known is not None and known.brief else self.caution(caution)

    def remedy(self, cause: str) -> str | None:
        """What is repaired or replaced for a kind of cause."""
        return next((safe(known.remedy) for known in self.knowledge.causes if known.cause == cause), None)

    def proved_by(self, cause: str) -> str | None:
        """By what the remedy of a kind of cause is known to have worked."""
        return next((safe(one.proof) for one in self.knowledge.causes if one.cause == cause and one.proof), None)

    def stop_use(self, cause: str) -> str | None:
        """Why the machine must stand still while a kind of cause is likely."""
        return next((safe(one.stop_use) for one in self.knowledge.causes if one.cause == cause and one.stop_use), None)

    def waiting(self, cause: str) -> str | None:
        """What it may cost to go on with a kind of cause."""
        return next((safe(one.waiting) for one in self.knowledge.causes if one.cause == cause and one.waiting), None)

    def proof(self, cause: str) -> tuple[str, ...]:
        """The checks that a kind of cause names as its proof."""
        return next((one.checks for one in self.knowledge.causes if one.cause == cause), ())

    def order(self, cause: str) -> Mapping[str, str]:
        """What to order for the remedy of a kind of cause, by its word."""
        return next((one.order for one in self.knowledge.causes if one.cause == cause), {})

    def items(self, cause: str, part: str) -> Iterator[tuple[str, str | None]]:
        """What to order, with the number that the machine file gives for it at this part; the oil with its grade."""
        data = self.machine.parts.get(part) if self.machine else None
        numbers = data.numbers if data is not None else {}
        grade = self.machine.oil.grade if self.machine else None
        for word, says in self.order(cause).items():
            text = safe(says.replace("{part}", self.part(part)))
            if word == "oil":
                text += f" ({safe(grade)} by the machine file)" if grade is not None else ""
            yield text, safe(numbers[word]) if word in numbers else None

    def component(self, part: str) -> str:
        """A part as it is ordered: its name, and the workshop's number of the whole where there is one."""
        return sentence(self.part(part))

    # --- results ----------------------------------------------------------------------

    def test(self, test: str) -> str:
        """A test kind's title."""
        kind = self.knowledge.tests.get(test)
        return safe(kind.title) if kind else sentence(spaced(test))

    def subject(self, result: Result) -> str:
        """What a result is about: function, part, direction and so on in words; may be empty."""
        kind = self.knowledge.tests.get(result.test)
        order = kind.id if kind else ()
        words = [
            self._value(kind.keys.get(key) if kind else None, key, result.keys[key])
            for key in order
            if result.keys.get(key)
        ]
        if result.together_with:
            words.append("with " + listed([self.function(name) for name in result.together_with]))
        if result.variant != "standard":
            variant = self.knowledge.variants.get(result.variant)
            words.append(safe(variant.says) if variant else spaced(result.variant))
        return ", ".join(words)

    def result(self, result: Result) -> str:
        """A result's whole title: `Cycle time, bucket curl`."""
        match result:
            case SignResult():
                return self._sign(result)
            case CheckResult():
                return self._check(result)
            case CodeResult():
                return self._code(result)
            case ConditionFigure() | ConditionWord():
                return f"Condition: {spaced(result.condition)}"
            case _:
                subject = self.subject(result)
                return f"{self.test(result.test)}, {subject}" if subject else self.test(result.test)

    def _value(self, known: TestKey | None, key: str, value: str) -> str:
        if known is None or known.is_ in ("function", "functions"):
            return self.place(value)
        if known.is_ in ("part", "pump", "cylinder"):
            return self.part(value)
        return f"{spaced(value)} range" if key == "range" else spaced(value)

    def _sign(self, result: SignResult) -> str:
        known = self.knowledge.signs.get(result.sign)
        title = safe(known.title) if known else sentence(spaced(result.sign))
        return ", ".join([title, *(self.place(name) for name in result.where)])

    def _check(self, result: CheckResult) -> str:
        known = next((entry for entry in self.knowledge.checks if entry.check == result.check), None)
        part = self.part(result.part)
        if known is None:
            return f"Check: {spaced(result.check)}, {part}"
        title = sentence(safe(known.title.replace("{part}", part)))
        return title if "{part}" in known.title else f"{title}, {part}"

    def _code(self, result: CodeResult) -> str:
        code = safe(result.code)
        says = self._codes.get(result.code)
        return f"Fault code {code}: {says}" if says else f"Fault code {code}"


def cause_title(ranked: RankedCause) -> str:
    """The title from the knowledge base, or that of a hypothesis that is not a cause."""
    return STANDING.get(ranked.cause, spaced(ranked.cause)) if ranked.title is None else ranked.title


def stop_because(stop: StopUse, causes: Sequence[RankedCause], knowledge: Knowledge) -> str:
    """Why the machine must not be used, in the words of the knowledge base: for the sign seen, or for the cause."""
    sign = knowledge.signs.get(stop.sign) if stop.sign is not None else None
    if sign is not None:
        return f"{sign.title}: {sign.stop_use}"
    known = next((one for one in knowledge.causes if one.cause == stop.cause), None)
    ranked = next((one for one in causes if (one.cause, one.part) == (stop.cause, stop.part)), None)
    title = cause_title(ranked) if ranked is not None else spaced(stop.cause)
    return f"{title}: {known.stop_use}" if known is not None and known.stop_use else title


def group_title(group: Group, causes: Sequence[RankedCause]) -> str:
    """The first cause of a group, with the other one, or with how many others there are."""
    if group.silent:
        return "Causes that no reading on this sheet shows"
    first, *others = (cause_title(causes[number]) for number in group.members)
    if not others:
        return first
    if len(others) == 1:
        return f"{first}, or {others[0][:1].lower()}{others[0][1:]}"
    return f"{first}, or {len(others)} others that look the same on this sheet"


def listed(words: list[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join((", ".join(words[:-1]), words[-1])) if len(words) > 1 else "".join(words)


def spaced(word: str) -> str:
    """A word of the file formats for people: hyphens become spaces."""
    return safe(word).replace("-", " ")


def sentence(text: str) -> str:
    """`text` with its first letter as a capital."""
    return text[:1].upper() + text[1:]


def small(text: str) -> str:
    """`text` with its first letter small, where it is a word and not a name of capitals."""
    return text[:1].lower() + text[1:] if text[1:2].islower() or text[1:2] == " " else text


def counted(number: int, one: str, many: str | None = None) -> str:
    """`1 result`, `3 results`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def safe(text: str) -> str:
    """`text` on one line, with nothing in it that could control a terminal, or hide or reorder what is read.

    Terminal escapes, invisible and bidirectional format characters are removed; control characters and line ends
    become spaces; a lone surrogate becomes U+FFFD.
    """
    if text.isascii() and text.isprintable():
        return _BLANKS.sub(" ", text).strip()
    kept = (_safe_character(character) for character in _ESCAPES.sub("", text))
    return _BLANKS.sub(" ", "".join(kept)).strip()


def _safe_character(character: str) -> str:
    match unicodedata.category(character):
        case "Cc" | "Zl" | "Zp":
            return " "
        case "Cf":
            return character if character in _JOINERS else ""
        case "Cs":
            return "\ufffd"
        case _:
            return character
