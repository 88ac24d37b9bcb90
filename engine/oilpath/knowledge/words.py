"""The file `kb/words.yaml` (`oilpath: words/1`): words that say a sign, and what places are called."""

import re
from collections.abc import Mapping
from typing import Annotated, Final, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from oilpath.knowledge.fields import Entry, Id, Keyed, Text, problem

MOST_WORDS: Final = 6
"""words of a phrase: every stretch of a text is held against each"""
_WORD: Final = r"\w+\*?"
_PHRASE: Final = re.compile(rf"{_WORD}(/{_WORD})*( {_WORD}(/{_WORD})*)*")


def _phrase(value: str) -> str:
    if not _PHRASE.fullmatch(value) or value != value.casefold():
        raise problem("is no phrase", "lower-case words; / between words that are alike, * for any ending")
    if value.count(" ") >= MOST_WORDS:
        raise problem("is too long a phrase", f"at most {MOST_WORDS} words")
    return value


Phrase = Annotated[Text, AfterValidator(_phrase)]
"""words with one space between; `hot/warm` either word, `creep*` any ending"""


class Said(Entry):
    """Phrases that say a sign, or that name what a test measures."""

    sign: Id | None = None
    phrases: Annotated[tuple[Phrase, ...], Field(min_length=1)]
    when: bool = False
    """says when something is so: the words stand in this order, and only a negation right before them is theirs"""
    place: Literal["side", "actuator", "everywhere"] | None = None
    """what the sign is noted at, where the same clause names one; `everywhere`: said only where it names no movement"""
    needs_place: bool = False
    """says nothing where no place is named"""
    measured_by: tuple[Id, ...] = ()
    """tests, variants and checks that say more about it: while nothing is out they come first, and once one is on the
    sheet, the words do not count"""
    source: Text

    @model_validator(mode="after")
    def _place_named(self) -> Self:
        if self.sign is None and not self.measured_by:
            raise problem("says nothing", "a `sign`, or tests under `measured-by`")
        if self.needs_place and self.place in (None, "everywhere"):
            raise problem("needs a place and names none", "`place: side` or `place: actuator`")
        return self


class Names(Entry):
    """How people call a movement (its group) or a side."""

    said: tuple[Phrase, ...]


class WordFile(Entry):
    """`kb/words.yaml`."""

    oilpath: Literal["words/1"]
    words: dict[Id, Said] = {}
    names: dict[Id, Names] = {}
    fillers: tuple[Phrase, ...] = ()
    """words that count for nothing between others"""
    negations: tuple[Phrase, ...] = ()
    breaks: tuple[Phrase, ...] = ()
    """words that begin another clause, as punctuation does"""


class Vocabulary(Keyed):
    """The words of the trade, of all files together."""

    words: Mapping[str, Said] = {}
    names: Mapping[str, Names] = {}
    fillers: tuple[str, ...] = ()
    negations: tuple[str, ...] = ()
    breaks: tuple[str, ...] = ()
