"""The files of `kb/rules/`, `oilpath: rule/1`, one rule each: when these facts hold together, suspect these causes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from oilpath.formats.fields import Entry, Id, Number, Text


class Condition(Entry):
    """One fact that must hold. `slots` hold words, or `?name` to bind (and join on) a variable; `!word` means other than.

    At most four conditions join in a rule.
    """

    fact: Literal["part", "finding", "group", "contrast", "observed"]
    slots: dict[Id, str] = {}


class Suspect(Entry):
    """A cause to suspect at the part that the rule bound (`?part`), or at `?part` with a suffix such as `?pump-regulator`."""

    cause: str
    part: str
    likelihood: Number | None = None
    """finding rules only: P(observation | cause) / P(observation | not this cause)"""


class RuleCase(Entry):
    """A small case: result ids with what they show (`in`, `out`, `near`, `seen`, `active`, an outcome …)."""

    says: Text
    circuit: Id = "two-pump-excavator"
    results: dict[str, str]
    binds: dict[Id, str] = {}
    """for cases that must fire: what the variables must be bound to (some of them)"""


class Rule(Entry):
    """One rule."""

    oilpath: Literal["rule/1"]
    id: Id
    kind: Literal["pattern", "finding", "pitfall"]
    title: Text
    when: tuple[Condition, ...] = Field(min_length=1, max_length=4)
    suspect: tuple[Suspect, ...] = ()
    because: Text
    warn: Text | None = None
    """pitfall rules only: what is said, with `?name` filled in"""
    drops: str | None = None
    """pitfall rules only: variable bound to the result that must not be compared"""
    source: Text
    fires: tuple[RuleCase, ...] = Field(min_length=1)
    silent: tuple[RuleCase, ...] = Field(min_length=1)
