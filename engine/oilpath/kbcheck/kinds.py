"""What tests.yaml and scatter.yaml name within a test kind and elsewhere: keys, quantities, figures of circuits.

A misspelt one of these stops nothing, it only counts for nothing: the oil's temperature is then not asked for.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from oilpath.kbcheck.entries import Entry, missing
from oilpath.knowledge.base import Knowledge, SharedScatter
from oilpath.knowledge.testkind import TestKind
from oilpath.physics.predictions import OBSERVABLE
from oilpath.problems import Problem
from oilpath.units import QUANTITIES, QuantityError, parse

NOT_OBSERVED = ("nothing", "creep", "temperature")
"""what a test may observe that the circuit model does not predict"""
SPLITTING = ("function", "group", "pump", "twins", "estimated")
"""words that split shared scatter beside the keys of the tests"""

_BRACES: Final = re.compile(r"\{([^{}]*)\}|[{}]")

Named = Iterator[tuple[str, str | None, Iterable[str]]]
"""what is named, its word, the words that exist"""


def check_kinds(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    """Every word of a test kind that names something which is not there."""
    groups = {f.group for circuit in known.circuits.values() for f in circuit.functions.values()}
    figures = {name for circuit in known.circuits.values() for name in circuit.values}
    for entry in entries:
        kind = entry.value
        if not isinstance(kind, TestKind):
            continue
        for what, word, there in (*_own(kind), *_elsewhere(kind, known, groups, figures)):
            if word is not None and word not in there:
                yield missing(entry, what, word, there)
        if kind.unit is not None and kind.quantity is not None and kind.quantity in QUANTITIES:
            try:
                parse(f"1 {kind.unit}", kind.quantity)
            except QuantityError as error:
                yield Problem(entry.file, entry.line, entry.key, f"unit: {error.message}", error.accepted)


def _own(kind: TestKind) -> Named:
    """Keys of the reading that its kind names."""
    limits, conditions = kind.limits, kind.conditions
    words = [*kind.id, *limits.where, *limits.unscaled, *conditions.least, *kind.alike]
    words += [found[1] or found[0] for found in _BRACES.finditer(kind.load)]
    words += [*kind.twin.by, *kind.twin.across] if kind.twin else []
    words += [kind.cooling.start, kind.cooling.end, kind.cooling.column] if kind.cooling else []
    single = (None if kind.derived else kind.value, limits.per, conditions.oil_temperature_from)
    for word in (*words, *single):
        yield "key of a reading", word, kind.keys
    for key, word in limits.unscaled.items():
        if key in kind.keys:
            yield f"word of {key}", word, kind.keys[key].words


def _elsewhere(kind: TestKind, known: Knowledge, groups: set[str], figures: set[str]) -> Named:
    for quantity in (kind.quantity, *(key.quantity for key in kind.keys.values())):
        yield "quantity", quantity, QUANTITIES
    yield "observation", kind.observe, (*OBSERVABLE, *NOT_OBSERVED)
    yield "test", kind.veer_as, known.tests
    for group in (*kind.limits.default_functions, *kind.uncorrected_groups):
        yield "group of functions", group, groups
    if kind.leakage is not None:
        yield "figure of a circuit", kind.leakage.of_circuit, figures


def check_scatter(known: Knowledge, entries: Iterable[Entry]) -> Iterator[Problem]:
    """Every word of scatter.yaml that no test observes and no reading is split by."""
    observed = {kind.observe for kind in known.tests.values()}
    words = {*SPLITTING, *(word for kind in known.tests.values() for word in kind.id)}
    for entry in entries:
        shared = entry.value
        if isinstance(shared, SharedScatter):
            for word in shared.observes:
                if word not in observed:
                    yield missing(entry, "observation", word, observed)
            yield from (missing(entry, "word of a reading", word, words) for word in shared.by if word not in words)
