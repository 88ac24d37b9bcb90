"""Notes as sentences: phrases filled in, in the units the reader chose, with things named by their titles."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from string import Formatter

from oilpath.flow import Diagnosis, RankedCause, ReadingResult, Result, Shared
from oilpath.flow.notes import Amount, Between, Filled, Named, Note, OfTest, Quote, Stretch, Value
from oilpath.knowledge.rule import NOT_STATED, fill_in
from oilpath.reports.names import counted, listed, safe, spaced
from oilpath.reports.phrases import PHRASES
from oilpath.reports.words import Words
from oilpath.units import figure

_FEW = 4  # functions named one by one
_COMPARED: Mapping[str, str] = {"slow": "slower", "fast": "faster", "high": "higher", "low": "lower"}


class Sayer:
    """Says the notes of one answer.

    results, causes: those that notes may name; anything else goes by its id. by_id: results always go by their id.
    """

    def __init__(
        self,
        words: Words,
        results: Iterable[Result] = (),
        causes: Iterable[RankedCause] = (),
        *,
        by_id: bool = False,
    ) -> None:
        self.words = words
        self.results = tuple(results)
        self._results = {} if by_id else {one.id: one for one in self.results}
        self._causes = {(one.cause, one.part): one for one in causes}

    def say(self, note: Note) -> str:
        """The sentence of a note, without a capital or a full stop of its own."""
        said = [
            literal if name is None else f"{literal}{self._shown(note.values[name], how)}"
            for literal, name, how in _pieces(note.id)
        ]
        return "".join(said)

    def value(self, value: Value) -> str:
        """One value of a note by itself."""
        return self._shown(value, "")

    def _shown(self, value: Value, how: str) -> str:
        match value:
            case Note():
                return self.say(value)
            case Filled():
                return self.filled(value)
            case Quote():
                return safe(value.text)
            case str():
                return _COMPARED.get(value, spaced(value))
            case int():
                return counted(value, how.removeprefix("n ")) if how.startswith("n ") else str(value)
            case tuple():
                return _joined([self._shown(one, "") for one in value], how)
            case Named():
                return self._named(value)
            case _:
                return self._figure(value, how)

    def node(self, says: Note | Named | Shared | Quote) -> str:
        """What a node of the troubleshooting tree says."""
        return self._shared(says) if isinstance(says, Shared) else self._shown(says, "")

    def _shared(self, shared: Shared) -> str:
        """What results have in common, then what they show: `main pump 1 feeds them: cycle time slow (arm in)`."""
        shown: dict[str, list[str]] = {}
        for result in (self._results[name] for name in shared.results):
            if not isinstance(result, ReadingResult):
                shown.setdefault(self.words.result(result), [])
                continue
            what = f"{self.words.test(result.test).lower()} {result.deviation or ''}".strip()
            shown.setdefault(what, []).append(self.words.subject(result))
        says = ", ".join(
            what if shared.named or not any(subjects) else f"{what} ({_subjects(subjects)})"
            for what, subjects in shown.items()
        )
        return f"{self.say(shared.common)}: {says}" if shared.common is not None else says

    def _named(self, value: Named) -> str:
        if value.kind == "part":
            return self.words.part(value.id)
        if value.kind == "function":
            return self.words.function(value.id)
        if value.kind == "check":
            return self.words.check(value.id, value.at)
        if value.kind == "cause":
            cause = self._causes.get((value.id, value.at))
            return self.words.cause(cause) if cause is not None else f"{value.id} at {self.words.part(value.at)}"
        result = self._results.get(value.id)
        return f"“{self.words.result(result)}”" if result is not None else value.id

    def _figure(self, value: Amount | OfTest | Between | Stretch, how: str) -> str:
        head, _, unit = how.partition(" ")
        digits = int(head) if head.isdecimal() else 3
        match value:
            case Amount():
                return self.words.amount(value.value, value.quantity, digits, unit)
            case OfTest():
                return self._of_test(value, digits)
            case Between():
                return self.words.between((value.low, value.high), value.quantity, digits)
            case Stretch() if how == "bare":
                return self.words.stretch(value.value, value.quantity)
            case Stretch(quantity=None):
                return f"{figure(value.value)} {spaced(value.key)}"
            case Stretch():
                article = "an" if value.key[0] in "aeio" else "a"
                return f"{article} {spaced(value.key)} of {self.words.stretch(value.value, value.quantity)}"

    def _of_test(self, value: OfTest, digits: int) -> str:
        kind = self.words.knowledge.tests[value.test]
        quantity, unit = kind.quantity, kind.unit or ""
        if value.difference and quantity == "temperature":
            quantity, unit = "temperature-difference", ""
        if kind.more_is == "right" and not value.difference and value.value:  # its sign means a side
            side = kind.more_is if value.value > 0 else kind.less_is
            return f"{self.words.amount(abs(value.value), quantity, digits, unit)} {side}"
        return self.words.amount(value.value, quantity, digits, unit)

    def filled(self, sentence: Filled) -> str:
        """A sentence of the knowledge base, with names for its variables."""
        return safe(fill_in(sentence.text, {name: self._word(word) for name, word in sentence.words}))

    def _word(self, word: str) -> str:
        if word == NOT_STATED:
            return "the machine"
        sign = self.words.knowledge.signs.get(word)
        if sign is not None:
            return safe(sign.title)
        return self._named(Named("result", word)) if "/" in word else self.words.place(word)


def _subjects(subjects: list[str]) -> str:
    """Up to four by name, unless a name is itself a list."""
    named = list(dict.fromkeys(subject for subject in subjects if subject))
    several = len(named) > 1 and any("," in subject for subject in named)
    return counted(len(named), "result") if several or len(named) > _FEW else listed(named)


def sayer_of(diagnosis: Diagnosis, words: Words, *, by_id: bool = False) -> Sayer:
    """What says the notes of a whole answer."""
    return Sayer(words, diagnosis.results, diagnosis.causes, by_id=by_id)


def _joined(texts: list[str], how: str) -> str:
    match how:
        case ";":
            return "; ".join(dict.fromkeys(texts))
        case ",":
            return ", ".join(texts)
        case "or":
            return " or ".join(texts)
        case _:
            return listed(texts)


@lru_cache(maxsize=512)
def _pieces(phrase: str) -> tuple[tuple[str, str | None, str], ...]:
    """A phrase as literal text, the value after it and how that is shown."""
    return tuple((literal, name, how or "") for literal, name, how, _ in Formatter().parse(PHRASES[phrase]))
