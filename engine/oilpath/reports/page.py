"""The answer laid out once, as plain blocks; `text` and `markdown` only render them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from oilpath.flow import (
    CheckResult,
    Diagnosis,
    GaugePoint,
    Measured,
    NextCheck,
    PlanStep,
    RankedCause,
    Remaining,
    Result,
    TreeNode,
)
from oilpath.flow.notes import Named, Note
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER, Bar, Block, Branch, Heading, Items, Para, Row, Step, Table, Tone, Tree
from oilpath.reports.conclusions import (
    carrying,
    check_title,
    leading,
    named_sheet,
    next_checks,
    not_measured,
    not_shown,
    question_text,
    reasons,
    suspects,
    title_of,
)
from oilpath.reports.heard import HEADING as HEARD
from oilpath.reports.heard import heard_sentences
from oilpath.reports.jobs import comeback_blocks, similar_blocks
from oilpath.reports.layers import lost_sentences, replaced_sentence
from oilpath.reports.names import counted, group_title, listed, safe, sentence
from oilpath.reports.notes import Sayer, sayer_of
from oilpath.reports.reasons import chain_branches, chain_lines
from oilpath.reports.screen import first_screen
from oilpath.reports.words import Words
from oilpath.reports.work import BEFORE_START, evidence_titles, to_undo, work_page
from oilpath.session.way import records

_COMPLAINT: Final = "The complaint"  # the root of the tree: its words stand on the first screen
_LEAST: Final = 0.01  # causes with a smaller share are only counted
_CAUSES: Final = 8
_CHECKS: Final = 3
_REASONS: Final = 6
_FEW: Final = 6  # up to so many findings, computed figures are shown even if not asked for
_ORDER: Final = ("fail", "near", "invalid", "unjudged", "pass")
_CHAINED: Final = 0.1  # causes from this share on have their chain of reasons in the tree
_PLAN_DEPTH: Final = 3
_NAMED: Final = 2  # results or causes named one by one
_PARTED: Final = 0.05  # from this share on, a group says what tells its causes apart
_TONES: Final[dict[str, Tone]] = {"fail": "out", "near": "near", "pass": "good", "invalid": "near", "unjudged": "dim"}


def lay_out(
    diagnosis: Diagnosis, words: Words, *, all_results: bool = False, all_rows: bool = False, short: bool = False
) -> Iterator[Block]:
    """The blocks of an answer, top to bottom: one screen that says what matters, then all the rest (not for short).

    all_results: every result with its notes; all_rows: every result in the table, with notes on what is worth showing,
    and nothing cut to the size of a screen.
    """
    sayer = sayer_of(diagnosis, words)
    yield from first_screen(diagnosis, words, sayer, alone=short, fit=not all_rows)
    if not short:
        yield from _whole(diagnosis, words, sayer, all_results, all_results or all_rows)


def _whole(diagnosis: Diagnosis, words: Words, sayer: Sayer, all_results: bool, all_rows: bool) -> Iterator[Block]:
    """What follows the first screen, which is not said again."""
    if diagnosis.history:
        yield Heading("History")
        yield Items(tuple(safe(text) for text in diagnosis.history))
    if diagnosis.comeback is not None:
        yield from comeback_blocks(diagnosis.comeback, diagnosis, words, sayer)
    if others := diagnosis.questions[1:]:
        yield Heading("Also check these entries")
        yield Items(tuple(question_text(diagnosis, one, sayer) for one in others), "near")
    yield from _findings(diagnosis, words, sayer, all_results, all_rows)
    yield from _causes(diagnosis, words)
    yield from _why(diagnosis, words, sayer)
    if diagnosis.tree.children:
        yield Heading("Troubleshooting tree")
        root = _branch(diagnosis.tree, diagnosis, sayer, set())
        yield Tree(replace(root, text=_COMPLAINT) if diagnosis.complaint else root)
    yield from similar_blocks(diagnosis, words)
    yield from _checks(diagnosis, words)
    yield from _plan(diagnosis, words, sayer)
    for title, texts, tone in (
        ("Moved on the machine", [sentence(text) for text in work_page(diagnosis.work, words)], "plain"),
        (BEFORE_START, [f"{text}." for text in to_undo(diagnosis.work, words)], "caution"),
        ("Not measured", [sentence(one) for one in not_measured(diagnosis, words)], "plain"),
        ("Warnings", _warnings(diagnosis, sayer), "near"),
        (HEARD, list(heard_sentences(diagnosis, words)), "plain"),
        ("Cautions", _cautions(diagnosis, words), "caution"),
    ):
        if texts:
            yield Heading(title)
            yield Items(tuple(dict.fromkeys(texts)), tone)  # type: ignore[arg-type]
    if not words.knowledge.always:  # these say it too
        yield Para(DEFER, "dim")
    if own := replaced_sentence(diagnosis.replaced):
        yield Para(safe(own), "dim")
    versions = f"oilpath {diagnosis.tool_version}, knowledge {diagnosis.knowledge_version[:19]}"
    yield Para(f"{versions}, {named_sheet(diagnosis)}", "dim")


def _warnings(diagnosis: Diagnosis, sayer: Sayer) -> list[str]:
    """What a workshop's own layer takes away comes first."""
    lost = [sentence(safe(text)) for text in lost_sentences(diagnosis.replaced)]
    return [*lost, *(sayer.say(text) for text in diagnosis.warnings)]


def _cautions(diagnosis: Diagnosis, words: Words) -> list[str]:
    """General cautions; those already said before a check are not repeated."""
    said = {words.caution(caution) for check in diagnosis.checks[:_CHECKS] for caution in check.cautions}
    return [text for caution in diagnosis.cautions if (text := words.caution(caution)) not in said]


# --- findings -------------------------------------------------------------------------


def _findings(diagnosis: Diagnosis, words: Words, sayer: Sayer, all_results: bool, all_rows: bool) -> Iterator[Block]:
    yield Heading("Findings")
    shown = sorted(
        (result for result in diagnosis.results if all_rows or worth_showing(result)),
        key=lambda result: _ORDER.index(result.verdict),
    )
    if shown:
        rows = tuple(
            Row(
                (words.result(result), words.value(result), _limit(words, result), words.judged(result)),
                _tone(result),
                bar=bar_of(result),
            )
            for result in shown
        )
        yield Table(("Test", "Measured", "Accepted", "Verdict"), rows, right=(1,))
    noted = [result for result in shown if all_results or worth_showing(result)]
    if notes := tuple(_notes(noted, sayer, computed=all_results or len(noted) <= _FEW)):
        yield Items(notes, "dim")


def worth_showing(result: Result) -> bool:
    """Out, near, not valid, or an outcome of a check."""
    return result.verdict in ("fail", "near", "invalid") or isinstance(result, CheckResult)


def _notes(results: list[Result], sayer: Sayer, *, computed: bool) -> Iterator[str]:
    """Notes on results and figures computed for them; a note that several results share is shown once."""
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
    """Two titles in full; more are counted."""
    return "; ".join(titles) if len(titles) <= _NAMED else counted(len(titles), "result")


def notes_of(result: Result, sayer: Sayer, computed: bool) -> list[str]:
    """The notes of a result, what it was compared with, and what was computed for it."""
    words = sayer.words
    notes = [sayer.say(note) for note in result.notes]
    if not isinstance(result, Measured):
        return notes
    if result.basis not in (None, "limit", "twin", "sister"):  # the notes name its counterpart
        notes.append(f"compared with {say.BASES[result.basis]}")
    if computed and result.computed:
        notes.append(", ".join(words.computed(name, figure) for name, figure in result.computed.items()))
    return notes


def _limit(words: Words, result: Result) -> str:
    if not isinstance(result, Measured):
        return ""
    limit, new = words.limit(result), words.new(result)
    return limit or (f"new {new}" if new else "")


def bar_of(result: Result) -> Bar | None:
    """What is drawn of a measured result that has a limit; a side is drawn as a size."""
    if not isinstance(result, Measured) or (result.min is None and result.max is None):
        return None
    return Bar(result.value, result.uncertainty or 0.0, result.min, result.max, result.new)


def _tone(result: Result) -> Tone:
    return _TONES[result.verdict]


# --- causes ---------------------------------------------------------------------------


def _causes(diagnosis: Diagnosis, words: Words) -> Iterator[Block]:
    if not diagnosis.causes:
        return
    yield Heading("Causes")
    rows: list[Row] = []
    shown: set[int] = set()
    lead, heap = leading(diagnosis), not_shown(diagnosis, words)
    for group in diagnosis.groups:
        if group.silent and group is not lead:
            shown.update(group.members if heap else ())
            continue
        members = [index for index in group.members if diagnosis.causes[index].probability >= _LEAST]
        if not members or len(rows) >= _CAUSES:
            continue
        several = len(group.members) > 1
        if several:
            rows.append(
                Row(
                    (sentence(safe(group_title(group, diagnosis.causes))), *_share(group.probability), ""),
                    "lead",
                    share=group.probability,
                )
            )
        rows += [_cause_row(diagnosis.causes[index], words, int(several)) for index in members]
        shown.update(members)
    yield Table(("Cause", "Share", "How sure", "How bad"), tuple(rows), right=(1,))
    rest = sum(cause.probability for index, cause in enumerate(diagnosis.causes) if index not in shown)
    if hidden := len(diagnosis.causes) - len(shown):
        yield Para(f"{counted(hidden, 'other cause')} together: {say.percent(rest)}.", "dim")
    if heap:
        yield Para(heap, "dim")
    yield from _groups(diagnosis, words)
    if diagnosis.sets:
        yield Items(
            tuple(
                f"At the same time: {listed([words.cause(diagnosis.causes[member]) for member in found.members])}"
                f" ({say.percent(found.probability)})"
                for found in diagnosis.sets[:3]
            )
        )


def _cause_row(cause: RankedCause, words: Words, level: int) -> Row:
    severity = words.severity(cause.severity) if cause.severity else ""
    return Row((words.cause(cause), *_share(cause.probability), severity), level=level, share=cause.probability)


def _share(probability: float) -> tuple[str, str]:
    return say.percent(probability), say.sure(probability)


def _groups(diagnosis: Diagnosis, words: Words) -> Iterator[Block]:
    """What would tell apart the causes that these readings cannot."""
    lead = leading(diagnosis)
    for group in diagnosis.groups:
        if len(group.members) < 2 or group.probability < _PARTED or (group.silent and group is not lead):
            continue
        first, *others = (words.cause(diagnosis.causes[index]) for index in group.members)
        rest = f"the {len(others)} others" if len(others) > _NAMED else listed(others)
        if group.parted_by:
            yield Para(f"To tell {first} from {rest}: {check_title(diagnosis, words, group)}.")
        else:
            yield Para(f"No check in the knowledge base tells {first} from {rest}.")


def _why(diagnosis: Diagnosis, words: Words, sayer: Sayer) -> Iterator[Block]:
    group = leading(diagnosis)
    if group is None:
        return
    cause = diagnosis.causes[group.members[0]]
    titles = evidence_titles(diagnosis, words)
    found = reasons(cause, titles)[:_REASONS]
    weighed = [f"{name.removesuffix(',')}: {say.weight(weight)}" for name, weight in found]
    members = {(diagnosis.causes[index].cause, diagnosis.causes[index].part) for index in group.members}
    said = carrying(diagnosis, suspects(diagnosis, words)[0], sayer)
    because = dict.fromkeys(
        sentence(sayer.filled(suspicion.because))
        for suspicion in diagnosis.suspicions
        if (suspicion.cause, suspicion.part) in members
    )
    if weighed or because:
        yield Heading(f"Why: {words.cause(cause)}")
        yield Items(tuple(text for text in (*because, *weighed) if text != said))
    if any(one.after for one in diagnosis.reasons) and (steps := chain_lines(diagnosis, sayer, sorted(members))):
        yield Heading("Step by step")
        yield Items(tuple(steps))
    if differing := [one for one in diagnosis.reasons if isinstance(one.says, Note)]:
        yield Items(tuple(sentence(sayer.value(one.says)) for one in differing), "near")


# --- tree, checks, plan ---------------------------------------------------------------


def _branch(node: TreeNode, diagnosis: Diagnosis, sayer: Sayer, said: set[int]) -> Branch:
    """A node with what is below it; a cause first with the chain of reasons that leads to it, each step told once."""
    text = sentence(sayer.node(node.says))
    if node.probability is not None and node.kind != "symptom":
        text += f" – {say.percent(node.probability)}"
    if node.kind == "check":
        text = "Check: " + text
    tone: Tone = "lead" if node.kind in ("symptom", "cause") else "dim" if node.kind == "check" else "plain"
    chain: tuple[Branch, ...] = ()
    if isinstance(node.says, Named) and node.kind == "cause" and (node.probability or 0.0) >= _CHAINED:
        chain = chain_branches(diagnosis, sayer, (node.says.id, node.says.at), said)
    return Branch(text, tone, (*chain, *(_branch(child, diagnosis, sayer, said) for child in node.children)))


def _checks(diagnosis: Diagnosis, words: Words) -> Iterator[Block]:
    if not next_checks(diagnosis):
        return
    yield Heading("Next checks, most informative for their time first")
    said: set[str] = set()
    for number, check in enumerate(next_checks(diagnosis)[:_CHECKS], 1):
        yield Step(
            number,
            tuple(words.brief_caution(one) if one in said else words.caution(one) for one in check.cautions),
            sentence(words.check(check.check, check.part)),
            say.check_needs(check),
            how_to(check),
            (*_outcomes(diagnosis, words, check), *recorded(check)),
        )
        said.update(check.cautions)
    if (more := len(diagnosis.checks) - _CHECKS) > 0:
        yield Para(f"{counted(more, 'further check')} would tell less for their time.", "dim")


def how_to(check: NextCheck) -> str:
    """How to do a check, and what can mislead."""
    return " ".join([*(safe(text) for text in check.how), *([f"Note: {safe(check.trap)}"] if check.trap else [])])


def recorded(check: NextCheck) -> Iterator[str]:
    """The line of the sheet that records a check, with the words for its outcomes."""
    lines = records(check)
    for line in list(lines.values())[:1]:
        rest = f" (or {', '.join(list(lines)[1:])})" if len(lines) > 1 else ""
        yield f"On the sheet: {line}{rest}"


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
        yield Para(f"Expected time until one part is left, or causes that no check tells apart: {expected}.")
    if plan.first is not None:
        yield Tree(_plan_branch(diagnosis, words, plan.first, _PLAN_DEPTH))
    if plan.remarks:
        yield Items(tuple(sentence(sayer.say(remark)) for remark in plan.remarks))
    if plan.gauge_points:
        yield Items(tuple(_gauge_point(one, words) for one in plan.gauge_points))


def _gauge_point(one: GaugePoint, words: Words) -> str:
    function, part = words.function(one.function), words.part(one.behind)
    sides = f"{say.percent(one.before)} before it, {say.percent(one.after)} after it"
    return f"A pressure gauge after the {part} would best divide the suspects along the path of {function}: {sides}."


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
