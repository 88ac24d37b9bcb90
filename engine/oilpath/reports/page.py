"""The answer laid out once, as plain blocks; `text` and `markdown` only show them.

All strings of a page are safe to show on one line (`plain.safe`), but not escaped for any markup.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from oilpath.flow import (
    CheckResult,
    CodeResult,
    ConditionResult,
    Diagnosis,
    GaugePoint,
    Group,
    Measured,
    NextCheck,
    NotMeasured,
    PlanStep,
    Question,
    RankedCause,
    ReadingResult,
    Remaining,
    Result,
    SignResult,
    StopUse,
    TreeNode,
)
from oilpath.reports import words as say
from oilpath.reports.layers import lost_sentences, replaced_sentence
from oilpath.reports.names import counted, group_title, listed, safe, sentence, spaced, stop_because
from oilpath.reports.notes import Sayer, sayer_of
from oilpath.reports.words import Words

Tone = Literal["plain", "lead", "stop", "caution", "out", "near", "good", "dim"]

DEFER: Final = (
    "This answer helps qualified people to decide; it does not replace them. The machine's own manual, its service"
    " information, and site and local rules come first."
)

_LEAST: Final = 0.01  # causes with a smaller share are only counted
_CAUSES: Final = 8
_CHECKS: Final = 3
_REASONS: Final = 6
_FEW: Final = 6  # findings up to which the figures computed beside them are shown without being asked for
_ORDER: Final = ("fail", "near", "invalid", "unjudged", "pass")
_PLAN_DEPTH: Final = 3
_NAMED: Final = 2  # results or causes named one by one
_PARTED: Final = 0.05  # for groups from this share on it is said what tells their causes apart
_TONES: Final[dict[str, Tone]] = {"fail": "out", "near": "near", "pass": "good", "invalid": "near", "unjudged": "dim"}


@dataclass(frozen=True, slots=True)
class Title:
    """The title of the answer."""

    text: str


@dataclass(frozen=True, slots=True)
class Heading:
    """The title of a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Para:
    """One paragraph; `label` stands before it (`Complaint`)."""

    text: str
    tone: Tone = "plain"
    label: str = ""


@dataclass(frozen=True, slots=True)
class Items:
    """A list of short texts."""

    texts: tuple[str, ...]
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table; `level` 1 stands under the row of level 0 before it."""

    cells: tuple[str, ...]
    tone: Tone = "plain"
    level: int = 0


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the columns named in `right` hold figures."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Branch:
    """A node of a tree."""

    text: str
    tone: Tone = "plain"
    children: tuple[Branch, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Tree:
    """A tree with one root."""

    root: Branch


@dataclass(frozen=True, slots=True)
class Step:
    """A check: its cautions are shown before it, `how` and what the outcomes would leave after it."""

    number: int
    cautions: tuple[str, ...]
    title: str
    needs: str
    how: str
    outcomes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture of signs of one width, line by line."""

    lines: tuple[str, ...]


Block = Title | Heading | Para | Items | Table | Tree | Step | Chart


def lay_out(diagnosis: Diagnosis, words: Words, *, all_results: bool = False) -> Iterator[Block]:
    """The blocks of an answer, top to bottom: stop-use first where it applies."""
    sayer = sayer_of(diagnosis, words)
    yield Title(" · ".join(heading(diagnosis)))
    yield from _stop_use(diagnosis, words)
    if diagnosis.complaint:
        yield Para(safe(diagnosis.complaint), label="Complaint")
    if diagnosis.history:
        yield Para("; ".join(safe(text) for text in diagnosis.history), label="History")
    yield Para(verdict(diagnosis, words), "lead")
    if diagnosis.questions:
        yield Heading("Is this meant?")
        yield Items(tuple(question_text(diagnosis, one, sayer) for one in diagnosis.questions), "near")
    yield from _findings(diagnosis, words, sayer, all_results)
    yield from _causes(diagnosis, words)
    yield from _why(diagnosis, words, sayer)
    if diagnosis.tree.children:
        yield Heading("Troubleshooting tree")
        yield Tree(_branch(diagnosis.tree, sayer))
    yield from _checks(diagnosis, words)
    yield from _plan(diagnosis, words, sayer)
    for title, texts, tone in (
        ("Not measured", [sentence(not_measured(one, words)) for one in diagnosis.not_measured], "plain"),
        ("Warnings", _warnings(diagnosis, sayer), "near"),
        ("Cautions", _cautions(diagnosis, words), "caution"),
    ):
        if texts:
            yield Heading(title)
            yield Items(tuple(dict.fromkeys(texts)), tone)  # type: ignore[arg-type]
    yield Para(DEFER, "dim")
    if own := replaced_sentence(diagnosis.replaced):
        yield Para(safe(own), "dim")
    yield Para(f"oilpath {diagnosis.tool_version}, knowledge {diagnosis.knowledge_version[:19]}", "dim")


def _warnings(diagnosis: Diagnosis, sayer: Sayer) -> list[str]:
    """What an own layer takes away comes first."""
    lost = [sentence(safe(text)) for text in lost_sentences(diagnosis.replaced)]
    return [*lost, *(sayer.say(text) for text in diagnosis.warnings)]


def _cautions(diagnosis: Diagnosis, words: Words) -> list[str]:
    """General cautions; those already said before a check are not repeated."""
    said = {words.caution(caution) for check in diagnosis.checks[:_CHECKS] for caution in check.cautions}
    always = {words.caution(caution) for caution in words.knowledge.always}
    cautions = (words.caution(caution) for caution in diagnosis.cautions)
    return [caution for caution in cautions if caution in always or caution not in said]


def heading(diagnosis: Diagnosis) -> list[str]:
    """Machine, unit, hours, date and sheet, as far as known."""
    parts = [safe(diagnosis.machine)]
    if diagnosis.unit_number:
        parts.append("unit " + safe(diagnosis.unit_number))
    if diagnosis.hours is not None:
        parts.append(f"{diagnosis.hours:.10g} h")
    if diagnosis.date:
        parts.append(safe(diagnosis.date))
    return [*parts, "sheet " + safe(diagnosis.sheet)]


# --- what it comes to -----------------------------------------------------------------


def verdict(diagnosis: Diagnosis, words: Words) -> str:
    """The answer in one line."""
    group = leading(diagnosis)
    if group is None:
        return "No cause could be ranked."
    how = f"{say.sure(group.probability)}, {say.percent(group.probability)}"
    cause = diagnosis.causes[group.members[0]]
    if cause.cause == "none":
        return f"{not_valid(diagnosis.results)}{no_fault(diagnosis, words)} ({how})."
    if cause.cause == "unknown":
        return f"{not_valid(diagnosis.results)}These readings fit no cause that the knowledge base holds ({how})."
    there = min(1.0, sum(diagnosis.causes[number].present for number in group.members))
    if there > group.probability + 0.1:  # beside others, with which it shares the probability
        how += f"; there, alone or beside other faults: {say.percent(there)}"
    if len(group.members) == 1:
        return f"{not_valid(diagnosis.results)}Most probable: {words.cause(cause)} ({how})."
    title, first = sentence(safe(group_title(group, diagnosis.causes))), words.cause(cause)
    most_probable = "" if first in title else f"; the first is {first} ({say.percent(cause.probability)})"
    alike = f"These readings cannot tell the {len(group.members)} apart{most_probable}."
    return f"{not_valid(diagnosis.results)}Most probable: {title} ({how}). {alike}"


def no_fault(diagnosis: Diagnosis, words: Words) -> str:
    """What it means that no fault is the most probable; a condition that was not kept is no fault."""
    out = [
        one for one in diagnosis.results if one.verdict == "fail" and isinstance(one, ReadingResult | SignResult)
    ]  # fmt: skip
    doubtful = [one.result for one in diagnosis.questions if not one.of_limit]
    again = dict.fromkeys([*doubtful, *(one.id for one in out if isinstance(one, ReadingResult))])
    if not doubtful and diagnosis.questions:
        return "Look up first the limits that are asked about. These readings show no fault"
    if not again:
        return "No fault stands out: that there is none is the most probable" if out else "These readings show no fault"
    titles = {one.id: words.result(one) for one in diagnosis.results}
    named = listed([titles[name] for name in again]) if len(again) <= _NAMED else counted(len(again), "reading")
    what = "Repeat this reading" if len(again) == 1 else "Repeat these readings"
    return f"{what} first: {named}. The others show no fault"


def not_valid(results: tuple[Result, ...]) -> str:
    """A sentence where more readings are not valid than count; else empty."""
    invalid = sum(result.verdict == "invalid" for result in results)
    judged = sum(_counts(result) for result in results)
    if invalid <= judged:
        return ""
    return f"Little can be said: {counted(invalid, 'reading')} must be made again, as they are not valid. "


def _counts(result: Result) -> bool:
    return result.verdict in ("pass", "near", "fail") and not isinstance(result, ConditionResult)


def leading(diagnosis: Diagnosis) -> Group | None:
    """The group with the largest share."""
    return max(diagnosis.groups, key=lambda group: group.probability, default=None)


def _stop_use(diagnosis: Diagnosis, words: Words) -> Iterator[Block]:
    for stop in diagnosis.stop_use:
        yield Para(stop_text(diagnosis, words, stop), "stop", label="STOP USE")


def stop_text(diagnosis: Diagnosis, words: Words, stop: StopUse) -> str:
    """Why the machine must stand still."""
    title = title_of(diagnosis, words, stop.cause, stop.part)
    because = safe(stop_because(stop, diagnosis.causes, words.knowledge))
    if because.startswith(f"{title}: "):
        return f"Take the machine out of service until this is put right. {because}"
    return f"Take the machine out of service until this is put right. {title}: {because}"


def question_text(diagnosis: Diagnosis, question: Question, sayer: Sayer) -> str:
    """What is asked about a result, with its name."""
    result = next(one for one in diagnosis.results if one.id == question.result)
    says = sayer.say(question.says)
    return f"{sayer.words.result(result)}: {says}{'' if says.endswith('?') else '.'}"


def not_measured(one: NotMeasured, words: Words) -> str:
    """A test that the sheet lacks."""
    outside = " (only made outside the conditions that it demands)" if one.invalid else ""
    return words.test(one.test) + outside


def title_of(diagnosis: Diagnosis, words: Words, cause: str, part: str) -> str:
    """The title of a ranked cause; of a sign or another word at a part where it is none."""
    for ranked in diagnosis.causes:
        if (ranked.cause, ranked.part) == (cause, part):
            return words.cause(ranked)
    return f"{sentence(spaced(cause).replace('.', ' '))}, {words.place(part)}"


# --- findings -------------------------------------------------------------------------


def _findings(diagnosis: Diagnosis, words: Words, sayer: Sayer, all_results: bool) -> Iterator[Block]:
    yield Heading("Findings")
    yield Para(tally(diagnosis.results))
    shown = sorted(
        (result for result in diagnosis.results if all_results or worth_showing(result)),
        key=lambda result: _ORDER.index(result.verdict),
    )
    if shown:
        rows = tuple(
            Row((words.result(result), words.value(result), _limit(words, result), words.judged(result)), _tone(result))
            for result in shown
        )
        yield Table(("Test", "Measured", "Accepted", "Says"), rows, right=(1,))
    if notes := tuple(_notes(shown, sayer, computed=all_results or len(shown) <= _FEW)):
        yield Items(notes, "dim")


def worth_showing(result: Result) -> bool:
    """Out, near, not valid, or an outcome of a check."""
    return result.verdict in ("fail", "near", "invalid") or isinstance(result, CheckResult)


def tally(results: tuple[Result, ...]) -> str:
    """How many results say what: `4 out, 1 near the limit, 12 in order`."""
    if not results:
        return "Nothing was measured."
    measured = [result for result in results if isinstance(result, Measured)]
    codes = sum(isinstance(result, CodeResult) and result.active is True for result in results)
    signs = sum(isinstance(result, SignResult) and result.seen for result in results)
    counts = [
        f"{number} {say.VERDICTS[verdict]}"
        for verdict in ("fail", "near", "pass", "invalid", "unjudged")
        if (number := sum(result.verdict == verdict for result in measured))
    ]
    counts += [f"{counted(codes, 'fault code')} active"] if codes else []
    counts += [f"{counted(signs, 'sign')} seen"] if signs else []
    return f"{sentence(', '.join(counts) or 'nothing out')}."


def _notes(results: list[Result], sayer: Sayer, *, computed: bool) -> Iterator[str]:
    """What was noted of results and computed beside them; a note of several results is said once."""
    notes = {sayer.words.result(result): notes_of(result, sayer, computed) for result in results}
    by_note: dict[str, list[str]] = {}
    for title, texts in notes.items():
        for text in texts:
            by_note.setdefault(text, []).append(title)
    for text, titles in by_note.items():
        if len(titles) > 1:
            yield f"{_listed(titles)}: {text}"
    for title, texts in notes.items():
        if own := [text for text in texts if len(by_note[text]) == 1]:
            yield f"{title}: {'; '.join(own)}"


def _listed(titles: list[str]) -> str:
    """Two titles in full, more of them counted."""
    return "; ".join(titles) if len(titles) <= _NAMED else counted(len(titles), "result")


def notes_of(result: Result, sayer: Sayer, computed: bool) -> list[str]:
    """The notes of a result, what it was compared with, and what was computed beside it."""
    words = sayer.words
    notes = [sayer.say(note) for note in result.notes]
    if not isinstance(result, Measured):
        return notes
    if result.basis not in (None, "limit", "twin"):  # the notes name its counterpart
        notes.append(f"compared with {say.BASES[result.basis]}")
    if computed and result.computed:
        notes.append(", ".join(words.computed(name, figure) for name, figure in result.computed.items()))
    return notes


def _limit(words: Words, result: Result) -> str:
    if not isinstance(result, Measured):
        return ""
    limit, new = words.limit(result), words.new(result)
    return limit or (f"new {new}" if new else "")


def _tone(result: Result) -> Tone:
    return _TONES[result.verdict]


# --- causes ---------------------------------------------------------------------------


def _causes(diagnosis: Diagnosis, words: Words) -> Iterator[Block]:
    if not diagnosis.causes:
        return
    yield Heading("Causes")
    rows: list[Row] = []
    shown: set[int] = set()
    for group in sorted(diagnosis.groups, key=lambda group: -group.probability):
        members = [index for index in group.members if diagnosis.causes[index].probability >= _LEAST]
        if not members or len(rows) >= _CAUSES:
            continue
        several = len(group.members) > 1
        if several:
            rows.append(
                Row((sentence(safe(group_title(group, diagnosis.causes))), *_share(group.probability), ""), "lead")
            )
        rows += [_cause_row(diagnosis.causes[index], words, int(several)) for index in members]
        shown.update(members)
    yield Table(("Cause", "Share", "How sure", "How bad"), tuple(rows), right=(1,))
    rest = sum(cause.probability for index, cause in enumerate(diagnosis.causes) if index not in shown)
    if hidden := len(diagnosis.causes) - len(shown):
        yield Para(f"{counted(hidden, 'other cause')} together: {say.percent(rest)}.", "dim")
    yield from _groups(diagnosis, words)
    if diagnosis.sets:
        yield Items(
            tuple(
                f"At once: {listed([words.cause(diagnosis.causes[member]) for member in found.members])}"
                f" ({say.percent(found.probability)})"
                for found in diagnosis.sets[:3]
            )
        )


def _cause_row(cause: RankedCause, words: Words, level: int) -> Row:
    severity = words.severity(cause.severity) if cause.severity else ""
    return Row((words.cause(cause), *_share(cause.probability), severity), level=level)


def _share(probability: float) -> tuple[str, str]:
    return say.percent(probability), say.sure(probability)


def _groups(diagnosis: Diagnosis, words: Words) -> Iterator[Block]:
    """What would tell the causes apart that these readings cannot."""
    for group in diagnosis.groups:
        if len(group.members) < 2 or group.probability < _PARTED:
            continue
        first, *others = (words.cause(diagnosis.causes[index]) for index in group.members)
        rest = f"the {len(others)} others" if len(others) > _NAMED else listed(others)
        if group.parted_by:
            yield Para(f"To tell {first} from {rest}: {_check_title(diagnosis, words, group)}.")
        else:
            yield Para(f"No check of the knowledge base tells {first} from {rest}.")


def _check_title(diagnosis: Diagnosis, words: Words, group: Group) -> str:
    check = group.parted_by or ""
    found = next((entry for entry in diagnosis.checks if entry.check == check), None)
    if found is not None:
        return words.check(found.check, found.part)
    return words.check(check, diagnosis.causes[group.members[0]].part)


def _why(diagnosis: Diagnosis, words: Words, sayer: Sayer) -> Iterator[Block]:
    group = leading(diagnosis)
    if group is None:
        return
    cause = diagnosis.causes[group.members[0]]
    titles = {result.id: words.result(result) for result in diagnosis.results}
    reasons = [
        f"{titles.get(entry.result, safe(entry.result))}: {say.weight(entry.weight)}"
        for entry in sorted((*cause.speaks_for, *cause.speaks_against), key=lambda entry: -abs(entry.weight))[:_REASONS]
        if abs(entry.weight) >= say.STRENGTH[-1][0]
    ]
    members = {(diagnosis.causes[index].cause, diagnosis.causes[index].part) for index in group.members}
    because = dict.fromkeys(
        sentence(sayer.filled(suspicion.because))
        for suspicion in diagnosis.suspicions
        if (suspicion.cause, suspicion.part) in members
    )
    if reasons or because:
        yield Heading(f"Why: {words.cause(cause)}")
        yield Items((*because, *reasons))


# --- tree, checks, plan ---------------------------------------------------------------


def _branch(node: TreeNode, sayer: Sayer) -> Branch:
    text = sentence(sayer.node(node.says))
    if node.probability is not None and node.kind != "symptom":
        text += f" – {say.percent(node.probability)}"
    if node.kind == "check":
        text = "Check: " + text
    tone: Tone = "lead" if node.kind in ("symptom", "cause") else "dim" if node.kind == "check" else "plain"
    return Branch(text, tone, tuple(_branch(child, sayer) for child in node.children))


def _checks(diagnosis: Diagnosis, words: Words) -> Iterator[Block]:
    if not diagnosis.checks:
        return
    yield Heading("Next checks, the most telling for its time first")
    for number, check in enumerate(diagnosis.checks[:_CHECKS], 1):
        yield Step(
            number,
            tuple(words.caution(caution) for caution in check.cautions),
            sentence(words.check(check.check, check.part)),
            say.check_needs(check),
            how_to(check),
            tuple(_outcomes(diagnosis, words, check)),
        )
    if (more := len(diagnosis.checks) - _CHECKS) > 0:
        yield Para(f"{counted(more, 'further check')} would help less for the time.", "dim")


def how_to(check: NextCheck) -> str:
    """How a check is made, and what can mislead."""
    return " ".join([*(safe(text) for text in check.how), *([f"Mind: {safe(check.trap)}"] if check.trap else [])])


def _outcomes(diagnosis: Diagnosis, words: Words, check: NextCheck) -> Iterator[str]:
    for outcome in check.outcomes:
        then = remaining(diagnosis, words, outcome.then)
        yield f"{sentence(safe(outcome.says))} ({say.percent(outcome.probability)}){f' → {then}' if then else ''}"


def remaining(diagnosis: Diagnosis, words: Words, left: tuple[Remaining, ...]) -> str:
    """What would remain: causes with their shares."""
    return ", ".join(
        f"{title_of(diagnosis, words, entry.cause, entry.part)} ({say.percent(entry.probability)})"
        for entry in left
        if entry.probability >= _LEAST
    )


def _plan(diagnosis: Diagnosis, words: Words, sayer: Sayer) -> Iterator[Block]:
    plan = diagnosis.plan
    if plan.first is None and not plan.remarks:
        return
    yield Heading("Plan")
    if plan.expected_minutes is not None:
        expected = say.minutes(plan.expected_minutes)
        yield Para(f"Expected time until one part is left, or causes no check tells apart: {expected}.")
    if plan.first is not None:
        yield Tree(_plan_branch(diagnosis, words, plan.first, _PLAN_DEPTH))
    if plan.remarks:
        yield Items(tuple(sentence(sayer.say(remark)) for remark in plan.remarks))
    if plan.gauge_points:
        yield Items(tuple(_gauge_point(one, words) for one in plan.gauge_points))


def _gauge_point(one: GaugePoint, words: Words) -> str:
    function, part = words.function(one.function), words.part(one.behind)
    sides = f"{say.percent(one.before)} before it, {say.percent(one.after)} behind it"
    return f"A pressure gauge behind the {part} would split best what is suspected on the way of {function}: {sides}."


def _plan_branch(diagnosis: Diagnosis, words: Words, step: PlanStep, depth: int) -> Branch:
    children: list[Branch] = []
    for branch in step.branches:
        text = f"{sentence(safe(branch.says))} ({say.percent(branch.probability)})"
        if branch.next is None:
            left = remaining(diagnosis, words, branch.isolated)
            children.append(Branch(f"{text} → {left}" if left else text))
        elif depth <= 1:
            children.append(Branch(f"{text} → then {words.check(branch.next.check, branch.next.part)}"))
        else:
            children.append(Branch(text, children=(_plan_branch(diagnosis, words, branch.next, depth - 1),)))
    return Branch(
        f"{sentence(words.check(step.check, step.part))} ({say.minutes(step.minutes)})", "lead", tuple(children)
    )
