"""What the words of complaints name: signs, tests and movements that exist, each phrase for one sign."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from oilpath.kbcheck.entries import Entry, missing
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.words import Names, Said
from oilpath.problems import Problem

SIDES = ("left", "right")
APART = ({"needs a place", "everywhere"},)
"""of two such entries only one can be said"""


def check_words(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    """Entries of the vocabulary that name what is not there, and phrases that can say nothing, or two things."""
    groups = {f.group for circuit in known.circuits.values() for f in circuit.functions.values()}
    places = {*groups, *(group.removesuffix(f"-{side}") for group in groups for side in SIDES), *SIDES}
    made = {*known.tests, *known.variants, *(check.check for check in known.checks)}
    signs = _signs_of_phrases(known)
    unheard = {*known.vocabulary.fillers, *known.vocabulary.breaks}
    for entry in entries:
        value = entry.value
        if isinstance(value, Names) and entry.key not in places:
            yield missing(entry, "group of functions", entry.key, places)
        if not isinstance(value, Said):
            continue
        if value.sign is not None and value.sign not in known.signs:
            yield missing(entry, "sign", value.sign, known.signs)
        yield from (missing(entry, "test, variant or check", one, made) for one in value.measured_by if one not in made)
        for phrase in value.phrases:
            if mute := [word for words in phrase.split(" ") for word in words.split("/") if word in unheard]:
                what = f"a phrase holds a word that is not heard: {mute[0]}"
                yield Problem(entry.file, entry.line, entry.key, what, "none of the fillers and breaks")
            others = {
                sign for plain in _spelt(phrase) for sign, kind in signs[plain] if {kind, _kind(value)} not in APART
            }
            if others := others - {value.sign or said_by(entry.key)}:
                what = f"a phrase says two signs: {phrase}"
                yield Problem(
                    entry.file,
                    entry.line,
                    entry.key,
                    what,
                    f"one of {value.sign or said_by(entry.key)}, {', '.join(sorted(others))}",
                )


def said_by(name: str) -> str:
    """What stands for the sign of an entry that has none."""
    return f"what {name} names"


def _kind(said: Said) -> str:
    return "needs a place" if said.needs_place else said.place or ""


def _signs_of_phrases(known: Knowledge) -> dict[tuple[str, ...], set[tuple[str, str]]]:
    """The signs of each phrase, spelt out, with the kind of entry."""
    found: dict[tuple[str, ...], set[tuple[str, str]]] = {}
    for name, said in known.vocabulary.words.items():
        for phrase in said.phrases:
            for plain in _spelt(phrase):
                found.setdefault(plain, set()).add((said.sign or said_by(name), _kind(said)))
    return found


def _spelt(phrase: str) -> Iterator[tuple[str, ...]]:
    """A phrase with one of its words at each place."""
    return product(*(word.split("/") for word in phrase.split(" ")))
