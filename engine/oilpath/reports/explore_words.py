"""Causes, readings and effects in words, for what is looked up without a sheet."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

from oilpath.explore.effects import Effect
from oilpath.explore.topics import cause_titled
from oilpath.explore.views import (
    Level,
)
from oilpath.flow import Evidence, ReadingResult
from oilpath.knowledge.applicability import cautions_on
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.check import Check
from oilpath.knowledge.rule import Rule, fill_in, variables_in
from oilpath.machine.hypotheses import Hypothesis
from oilpath.reports import words as say
from oilpath.reports.blocks import Facts, Para
from oilpath.reports.names import safe, sentence, spaced
from oilpath.reports.words import Words
from oilpath.units import figure

_OVER: Final = 100.0
_STILL: Final = 20.0  # a movement that takes so many times as long is none
_SIZES: Final = ((4.0, "large"), (2.0, "clear"), (1.0, "just noticeable"))


def hypothesis_title(h: Hypothesis, words: Words) -> str:
    """A cause at its part, with its variant where the title does not say it."""
    title = sentence(safe(h.title.replace("{part}", words.part(h.part))))
    if h.variant is None or h.variant in h.cause.titles:
        return title
    variant = words.place(h.variant)
    return title if variant.casefold() in title.casefold() else f"{title} ({variant})"


def reading_title(reading: Evidence, words: Words) -> str:
    """`Cycle time, boom raise`."""
    return words.result(as_result(reading, words))


def as_result(reading: Evidence, words: Words) -> ReadingResult:
    """A reading as a result without a value, for its title."""
    kind = words.knowledge.tests[reading.test]
    return ReadingResult(reading.result, reading.test, dict(reading.keys), "unjudged", float("nan"), kind.quantity)


def change(effect: Effect, words: Words) -> str:
    """By how much a reading moves, which way and how clearly: `+18 % (slow), clear`."""
    size = next((word for least, word in _SIZES if abs(effect.size) >= least), "")
    return f"{amount(effect, words)}, {size}" if size else "hardly moved"


def amount(effect: Effect, words: Words) -> str:
    """By how much a reading moves, in per cent or in its unit, and which way."""
    kind = words.knowledge.tests[effect.reading.test]
    way = kind.more_is if effect.moved > 0 else kind.less_is
    if effect.reading.scale == "offset":
        return f"{words.amount(abs(effect.moved), kind.quantity, 2, kind.unit or '')} to the {way}"
    factor = math.exp(effect.moved)
    if kind.timed and factor >= _STILL:
        return "next to no movement"
    return f"{_factor(factor)} ({way})"


def _factor(factor: float) -> str:
    if factor >= _OVER:
        return f"over {_OVER:.0f} times"
    if factor >= 2:
        return f"{figure(factor, 2)} times"
    return f"{(factor - 1) * 100:+.0f} %".replace("-", "−")


def level_text(level: Level, words: Words) -> str:
    """How bad: `losing about 27 % of one main pump's flow at relief pressure`; empty where no figure is."""
    disturbed = level.hypothesis.disturbances
    if level.value is None or not disturbed:
        return ""
    return words.disturbed(disturbed[0].parameter, level.value)


def cautions(names: Iterable[str], words: Words) -> tuple[str, ...]:
    """Those that apply to the machine, each once."""
    return tuple(words.caution(one) for one in cautions_on(names, words.knowledge, words.machine))


def because(rule: Rule) -> str:
    """Why a rule fires, with the names of its variables in place of what they stand for on a sheet."""
    text = rule.warn or rule.because
    return safe(fill_in(text, {name: spaced(name) for name in variables_in(text)}))


def cause_title(cause: Cause) -> str:
    """A kind of cause, wherever it stands."""
    return sentence(safe(cause_titled(cause)))


def needs(check: Check) -> str:
    """Minutes and tools of a check."""
    tools = ", ".join(safe(tool) for tool in check.tools)
    return f"about {say.minutes(check.minutes)}; {tools}" if tools else f"about {say.minutes(check.minutes)}"


def facts(*rows: tuple[str, str | None]) -> Facts:
    """Labels with their texts, without those that have none."""
    return Facts(tuple(Para(safe(text), label=label) for label, text in rows if text))


def not_found(text: str, nearest: Sequence[str]) -> str:
    """That nothing has this name, and what is like it."""
    near = f"; did you mean {', '.join(nearest)}?" if nearest else "; `oilpath explore` lists what there is"
    return f"{safe(text)} is no sign, symptom, test, function, part, cause or check{near}"
