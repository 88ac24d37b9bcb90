"""The answer for programs: `oilpath: diagnosis/1` as JSON, and `error/1` in the place of an unusable sheet."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from oilpath.flow import (
    AssumedFigure,
    CauseSet,
    CheckResult,
    CodeResult,
    Computed,
    ConditionWord,
    Diagnosis,
    GaugePoint,
    Group,
    Measured,
    NextCheck,
    PlanStep,
    Question,
    RankedCause,
    Reason,
    Remaining,
    Result,
    Severity,
    SignResult,
    StopUse,
    Suspicion,
    Weight,
)
from oilpath.reports.heard import heard_data
from oilpath.reports.jobs import comeback_data, similar_data
from oilpath.reports.layers import lost_sentences
from oilpath.reports.names import cause_title, group_title, stop_because
from oilpath.reports.notes import Sayer, sayer_of
from oilpath.reports.words import Words, difference
from oilpath.session.way import records
from oilpath.units import UNITS, to_unit, unit_of

if TYPE_CHECKING:
    from oilpath.documents.sheet import Work
    from oilpath.problems import Problem

Json = dict[str, Any]


def to_data(diagnosis: Diagnosis, words: Words) -> Json:
    """The answer as JSON data, keys in the order of the format; at most six significant digits, no NaN or infinity."""
    si = words if words.units == "si" else Words(words.knowledge, words.machine)
    sayer = sayer_of(diagnosis, si, by_id=True)

    def because(stop: StopUse) -> str:
        return stop_because(stop, diagnosis.causes, words.knowledge)

    return {
        "oilpath": "diagnosis/1",
        "sheet": diagnosis.sheet,
        "machine": diagnosis.machine,
        "unit-number": diagnosis.unit_number,
        "stop-use": [
            {
                "cause": stop.cause,
                "part": stop.part,
                "because": because(stop),
                "sign": stop.sign,
                "probability": number(stop.probability),
            }
            for stop in diagnosis.stop_use
        ],
        "results": [_result(result, sayer) for result in diagnosis.results],
        "questions": [_question(question, sayer) for question in diagnosis.questions],
        "suspicions": [_suspicion(suspicion, sayer) for suspicion in diagnosis.suspicions],
        "reasons": [_reason(reason, diagnosis.reasons, sayer) for reason in diagnosis.reasons],
        "causes": [_cause(cause) for cause in diagnosis.causes],
        "groups": [_group(group, diagnosis) for group in diagnosis.groups],
        "sets": [_set(found) for found in diagnosis.sets],
        "checks": [check_data(check, words) for check in diagnosis.checks],
        "plan": {
            "first": _step(diagnosis.plan.first, words),
            "expected-minutes": number(diagnosis.plan.expected_minutes),
            "remarks": [sayer.say(remark) for remark in diagnosis.plan.remarks],
            "gauge-points": [_gauge_point(one) for one in diagnosis.plan.gauge_points],
        },
        "work": [_work(one) for one in diagnosis.work],
        "similar": [similar_data(one, number) for one in diagnosis.similar],
        "comeback": comeback_data(diagnosis.comeback, sayer),
        "closed-jobs": diagnosis.counted,
        "figures": [_assumed(figure) for figure in diagnosis.figures],
        "cautions": [words.caution(caution) for caution in diagnosis.cautions],
        "warnings": [
            *lost_sentences(diagnosis.replaced),
            *dict.fromkeys(sayer.say(warning) for warning in diagnosis.warnings),
        ],
        "words": [heard_data(one) for one in diagnosis.heard],
        "versions": {"tool": diagnosis.tool_version, "knowledge": diagnosis.knowledge_version},
    }


def _work(work: Work) -> Json:
    return {
        "what": work.what,
        "part": work.part,
        "turns": number(work.turns),
        "open": work.open,
        "minutes": number(work.minutes),
        "check": work.check,
        "note": work.note,
    }


def _assumed(figure: AssumedFigure) -> Json:
    return {
        "figure": figure.name,
        "value": number(figure.value),
        "from": number(figure.low),
        "to": number(figure.high),
        "because": figure.because,
        "stated": figure.stated,
    }


def error_data(sheet: str, problems: Iterable[Problem]) -> Json:
    """What is output for a sheet that cannot be used."""
    return {
        "oilpath": "error/1",
        "sheet": sheet,
        "problems": [
            {"file": one.file, "line": one.line, "key": one.key, "message": one.message, "accepted": one.accepted}
            for one in problems
        ],
    }


def to_json(answers: Json | Sequence[Json]) -> str:
    """One answer, or a list of answers, as indented JSON."""
    return json.dumps(_whole(answers), ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def to_jsonl(answer: Json) -> str:
    """One answer on one line."""
    return json.dumps(_whole(answer), ensure_ascii=False, allow_nan=False, separators=(", ", ": ")) + "\n"


def number(value: float | None) -> float | int | None:
    """At most six significant digits; whole numbers without a point; None if there is no finite value."""
    if value is None or not math.isfinite(value):
        return None
    rounded = float(f"{value:.6g}")
    return int(rounded) if rounded == int(rounded) and abs(rounded) < 1e15 else rounded


def _whole(value: Any) -> Any:
    """Text that UTF-8 can hold: a lone surrogate (a file name of other bytes) becomes U+FFFD."""
    if isinstance(value, str):
        return value if value.isascii() else value.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, Mapping):
        return {key: _whole(entry) for key, entry in value.items()}
    return [_whole(entry) for entry in value] if isinstance(value, list | tuple) else value


def _result(result: Result, sayer: Sayer) -> Json:
    figures = (
        _figures(result, sayer.words) if isinstance(result, Measured) else {**_NO_FIGURES, "value": _noted(result)}
    )
    return {
        "id": result.id,
        "test": result.test,
        "title": sayer.words.result(result),
        **{name: figures[name] for name in ("value", "unit", "uncertainty", "count", "new", "min", "max", "basis")},
        "verdict": result.verdict,
        **{name: figures[name] for name in ("deviation", "probability-out", "computed")},
        "notes": [sayer.say(note) for note in result.notes],
    }


def _question(question: Question, sayer: Sayer) -> Json:
    return {
        "result": question.result,
        "asks": question.asks,
        "likely": None if question.likely is None else sayer.value(question.likely),
        "text": sayer.say(question.says),
    }


_NO_FIGURES: Json = {
    "unit": None, "uncertainty": None, "count": None, "new": None, "min": None, "max": None, "basis": None,
    "deviation": None, "probability-out": None, "computed": {},
}  # fmt: skip


def _noted(result: Result) -> bool | str | None:
    """What was noted, if nothing was measured."""
    match result:
        case SignResult():
            return result.seen
        case CodeResult():
            return result.active
        case CheckResult():
            return result.outcome
        case ConditionWord():
            return result.word
        case _:
            return None


def _figures(result: Measured, words: Words) -> Json:
    unit = words.unit(result)

    def shown(figure: float | None) -> float | int | None:
        return number(figure if figure is None or unit is None else to_unit(figure, unit))

    uncertainty = result.uncertainty
    if uncertainty is not None and unit is not None:
        uncertainty = difference(uncertainty, unit)
    return {
        "value": shown(result.value),
        "unit": unit,
        "uncertainty": number(uncertainty),
        "count": result.count,
        "new": shown(result.new),
        "min": shown(result.min),
        "max": shown(result.max),
        "basis": result.basis,
        "deviation": result.deviation,
        "probability-out": number(result.probability_out),
        "computed": {name: _computed(figure) for name, figure in result.computed.items()},
    }


def _computed(figure: Computed) -> Json:
    if figure.quantity not in UNITS:
        return {"value": number(figure.value), "unit": None, "uncertainty": number(figure.uncertainty)}
    unit = unit_of(figure.quantity)
    u = None if figure.uncertainty is None else difference(figure.uncertainty, unit)
    return {"value": number(to_unit(figure.value, unit)), "unit": unit, "uncertainty": number(u)}


def _suspicion(suspicion: Suspicion, sayer: Sayer) -> Json:
    return {
        "rule": suspicion.rule,
        "cause": suspicion.cause,
        "part": suspicion.part,
        "because": sayer.filled(suspicion.because),
        "evidence": list(suspicion.evidence),
    }


def _reason(reason: Reason, reasons: Sequence[Reason], sayer: Sayer) -> Json:
    """`from`: the results that carry the step; `after`: the steps that it rests on; `next`: tests to narrow it."""
    return {
        "step": reason.step,
        "says": sayer.value(reason.says),
        "from": list(reason.results),
        "after": [reasons[place].step for place in reason.after],
        "to": [f"{cause}@{part}" for cause, part in reason.suspects],
        "cleared": [f"{cause}@{part}" for cause, part in reason.cleared],
        "next": list(reason.asks),
    }


def _cause(cause: RankedCause) -> Json:
    return {
        "cause": cause.cause,
        "part": cause.part,
        "variant": cause.variant,
        "title": cause_title(cause),
        "probability": number(cause.probability),
        "present": number(cause.present),
        "severity": _severity(cause.severity),
        "prior": number(cause.prior),
        "total": number(cause.total),
        "for": [_weight(weight) for weight in cause.speaks_for],
        "against": [_weight(weight) for weight in cause.speaks_against],
        "together": [{"results": list(one.results), "weight": number(one.weight)} for one in cause.together],
    }


def _severity(severity: Severity | None) -> Json | None:
    if severity is None:
        return None
    known = severity.quantity in UNITS
    unit = unit_of(severity.quantity) if known else None
    low, middle, high = (
        number(value if unit is None else to_unit(value, unit))
        for value in (severity.low, severity.median, severity.high)
    )
    return {"parameter": severity.parameter, "median": middle, "low": low, "high": high, "unit": unit}


def _weight(weight: Weight) -> Json:
    return {"result": weight.result, "weight": number(weight.weight)}


def _group(group: Group, diagnosis: Diagnosis) -> Json:
    return {
        "title": group_title(group, diagnosis.causes),
        "probability": number(group.probability),
        "members": list(group.members),
        "parted-by": group.parted_by,
    }


def _set(found: CauseSet) -> Json:
    return {"members": list(found.members), "probability": number(found.probability)}


def _remaining(left: Iterable[Remaining]) -> list[Json]:
    return [{"cause": one.cause, "part": one.part, "probability": number(one.probability)} for one in left]


def check_data(check: NextCheck, words: Words) -> Json:
    """A check with its outcomes; `record` holds for each outcome the line of the sheet that records it."""
    return {
        "check": check.check,
        "part": check.part,
        "title": words.check(check.check, check.part),
        "minutes": number(check.minutes),
        "bits": number(check.bits),
        "cautions": [words.caution(caution) for caution in check.cautions],
        "outcomes": [
            {
                "outcome": one.outcome,
                "says": one.says,
                "probability": number(one.probability),
                "then": _remaining(one.then),
            }
            for one in check.outcomes
        ],
        "record": records(check),
    }


def _gauge_point(one: GaugePoint) -> Json:
    return {"function": one.function, "behind": one.behind, "before": number(one.before), "after": number(one.after)}


def _step(step: PlanStep | None, words: Words) -> Json | None:
    if step is None:
        return None
    return {
        "check": step.check,
        "part": step.part,
        "title": words.check(step.check, step.part),
        "minutes": number(step.minutes),
        "branches": [
            {
                "outcome": branch.outcome,
                "says": branch.says,
                "probability": number(branch.probability),
                "isolated": _remaining(branch.isolated),
                "next": _step(branch.next, words),
            }
            for branch in step.branches
        ],
    }
