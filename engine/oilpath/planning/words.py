"""What an answer adds to its checks: their cautions, and what was not measured."""

from __future__ import annotations

from collections.abc import Sequence

from oilpath.documents.machine import Machine
from oilpath.flow import NextCheck, NotMeasured, Result, SignResult
from oilpath.knowledge.applicability import can_be_put_to, cautions_on
from oilpath.knowledge.base import Knowledge

_NO_MEASUREMENT = "nothing"
"""`observe` of tests that measure nothing (a code, a sign, a check)"""


def cautions_for(
    results: Sequence[Result], checks: Sequence[NextCheck], knowledge: Knowledge, machine: Machine | None = None
) -> tuple[str, ...]:
    """Cautions in words, each once: those of every answer, then of the next checks, then of the tests on the sheet and
    the signs seen. With a machine, only those that apply to it."""
    by_name = {check.check: check.cautions for check in knowledge.checks}
    names = list(knowledge.always)
    for step in checks:
        names += by_name.get(step.check, ())
    for test in dict.fromkeys(result.test for result in results):
        names += knowledge.tests[test].cautions if test in knowledge.tests else ()
    for result in results:
        sign = knowledge.signs.get(result.sign) if isinstance(result, SignResult) and result.seen else None
        names += sign.cautions if sign is not None else ()
    return tuple(dict.fromkeys(knowledge.cautions[name].says for name in cautions_on(names, knowledge, machine)))


def not_measured(
    results: Sequence[Result], knowledge: Knowledge, machine: Machine | None = None
) -> tuple[NotMeasured, ...]:
    """Tests with no valid reading on the sheet, in the order of the day.

    With a machine, only those that it can be put to.
    """
    made = {result.test for result in results}
    valid = {result.test for result in results if result.verdict != "invalid"}
    lacking: list[NotMeasured] = []
    for name, kind in sorted(knowledge.tests.items(), key=lambda pair: (pair[1].order, pair[0])):
        if kind.derived or kind.observe == _NO_MEASUREMENT or name in valid:
            continue
        if machine is not None and name not in made and not can_be_put_to(name, kind, machine):
            continue
        lacking.append(NotMeasured(name, invalid=name in made))
    return tuple(lacking)
