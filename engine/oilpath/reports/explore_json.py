"""What is known of a topic without a sheet, for programs: `oilpath: explore/1`."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from typing import Any

from oilpath.explore.apart import Telling
from oilpath.explore.effects import Effect
from oilpath.explore.views import (
    ApartView,
    CauseView,
    CheckView,
    Level,
    PartView,
    ReadingsView,
    SuspectView,
    View,
)
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.rule import Rule
from oilpath.machine.hypotheses import Hypothesis
from oilpath.reports.about import headings_json
from oilpath.reports.blocks import DEFER
from oilpath.reports.explore import listed_topics
from oilpath.reports.explore_words import because, cause_title, hypothesis_title, reading_title
from oilpath.reports.names import safe
from oilpath.reports.words import Words

Json = dict[str, Any]


def views_data(views: Iterable[tuple[View, Words]]) -> Json:
    """The views of one question, each with the machine that it is for."""
    return {"oilpath": "explore/1", "topics": [_data(view, words) for view, words in views], "notice": DEFER}


def topics_data(words: Words) -> Json:
    """Everything that can be explored: kind → its ids with their titles."""
    return {"oilpath": "explore/1", "known": {kind: dict(entries) for kind, _, entries in listed_topics(words)}}


def written(data: Json) -> str:
    """As JSON text."""
    return json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def _data(view: View, words: Words) -> Json:
    found: Json
    match view:
        case CauseView():
            found = _cause(view, words)
        case ApartView():
            found = {
                "kind": "apart",
                "causes": [_level(view.one, words), _level(view.other, words)],
                "tests": [
                    {
                        "reading": two.one.reading.result,
                        "title": reading_title(two.one.reading, words),
                        "changes": [_change(two.one), _change(two.other)],
                    }
                    for two in view.tests
                ],
                "checks": [_telling(one, words) for one in view.checks],
            }
        case SuspectView():
            found = {
                "kind": view.topic.kind,
                "id": view.topic.id,
                "rules": [_rule(rule, words) for rule in view.rules],
                "rests-on": [rule.id for rule in view.rests_on],
                "leads-to": [rule.id for rule in view.leads_to],
            }
        case ReadingsView():
            found = {
                "kind": view.topic.kind,
                "id": view.topic.reading or view.topic.id,
                "path": list(view.path),
                "causes": [{**_placed(h, words), "change": _effect(e, words)} for h, e in view.causes],
            }
        case PartView():
            found = {
                "kind": "part",
                "id": view.part,
                "title": words.part(view.part),
                "functions": list(view.functions),
                "causes": [_kind(cause) for cause in view.causes],
                "checks": [check.check for check in view.checks],
            }
        case CheckView():
            found = _check(view, words)
    return {"machine": words.machine.name if words.machine is not None else None, **found}


def _cause(view: CauseView, words: Words) -> Json:
    return {
        "kind": "cause",
        **_kind(view.cause),
        "part": view.part,
        "parts": list(view.parts),
        "stop-use": view.cause.stop_use,
        "about": headings_json(view.cause),
        "effects": [
            {**_level(level, words), "tests": [_effect(effect, words) for effect in effects]}
            for level, effects in view.ways
        ],
        "signs": [{"sign": sign, "likelihood": ratio} for sign, ratio in view.signs],
        "symptoms": [{"id": rule.id, "title": safe(rule.title)} for rule in view.symptoms],
        "mistaken-for": [
            {**_placed(one.hypothesis, words), "check": one.check and _telling(one.check, words)} for one in view.alike
        ],
        "checks": [_telling(one, words) for one in view.checks],
    }


def _check(view: CheckView, words: Words) -> Json:
    spoken: Sequence[Sequence[Any]] = view.outcomes or [()] * len(view.check.outcomes)
    return {
        "kind": "check",
        "id": view.check.check,
        "title": words.check(view.check.check, view.part),
        "part": view.part,
        "parts": list(view.parts),
        "minutes": view.check.minutes,
        "cautions": [words.caution(caution) for caution in view.check.cautions],
        "outcomes": [
            {
                "outcome": outcome.outcome,
                "says": safe(outcome.says),
                "speaks-for": [
                    {"cause": one.cause, "part": one.part, "with": _short(one.chance), "without": _short(one.sound)}
                    for one in found
                ],
            }
            for outcome, found in zip(view.check.outcomes, spoken, strict=True)
        ],
    }


def _kind(cause: Cause) -> Json:
    return {
        "id": cause.cause,
        "title": cause_title(cause),
        "frequency": cause.frequency,
        "mechanism": safe(cause.mechanism),
        "signature": safe(cause.signature),
    }


def _placed(h: Hypothesis, words: Words) -> Json:
    return {"cause": h.cause.cause, "part": h.part, "variant": h.variant, "title": hypothesis_title(h, words)}


def _level(level: Level, words: Words) -> Json:
    disturbed = level.hypothesis.disturbances
    return {
        **_placed(level.hypothesis, words),
        "parameter": disturbed[0].parameter if disturbed else None,
        "value": None if level.value is None else _short(level.value),
    }


def _rule(rule: Rule, words: Words) -> Json:
    titles = {cause.cause: cause_title(cause) for cause in words.knowledge.causes}
    named: dict[str, float | None] = {}
    for one in rule.suspect:
        named[one.cause] = max(named.get(one.cause) or 0.0, one.likelihood or 0.0) or None
    return {
        "id": rule.id,
        "title": safe(rule.title),
        "because": because(rule),
        "suspects": [{"cause": one, "title": titles.get(one), "likelihood": ratio} for one, ratio in named.items()],
    }


def _effect(effect: Effect, words: Words) -> Json:
    title = reading_title(effect.reading, words)
    return {"reading": effect.reading.result, "title": title, **_change(effect)}


def _change(effect: Effect) -> Json:
    """`factor`: reading with the cause / without it; `offset`: difference in SI; `noticed`: large enough to be seen."""
    if effect.reading.scale == "offset":
        return {"offset": _short(effect.moved), "noticed": effect.noticed}
    return {"factor": _short(math.exp(min(effect.moved, 50.0))), "noticed": effect.noticed}


def _telling(one: Telling, words: Words) -> Json:
    outcomes = zip(one.check.outcomes, one.one, one.other, strict=True)
    return {
        "check": one.check.check,
        "part": one.part,
        "title": words.check(one.check.check, one.part),
        "cautions": [words.caution(caution) for caution in one.check.cautions],
        "outcomes": [
            {"outcome": outcome.outcome, "says": safe(outcome.says), "probability": [_short(a), _short(b)]}
            for outcome, a, b in outcomes
        ],
    }


def _short(value: float) -> float:
    return float(f"{value:.6g}")
