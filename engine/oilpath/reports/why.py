"""One question: why a result is judged as it is, or why a cause ranks where it does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from oilpath.explore.topics import plain
from oilpath.flow import Diagnosis, Measured, RankedCause, Result, SignResult, Suspicion, Weight
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.testkind import ConditionRules
from oilpath.problems import Problem, UnusableInput, nearest
from oilpath.reports import words as say
from oilpath.reports.about import heading_texts
from oilpath.reports.blocks import DEFER
from oilpath.reports.names import counted, listed, safe, sentence, spaced
from oilpath.reports.notes import Sayer, sayer_of
from oilpath.reports.plain import columns, wrap
from oilpath.reports.reasons import chain_lines, result_lines
from oilpath.reports.words import Words
from oilpath.reports.work import evidence_titles
from oilpath.units import figure, to_unit

WIDTH: Final = 80
_CLOSEST: Final = 5


Line = tuple[str, str, str]
"""a text, how its first line begins, and how the others do"""


def why(diagnosis: Diagnosis, topic: str, words: Words, *, width: int = WIDTH) -> str:
    """The answer to one question, plain text in `width` columns.

    topic: a result's id, a sign, a cause (`pump.worn`), a part (`pump-1`) or both (`pump.worn@pump-1`), each also by
    its title. Raises UnusableInput if the answer has nothing of that name.
    """
    lines: list[Line | str] = []
    for result in diagnosis.results:
        if result.id == topic or _is(topic, words.result(result)) or _is_sign(topic, result):
            lines += [*_of_result(diagnosis, result, words), ""]
    if not lines:
        for index in _causes(diagnosis, topic, words):
            lines += [*_of_cause(diagnosis, index, words), ""]
    if not lines:
        raise UnusableInput([_unknown(diagnosis, topic, words)])
    return "\n".join(_laid_out([*lines, (DEFER, "", "")], width)) + "\n"


def _laid_out(lines: Sequence[Line | str], width: int) -> Iterator[str]:
    for line in lines:
        if isinstance(line, str):
            yield line[:width]
        else:
            text, first, rest = line
            yield from wrap(text, width, first, rest)


def _is(topic: str, title: str) -> bool:
    return plain(topic) == plain(title)


def _is_sign(topic: str, result: Result) -> bool:
    return isinstance(result, SignResult) and _is(topic, result.sign)


def _causes(diagnosis: Diagnosis, topic: str, words: Words) -> list[int]:
    name, at, place = topic.partition("@")
    return [
        index
        for index, ranked in enumerate(diagnosis.causes)
        if (_named(ranked, name, words) and (not at or _stands(ranked, place, words)))
        or (not at and _stands(ranked, topic, words))
    ]


def _named(ranked: RankedCause, name: str, words: Words) -> bool:
    return ranked.cause == name or _is(name, words.cause(ranked))


def _stands(ranked: RankedCause, part: str, words: Words) -> bool:
    return ranked.part == part or _is(part, words.part(ranked.part))


def _unknown(diagnosis: Diagnosis, topic: str, words: Words) -> Problem:
    results = [result.id for result in diagnosis.results]
    causes = [f"{ranked.cause}@{ranked.part}" for ranked in diagnosis.causes]
    names = [*results, *(ranked.cause for ranked in diagnosis.causes), *(ranked.part for ranked in diagnosis.causes)]
    titles = [*map(words.result, diagnosis.results), *map(words.cause, diagnosis.causes)]
    meant = nearest(topic, (*names, *causes)) or nearest(topic, titles)
    accepted = f"did you mean {meant}?" if meant else _examples(results, causes)
    return Problem(diagnosis.sheet, 1, topic, "is not a result, cause or part in this answer", accepted)


def _examples(results: list[str], causes: list[str]) -> str:
    return "such as " + ", ".join([*results[:3], *causes[:2]]) if results or causes else ""


def _heading(text: str, under: str) -> list[Line | str]:
    return [(text, "", ""), "=" * columns(under)]


def _lines(label: str, text: str) -> list[Line | str]:
    return [(text, f"{label + ':':<13}", " " * 13)] if text else []


def _listed(title: str, texts: Sequence[str]) -> list[Line | str]:
    return ["", title, *((text, "- ", "  ") for text in texts)] if texts else []


# --- a result -------------------------------------------------------------------------


def _of_result(diagnosis: Diagnosis, result: Result, words: Words) -> Iterator[Line | str]:
    sayer = sayer_of(diagnosis, words)
    yield from _heading(words.result(result), words.result(result))
    yield from _lines("Measured", _measured(result, words))
    yield from _lines("Accepted", _accepted(result, words) if isinstance(result, Measured) else "")
    yield from _lines("Verdict", _verdict(result, words))
    yield from _lines("Requires", _demands(result, words))
    computed = result.computed if isinstance(result, Measured) else {}
    yield from _lines("Computed", ", ".join(words.computed(name, value) for name, value in computed.items()))
    yield from _listed("Notes", [sayer.say(note) for note in result.notes])
    speaks = _speaks(diagnosis, result.id)
    titles = [(words.cause(cause), weight) for cause, weight in speaks]
    yield from _listed("Speaks for", [_weighed(title, w) for title, w in titles if w > 0][:_CLOSEST])
    yield from _listed("Speaks against", [_weighed(title, w) for title, w in titles if w < 0][:_CLOSEST])
    if not titles:
        yield from ["", "Given the other readings, it adds nothing for or against any cause."]
    rules = [suspicion for suspicion in diagnosis.suspicions if result.id in suspicion.evidence]
    yield from _listed("Rules it triggered", _rules(rules, sayer, with_cause=True))
    yield from _listed("Step by step", result_lines(diagnosis, sayer, result.id))


def _measured(result: Result, words: Words) -> str:
    measured = words.value(result)
    if not isinstance(result, Measured):
        return measured
    if result.count and result.count > 1:
        measured += f", mean of {result.count}"
    uncertainty = words.uncertainty(result)
    return f"{measured}, standard uncertainty {uncertainty}" if uncertainty else measured


def _accepted(result: Measured, words: Words) -> str:
    accepted = words.limit(result)
    if new := words.new(result):
        accepted = f"{accepted}, new {new}" if accepted else f"new {new}"
    basis = f" ({say.BASES[result.basis]})" if result.basis and accepted else ""
    return accepted + basis


def _verdict(result: Result, words: Words) -> str:
    verdict = words.judged(result) or say.VERDICTS[result.verdict]
    if not isinstance(result, Measured):
        return verdict
    if result.deviation:
        verdict += f"; {result.deviation}"
    if result.probability_out is not None and result.verdict in ("pass", "near", "fail"):
        verdict += f"; probability of being out {say.percent(result.probability_out)}"
    return verdict


def _demands(result: Result, words: Words) -> str:
    kind = words.knowledge.tests.get(result.test)
    return "; ".join(_conditions(kind.conditions, words)) if kind else ""


def _conditions(demanded: ConditionRules, words: Words) -> Iterator[str]:
    oil = demanded.oil_temperature
    if oil is not None:
        unit = words.shown("°C")
        low, high = (None if end is None else figure(to_unit(end, unit)) for end in (oil.min, oil.max))
        if low and high:
            yield f"oil {low} to {high} {unit}"
        elif low or high:
            yield f"oil at least {low} {unit}" if low else f"oil at most {high} {unit}"
    if demanded.engine_speed:
        yield "engine at its test speed"
    if demanded.attachment:
        yield f"attachment {' or '.join(demanded.attachment)}"
    if demanded.auto_idle:
        yield f"automatic idle {demanded.auto_idle}"
    if demanded.working_setting:
        yield f"working setting {demanded.working_setting}"


def _speaks(diagnosis: Diagnosis, result: str) -> list[tuple[RankedCause, float]]:
    found = [
        (cause, entry.weight)
        for cause in diagnosis.causes
        for entry in (*cause.speaks_for, *cause.speaks_against)
        if entry.result == result and abs(entry.weight) >= say.STRENGTH[-1][0]
    ]
    # the causes that matter first
    return sorted(found, key=lambda pair: -pair[0].probability)


def _weighed(title: str, weight: float) -> str:
    return f"{title}: {say.weight(weight)} ({figure(weight, 2)} dB)"


def _jointly(cause: RankedCause, titles: Mapping[str, str]) -> list[str]:
    """What groups of readings say."""
    return [
        _weighed("; ".join(titles.get(result, safe(result)) for result in one.results), one.weight)
        for one in cause.together
        if abs(one.weight) >= say.STRENGTH[-1][0]
    ]


# --- a cause --------------------------------------------------------------------------


def _of_cause(diagnosis: Diagnosis, index: int, words: Words) -> Iterator[Line | str]:
    cause, sayer = diagnosis.causes[index], sayer_of(diagnosis, words)
    title = words.cause(cause)
    known = next((entry for entry in words.knowledge.causes if entry.cause == cause.cause), None)
    yield from _heading(f"{title} ({cause.cause} at {words.part(cause.part)})", title)
    yield from _lines(
        "Share", f"{say.percent(cause.probability)}, {say.sure(cause.probability)}; {_place(diagnosis, index)}"
    )
    yield from _lines("Present", f"{say.percent(cause.present)}, alone or with others")
    yield from _lines("Before", _before(cause, known))
    yield from _lines("Closed jobs", _counted(diagnosis, cause))
    if cause.total is not None:
        yield from _lines("After", f"{say.odds(cause.total)} ({figure(cause.total, 2)} dB)")
    if cause.severity:
        yield from _lines("How bad", words.severity(cause.severity))
    titles = evidence_titles(diagnosis, words)
    yield from _listed("Speaks for it", _weights(cause.speaks_for, titles))
    yield from _listed("Readings taken together", _jointly(cause, titles))
    against = _weights(cause.speaks_against, titles)
    yield from _listed("Speaks against it", against)
    suspected = [one for one in diagnosis.suspicions if (one.cause, one.part) == (cause.cause, cause.part)]
    yield from _listed("Rules that suspect it", _rules(suspected, sayer))
    yield from _listed("Step by step", chain_lines(diagnosis, sayer, [(cause.cause, cause.part)]))
    if not suspected and known:
        yield from ["", "No rule suspects it on this sheet."]
    if known:
        yield ""
        for label, text in heading_texts(known, words):
            if text:
                yield (safe(text), f"{label + ':':<14}", " " * 14)
    yield from _parting(diagnosis, index, words)


def _place(diagnosis: Diagnosis, index: int) -> str:
    return f"place {index + 1} of {len(diagnosis.causes)}"


def _before(cause: RankedCause, known: Cause | None) -> str:
    if cause.prior is None:
        return ""
    usual = f"{known.frequency}; " if known else ""
    return f"{usual}{say.odds(cause.prior)} before any reading ({figure(cause.prior, 2)} dB)"


def _counted(diagnosis: Diagnosis, cause: RankedCause) -> str:
    """How often closed jobs had a cause, and what that does to its odds before any reading."""
    if cause.cause not in diagnosis.found_before:
        return ""
    found, factor = diagnosis.found_before[cause.cause]
    jobs = counted(diagnosis.counted, "closed job")
    return (
        f"found {figure(found, 2)} times by weight in {jobs}; its odds before are {figure(factor, 2)} times the stated"
    )


def _weights(weights: Sequence[Weight], titles: dict[str, str]) -> list[str]:
    ordered = sorted(weights, key=lambda entry: -abs(entry.weight))
    return [_weighed(titles.get(entry.result, safe(entry.result)), entry.weight) for entry in ordered]


def _rules(suspicions: Sequence[Suspicion], sayer: Sayer, *, with_cause: bool = False) -> list[str]:
    words = sayer.words
    titles = {rule.id: safe(rule.title) for rule in words.knowledge.rules}
    found: dict[tuple[str, str], dict[str, None]] = {}
    for one in suspicions:
        rule = f"{titles.get(one.rule, safe(one.rule))} ({safe(one.rule)})"
        found.setdefault((rule, sayer.filled(one.because)), {})[f"{one.cause} at {words.part(one.part)}"] = None
    return [
        f"{rule}{f' → {listed([*causes])}' if with_cause else ''}: {because}"
        for (rule, because), causes in found.items()
    ]


def _parting(diagnosis: Diagnosis, index: int, words: Words) -> Iterator[Line | str]:
    """The causes that look the same, and the check that would tell them apart."""
    group = next((group for group in diagnosis.groups if index in group.members), None)
    cause = diagnosis.causes[index]
    if group is not None and len(group.members) > 1:
        beside = [words.cause(diagnosis.causes[member]) for member in group.members if member != index]
        best = next((check for check in diagnosis.checks if check.check == group.parted_by), None)
        parted = spaced(group.parted_by or "no check in the knowledge base")
        yield from _listed(
            "What looks the same",
            [
                f"These readings cannot tell it from: {', '.join(beside)}.",
                f"What would tell them apart: {words.check(best.check, best.part) if best else parted}.",
            ],
        )
    check = next(
        (
            check
            for check in diagnosis.checks
            if any((left.cause, left.part) == (cause.cause, cause.part) for one in check.outcomes for left in one.then)
        ),
        None,
    )
    if check is not None:
        cautions = [f"CAUTION: {words.caution(caution)}" for caution in check.cautions]
        yield from _listed(
            "Next check for it",
            [*cautions, f"{sentence(words.check(check.check, check.part))} ({say.check_needs(check)})"],
        )
