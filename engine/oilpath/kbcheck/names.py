"""References between the files of a knowledge base: ids that exist, sources, checks that tell causes apart, the
rule engine's limits far away.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from oilpath.kbcheck.circuits import check_circuits
from oilpath.kbcheck.entries import Entry, missing
from oilpath.kbcheck.kinds import check_kinds, check_scatter
from oilpath.kbcheck.measuring import check_measures
from oilpath.kbcheck.scopes import check_scopes
from oilpath.kbcheck.vocabulary import check_words
from oilpath.knowledge.base import Caution, Knowledge
from oilpath.knowledge.cause import Cause, CausePlace
from oilpath.knowledge.check import Check
from oilpath.knowledge.files import FolderContent
from oilpath.knowledge.parameters import MOST, PARAMETERS
from oilpath.knowledge.rule import PAIRS, Rule, asserted_by
from oilpath.knowledge.stance import Pose
from oilpath.knowledge.testkind import Phase, TestKind, TestVariant
from oilpath.problems import Problem

FREE_SOURCES = ("common practice", "from memory")
"""what an entry may name as its source beside the ids of `sources.yaml`"""

OWN_SOURCE = "own experience"
"""what an entry of a layer may name as well"""


def check_layer(known: Knowledge, layer: FolderContent) -> list[Problem]:
    """Findings on the names of one layer, its circuits included, by file and line."""
    entries = list(layer.entries)
    return [*check_names(known, entries), *check_circuits(known, layer), *check_scatter(known, entries)]


def check_names(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    """Findings of all checks below."""
    for check in _CHECKS:
        yield from check(known, entries)


def _sources(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    for entry in entries:
        source = getattr(entry.value, "source", None)
        free = (*FREE_SOURCES, OWN_SOURCE) if entry.layer else FREE_SOURCES
        if source is None or source in free:
            continue
        for word in (part.strip() for part in source.split(";")):
            if word not in known.sources and word not in free:
                yield missing(entry, "source", word, [*known.sources, *free])


def _cautions(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    for entry in entries:
        for word in getattr(entry.value, "cautions", ()):
            if word not in known.cautions:
                yield missing(entry, "caution", word, known.cautions)
        if isinstance(entry.value, Caution):
            yield from _unknown_classes(known, entry, entry.value.needs)


def _unknown_classes(known: Knowledge, entry: Entry, names: Iterable[str]) -> Iterator[Problem]:
    classes = {part.class_ for circuit in known.circuits.values() for part in circuit.parts.values()}
    yield from (missing(entry, "part class", name, classes) for name in names if name not in classes)


def _places(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    parts = {name for circuit in known.circuits.values() for name in circuit.parts}
    classes = {part.class_ for circuit in known.circuits.values() for part in circuit.parts.values()}
    for entry in entries:
        place = getattr(entry.value, "at", None)
        if not isinstance(place, CausePlace):
            continue
        for word in place.class_:
            if word not in classes:
                yield missing(entry, "part class", word, classes)
        for word in place.parts:
            if word not in parts:
                yield missing(entry, "part", word, parts)
        if not place.class_ and not place.parts:
            yield Problem(entry.file, entry.line, entry.key, "stands at no part", "a class or parts under `at`")


def _causes(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    checks = {check.check for check in known.checks}
    seen: dict[str, Entry] = {}
    for entry in entries:
        if isinstance(entry.value, Cause):
            if entry.key in seen:
                yield Problem(entry.file, entry.line, entry.key, "is there twice", f"see {seen[entry.key].file}")
            seen[entry.key] = entry
            for word in entry.value.checks:
                if word not in checks:
                    yield missing(entry, "check", word, checks)
            for word in (*entry.value.titles, *entry.value.frequencies):
                if word not in entry.value.ways:
                    yield missing(entry, "way", word, entry.value.ways)
            if not entry.value.disturbs and not entry.value.ways:
                yield Problem(entry.file, entry.line, entry.key, "disturbs nothing", "`disturbs` or `ways`")
            for disturbs in (*entry.value.disturbs, *(one for way in entry.value.ways.values() for one in way)):
                if disturbs.of is not None:
                    yield from _unknown_classes(known, entry, [disturbs.of])
                least = PARAMETERS[disturbs.parameter].least
                for value in (disturbs.from_, disturbs.to):
                    if not least <= value <= MOST:
                        what = f"disturbs {disturbs.parameter} to {value:.6g}"
                        yield Problem(entry.file, entry.line, entry.key, what, f"from {least:g} to {MOST:g}")


def _rules(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    from oilpath.rules.engine import engine_limits
    from oilpath.rules.strata import CircularRules, strata, unasserted

    causes = {cause.cause for cause in known.causes}
    words = {word for rule in known.rules for word in asserted_by(rule)}
    lacking = unasserted(known.rules)
    for entry in entries:
        if isinstance(entry.value, Rule):
            if not f"/{entry.file}".endswith(f"/rules/{entry.value.id}.yaml"):
                yield Problem(
                    entry.file, entry.line, entry.key, "does not stand in a file of its name", "one rule a file"
                )
            for cause in [one.cause for one in entry.value.suspect] + [one.cause for one in entry.value.clears]:
                if cause not in causes:
                    yield missing(entry, "cause", cause, causes)
            for test in entry.value.asks:
                if test not in known.tests:
                    yield missing(entry, "test", test, known.tests)
            for word in lacking.get(entry.value.id, ()):
                yield missing(entry, "narrowing that a rule asserts", word, words)
    own = [entry.layer for entry in entries if isinstance(entry.value, Rule)]
    for text in engine_limits(known.rules) if own else ():
        yield Problem(own[0] or "rules", 1, "-", text, "split the rules into several rulesets")
    try:
        strata(known.rules if own else ())
    except CircularRules as error:
        yield Problem(own[0] or "rules", 1, "-", str(error), "rules that ask only for what rules below them assert")


def _tells(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    """Checks name causes that exist and tell at least two things apart."""
    causes = {cause.cause for cause in known.causes}
    classes = {cause.split(".")[0] for cause in causes}
    for entry in entries:
        if not isinstance(entry.value, Check):
            continue
        named = [word for tells in entry.value.tells for word in tells.causes]
        for word in named:
            stem, _, kind = word.partition(".")
            if word not in causes and not (kind == "*" and stem in classes):
                yield missing(entry, "cause", word, causes)
        if not named and not entry.value.measures:
            yield Problem(entry.file, entry.line, entry.key, "tells no causes apart", "`tells` with at least one cause")


def _days(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    """What tests.yaml names exists: stretches of the day, tests, variants and their pairs, classes of parts."""
    phases = [phase.phase for phase in known.day.phases]
    for entry in entries:
        value = entry.value
        if isinstance(value, Phase):
            yield from (missing(entry, "test", name, known.tests) for name in value.tests if name not in known.tests)
            if value.variant is not None and value.variant not in known.variants:
                yield missing(entry, "variant", value.variant, known.variants)
        elif isinstance(value, TestKind):
            if phases and value.phase not in phases:
                yield missing(entry, "stretch of the day", value.phase, phases)
            yield from _unknown_classes(known, entry, value.needs)
            if value.space is not None and value.space.instead not in (None, *known.tests):
                yield missing(entry, "test", str(value.space.instead), known.tests)
        elif isinstance(value, TestVariant):
            if value.pair is not None and value.pair not in PAIRS:
                yield missing(entry, "pair", value.pair, PAIRS)
        elif isinstance(value, tuple) and entry.kind == "condition":  # its classes
            yield from _unknown_classes(known, entry, value)


def _stances(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    """How the machine stands for a test or a check is said, and what the second person is there for."""
    groups = {f.group for circuit in known.circuits.values() for f in circuit.functions.values()}
    for entry in entries:
        value = entry.value
        if isinstance(value, Pose):
            if not groups & set(value.links):  # each kind of machine takes the links that it has
                yield missing(entry, "group of functions", ", ".join(value.links), groups)
        elif isinstance(value, Check | TestKind):
            if value.posture is not None and value.posture.pose not in known.poses:
                yield missing(entry, "pose", value.posture.pose, known.poses)
            if (value.people > 1) != (value.takes.helper is not None):
                what = f"takes {value.people}, and {'no' if value.people > 1 else 'a'} helper is named"
                accepted = "`people: 2` and `takes: {helper: …}`, or neither"
                yield Problem(entry.file, entry.line, entry.key, what, accepted)


_CHECKS: tuple[Callable[[Knowledge, list[Entry]], Iterator[Problem]], ...] = (
    _sources, _cautions, _places, _causes, _rules, _tells, check_measures, check_kinds, _days, _stances, check_scopes,
    check_words,
)  # fmt: skip
