"""The next step for a page with buttons: one for each outcome, a field for each reading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from oilpath.records import dataclass
from oilpath.reports import words as say
from oilpath.reports.blocks import Block, Heading, Title
from oilpath.reports.limits import limit_beside
from oilpath.reports.names import safe, sentence, small
from oilpath.reports.page import remaining
from oilpath.reports.way import Shown, cautions, how, lay_out_way, needs, reading_title, title
from oilpath.reports.words import Words
from oilpath.session.way import Way, check_id
from oilpath.units import QUANTITIES

_STEP: Final = ("Check", "Reading")
_RECORDED: Final = ("On the sheet", "To record it")


@dataclass(frozen=True, slots=True)
class OutcomeShown:
    """One outcome of a check: what is sent, what is seen, how probable it is, what it would leave."""

    value: str
    says: str
    share: str
    then: str


@dataclass(frozen=True, slots=True)
class ReadingShown:
    """One reading that is to be made, with its limit and the unit that is meant where none is typed."""

    id: str
    title: str
    unit: str
    limit: str
    boxes: int


@dataclass(frozen=True, slots=True)
class StepShown:
    """A step as the page shows it; cautions come first. id: by which it is passed over."""

    id: str
    title: str
    needs: str
    cautions: tuple[str, ...]
    how: str
    outcomes: tuple[OutcomeShown, ...]
    readings: tuple[ReadingShown, ...]
    together: tuple[str, ...]
    kind: str
    """the test of a reading or the check: what a picture of how it is done is known by"""


def step_shown(shown: Shown, words: Words) -> StepShown | None:
    """The first step; None where there is none left."""
    if not shown.steps:
        return None
    way = shown.steps[0]
    if way.check is not None:
        name, kind = check_id(way.check.check, way.check.part), way.check.check
    else:
        assert way.reading is not None
        name, kind = way.reading.slot.id, way.reading.slot.test
    return StepShown(
        name, title(way, words), needs(way), cautions(way, words), how(way, words), _outcomes(shown, way, words),
        _readings(way, words), tuple(small(words.check(one.check, one.part)) for one in way.together), kind,
    )  # fmt: skip


def _outcomes(shown: Shown, way: Way, words: Words) -> tuple[OutcomeShown, ...]:
    if way.check is None:
        return ()
    head = f"{way.check.check}@{way.check.part}="
    return tuple(
        OutcomeShown(
            f"{head}{one.outcome}", sentence(safe(one.says)), say.percent(one.probability),
            remaining(shown.answer, words, one.then),
        )
        for one in way.check.outcomes
    )  # fmt: skip


def _readings(way: Way, words: Words) -> tuple[ReadingShown, ...]:
    if way.reading is None:
        return ()
    found = []
    for worth in (way.reading, *way.beside):
        slot = worth.slot
        unit = QUANTITIES[slot.quantity].unit if slot.quantity in QUANTITIES and slot.quantity is not None else ""
        found.append(ReadingShown(slot.id, reading_title(worth, words), unit, limit_beside(slot, words), slot.repeats))
    return tuple(found)


def around_step(shown: Shown, words: Words) -> tuple[Sequence[Block], Sequence[Block]]:
    """What the page says before the step and after it."""
    before: list[Block] = []
    after: list[Block] = []
    into, dropped = before, False
    for block in lay_out_way(shown, words):
        if isinstance(block, Heading):
            dropped = block.text in _STEP or block.text in _RECORDED
            if dropped or into is after:
                into = after
        if not dropped and not isinstance(block, Title):
            into.append(block)
    return before, after
