"""Rules on rules: strata, and rules that rest on each other. All rules are invented."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from oilpath.knowledge.rule import Rule
from oilpath.rules.strata import CircularRules, strata, unasserted

CASE = {"says": "a case", "results": {"pilot-pressure": "in"}}


def rule(name: str, *asked: str, asserts: str | None = None, **more: Any) -> Rule:
    when = [{"fact": "narrowed", "to": word} for word in asked] or [{"fact": "finding", "state": "out"}]
    says = {"asserts": [{"to": asserts}]} if asserts else {"suspect": [{"cause": "pump.worn"}]}
    return Rule.model_validate(
        {
            "oilpath": "rule/1", "id": name, "kind": "pattern", "title": "A rule", "when": when, "because": "So.",
            "source": "from memory", "fires": [CASE], "silent": [CASE], **says, **more,
        }
    )  # fmt: skip


def test_a_rule_stands_above_all_that_it_rests_on() -> None:
    rules = [rule("d", "two or one"), rule("b", "one", asserts="two"), rule("a", asserts="one"), rule("c")]
    assert strata(rules) == {"a": 1, "c": 1, "b": 2, "d": 3}


def test_rules_that_rest_on_each_other_are_named() -> None:
    with pytest.raises(CircularRules) as caught:
        strata([rule("a", "two", asserts="one"), rule("b", "one", asserts="two"), rule("c")])
    assert caught.value.rules == ("a", "b")


def test_what_no_rule_asserts_is_named() -> None:
    assert unasserted([rule("a", "one"), rule("b", asserts="two"), rule("c", "two")]) == {"a": ("one",)}


@pytest.mark.parametrize("state", ["unmeasured", "near", "invalid", "in or unmeasured", "not out"])
def test_what_was_not_measured_clears_nothing(state: str) -> None:
    clears: dict[str, Any] = {"clears": [{"cause": "pump.worn"}], "suspect": []}
    measured = rule("a", when=[{"fact": "finding", "test": "flow", "state": "in"}], **clears)
    assert measured.clears
    with pytest.raises(ValidationError, match="nothing measured clears"):
        rule("a", when=[{"fact": "finding", "test": "flow", "state": state}], **clears)


def test_a_narrowing_is_named_by_one_word() -> None:
    with pytest.raises(ValidationError, match="says what it narrows to"):
        rule("a", asserts="one or two")
