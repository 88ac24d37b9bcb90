"""Checks whose outcome is a reading: what they name must exist, and some cause must change their reading."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.kbcheck.entries import Entry, missing
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check, Measure
from oilpath.outcomes.table import TELLING
from oilpath.problems import Problem

STANDARD = "standard"


def check_measures(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    """Tests, their keys and words and the variants that the readings of checks name; what is noticeable is said."""
    for entry in entries:
        if isinstance(entry.value, Check):
            for measure in entry.value.measures.values():
                yield from _measure(measure, entry, known)


def _measure(measure: Measure, entry: Entry, known: Knowledge) -> Iterator[Problem]:
    if measure.variant not in (STANDARD, *known.variants):
        yield missing(entry, "variant", measure.variant, (STANDARD, *known.variants))
    for test in measure.test:
        kind = known.tests.get(test)
        if kind is None:
            yield missing(entry, "test", test, known.tests)
            continue
        for key, word in measure.keys.items():
            if key not in kind.id:
                yield missing(entry, f"key of the test {test}", key, kind.id)
            elif kind.keys[key].words and "{" not in word and word not in kind.keys[key].words:
                yield missing(entry, f"{key} of the test {test}", word, kind.keys[key].words)
        if measure.noticeable is None and (kind.scatter is None or kind.scatter.noticeable is None):
            message = f"does not say what is noticeable in the test {test}, and the test does not either"
            yield Problem(entry.file, entry.line, entry.key, message, "`noticeable` at the reading")


def try_measures(known: Knowledge, entries: list[Entry]) -> Iterator[Problem]:
    """Checks whose readings no cause moves on any kind of machine; for a knowledge base whose files are sound."""
    moved: set[str] = set()
    for circuit in known.circuits.values():
        found = bench_for(Machine(name=circuit.id, circuit=circuit), known).outcomes
        if len(found.table):
            tells = np.abs(found.table - found.sound).max(axis=0) > TELLING
            moved |= {check for check, at in found.at.items() if tells[at].any()}
    for entry in entries:
        if isinstance(entry.value, Check) and entry.value.measures and entry.key not in moved:
            message = "tells no causes apart: on no kind of machine does a cause move what it reads"
            yield Problem(entry.file, entry.line, entry.key, message, "readings that the circuit model predicts")
