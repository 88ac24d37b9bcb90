"""Words of the complaint, the history and the notes that say a sign: recognised by the vocabulary, clause by clause.

A phrase is found where all its words stand close together, with at most `GAP` other words between them; fillers (`the`,
`is`) count for nothing. Within a clause, a phrase inside a longer one says nothing of its own, and a negation before
the end of a phrase takes it back.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Final, Literal

from oilpath.flow import Heard, SignResult, sign_result
from oilpath.flow.notes import Note, Quote, note
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.documents.sheet import Sheet
    from oilpath.knowledge.words import Said, Vocabulary
    from oilpath.machine.graph import CircuitGraph

GAP: Final = 2
"""other words that may stand between those of a phrase"""
_BREAK: Final = re.compile(r"[.,;:!?()\[\]{}\"“”\n\r\t–—/]|\s-+\s")
_TOKEN: Final = re.compile(r"\w+(?:['’]\w+)*")
_APOSTROPHES: Final = str.maketrans("", "", "'’")
_SIDES: Final = ("left", "right")

Source = Literal["complaint", "history", "note"]


@dataclass(frozen=True, slots=True)
class Clause:
    """A stretch of a text between breaks: as written, and its words without fillers."""

    text: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A phrase in a clause: the entry that it is of, the places of its words, whether it is taken back."""

    entry: str
    places: frozenset[int]
    negated: bool


class _Forms:
    """Words with what they belong to: `hot` is that word alone, `creep*` any word that begins so."""

    def __init__(self) -> None:
        self.whole: defaultdict[str, list[tuple[int, int]]] = defaultdict(list)
        self.begins: defaultdict[str, list[tuple[int, int]]] = defaultdict(list)

    def add(self, words: str, owner: tuple[int, int]) -> None:
        for form in words.split("/"):
            (self.begins[form[:-1]] if form.endswith("*") else self.whole[form]).append(owner)

    def of(self, word: str) -> Iterator[tuple[int, int]]:
        """All that a word can stand for."""
        yield from self.whole.get(word, ())
        for length in range(1, len(word) + 1):
            yield from self.begins.get(word[:length], ())


class Listener:
    """Finds the phrases of a vocabulary; `circuit` says which places a machine has."""

    def __init__(self, vocabulary: Vocabulary, circuit: CircuitGraph) -> None:
        self._entries = vocabulary.words
        self._circuit = circuit
        self._phrases = [
            (name, tuple(phrase.split(" "))) for name, said in vocabulary.words.items() for phrase in said.phrases
        ]
        self._forms = _Forms()
        for number, (_, words) in enumerate(self._phrases):
            for place, word in enumerate(words):
                self._forms.add(word, (number, place))
        self._named = list(vocabulary.names)
        self._names = _Forms()
        for number, name in enumerate(self._named):
            for phrase in (name, *vocabulary.names[name].said):
                self._names.add(phrase, (number, 0))
        self._fillers, self._negations, self._breaks = (
            _single(words) for words in (vocabulary.fillers, vocabulary.negations, vocabulary.breaks)
        )

    def clauses(self, text: str) -> Iterator[Clause]:
        """The clauses of a text that hold any word, fillers left out."""
        for piece in _BREAK.split(text):
            begins = [0]
            words: list[list[str]] = [[]]
            for match in _TOKEN.finditer(piece):
                word = match[0].translate(_APOSTROPHES).casefold()
                if _any(self._breaks.of(word)):
                    begins.append(match.start())
                    words.append([])
                elif not _any(self._fillers.of(word)):
                    words[-1].append(word)
            for place, said in enumerate(words):
                end = begins[place + 1] if place + 1 < len(begins) else len(piece)
                if said:
                    yield Clause(piece[begins[place] : end].strip(), tuple(said))

    def found(self, clause: Clause) -> list[Found]:
        """The phrases of a clause, without those inside a longer one."""
        at: defaultdict[int, defaultdict[int, list[int]]] = defaultdict(lambda: defaultdict(list))
        for place, word in enumerate(clause.words):
            for number, part in self._forms.of(word):
                at[number][part].append(place)
        negations = {place for place, word in enumerate(clause.words) if _any(self._negations.of(word))}
        found: list[Found] = []
        for number, parts in at.items():
            name, words = self._phrases[number]
            if len(parts) == len(words):
                when = self._entries[name].when
                places = _closest([parts[part] for part in range(len(words))], in_order=when)
                if places is not None:
                    found.append(Found(name, frozenset(places), _taken_back(places, negations, when)))
        return [one for one in found if not any(one.places < other.places for other in found)]

    def named(self, words: Iterable[str]) -> set[str]:
        """The movements and sides that words name, by their ids."""
        return {self._named[number] for word in words for number, _ in self._names.of(word)}

    def place(self, said: Said, clause: Clause) -> dict[str, str] | None:
        """What a sign is noted at, as the keys of a result; None where words of such a clause do not say it."""
        keys = self._place(said, clause)
        if said.place == "everywhere":
            return None if keys else {}
        return None if said.needs_place and not keys else keys

    def _place(self, said: Said, clause: Clause) -> dict[str, str]:
        if said.place is None:
            return {}
        named = self.named(clause.words)
        sides = [side for side in _SIDES if side in named]
        if said.place == "side":
            return {"side": sides[0]} if len(sides) == 1 else {}
        moved = {
            f.actuator
            for f in self._circuit.functions.values()
            if any(f.group == one or f.group.startswith(f"{one}-") for one in named.difference(_SIDES))
            and (f.side is None or len(sides) != 1 or f.side == sides[0])
        }
        return {"part": moved.pop()} if len(moved) == 1 else {}


def _single(words: Iterable[str]) -> _Forms:
    forms = _Forms()
    for word in words:
        forms.add(word, (0, 0))
    return forms


def _any(found: Iterator[object]) -> bool:
    return next(found, None) is not None


def _closest(places: Sequence[Sequence[int]], *, in_order: bool) -> tuple[int, ...] | None:
    """One place for each word of a phrase, no place twice, closest together; None if they stand too far apart."""
    best: tuple[int, ...] | None = None
    for start in sorted({place for some in places for place in some}):
        chosen = _choose(places, (), start, start + len(places) + GAP, in_order)
        if chosen is not None and (best is None or _width(chosen) < _width(best)):
            best = chosen
    return best


def _choose(
    places: Sequence[Sequence[int]], chosen: tuple[int, ...], first: int, end: int, in_order: bool
) -> tuple[int, ...] | None:
    """Places from `first` to before `end` for the words that have none yet."""
    if len(chosen) == len(places):
        return chosen
    for place in places[len(chosen)]:
        if first <= place < end and place not in chosen and not (in_order and chosen and place < chosen[-1]):
            whole = _choose(places, (*chosen, place), first, end, in_order)
            if whole is not None:
                return whole
    return None


def _width(places: Collection[int]) -> int:
    return max(places) - min(places)


def _taken_back(places: Collection[int], negations: Collection[int], when: bool) -> bool:
    """Whether a negation that is not a word of the phrase stands before its end (`when`: right before it, or in it)."""
    first = min(places) - 1 if when else 0
    return any(first <= place < max(places) and place not in places for place in negations)


# --- a sheet ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class HeardOnSheet:
    """What the words of a sheet say: what was recognised, and the clauses in which nothing was."""

    heard: tuple[Heard, ...] = ()
    unknown: tuple[Heard, ...] = ()

    @property
    def results(self) -> tuple[SignResult, ...]:
        """A sign for each that counts."""
        return tuple(
            sign_result({"sign": one.sign, **one.keys}, True, heard=one.word, notes=(_from(one),))
            for one in self.heard
            if one.counts == "yes"
        )


def _from(heard: Heard) -> Note:
    """Where it was said."""
    text = Quote(heard.text)
    match heard.source:
        case "complaint":
            return note("heard-in-complaint", text=text)
        case "history":
            return note("heard-in-history", text=text)
        case "note":
            return note("heard-in-note", text=text)


def hear(sheet: Sheet, bench: Bench) -> HeardOnSheet:
    """What the complaint, the history and the notes of a sheet say, each sign once.

    A sign that the sheet states, seen or not, overrides what was said; so does a reading or a check that says more.
    """
    listener, entries = bench.listener, bench.knowledge.vocabulary.words
    stated = {reading.keys["sign"] for reading in sheet.readings if "sign" in reading.keys}
    made = {
        word
        for reading in sheet.readings
        for word in (reading.test, reading.variant, reading.keys.get("check"))
        if word is not None
    }
    heard: dict[str, Heard] = {}
    unknown: list[Heard] = []
    for source, text in _texts(sheet):
        for clause in listener.clauses(text):
            found = listener.found(clause)
            placed = [(one.entry, listener.place(entries[one.entry], clause)) for one in found if not one.negated]
            said = [(name, keys) for name, keys in placed if keys is not None]
            if not said and not any(one.negated for one in found) and source != "note":
                unknown.append(Heard("", "", source, clause.text, {}, "no"))
            for name, keys in said:
                entry = entries[name]
                new = Heard(entry.sign or "", name, source, clause.text, keys, _counts(entry, stated, made))
                key = entry.sign or name
                if key not in heard or (keys and not heard[key].keys):
                    heard[key] = new
    return HeardOnSheet(tuple(heard.values()), tuple(unknown))


def _counts(
    entry: Said, stated: Collection[str], made: Collection[str]
) -> Literal["yes", "stated", "measured", "asked"]:
    if entry.sign in stated:
        return "stated"
    if not entry.measured_by or not set(made).isdisjoint(entry.measured_by):
        return "measured" if entry.measured_by else "yes"
    return "asked" if entry.sign is None else "yes"


def _texts(sheet: Sheet) -> Iterator[tuple[Source, str]]:
    if sheet.complaint:
        yield "complaint", sheet.complaint
    for text in sheet.history:
        yield "history", text
    for reading in sheet.readings:
        if reading.note:
            yield "note", reading.note
