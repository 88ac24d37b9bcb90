"""The conclusions of an answer, in sentences: the verdict, the suspects, whether the machine may run, what is out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, Literal

from oilpath.flow import (
    CodeResult,
    ConditionResult,
    Diagnosis,
    Group,
    Measured,
    NextCheck,
    Question,
    RankedCause,
    ReadingResult,
    Result,
    SignResult,
    StopUse,
    Suspicion,
    Verdict,
)
from oilpath.records import dataclass
from oilpath.reports import words as say
from oilpath.reports.names import counted, group_title, listed, safe, sentence, small, spaced
from oilpath.reports.notes import Sayer
from oilpath.reports.phrases import STANDING
from oilpath.reports.words import Words
from oilpath.reports.work import evidence_titles

EVEN: Final = 0.5
NAMED_FROM: Final = 0.1
"""groups of causes from this share on are always named"""
LITTLE: Final = 0.01
"""causes with a smaller share are only counted"""
NOTHING_NEXT: Final = "No check and no repair follows from these tests."
_WORST_FIRST: Final[tuple[Verdict, ...]] = ("fail", "near", "pass", "invalid", "unjudged")
_FAULTS: Final = 0.2  # share of all faults together from which a machine runs with care only
_CHECKS: Final = 3
_NAMED: Final = 2  # results named one by one
_MISSING: Final = 3
_UNLIKELY: Final = 0.02  # less likely outcomes are not mentioned


# --- what is suspected ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Suspect:
    """A group of causes with its share, or where several faults at once are likely, how probable it is that one of
    them is there."""

    title: str
    share: float
    group: Group
    members: tuple[RankedCause, ...]

    @property
    def sure(self) -> str:
        """How sure, in words and as a percentage: of several causes, all of them together."""
        how = say.how_sure(self.share)
        return f"together {how}" if len(self.members) > 1 else how


def suspects(diagnosis: Diagnosis, words: Words, least: float = NAMED_FROM) -> list[Suspect]:
    """The leading group, and all others from this share on, most probable first."""
    several = several_at_once(diagnosis)
    found = []
    for group in diagnosis.groups:
        if group.silent and group is not leading(diagnosis):
            continue
        members = tuple(diagnosis.causes[index] for index in group.members)
        share = min(1.0, sum(one.present for one in members)) if several else group.probability
        title = words.cause(members[0]) if len(members) == 1 else sentence(safe(group_title(group, diagnosis.causes)))
        found.append(Suspect(title, share, group, members))
    lead = leading(diagnosis)
    found.sort(key=lambda one: (one.group is not lead, -one.share))
    return [one for one in found if one.share >= least or one.group is lead]


def in_verdict(diagnosis: Diagnosis, found: list[Suspect]) -> list[Suspect]:
    """Those the verdict names: the leading one, or all that are present at once."""
    at_once = [one for one in found if one.share >= EVEN] if several_at_once(diagnosis) else []
    return at_once if len(at_once) > 1 else found[:1]


_TOGETHER = ", taken together,"
_MORE = 3.0
"""decibans by which readings must say more together than the strongest of them alone (a factor of two)"""


def several_at_once(diagnosis: Diagnosis) -> bool:
    """Whether more than one fault is more probable than one alone.

    The sets of an answer are the most probable ones, and many may share the rest. So it follows from how probable each
    cause is to be present: two at once count twice in the sum, three at once three times.
    """
    if not diagnosis.sets:
        return False
    listed = sum(found.probability for found in diagnosis.sets)
    present = sum(one.present for one in diagnosis.causes if one.cause not in STANDING)
    none = sum(one.present for one in diagnosis.causes if one.cause in STANDING)
    twice = sum((len(found.members) - 2) * found.probability for found in diagnosis.sets)
    return max(listed, present - (1 - none) - twice) >= EVEN


def carrying(diagnosis: Diagnosis, suspect: Suspect, sayer: Sayer) -> str:
    """The strongest line of evidence for a group: what a rule says about its readings, otherwise one reading."""
    places = {(one.cause, one.part): rank for rank, one in reversed(list(enumerate(suspect.members)))}
    weights = {one.result: one.weight for one in suspect.members[0].speaks_for}
    out = {result.id for result in diagnosis.results if isinstance(result, Measured) and result.verdict == "fail"}

    def strength(suspicion: Suspicion) -> tuple[int, int, float]:
        rank = places[(suspicion.cause, suspicion.part)]
        weight = sum(weights.get(result, 0.0) for result in suspicion.evidence)
        return -rank, sum(result in out for result in suspicion.evidence), weight

    if suspect.members[0].cause in STANDING:
        return ""
    named = [one for one in diagnosis.suspicions if (one.cause, one.part) in places]
    if named:
        return sentence(sayer.filled(max(named, key=strength).because))
    titles = evidence_titles(diagnosis, sayer.words)
    best = max(reasons(suspect.members[0], titles), key=lambda one: one[1], default=None)
    if best is None or best[1] < say.STRENGTH[-1][0]:
        return ""
    return f"{best[0]} {'speak' if best[0].endswith(_TOGETHER) else 'speaks'} {say.weight(best[1])}."


def reasons(cause: RankedCause, titles: Mapping[str, str]) -> list[tuple[str, float]]:
    """What speaks for and against a cause, strongest first: single readings, and those that say more together.

    titles: of the results, by id. What is too weak to be said is left out.
    """
    alone = {one.result: one.weight for one in (*cause.speaks_for, *cause.speaks_against)}
    taken: set[str] = set()
    found: list[tuple[str, float]] = []
    for group in cause.together:
        strongest = max((abs(alone.get(result, 0.0)) for result in group.results), default=0.0)
        if abs(group.weight) < max(strongest + _MORE, say.STRENGTH[-1][0]) or taken.intersection(group.results):
            continue
        names = [titles.get(result, safe(result)) for result in group.results]
        taken.update(group.results)
        several = len({name.partition(",")[0] for name in names}) > 1
        first = f"{names[0]}, and {len(names) - 1} more" if len(names) > 2 else " and ".join(names)
        first = "All readings" if several else first
        found.append((f"{first}{_TOGETHER}", group.weight))
    found += [(titles.get(result, safe(result)), weight) for result, weight in alone.items() if result not in taken]
    found = [one for one in found if abs(one[1]) >= say.STRENGTH[-1][0]]
    return sorted(found, key=lambda one: (-abs(one[1]), one[0]))


def would_change(diagnosis: Diagnosis, words: Words) -> str:
    """Which outcome of a next check would put another cause first; otherwise what was not measured."""
    lead = leading(diagnosis)
    members = (
        {(diagnosis.causes[index].cause, diagnosis.causes[index].part) for index in lead.members} if lead else set()
    )
    others = [
        (one.probability * one.then[0].probability, check, one)
        for check in next_checks(diagnosis)[:_CHECKS]
        for one in check.outcomes
        if one.probability >= _UNLIKELY and one.then and (one.then[0].cause, one.then[0].part) not in members
    ]
    if others:
        _, check, one = max(others, key=lambda other: other[0])
        now = one.then[0]
        then = f"{title_of(diagnosis, words, now.cause, now.part)} ({say.percent(now.probability)})"
        which = "" if check is diagnosis.checks[0] else f"{sentence(words.check(check.check, check.part))}: "
        says = safe(one.says) if which else sentence(safe(one.says))
        return f"{which}{says} ({say.percent(one.probability)}), then {small(then)}."
    missing = [small(words.test(one.test)) for one in diagnosis.not_measured if not one.invalid]
    if not missing:
        return ""
    rest = f" and {len(missing) - _MISSING} more" if len(missing) > _MISSING else ""
    return f"What was not measured: {'; '.join(missing[:_MISSING])}{rest}."


# --- whether the machine may run ------------------------------------------------------

Running = Literal["stop", "care", "run", "unknown"]


@dataclass(frozen=True, slots=True)
class Use:
    """Whether the machine may be used, and why."""

    running: Running
    because: tuple[str, ...]


def use_of(diagnosis: Diagnosis, words: Words) -> Use:
    """Whether the machine may run, as far as these tests show: with care if something is out or suspected."""
    if diagnosis.stop_use:
        return Use("stop", tuple(stop_sentences(diagnosis, words)))
    if not_valid(diagnosis.results) or not diagnosis.causes:
        return Use("unknown", ("too little was measured the way the tests require.",))
    out = any(result.verdict == "fail" and not isinstance(result, ConditionResult) for result in diagnosis.results)
    sound = sum(one.probability for one in diagnosis.causes if one.cause == "none")
    if not out and 1 - sound < _FAULTS:
        return Use("run", ("no reading and no sign speaks against it.",))
    return Use("care", (waiting(diagnosis, words),))


def waiting(diagnosis: Diagnosis, words: Words) -> str:
    """What waiting may cost for the causes named; if nothing is known about it, slower work."""
    said = (words.waiting(one.cause) for suspect in suspects(diagnosis, words) for one in suspect.members)
    costs = list(dict.fromkeys(text for text in said if text))
    return costs[0] if costs else "work goes slower, and it may get worse: stop if it does."


def stop_sentences(diagnosis: Diagnosis, words: Words) -> Iterator[str]:
    """Why the machine must not be used, each reason once: `until this fault is ruled out or repaired: …`."""
    seen = [stop for stop in diagnosis.stop_use if stop.probability is None]
    for stop in seen:
        yield f"until this is repaired. {_reason(diagnosis, words, stop)}"
    by_reason: dict[str, list[StopUse]] = {}
    for stop in diagnosis.stop_use:
        if stop.probability is not None:
            by_reason.setdefault(words.stop_use(stop.cause) or "", []).append(stop)
    for reason, stops in by_reason.items():
        named = [
            f"{small(title_of(diagnosis, words, stop.cause, stop.part))} ({say.how_sure(stop.probability or 0.0)})"
            for stop in stops
        ]
        until = "until this fault is" if len(named) == 1 else "until these faults are"
        yield f"{until} ruled out or repaired: {listed(named)}. {reason}".rstrip()


def _reason(diagnosis: Diagnosis, words: Words, stop: StopUse) -> str:
    """The reason of a sign that was seen, otherwise of the cause."""
    sign = words.knowledge.signs.get(stop.sign) if stop.sign is not None else None
    if sign is not None:
        return f"{safe(sign.title)}: {safe(sign.stop_use or '')}"
    return f"{title_of(diagnosis, words, stop.cause, stop.part)}: {words.stop_use(stop.cause) or ''}"


# --- the answer in a line -------------------------------------------------------------


MOST_PROBABLE: Final = "Most probable: "


def verdict(diagnosis: Diagnosis, words: Words) -> str:
    """The answer in one or two sentences."""
    group = leading(diagnosis)
    if group is None:
        return "No cause could be ranked."
    before, how = not_valid(diagnosis.results), say.how_sure(group.probability)
    cause = diagnosis.causes[group.members[0]]
    if cause.cause == "none":
        return f"{before}{no_fault(diagnosis, words)} ({how})."
    if cause.cause == "unknown":
        return f"{before}These readings fit no cause in the knowledge base ({how})."
    first, *others = in_verdict(diagnosis, suspects(diagnosis, words))
    if others:
        there = "; ".join(f"{one.title} ({one.sure})" for one in (first, *others))
        return f"{before}More than one fault at once, most probably: {there}."
    if len(first.members) == 1:
        return f"{before}{MOST_PROBABLE}{first.title} ({first.sure})."
    most_probable = "" if words.cause(cause) in first.title else f"; the first is {words.cause(cause)}"
    alike = f"These readings cannot tell the {len(first.members)} apart{most_probable}."
    return f"{before}{MOST_PROBABLE}{first.title} ({first.sure}). {alike}"


def no_fault(diagnosis: Diagnosis, words: Words) -> str:
    """What it means that no fault is the most probable; a condition not met is not a fault."""
    out = [
        one for one in diagnosis.results if one.verdict == "fail" and isinstance(one, ReadingResult | SignResult)
    ]  # fmt: skip
    doubtful = [one.result for one in diagnosis.questions if not one.of_limit]
    again = dict.fromkeys([*doubtful, *(one.id for one in out if isinstance(one, ReadingResult))])
    if not doubtful and diagnosis.questions:
        return "First look up the limits in question. These readings show no fault"
    if not again:
        return "No fault stands out; most probably there is none" if out else "These readings show no fault"
    titles = {one.id: words.result(one) for one in diagnosis.results}
    named = listed([titles[name] for name in again]) if len(again) <= _NAMED else counted(len(again), "reading")
    what = "Repeat this reading" if len(again) == 1 else "Repeat these readings"
    return f"{what} first: {named}. The others show no fault"


def question_text(diagnosis: Diagnosis, question: Question, sayer: Sayer) -> str:
    """What is asked about a result, with its name."""
    result = next(one for one in diagnosis.results if one.id == question.result)
    says = sayer.say(question.says)
    return f"{sayer.words.result(result)}: {says}{'' if says.endswith('?') else '.'}"


def not_valid(results: tuple[Result, ...]) -> str:
    """A sentence if more readings are invalid than count; otherwise empty."""
    invalid = sum(result.verdict == "invalid" for result in results)
    judged = sum(_counts(result) for result in results)
    if invalid <= judged:
        return ""
    return f"Little can be concluded: {counted(invalid, 'reading')} must be repeated, as they are not valid. "


def measure_again(diagnosis: Diagnosis, words: Words) -> str:
    """What must be put right before anything else, if too little was measured validly; otherwise empty."""
    if not not_valid(diagnosis.results):
        return ""
    out = [one for one in diagnosis.results if isinstance(one, ConditionResult) and one.verdict == "fail"]
    readings = counted(sum(one.verdict == "invalid" for one in diagnosis.results), "reading")
    if not out:
        return f"Measure {readings} again, in the way that the tests require."
    what = "; ".join(_condition(one, words) for one in out)
    return f"Put right: {what}. Then measure {readings} again."


def _condition(result: ConditionResult, words: Words) -> str:
    """`oil temperature 24 °C (min 50 °C)`."""
    limit = words.limit(result) if isinstance(result, Measured) else ""
    return f"{spaced(result.condition)} {words.value(result)}{f' ({limit})' if limit else ''}"


def next_checks(diagnosis: Diagnosis) -> tuple[NextCheck, ...]:
    """The next checks, most informative for their time first: none where readings must be repeated before any
    fault can be suspected."""
    lead = leading(diagnosis)
    standing = lead is None or diagnosis.causes[lead.members[0]].cause in STANDING
    return () if standing and not_valid(diagnosis.results) else diagnosis.checks


def _counts(result: Result) -> bool:
    return result.verdict in ("pass", "near", "fail") and not isinstance(result, ConditionResult)


def leading(diagnosis: Diagnosis) -> Group | None:
    """The group that leads: the first one."""
    return next(iter(diagnosis.groups), None)


def not_shown(diagnosis: Diagnosis, words: Words) -> str:
    """What no reading of the sheet shows, in one line with what would tell of it; empty where it leads or is little."""
    silent = next((one for one in diagnosis.groups if one.silent and one.probability >= LITTLE), None)
    if silent is None or silent is leading(diagnosis):
        return ""
    says = f"{sentence(safe(group_title(silent, diagnosis.causes)))} ({len(silent.members)}):"
    would = small(check_title(diagnosis, words, silent)) if silent.parted_by else ""
    if not would and diagnosis.not_measured:
        would = small(words.test(diagnosis.not_measured[0].test))
    tells = f" What would tell most of them: {would}." if would else ""
    return f"{says} {say.percent(silent.probability)} together.{tells}"


def check_title(diagnosis: Diagnosis, words: Words, group: Group) -> str:
    """The check that tells the members of a group apart best."""
    check = group.parted_by or ""
    found = next((entry for entry in diagnosis.checks if entry.check == check), None)
    if found is not None:
        return words.check(found.check, found.part)
    return words.check(check, diagnosis.causes[group.members[0]].part)


def not_measured(diagnosis: Diagnosis, words: Words) -> list[str]:
    """The tests that the sheet lacks, each by its name; and last those measured only outside their conditions."""
    lacking = [small(words.test(one.test)) for one in diagnosis.not_measured if not one.invalid]
    invalid = [small(words.test(one.test)) for one in diagnosis.not_measured if one.invalid]
    return [*lacking, *([f"only outside the conditions they require: {listed(invalid)}"] if invalid else [])]


def title_of(diagnosis: Diagnosis, words: Words, cause: str, part: str) -> str:
    """The title of a ranked cause; otherwise of a sign or another word at a part."""
    for ranked in diagnosis.causes:
        if (ranked.cause, ranked.part) == (cause, part):
            return words.cause(ranked)
    return f"{sentence(spaced(cause).replace('.', ' '))}, {words.place(part)}"


# --- what was measured ----------------------------------------------------------------


def tally(results: tuple[Result, ...]) -> str:
    """How many results have which verdict: `4 out, 1 near the limit, 12 in order`. Conditions in order do not count."""
    if not results:
        return "Nothing was measured."
    counts = [f"{number} {say.VERDICTS[verdict]}" for verdict, number in _verdicts(results).items()]
    return f"{sentence(', '.join([*counts, *_seen(results)]) or 'nothing out')}."


def tally_in_full(results: tuple[Result, ...]) -> str:
    """The same for who reads it first: `Of 25 readings 1 is out, 24 are in order. 1 sign seen.`"""
    verdicts, seen = _verdicts(results), _seen(results)
    if not verdicts:
        return tally(results)
    of = counted(sum(verdicts.values()), "reading")
    after = f" {sentence(', '.join(seen))}." if seen else ""
    if len(verdicts) == 1 and of != "1 reading":
        return f"All {of} are {say.VERDICTS[next(iter(verdicts))]}.{after}"
    counts = [f"{number} {'is' if number == 1 else 'are'} {say.VERDICTS[one]}" for one, number in verdicts.items()]
    return f"Of {of} {', '.join(counts)}.{after}"


def _verdicts(results: tuple[Result, ...]) -> dict[Verdict, int]:
    """How many have each verdict, the worst first; conditions in order do not count."""
    measured = [
        result.verdict
        for result in results
        if isinstance(result, Measured) and not (isinstance(result, ConditionResult) and result.verdict == "pass")
    ]
    return {one: measured.count(one) for one in _WORST_FIRST if one in measured}


def _seen(results: tuple[Result, ...]) -> list[str]:
    codes = sum(isinstance(result, CodeResult) and result.active is True for result in results)
    seen = [result for result in results if isinstance(result, SignResult) and result.seen]
    told = sum(bool(result.heard) for result in seen)
    said = [f"{counted(codes, 'fault code')} active"] if codes else []
    said += [f"{counted(len(seen) - told, 'sign')} seen"] if len(seen) > told else []
    return [*said, f"{counted(told, 'sign')} said"] if told else said


def out_of(results: Sequence[Result]) -> list[Result]:
    """What is out, seen or active, in the order of the sheet; what is within its own limits and conditions last."""
    out = [result for result in results if result.verdict == "fail"]
    return sorted(out, key=lambda result: (isinstance(result, ConditionResult), within(result)))


def finding(result: Result, words: Words) -> str:
    """A result in a few words: `Cycle time, bucket curl 4.1 s (max 3.9 s)`."""
    limit = words.limit(result) if isinstance(result, Measured) else ""
    if limit and result.verdict == "fail" and within(result):
        limit = "differs too much from its counterpart"
    return f"{words.result(result)} {words.value(result)}{f' ({limit})' if limit else ''}"


def within(result: Result) -> bool:
    """Whether a figure is within its limits; if it is out anyway, it differs from its counterpart."""
    if not isinstance(result, Measured) or (result.min is None and result.max is None):
        return False
    return (result.min is None or result.value >= result.min) and (result.max is None or result.value <= result.max)


def heading(diagnosis: Diagnosis) -> list[str]:
    """Machine, unit, hours and date, as far as known; the sheet if no unit is stated."""
    parts = [safe(diagnosis.machine)]
    if diagnosis.unit_number:
        parts.append("unit " + safe(diagnosis.unit_number))
    if diagnosis.hours is not None:
        parts.append(f"{diagnosis.hours:.10g} h")
    if diagnosis.date:
        parts.append(safe(diagnosis.date))
    return parts if diagnosis.unit_number else [*parts, named_sheet(diagnosis)]


def named_sheet(diagnosis: Diagnosis) -> str:
    """The sheet as it was typed."""
    return f"sheet {safe(diagnosis.sheet)}"
