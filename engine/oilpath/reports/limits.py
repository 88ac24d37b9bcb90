"""Limits of a machine in words, for a test of the day and for one reading."""

from __future__ import annotations

import math

from oilpath.documents.machine import Limit
from oilpath.flow import ReadingResult
from oilpath.knowledge.testkind import TestKind
from oilpath.reports.names import spaced
from oilpath.reports.words import Words
from oilpath.session.slots import Slot
from oilpath.units import figure


def limit_of_test(limit: Limit, words: Words) -> str:
    """One limit of the machine, with what it is for: `limit, boom raise: max 4.9 s, new 4.2 s`."""
    kind = words.knowledge.tests[limit.test]
    subject = words.subject(_as_result(limit, kind))
    head = ", ".join(text for text in ("limit", subject, _per(limit, kind, words)) if text)
    return f"{head}: {', '.join(_said(limit, kind, words))}"


def limit_beside(slot: Slot, words: Words) -> str:
    """The limit of one reading: `max 4.9 s, new 4.2 s`; empty if the machine states none."""
    if slot.limit is None:
        return ""
    return ", ".join(_said(slot.limit, words.knowledge.tests[slot.test], words))


def _as_result(limit: Limit, kind: TestKind) -> ReadingResult:
    return ReadingResult(
        limit.test, limit.test, dict(limit.where), "unjudged", math.nan, kind.quantity, new=limit.new, min=limit.min,
        max=limit.max,
    )  # fmt: skip


def _said(limit: Limit, kind: TestKind, words: Words) -> list[str]:
    as_result = _as_result(limit, kind)
    accepted, new = words.limit(as_result), words.new(as_result)
    said = [accepted] if accepted else []
    if new is not None:
        said.append(f"new {new}")
    if limit.max_veer is not None:
        said.append(f"veer at most {words.amount(limit.max_veer, 'distance')}")
    if limit.max_difference is not None:
        said.append(f"the two sides within {figure(100 * limit.max_difference)} %")
    return said


def _per(limit: Limit, kind: TestKind, words: Words) -> str:
    """The hold, distance or turns the limit is for."""
    key = kind.limits.per
    if key is None or limit.per is None:
        return ""
    quantity = kind.keys[key].quantity
    amount = words.stretch(limit.per, quantity)
    return f"{amount} {spaced(key)}" if quantity is None else f"{spaced(key)} {amount}"
