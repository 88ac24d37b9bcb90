"""The conditions of the sheet as results of their own: `condition/engine-speed`, `condition/oil-temperature` …"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from oilpath.documents.sheet import Conditions, Reading, Sheet
from oilpath.flow import ConditionFigure, ConditionResult, ConditionWord, Evidence, Verdict
from oilpath.flow.ids import result_id
from oilpath.flow.notes import Amount, Note, note
from oilpath.judging.conditions import ConditionCheck, Demands, Window, outside, speed_window
from oilpath.judging.doubts import about_figure
from oilpath.knowledge.plausible import SlipKind
from oilpath.knowledge.testkind import TestKind
from oilpath.records import dataclass

_TEST = "condition"
_SPEED_UNCERTAINTY = 0.005  # share; display or hand tachometer, from memory
_TEMPERATURE_UNCERTAINTY = 1.5  # [K] display or contact thermometer in the tank, from memory


@dataclass(frozen=True, slots=True)
class Made:
    """One reading with what its test demands and how it stands to that."""

    reading: Reading
    wanted: Demands
    check: ConditionCheck


def condition_results(
    sheet: Sheet, made: Iterable[Made], tests: Mapping[str, TestKind], slips: Sequence[SlipKind] = ()
) -> tuple[ConditionResult, ...]:
    """Results of the conditions that the sheet or its standard readings state, in a fixed order."""
    standard = [one for one in made if one.reading.variant == "standard"]
    results: list[ConditionResult | None] = [
        _engine_speed(sheet, standard, tests.get(_TEST)),
        _oil_temperature(sheet, standard),
    ]
    results += [_word(name, sheet, standard) for name in ("attachment", "auto-idle", "working-setting")]
    kind = tests.get(_TEST)
    return tuple(_asked(result, kind, slips) for result in results if result is not None)


def _asked(result: ConditionResult, kind: TestKind | None, slips: Sequence[SlipKind]) -> ConditionResult:
    """With what is asked about it, where it is a figure that hardly any machine shows."""
    if not isinstance(result, ConditionFigure) or kind is None or result.condition not in kind.plausible_figures:
        return result
    quantity = kind.plausible_figures[result.condition].quantity
    questions = about_figure(result.id, result.condition, result.value, kind, slips, quantity)
    return replace(result, questions=tuple(questions))


def _engine_speed(sheet: Sheet, made: list[Made], kind: TestKind | None) -> ConditionFigure | None:
    asked = [one for one in made if one.wanted.engine_speed]
    values = _values("engine_speed", sheet, asked)
    if not values:
        return None
    speed, window = speed_window(sheet.machine)
    if speed is None:
        speed, window = next(
            ((one.wanted.speed, one.wanted.speed_window) for one in asked if one.wanted.speed_window), (None, None)
        )
    if speed is None or window is None:
        return _figure("engine-speed", values[0], "rotation", "unjudged", notes=(note("no-test-speed"),))
    value = max(values, key=lambda one: abs(one - speed))
    side = outside(value, window)
    invalid = sum("engine-speed" in one.check.faults for one in asked)
    notes = []
    if value != values[0]:
        notes.append(note("other-readings-at-other-speeds"))
    if side:
        notes.append(note("share-of-test-speed", share=Amount(value / speed, "ratio")))
    if invalid:
        notes.append(_invalid(invalid))
    evidence = None
    if kind is not None and kind.observe != "nothing":
        evidence = Evidence(
            _id("engine-speed"), _TEST, kind.observe, "engine-speed", {"condition": "engine-speed"}, "ratio",
            math.log(value / speed), _SPEED_UNCERTAINTY,
        )  # fmt: skip
    deviation = "high" if value > speed else "low" if value < speed else None
    return _figure(
        "engine-speed", value, "rotation", "fail" if side else "pass", uncertainty=value * _SPEED_UNCERTAINTY,
        new=speed, min=window[0], max=window[1], basis="limit", deviation=deviation, notes=tuple(notes),
        evidence=evidence,
    )  # fmt: skip


def _oil_temperature(sheet: Sheet, made: list[Made]) -> ConditionFigure | None:
    """Judged against what all readings demand together that have no oil temperature of their own kind."""
    asked = [
        one
        for one in made
        if one.wanted.oil_temperature is not None and one.wanted.oil_temperature_from not in one.reading.figures
    ]
    values = _values("oil_temperature", sheet, asked)
    if not values:
        return None
    window = _meet(one.wanted.oil_temperature for one in asked)
    invalid = sum("oil-temperature" in one.check.faults for one in asked)
    value = max(values, key=lambda one: _distance(one, window))
    side = outside(value, window)
    return _figure(
        "oil-temperature", value, "temperature", "fail" if invalid else "pass" if asked else "unjudged",
        uncertainty=_TEMPERATURE_UNCERTAINTY, min=window[0], max=window[1], basis="limit" if asked else None,
        deviation={-1: "low", 1: "high"}.get(side) if invalid else None,
        notes=(_invalid(invalid),) if invalid else (),
    )  # fmt: skip


def _word(name: str, sheet: Sheet, made: list[Made]) -> ConditionWord | None:
    field = name.replace("-", "_")
    asked = [one for one in made if name in one.wanted.words]
    wrong = [one for one in asked if name in one.check.faults]
    general = getattr(sheet.conditions, field)
    word = next((w for one in wrong if (w := getattr(one.reading.conditions, field)) is not None), general)
    if word is None:
        word = next((w for one in asked if (w := getattr(one.reading.conditions, field)) is not None), None)
    if word is None:
        return None
    notes = (_invalid(len(wrong)),) if wrong else ()
    verdict: Verdict = "fail" if wrong else "pass" if asked else "unjudged"
    return ConditionWord(_id(name), _TEST, {"condition": name}, verdict, condition=name, word=word, notes=notes)


def _values(field: str, sheet: Sheet, asked: list[Made]) -> list[float]:
    """The sheet's value first, then what readings state of their own."""
    given: list[Conditions] = [sheet.conditions, *(one.reading.conditions for one in asked)]
    return [value for one in given if (value := getattr(one, field)) is not None]


def _meet(windows: Iterable[Window | None]) -> Window:
    stated = [window for window in windows if window is not None]
    lows = [low for low, _ in stated if low is not None]
    highs = [high for _, high in stated if high is not None]
    return (max(lows) if lows else None), (min(highs) if highs else None)


def _distance(value: float, window: Window) -> float:
    low, high = window
    return max(low - value if low is not None else -math.inf, value - high if high is not None else -math.inf)


def _invalid(count: int) -> Note:
    return note("makes-readings-invalid", count=count)


def _id(name: str) -> str:
    return result_id(_TEST, (name,))


def _figure(name: str, value: float, quantity: str, verdict: Verdict, **rest: Any) -> ConditionFigure:
    return ConditionFigure(
        _id(name), _TEST, {"condition": name}, verdict, value=value, quantity=quantity, condition=name, **rest
    )
