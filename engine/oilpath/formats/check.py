"""The files of `kb/checks/` (`oilpath: checks/1`) and `kb/signs.yaml` (`oilpath: signs/1`)."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator

from oilpath.formats.cause import Place
from oilpath.formats.fields import Entry, Id, Number, Text, Texts


def _many(value: object) -> object:
    return value if isinstance(value, list | tuple) else [value]


class Tells(Entry):
    """How probable an outcome is under some causes.

    `causes` are kinds (`pump.worn`, or `pump.*`); `here` narrows to causes at the part where the check is made
    (`part`), at the same side (`side`), the same pump's group (`pump`), the same actuator (`actuator`), or anywhere.
    """

    causes: tuple[str, ...]
    here: Literal["part", "side", "pump", "actuator", "anywhere"] = "part"
    probability: Number


class CheckOutcome(Entry):
    """One outcome: its word for the sheet, what it means, its probability under the causes it tells of."""

    outcome: Id
    says: Text
    otherwise: Number
    """probability under every cause that `tells` does not name (none and unknown included)"""
    tells: tuple[Tells, ...] = ()


class Check(Entry):
    """One check: a step that parts causes, made at a part of a class (or at a named part)."""

    check: Id
    title: Text
    """`{part}` stands for the part's title"""
    at: Place
    serves: tuple[str, ...] = ()
    """kinds of cause for which it is worth offering; empty: all that its outcomes tell of"""
    minutes: Number
    intrusiveness: Literal[0, 1, 2, 3]
    """0 look, listen, stopwatch; 1 gauge on a test port; 2 break a line; 3 dismantle"""
    hazards: tuple[Id, ...] = ()
    tools: Texts
    cautions: tuple[Id, ...]
    how: Texts
    trap: Text | None = None
    outcomes: Annotated[tuple[CheckOutcome, ...], BeforeValidator(_many)]
    source: Text


class CheckFile(Entry):
    """One file of `kb/checks/`."""

    oilpath: Literal["checks/1"]
    checks: tuple[Check, ...]


class Sign(Entry):
    """What is seen, heard or smelt; which causes it speaks for is said by finding rules."""

    title: Text
    look: Text
    stop_use: Text | None = None
    cautions: tuple[Id, ...] = ()
    source: Text


class SignFile(Entry):
    """`kb/signs.yaml`."""

    oilpath: Literal["signs/1"]
    signs: dict[Id, Sign]
