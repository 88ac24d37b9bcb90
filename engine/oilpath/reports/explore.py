"""What is known of a topic without a sheet, as blocks of a page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from oilpath.explore.links import Spoken
from oilpath.explore.topics import general_title
from oilpath.explore.views import (
    ApartView,
    CauseView,
    CheckView,
    PartView,
    ReadingsView,
    SuspectView,
    View,
)
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.check import Check
from oilpath.knowledge.rule import Rule
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER, Block, Branch, Heading, Items, Para, Row, Table, Title, Tree
from oilpath.reports.explore_cause import lay_out_apart, lay_out_cause
from oilpath.reports.explore_words import (
    because,
    cause_title,
    cautions,
    change,
    facts,
    hypothesis_title,
    needs,
    reading_title,
)
from oilpath.reports.names import counted, listed, safe, sentence, small, spaced
from oilpath.reports.words import Words
from oilpath.units import figure

_SPOKEN: Final = 8
_INTRUSION: Final = ("look, listen, stopwatch", "gauge on a test port", "a line is opened", "something is dismantled")
IN_GENERAL: Final = "The answer for this sheet holds nothing of that name. What is known of it in general:"


def lay_out_view(view: View, words: Words) -> Iterator[Block]:
    """The page of one topic; it ends with what comes first."""
    match view:
        case CauseView():
            yield from lay_out_cause(view, words)
        case ApartView():
            yield from lay_out_apart(view, words)
        case SuspectView():
            yield from _suspects(view, words)
        case ReadingsView():
            yield from _readings(view, words)
        case PartView():
            yield from _part(view, words)
        case CheckView():
            yield from _check(view, words)
    yield Para(DEFER, "dim")


def _mechanism(cause: Cause) -> tuple[Branch, ...]:
    return (Branch(safe(cause.mechanism)), Branch(f"Shows as: {safe(cause.signature)}", "dim"))


# --- a sign or a symptom ----------------------------------------------------------------


def _suspects(view: SuspectView, words: Words) -> Iterator[Block]:
    sign = words.knowledge.signs.get(view.topic.id) if view.topic.kind == "sign" else None
    title = safe(sign.title if sign is not None else view.rules[0].title)
    yield Title(title)
    if sign is not None:
        if sign.stop_use:
            yield Para(safe(sign.stop_use), "stop", "STOP USE")
        if sign.cautions:
            yield Items(cautions(sign.cautions, words), "caution")
        yield facts(("Sign", view.topic.id), ("Look for", sign.look), ("Source", sign.source))
    else:
        rule = view.rules[0]
        yield facts(
            ("Pitfall" if rule.warn else "Symptom", rule.id),
            ("Warning" if rule.warn else "Why", because(rule)),
            ("Source", rule.source),
        )
    branches = tuple(_suspected(view, words))
    if branches:
        yield Heading("What can cause it")
        yield Tree(Branch(title, "lead", branches))
    elif sign is not None:
        yield Para("No rule names a cause for it.")
    if view.leads_to:
        kinds = {cause.cause: cause for cause in words.knowledge.causes}
        yield Heading("What it narrows down, with what else is known")
        yield Tree(Branch(title, "lead", tuple(_next_step(rule, kinds) for rule in view.leads_to)))
    if view.rests_on:
        yield Heading("What it rests on")
        yield Items(tuple(f"{sentence(safe(rule.title))} ({rule.id})" for rule in view.rests_on))


def _suspected(view: SuspectView, words: Words) -> Iterator[Branch]:
    kinds = {cause.cause: cause for cause in words.knowledge.causes}
    for rule in view.rules:
        best: dict[str, float] = {}
        for suspect in rule.suspect:
            best[suspect.cause] = max(best.get(suspect.cause, 0.0), suspect.likelihood or 0.0)
        named = sorted((one for one in best if one in kinds), key=lambda one: -best[one])
        branches = tuple(_kind(kinds[one], best[one]) for one in named)
        if len(view.rules) == 1 and view.topic.kind != "sign":
            yield from branches
        elif branches:
            yield Branch(because(rule), "plain", branches)


def _next_step(rule: Rule, kinds: Mapping[str, Cause]) -> Branch:
    """A rule that goes on from another one, with what it suspects and clears."""
    found = [(one.cause, "") for one in rule.suspect] + [(one.cause, "cleared: ") for one in rule.clears]
    below = (f"{how}{cause_title(kinds[one])} ({one})" for one, how in dict.fromkeys(found) if one in kinds)
    return Branch(
        f"{sentence(safe(rule.title))} ({rule.id}): {because(rule)}", "plain", tuple(Branch(one) for one in below)
    )


def _kind(cause: Cause, ratio: float = 0.0) -> Branch:
    strength = f"; the sign is {figure(ratio, 2)} times as probable with it as without" if ratio else ""
    return Branch(f"{cause_title(cause)} ({cause.cause}), {cause.frequency}{strength}", "lead", _mechanism(cause))


# --- a test, a reading or a function -----------------------------------------------------


def _readings(view: ReadingsView, words: Words) -> Iterator[Block]:
    topic = view.topic
    if topic.kind == "function":
        title = sentence(words.function(topic.id))
        yield Title(title)
        path = " → ".join(words.part(part) for part in view.path)
        yield facts(("Function", topic.id), ("Oil's way", path))
    else:
        kind = words.knowledge.tests[topic.id]
        title = reading_title(view.readings[0], words) if topic.reading is not None else words.test(topic.id)
        yield Title(title)
        if kind.cautions:
            yield Items(cautions(kind.cautions, words), "caution")
        yield facts(("Test", topic.reading or topic.id), ("What it is", kind.says), ("Source", kind.source))
    yield Heading("What can cause it to be out")
    machine = words.machine
    on = f" of {safe(machine.name)}" if machine is not None else ""
    yield Para(
        f"By the circuit model{on}, each cause at a middle severity; shown is the reading that it moves furthest."
    )
    by_part: dict[str, list[Branch]] = {}
    for h, effect in view.causes:
        which = "" if len(view.readings) == 1 else f"{small(reading_title(effect.reading, words))}: "
        text = f"{hypothesis_title(h, words)} ({h.cause.cause}), {h.frequency}; {which}{change(effect, words)}"
        by_part.setdefault(h.part, []).append(Branch(text, children=(Branch(safe(h.cause.mechanism), "dim"),)))
    branches = (Branch(sentence(words.part(part)), "lead", tuple(found)) for part, found in by_part.items())
    yield Tree(Branch(title, "lead", tuple(branches)))


# --- a part ------------------------------------------------------------------------------


def _part(view: PartView, words: Words) -> Iterator[Block]:
    title = sentence(words.part(view.part))
    yield Title(title)
    yield facts(("Part", view.part), ("Serves", ", ".join(words.function(name) for name in view.functions)))
    if view.causes:
        yield Heading("What can be wrong with it")
        yield Tree(Branch(title, "lead", tuple(_kind(cause) for cause in view.causes)))
    if view.checks:
        yield Heading("Checks made at it")
        yield Items(tuple(_brief(check, view.part, words) for check in view.checks))


def _brief(check: Check, part: str, words: Words) -> str:
    return f"{sentence(words.check(check.check, part))} ({check.check}; about {say.minutes(check.minutes)})"


# --- a check -----------------------------------------------------------------------------


def _check(view: CheckView, words: Words) -> Iterator[Block]:
    check = view.check
    yield Title(sentence(words.check(check.check, view.part)))
    if check.cautions:
        yield Heading("Cautions")
        yield Items(cautions(check.cautions, words), "caution")
    others = [words.part(part) for part in view.parts if part != view.part]
    yield facts(
        ("Check", f"{check.check} at {words.part(view.part)}" + (f"; also at {listed(others)}" if others else "")),
        ("Takes", needs(check)),
        ("Work", _INTRUSION[check.intrusiveness]),
        ("How", " ".join(check.how)),
        ("Trap", check.trap),
        ("Source", check.source),
    )
    yield Heading("What each outcome speaks for")
    spoken: Iterable[tuple[Branch, ...]] = (_spoken(outcome, words) for outcome in view.outcomes)
    filled = tuple(spoken) or ((),) * len(check.outcomes)
    yield Tree(
        Branch(
            sentence(words.check(check.check, view.part)),
            "lead",
            tuple(
                Branch(f"{sentence(spaced(one.outcome))}: {safe(one.says)}", "lead", found)
                for one, found in zip(check.outcomes, filled, strict=True)
            ),
        )
    )
    if view.outcomes:
        yield Para("The first figure is how probable the outcome is with the cause, the second how probable without.")


def _spoken(outcome: Sequence[Spoken], words: Words) -> tuple[Branch, ...]:
    kinds = {cause.cause: cause for cause in words.knowledge.causes}
    shown = [
        Branch(
            f"{sentence(safe(kinds[one.cause].title.replace('{part}', words.part(one.part))))} ({one.cause}):"
            f" {say.percent(one.chance)}, {say.percent(one.sound)}"
        )
        for one in outcome[:_SPOKEN]
    ]
    if len(outcome) > _SPOKEN:
        shown.append(Branch(f"and {counted(len(outcome) - _SPOKEN, 'more cause')}", "dim"))
    return tuple(shown)


# --- everything --------------------------------------------------------------------------


def lay_out_topics(words: Words) -> Iterator[Block]:
    """What can be explored, by its kind: id and title; parts and functions of the machine that the words know."""
    yield Title("What can be explored")
    yield Para("Any of these by its id or its title: oilpath explore TOPIC. Two causes: --against.")
    for _, heading, entries in listed_topics(words):
        yield Heading(f"{heading} ({len(entries)})")
        yield Table(("Id", "Title"), tuple(Row(entry) for entry in entries.items()))


def listed_topics(words: Words) -> Iterator[tuple[str, str, dict[str, str]]]:
    """Each kind of topic with its heading and its entries, id → title."""
    knowledge, machine = words.knowledge, words.machine
    rules = {rule.id: rule.title for rule in knowledge.rules if rule.kind != "finding"}
    checks = {one.check: general_title(one.title, one.at.class_) for one in knowledge.checks}
    lists = [
        ("sign", "Signs", {one: sign.title for one, sign in knowledge.signs.items()}),
        ("symptom", "Symptoms and pitfalls", rules),
        ("test", "Tests", {one: test.title for one, test in knowledge.tests.items() if test.scatter is not None}),
        ("cause", "Causes", {cause.cause: cause_title(cause) for cause in knowledge.causes}),
        ("check", "Checks", checks),
    ]
    if machine is not None:
        circuit = machine.circuit
        functions = {one: function.title for one, function in circuit.functions.items()}
        lists += [
            ("function", f"Functions of {safe(circuit.title)}", functions),
            ("part", f"Parts of {safe(circuit.title)}", {one: part.title for one, part in circuit.parts.items()}),
        ]
    for kind, heading, entries in lists:
        yield kind, heading, {one: sentence(safe(title)) for one, title in entries.items()}
