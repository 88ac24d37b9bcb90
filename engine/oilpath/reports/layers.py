"""What an answer says about a workshop's own layers: what they replace, and what protection that removes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby

from oilpath.knowledge.base import Held, Replaced

_WHAT: Mapping[str, str] = {
    "stop-use": "its reason to stop the machine",
    "place": "the place where it stops the machine",
    "caution": "the caution",
    "hazard": "the hazard",
    "words": "its words",
    "shown-for": "the machines it is shown for",
    "warning": "its warning",
}


def lost_sentences(replaced: Iterable[Replaced]) -> Iterator[str]:
    """One sentence for each entry of a layer that takes away something that protects people."""
    for one in replaced:
        if one.lost:
            yield f"{one.file} replaces the {one.kind} {one.id} and takes away {'; '.join(lost_words(one.lost))}"


def replaced_sentence(replaced: Iterable[Replaced]) -> str:
    """The replaced entries in a line; empty if there are none."""
    named = [f"{one.kind} {one.id} ({one.file})" for one in replaced]
    return f"Own knowledge in place of what ships with oilpath: {', '.join(named)}" if named else ""


def lost_words(lost: Iterable[Held]) -> Iterator[str]:
    """What is lost, in words."""
    for what, many in groupby(lost, lambda one: one.what):
        named = list(many)
        if what in ("stop-use", "words", "warning"):
            yield "; ".join(f"{_WHAT[what]}: “{one.says}”" for one in named)
        elif what == "caution":
            yield "; ".join(f"the caution “{one.says or one.of}”" for one in named)
        else:
            plural = "s" if len(named) > 1 else ""
            head = _WHAT[what] if what == "shown-for" else f"{_WHAT[what].replace('place', 'place' + plural)}"
            yield f"{head} ({', '.join(one.says if what == 'place' else one.of for one in named)})"
