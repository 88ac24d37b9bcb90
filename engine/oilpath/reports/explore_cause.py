"""A cause, or two of them, without a sheet, as blocks of a page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from oilpath.explore.apart import Telling
from oilpath.explore.effects import Effect
from oilpath.explore.views import (
    ApartView,
    CauseView,
)
from oilpath.machine.hypotheses import Hypothesis
from oilpath.reports import words as say
from oilpath.reports.about import heading_texts
from oilpath.reports.blocks import Block, Branch, Heading, Items, Para, Row, Step, Table, Title, Tree
from oilpath.reports.explore_words import (
    amount,
    as_result,
    cause_title,
    cautions,
    change,
    facts,
    hypothesis_title,
    level_text,
    needs,
    reading_title,
)
from oilpath.reports.names import listed, safe, sentence, small, spaced
from oilpath.reports.words import Words
from oilpath.units import figure

_NAMED: Final = 3  # readings of one row, by name
_CHECKS: Final = 5
_WAYS: Final = 3
_STAYS: Final = 0.05  # of what is noticeable


def lay_out_cause(view: CauseView, words: Words) -> Iterator[Block]:
    """A cause: what it is, what it does to the tests, what speaks for it, its checks."""
    cause = view.cause
    yield Title(hypothesis_title(view.ways[0][0].hypothesis, words))
    if cause.stop_use:
        yield Para(safe(cause.stop_use), "stop", "STOP USE")
    others = [words.part(part) for part in view.parts if part != view.part]
    yield facts(
        ("Cause", f"{cause.cause} at {words.part(view.part)}" + (f"; also at {listed(others)}" if others else "")),
        ("How often", cause.frequency + (f"; wear, from some {cause.worn_at:.0f} h on" if cause.worn_at else "")),
        *heading_texts(cause, words),
    )
    yield Heading("What it does to the tests")
    yield from _ways(view, words)
    yield from _speaking(view, words)
    if view.alike:
        yield Heading("Easily mistaken for")
        yield Items(tuple(_like(one.hypothesis, one.check, words) for one in view.alike))
    if view.checks:
        yield Heading("Checks that show it")
        yield from _steps(view.checks, ("with it", "without"), words)


def _ways(view: CauseView, words: Words) -> Iterator[Block]:
    machine = words.machine
    on = f" of {safe(machine.name)}" if machine is not None else ""
    yield Para(f"By the circuit model{on}, at a middle severity; a real one may be lighter or worse.")
    for level, effects in view.ways[:_WAYS]:
        extent = level_text(level, words)
        if len(view.ways) > 1 or extent:
            label = hypothesis_title(level.hypothesis, words) if len(view.ways) > 1 else "Middle severity"
            yield Para(extent or "in a middle degree", label=label)
        yield from _effects(effects, words)
    if rest := view.ways[_WAYS:]:
        titles = listed([hypothesis_title(level.hypothesis, words) for level, _ in rest])
        yield Para(f"It can also stand alone in: {titles}.")


def _effects(effects: Sequence[Effect], words: Words) -> Iterator[Block]:
    noticed = [effect for effect in effects if effect.noticed]
    if not noticed:
        yield Para("No usual test shows it.")
        yield from _little(effects, words)
        return
    groups: dict[tuple[str, str], list[Effect]] = {}
    for effect in noticed:
        groups.setdefault((effect.reading.test, change(effect, words)), []).append(effect)
    of_test = {test: sum(e.reading.test == test for e in effects) for test, _ in groups}
    rows = (Row((_row(test, found, of_test[test], words), text)) for (test, text), found in groups.items())
    yield Table(("Test", "Change"), tuple(rows))
    yield from _little(effects, words)


def _little(effects: Sequence[Effect], words: Words) -> Iterator[Block]:
    """The tests that it moves less than would be noticed, each with its largest change, and those that stay."""
    most: dict[str, Effect] = {}
    for effect in effects:
        most.setdefault(effect.reading.test, effect)  # the largest comes first
    rest = [effect for effect in most.values() if not effect.noticed]
    if little := [effect for effect in rest if abs(effect.size) > _STAYS]:
        texts = [f"{words.test(effect.reading.test)} at most {amount(effect, words)}" for effect in little]
        yield Para(f"{'; '.join(texts)}.", label="Too little to notice")
    if still := [words.test(effect.reading.test) for effect in rest if abs(effect.size) <= _STAYS]:
        yield Para(f"{', '.join(still)}.", label="Not moved")


def _row(test: str, found: Sequence[Effect], of_test: int, words: Words) -> str:
    title = words.test(test)
    subjects = [words.subject(as_result(effect.reading, words)) for effect in found]
    if len(found) == of_test and of_test > 1:
        return f"{title}: all {of_test} readings"
    if len(subjects) > _NAMED:
        subjects[_NAMED:] = [f"{len(subjects) - _NAMED} more"]
    subjects = [subject for subject in subjects if subject]
    return f"{title}: {'; '.join(subjects)}" if subjects else title


def _speaking(view: CauseView, words: Words) -> Iterator[Block]:
    signs = tuple(
        Branch(f"{safe(words.knowledge.signs[sign].title)}: {figure(ratio, 2)} times as probable with it as without")
        for sign, ratio in view.signs
        if sign in words.knowledge.signs
    )
    symptoms = tuple(Branch(f"{safe(rule.title)} ({rule.id})") for rule in view.symptoms)
    branches = [Branch("Signs", "lead", signs)] if signs else []
    branches += [Branch("Symptoms in the readings", "lead", symptoms)] if symptoms else []
    if branches:
        yield Heading("What makes one suspect it")
        yield Tree(Branch(cause_title(view.cause), "lead", tuple(branches)))


def _like(h: Hypothesis, check: Telling | None, words: Words) -> str:
    title = hypothesis_title(h, words)
    if check is None:
        return f"{title} ({h.cause.cause}): no check in the knowledge base tells them apart."
    return f"{title} ({h.cause.cause}): best told apart by this check: {words.check(check.check.check, check.part)}."


def _steps(checks: Sequence[Telling], names: tuple[str, str], words: Words) -> Iterator[Block]:
    """The clearest checks, after the cautions of all of them."""
    shown = checks[:_CHECKS]
    yield Items(cautions((one for two in shown for one in two.check.cautions), words), "caution")
    for number, one in enumerate(shown, 1):
        title = sentence(words.check(one.check.check, one.part))
        yield Step(number, (), title, needs(one.check), "", tuple(_outcomes(one, names)))


def _outcomes(one: Telling, names: tuple[str, str]) -> Iterator[str]:
    for outcome, mine, others in zip(one.check.outcomes, one.one, one.other, strict=True):
        yield (
            f"{spaced(outcome.outcome)} ({safe(outcome.says)}): {say.percent(mine)} {names[0]},"
            f" {say.percent(others)} {names[1]}"
        )


# --- two causes -------------------------------------------------------------------------


def lay_out_apart(view: ApartView, words: Words) -> Iterator[Block]:
    """Two causes: the tests and the checks that tell them apart."""
    titles = hypothesis_title(view.one.hypothesis, words), hypothesis_title(view.other.hypothesis, words)
    yield Title(f"{titles[0]}, or {small(titles[1])}?")
    for cause in (view.one.hypothesis.cause, view.other.hypothesis.cause):
        if cause.stop_use:
            yield Para(f"{cause_title(cause)}: {safe(cause.stop_use)}", "stop", "STOP USE")
    pairs = (("A", titles[0], view.one), ("B", titles[1], view.other))
    yield facts(*((name, f"{title}. {level.hypothesis.cause.mechanism}") for name, title, level in pairs))
    yield Heading("Tests that tell them apart")
    machine = words.machine
    on = f" of {safe(machine.name)}" if machine is not None else ""
    yield Para(f"By the circuit model{on}: A at a middle severity, B at the one that looks most like it.")
    extents = [f"{name}: {text}" for name, _, level in pairs if (text := level_text(level, words))]
    if extents:
        yield Para(f"{'; '.join(extents)}.")
    if view.tests:
        rows = (
            Row((reading_title(two.one.reading, words), change(two.one, words), change(two.other, words)))
            for two in view.tests
        )
        yield Table(("Test", "A", "B"), tuple(rows))
    else:
        yield Para("None: at some severity B moves every usual reading as A does. It takes a check.")
    yield Heading("Checks that tell them apart")
    if view.checks:
        yield from _steps(view.checks, ("with A", "with B"), words)
    else:
        yield Para("No check in the knowledge base tells them apart.")
