"""Try every rule on its cases: those that must fire it and those that must not. So no rule can be one that never fires.

The words of a case become results here (kb/README.md says them), for a test whose new value is 1.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from oilpath.bench import bench_for
from oilpath.documents.machine import CodeMeaning, Machine
from oilpath.documents.value_types import CONDITION_WORDS
from oilpath.flow import (
    Computed,
    ConditionFigure,
    ConditionWord,
    Measured,
    ReadingResult,
    Result,
    Suspicions,
    Verdict,
    check_result,
    code_result,
    sign_result,
)
from oilpath.flow.ids import IdParts, read_id, result_id
from oilpath.kbcheck.entries import Entry
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.rule import Rule, RuleCase
from oilpath.knowledge.testkind import TestKind
from oilpath.problems import Problem
from oilpath.rules.engine import suspect
from oilpath.rules.facts import relate

#: A test whose new value is 1 goes wrong beyond 15 % (slight up to 30 %, gross beyond 60 %).
LIMIT = 0.15
OUT: Mapping[str, float] = {"": 0.4, "slight-": 0.2, "gross-": 1.0}


def try_rules(known: Knowledge, entries: list[Entry]) -> tuple[list[Problem], frozenset[str]]:
    """Returns (cases that fail, causes that cases of finding rules bring up)."""
    found: list[Problem] = []
    brought: set[str] = set()
    for entry in entries:
        if isinstance(entry.value, Rule):
            reached: set[str] = set()
            try:
                wrong = list(_wrong(entry.value, known, reached))
            except CaseError as error:
                wrong = [(str(error), "")]
            found += [Problem(entry.file, entry.line, entry.key, text, accepted) for text, accepted in wrong]
            brought |= reached if entry.value.kind == "finding" else set()
    return found, frozenset(brought)


class CaseError(ValueError):
    """A case names what does not exist."""


def _wrong(rule: Rule, known: Knowledge, reached: set[str]) -> Iterator[tuple[str, str]]:
    """What is wrong, and what would be accepted; causes that its cases bring up are put into `reached`."""
    fired = False
    for case in rule.fires:
        said = said_of(case, known)
        found = fired_by(rule, said)
        fired = fired or found is not None
        if found is None:
            yield f"is not fired by its case “{case.says}”", "conditions that its results meet"
            continue
        reached |= {one.partition(" at ")[0] for one in found}
        for one in case.suspects:
            if one not in found:
                yield f"does not suspect {one} in its case “{case.says}”", f"it suspects {', '.join(sorted(found))}"
        cleared = cleared_by(rule, said)
        for one in case.clears:
            if one not in cleared:
                yield (
                    f"does not clear {one} in its case “{case.says}”",
                    f"it clears {', '.join(sorted(cleared)) or '-'}",
                )
    for case in rule.silent:
        if fired_by(rule, said_of(case, known)) is not None:
            yield f"is fired by its case “{case.says}”, which must not", ""
    for suspected in rule.suspect:
        if fired and suspected.cause not in reached:
            yield f"brings up {suspected.cause} in none of its cases", "a case, or a place that can be bound"


def fired_by(rule: Rule, said: Suspicions) -> set[str] | None:
    """What a rule suspects (`cause at part`; nothing if it suspects nothing), None if it has not fired."""
    if rule.warn is not None:
        return set() if any(warning.rule == rule.id for warning in said.warnings) else None
    found = {f"{one.cause} at {one.part}" for one in said.suspicions if one.rule == rule.id}
    if not rule.suspect:
        return set() if any(step.rule == rule.id for step in said.steps) else None
    return found or None


def cleared_by(rule: Rule, said: Suspicions) -> set[str]:
    """What a rule clears, `cause at part`."""
    return {f"{cause} at {part}" for step in said.steps if step.rule == rule.id for cause, part in step.cleared}


def said_of(case: RuleCase, known: Knowledge) -> Suspicions:
    """What the rules say of a case. Raises CaseError."""
    bench = bench_for(machine_of(case, known), known)
    return suspect(relate(results_of(case, known), bench), bench.rules)


def machine_of(case: RuleCase, known: Knowledge) -> Machine:
    """The machine of a case. Raises CaseError."""
    circuit = circuit_of(case, known)
    meanings = {code: CodeMeaning(says="a code of this machine", part=part) for code, part in case.codes.items()}
    return Machine(name=circuit.id, circuit=circuit, absent=case.absent, codes=meanings)


def circuit_of(case: RuleCase, known: Knowledge) -> Circuit:
    """The circuit that a case names, else the usual one. Raises CaseError."""
    if case.circuit is None:
        usual = [circuit for circuit in known.circuits.values() if circuit.usual]
        if len(usual) != 1:
            raise CaseError("has a case that names no circuit, and not one circuit of the knowledge base is `usual`")
        return usual[0]
    if case.circuit not in known.circuits:
        raise CaseError(f"has a case for the circuit {case.circuit}, which does not exist")
    return known.circuits[case.circuit]


# --- the words of a case as results ---------------------------------------------------


def results_of(case: RuleCase, knowledge: Knowledge) -> tuple[Result, ...]:
    """The results that a case's words stand for, with keys as the test kinds name them. Raises CaseError."""
    return tuple(_result(name, word, case, knowledge) for name, word in case.results.items())


def _result(name: str, word: str, case: RuleCase, knowledge: Knowledge) -> Result:
    parts = read_id(name)
    kind = knowledge.tests.get(parts.test)
    if kind is None:
        raise CaseError(f"has a case with the test {parts.test}, which does not exist")
    if parts.test == "sign":
        return sign_result(_sign_keys(name, parts, case, knowledge), word == "seen")
    if parts.test == "code":
        return code_result(parts.steps[0] if parts.steps else "", word == "active")
    if parts.test == "check":
        check, part = (*parts.steps, "", "")[:2]
        return check_result(check, part, word)
    if parts.test == "condition" and parts.steps and parts.steps[0] in CONDITION_WORDS:
        return _condition(name, parts.steps[0], word)
    base = result_id(parts.test, parts.steps)
    standard = case.results.get(base) if base != name else None
    value = _measured(base, kind, parts, standard, 1.0).value if standard else 1.0
    return _measured(name, kind, parts, word, value)


def _sign_keys(name: str, parts: IdParts, case: RuleCase, knowledge: Knowledge) -> dict[str, str]:
    """A sign and where it was noted, which the circuit of the case must know."""
    circuit = circuit_of(case, knowledge)
    if not parts.steps or parts.steps[0] not in knowledge.signs:
        raise CaseError(f"has a case with {name}, and there is no such sign")
    known = {"part": set(circuit.parts), "function": set(circuit.functions), "side": {"left", "right"}}
    places = {key: where for where in parts.steps[1:2] for key, words in known.items() if where in words}
    return {"sign": parts.steps[0], **places}


def _condition(name: str, condition: str, word: str) -> ConditionWord:
    """A condition that is a word; a case says only whether it was as demanded."""
    verdicts: Mapping[str, Verdict] = {"in": "pass", "out": "fail", "invalid": "invalid", "unjudged": "unjudged"}
    if word not in verdicts:
        raise CaseError(f"has a case in which {name} is {word}, and a condition in words never is")
    return ConditionWord(
        name, "condition", {"condition": condition}, verdicts[word], condition=condition, word="stated"
    )


def _measured(name: str, kind: TestKind, parts: IdParts, word: str, standard: float) -> Measured:
    """One measured result; `standard` is the value that a variant's `better`, `same` or `worse` is about."""

    def made(verdict: Verdict, value: float, uncertainty: float = 0.01, **more: Any) -> Measured:
        keys = dict(zip(kind.id, parts.steps, strict=False))
        more |= {"variant": parts.variant, "together_with": parts.together, "uncertainty": uncertainty, "count": 3}
        if parts.test == "condition":
            return ConditionFigure(
                name, parts.test, keys, verdict, value, kind.quantity, condition=keys["condition"], **more
            )
        return ReadingResult(name, parts.test, keys, verdict, value, kind.quantity, **more)

    if word in ("better", "same", "worse"):
        steps = {"better": -1, "same": 0, "worse": 1}[word] * (1 if kind.limits.sides == "upper" else -1)
        return made("unjudged", standard * (2.0 if kind.observe == "drift" else 1.3) ** steps)
    if word in ("invalid", "unjudged"):
        return made("invalid" if word == "invalid" else "unjudged", 1.0)
    cooled = {"cooling": 1.0, "uncooled": 0.0}.get(word)
    computed = {} if cooled is None else {"cooling": Computed(cooled, "length")}
    uncertainty = 0.1 if word == "scattered" else 0.01
    size = next((prefix for prefix in ("slight-", "gross-") if word.startswith(prefix)), "")
    near = word.startswith("near")
    deviation = word.removeprefix(size).removeprefix("near-")
    if deviation in ("out", "near", "cooling", "uncooled", "scattered"):
        deviation = kind.more_is
    if word == "in":
        return made("pass", 1.0, uncertainty, new=1.0, min=1 - LIMIT, max=1 + LIMIT)
    if deviation not in (kind.more_is, kind.less_is, "high", "low"):
        raise CaseError(f"has a case in which {name} is {word}, and a test of this kind never is")
    sign = 1 if deviation in ("slow", "high", "right") else -1
    middle, width = (0.0, 1.0) if kind.scale == "offset" else (1.0, LIMIT)
    value = middle + sign * (width if near else width * (1 + 4 * OUT[size]))
    limits = {"new": middle, "min": middle - width, "max": middle + width}
    verdict: Verdict = "near" if near else "fail"
    return made(verdict, value, uncertainty, **limits, deviation=deviation, computed=computed)
