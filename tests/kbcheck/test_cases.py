"""Rules on their own cases: what cannot fire, fires where it must not, or brings up what none of its cases shows."""

from __future__ import annotations

from pathlib import Path

import pytest

from oilpath.kbcheck.cases import CaseError, circuit_of, machine_of, results_of, try_rules
from oilpath.kbcheck.entries import Entry
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import read_knowledge
from oilpath.knowledge.rule import Condition, Rule, RuleCase, Suspect

KB = Path(__file__).parents[2] / "kb"


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return read_knowledge(KB)


@pytest.fixture(scope="module")
def rule(kb: Knowledge) -> Rule:
    return next(rule for rule in kb.rules if rule.id == "swing-slow-both-ways")


def told(rule: Rule, kb: Knowledge) -> list[str]:
    """What is found where this rule stands in the place of the one with its id."""
    changed = kb.model_copy(update={"rules": tuple(rule if one.id == rule.id else one for one in kb.rules)})
    found, _ = try_rules(changed, [Entry("rules/r.yaml", 1, rule.id, rule)])
    assert all((p.file, p.line, p.key) == ("rules/r.yaml", 1, rule.id) for p in found)
    return [p.message for p in found]


def test_a_sound_rule_has_no_finding(rule: Rule, kb: Knowledge) -> None:
    assert told(rule, kb) == []


def test_a_rule_that_can_never_fire_is_found(rule: Rule, kb: Knowledge) -> None:
    never = Condition(fact="observed", slots={"kind": "sign", "of": "no-such-sign"})
    spoilt = rule.model_copy(update={"when": (*rule.when, never)})
    assert told(spoilt, kb) == [f"is not fired by its case “{case.says}”" for case in rule.fires]


def test_a_case_that_fires_and_must_not_is_found(rule: Rule, kb: Knowledge) -> None:
    spoilt = rule.model_copy(update={"silent": rule.fires[:1]})
    assert told(spoilt, kb) == [f"is fired by its case “{rule.fires[0].says}”, which must not"]


def test_a_suspect_that_a_case_names_in_vain_is_found(rule: Rule, kb: Knowledge) -> None:
    case = rule.fires[0].model_copy(update={"suspects": ("pump.worn at swing-motor",)})
    (message,) = told(rule.model_copy(update={"fires": (case, *rule.fires[1:])}), kb)
    assert message == f"does not suspect pump.worn at swing-motor in its case “{case.says}”"


def test_a_suspect_at_a_place_that_is_never_bound_is_found(rule: Rule, kb: Knowledge) -> None:
    lost = Suspect(cause="track.too-tight", at={"class": "swing-motor"})
    assert told(rule.model_copy(update={"suspect": (*rule.suspect, lost)}), kb) == [
        "brings up track.too-tight in none of its cases"
    ]


def test_a_case_that_names_no_circuit_is_of_the_usual_one(kb: Knowledge) -> None:
    read = RuleCase.model_validate({"says": "any", "results": {}})
    usual = circuit_of(read, kb)
    assert usual.usual
    assert machine_of(read, kb).circuit == usual
    other = next(name for name, circuit in kb.circuits.items() if not circuit.usual)
    assert circuit_of(read.model_copy(update={"circuit": other}), kb).id == other


@pytest.mark.parametrize("usual", [True, False])
def test_not_one_usual_circuit_is_found(kb: Knowledge, usual: bool) -> None:
    """Neither several nor none: a case would be of one machine today and of another tomorrow."""
    circuits = {name: one.model_copy(update={"usual": usual}) for name, one in kb.circuits.items()}
    with pytest.raises(CaseError, match="not one circuit"):
        circuit_of(
            RuleCase.model_validate({"says": "any", "results": {}}), kb.model_copy(update={"circuits": circuits})
        )


@pytest.mark.parametrize(
    ("case", "says"),
    [
        ({"results": {"swing-tyme/left": "slow"}}, "the test swing-tyme, which does not exist"),
        ({"results": {"sign/no-such": "seen"}}, "there is no such sign"),
        ({"results": {"swing-time/left": "sideways"}}, "swing-time/left is sideways"),
        ({"results": {}, "circuit": "no-such"}, "the circuit no-such, which does not exist"),
    ],
)
def test_a_case_with_a_word_that_does_not_exist_is_found(
    case: dict[str, object], says: str, rule: Rule, kb: Knowledge
) -> None:
    read = RuleCase.model_validate({"says": "spoilt", **case})
    with pytest.raises(CaseError, match=says):
        (results_of(read, kb), machine_of(read, kb))
    assert says in told(rule.model_copy(update={"fires": (read,)}), kb)[0]
