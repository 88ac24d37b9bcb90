"""Every rule of `kb/rules/` on its own cases: what must fire it, what must not. All cases are invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from oilpath.bench import bench_for
from oilpath.documents.nodes import read_file
from oilpath.documents.sheet import Sheet
from oilpath.documents.validate import model_from
from oilpath.flow import Result
from oilpath.kbcheck.cases import said_of
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import SignFile
from oilpath.knowledge.compile import read_knowledge
from oilpath.knowledge.rule import Rule, RuleCase, read_term, variables_in
from oilpath.problems import Problems
from oilpath.rules.engine import engine_limits, suspect
from oilpath.rules.facts import relate
from oilpath.rules.strata import strata, unasserted

KB = Path(__file__).parents[2] / "kb"
FILES = sorted((KB / "rules").glob("*.yaml"))


def rule_from(path: Path) -> Rule:
    problems = Problems()
    rule = model_from(read_file(path, path.name), Rule, path.name, problems)
    problems.raise_if_any()
    assert rule is not None
    return rule


RULES = [rule_from(path) for path in FILES]
STRATA = strata(RULES)


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return read_knowledge(KB)


def _cases(which: str) -> list[object]:
    return [pytest.param(rule, case, id=f"{rule.id}: {case.says}") for rule in RULES for case in getattr(rule, which)]


@pytest.mark.parametrize(("rule", "case"), _cases("fires"))
def test_the_case_fires_the_rule(rule: Rule, case: RuleCase, kb: Knowledge) -> None:
    said = said_of(case, kb)
    mine = [suspicion for suspicion in said.suspicions if suspicion.rule == rule.id]
    if rule.kind == "pitfall":
        assert any(warning.rule == rule.id for warning in said.warnings)
        return
    found = {f"{suspicion.cause} at {suspicion.part}" for suspicion in mine}
    assert found or not rule.suspect
    assert set(case.suspects) <= found
    steps = [step for step in said.steps if step.rule == rule.id]
    assert steps or rule.kind == "finding"
    assert set(case.clears) <= {f"{cause} at {part}" for step in steps for cause, part in step.cleared}
    for step in steps:
        assert set(step.results) <= set(case.results)
        assert step.stratum == STRATA[rule.id]
        assert all(said.steps[below].stratum < step.stratum for below in step.after)
        assert {name for name, _ in step.says.words} == set(variables_in(step.says.text))
    for suspicion in mine:
        assert suspicion.evidence
        assert set(suspicion.evidence) <= set(case.results)
        assert {name for name, _ in suspicion.because.words} == set(variables_in(suspicion.because.text))
        assert (suspicion.likelihood is None) == (suspicion.kind == "pattern")


@pytest.mark.parametrize(("rule", "case"), _cases("silent"))
def test_the_case_does_not_fire_the_rule(rule: Rule, case: RuleCase, kb: Knowledge) -> None:
    said = said_of(case, kb)
    assert [suspicion for suspicion in said.suspicions if suspicion.rule == rule.id] == []
    assert [warning for warning in said.warnings if warning.rule == rule.id] == []
    assert [step for step in said.steps if step.rule == rule.id] == []


# ------------------------------------------------------------- the rules as a whole


def test_there_are_enough_rules_each_in_a_file_of_its_name() -> None:
    assert len(RULES) >= 30
    assert [rule.id for rule in RULES] == [path.stem for path in FILES]
    assert {rule.kind for rule in RULES} == {"pattern", "finding", "pitfall"}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: str(rule.id))
def test_a_rule_names_only_what_exists(rule: Rule, kb: Knowledge) -> None:
    """Causes, signs, tests, classes and sources that a rule names are those of the knowledge base."""
    causes = {cause.cause for cause in kb.causes}
    assert {suspected.cause for suspected in rule.suspect} <= causes
    classes = {part.class_ for circuit in kb.circuits.values() for part in circuit.parts.values()}
    for condition in rule.when:
        for slot, term in condition.terms().items():
            if slot == "class":
                assert set(term.words) <= classes
            if slot == "test":
                assert set(term.words) <= set(kb.tests)
            if slot == "of" and condition.slots.get("kind") == "sign":
                assert set(term.words) <= set(kb.signs)
    for suspected in rule.suspect:
        assert set(read_term(suspected.at.get("class", "$none")).words) <= classes
    known = {*kb.sources, "common practice", "from memory"}
    assert {source.strip() for source in rule.source.split(";")} <= known


def test_every_suspect_of_every_rule_is_reached_by_some_case(kb: Knowledge) -> None:
    """A cause that no case of its rule brings up stands at a place that the rule can never bind."""
    missed = []
    for rule in RULES:
        reached = {s.cause for case in rule.fires for s in said_of(case, kb).suspicions if s.rule == rule.id}
        missed += [f"{rule.id}: {suspect.cause}" for suspect in rule.suspect if suspect.cause not in reached]
    assert missed == []


def test_every_cause_is_suspected_by_some_rule(kb: Knowledge) -> None:
    suspected = {suspect.cause for rule in RULES for suspect in rule.suspect}
    assert sorted({cause.cause for cause in kb.causes} - suspected) == []


@pytest.mark.slow
def test_every_cause_that_shows_in_a_simulated_sheet_is_suspected(kb: Knowledge) -> None:
    """Each cause at each part in its middle severity, without scatter: where a reading fails, some rule suspects it."""
    from oilpath.documents.load import load_machine, load_sheet
    from oilpath.judging import judge
    from oilpath.lab.simulation import simulate

    machine = load_machine(KB.parent / "cases" / "machines" / "trainer-22t.yaml", kb)
    hypotheses = bench_for(machine, kb).model.hypotheses

    def judged(*causes: tuple[int, float]) -> tuple[Sheet, tuple[Result, ...], set[str]]:
        data = simulate(machine, kb, causes, 1, scatter=0.0)
        sheet = load_sheet(KB.parent / "cases" / "simulated.yaml", kb, text=json.dumps(data))
        results = judge(sheet, bench_for(sheet.machine, kb))
        return sheet, results, {result.id for result in results if result.verdict == "fail"}

    by_chance = judged()[2]
    shown, missed = 0, []
    for number, hypothesis in enumerate(hypotheses):
        sheet, results, failed = judged((number, 0.5))
        if failed - by_chance:
            shown += 1
            said = suspect(relate(results, bench_for(sheet.machine, kb)), bench_for(sheet.machine, kb).rules)
            cause, part = hypothesis.cause.cause, hypothesis.part
            if (cause, part) not in {(one.cause, one.part) for one in said.suspicions}:
                missed.append(f"{cause} at {part} ({hypothesis.variant}): {sorted(failed)}")
    assert missed == []
    assert shown > len(hypotheses) / 2


def test_every_cleared_cause_is_cleared_in_some_case(kb: Knowledge) -> None:
    missed = []
    for rule in RULES:
        reached = {
            cause for case in rule.fires for step in said_of(case, kb).steps if step.rule == rule.id
            for cause, _ in step.cleared
        }  # fmt: skip
        missed += [f"{rule.id}: {one.cause}" for one in rule.clears if one.cause not in reached]
    assert missed == []


def test_every_narrowing_that_is_asked_for_is_asserted_and_every_asserted_one_serves(kb: Knowledge) -> None:
    assert unasserted(RULES) == {}
    assert {test for rule in RULES for test in rule.asks} <= set(kb.tests)


def test_the_engine_bears_the_rules(kb: Knowledge) -> None:
    assert engine_limits(kb.rules) == []


def test_signs_say_what_to_look_for_and_from_where(kb: Knowledge) -> None:
    problems = Problems()
    signs = model_from(read_file(KB / "signs.yaml", "signs.yaml"), SignFile, "signs.yaml", problems)
    problems.raise_if_any()
    assert signs is not None
    assert len(signs.signs) >= 20
    for sign in signs.signs.values():
        assert {source.strip() for source in sign.source.split(";")} <= {*kb.sources, "common practice", "from memory"}
        assert set(sign.cautions) <= set(kb.cautions)
