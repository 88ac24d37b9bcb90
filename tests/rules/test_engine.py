"""The rule engine fenced in: every trap of durable-rules that we know of has a test here. All facts are invented.

Tests named `test_engine_…` show that the trap is still there, so that the fence is not kept for nothing.
"""

from __future__ import annotations

import builtins
import re
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from oilpath.flow import Fact, RuleWarning, Suspicions
from oilpath.flow.notes import Filled
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import read_knowledge
from oilpath.knowledge.rule import Condition, Rule, Term, fill_in, read_term, slots_for
from oilpath.rules import engine as suspicion
from oilpath.rules.engine import (
    NEVER_FAILS,
    KnowledgeError,
    RuleEngineMissing,
    engine_form,
    engine_limits,
    over_limits,
    split_rules,
)
from tests.steps import suspect

KB = read_knowledge(Path(__file__).parents[2] / "kb")
CASE = {"says": "a case", "results": {"pilot-pressure": "in"}}


def rule(*when: dict[str, str], id_: str = "a-rule", **more: Any) -> Rule:
    """A pattern rule that suspects the main relief wherever it stands, unless said otherwise."""
    data: dict[str, Any] = {
        "oilpath": "rule/1", "id": id_, "kind": "pattern", "title": "A rule", "when": when,
        "suspect": [{"cause": "main-relief.low"}], "because": "It is so.", "source": "from memory",
        "fires": [CASE], "silent": [CASE],
    }  # fmt: skip
    return Rule.model_validate(data | more)


def kb_with(*rules: Rule) -> Knowledge:
    return KB.model_copy(update={"rules": rules})


def group(kind: str, of: str, state: str, *results: str, **more: str) -> Fact:
    return Fact("group", slots_for("group", kind=kind, of=of, state=state, **more), results)


def finding(test: str, state: str, *results: str, **more: str) -> Fact:
    return Fact("finding", slots_for("finding", test=test, state=state, **more), results)


def part(name: str, class_: str, **more: str) -> Fact:
    return Fact("part", slots_for("part", part=name, class_=class_, title=name.replace("-", " "), **more))


RELIEF = part("main-relief", "main-relief")
PARTS = (RELIEF, part("pump-1", "main-pump", pump="pump-1"), part("pump-2", "main-pump", pump="pump-2"))


def brief(said: Suspicions) -> list[tuple[str, str, str, tuple[str, ...]]]:
    return [(one.rule, one.cause, one.part, one.evidence) for one in said.suspicions]


def in_a_process(code: str) -> subprocess.CompletedProcess[str]:
    """Code that may crash the interpreter, in one of its own, with an engine host that starts no threads."""
    start = "from durable import engine\nclass Host(engine.Host):\n    def _run(self): pass\nhost = Host()\n"
    return subprocess.run([sys.executable, "-c", start + code], capture_output=True, text=True, timeout=60, check=False)


# ------------------------------------------------------------------ what a rule can say


def test_conditions_join_through_a_variable() -> None:
    """A pump is suspected whose own group and stall pressure are as asked, not one of each."""
    known = kb_with(
        rule(
            {"fact": "group", "kind": "pump", "of": "$pump", "state": "all-out"},
            {"fact": "group", "kind": "stall", "of": "$pump", "state": "none-out"},
            suspect=[{"cause": "pump.worn", "at": {"part": "$pump"}}],
            because="$pump is slow.",
        )
    )
    slow, stall = group("pump", "pump-1", "all-out", "r1"), group("stall", "pump-1", "none-out", "r2")
    said = suspect((*PARTS, slow, stall), known)
    assert brief(said) == [("a-rule", "pump.worn", "pump-1", ("r1", "r2"))]
    assert said.suspicions[0].because == Filled("$pump is slow.", (("pump", "pump-1"),))
    assert suspect((*PARTS, slow, group("stall", "pump-2", "none-out")), known) == Suspicions()


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 2, 0)])
def test_the_order_of_the_facts_does_not_matter(order: tuple[int, ...]) -> None:
    known = kb_with(
        rule(
            {"fact": "finding", "test": "drift", "state": "out", "cylinder": "$c"},
            {"fact": "group", "kind": "drift", "state": "some-out"},
            {"fact": "part", "part": "$v", "class": "holding-valve", "actuator": "$c"},
            suspect=[{"cause": "holding-valve.leaking", "at": {"part": "$v"}}],
        )
    )
    facts = (
        finding("drift", "out", "r1", cylinder="arm-cylinder"),
        group("drift", "all", "some-out", "r1"),
        part("arm-holding-valve", "holding-valve", actuator="arm-cylinder"),
    )
    said = suspect(tuple(facts[number] for number in order), known)
    assert brief(said) == [("a-rule", "holding-valve.leaking", "arm-holding-valve", ("r1",))]


@pytest.mark.parametrize(
    ("text", "word", "fires"),
    [
        ("in", "in", True), ("in", "out", False), ("in or near", "near", True), ("in or near", "out", False),
        ("not out", "in", True), ("not out", "out", False), ("not -", "-", False),
        ("$s", "in", True), ("$s", "-", False), ("any $s", "-", True),
    ],
)  # fmt: skip
def test_words_of_a_slot(text: str, word: str, fires: bool) -> None:
    known = kb_with(rule({"fact": "finding", "test": "pilot-pressure", "state": text}))
    said = suspect((RELIEF, finding("pilot-pressure", word)), known)
    assert bool(said.suspicions) is fires


def test_another_than_the_bound_one() -> None:
    known = kb_with(
        rule(
            {"fact": "group", "kind": "pump", "of": "$pump", "state": "all-out"},
            {"fact": "group", "kind": "pump", "of": "not $pump", "state": "all-out"},
        )
    )
    one, other = group("pump", "pump-1", "all-out", "r1"), group("pump", "pump-2", "all-out", "r2")
    assert brief(suspect((RELIEF, one, other), known)) == [("a-rule", "main-relief.low", "main-relief", ("r1", "r2"))]
    assert suspect((RELIEF, one), known) == Suspicions()


def test_a_variable_bound_to_not_stated_asks_for_nothing() -> None:
    known = kb_with(
        rule(
            {"fact": "finding", "test": "case-drain", "part": "any $p"},
            suspect=[{"cause": "pump.worn", "at": {"part": "$p"}}],
        )
    )
    assert [one.part for one in suspect((*PARTS, finding("case-drain", "out")), known).suspicions] == [
        "pump-1",
        "pump-2",
    ]
    said = suspect((*PARTS, finding("case-drain", "out", part="pump-2")), known)
    assert [one.part for one in said.suspicions] == ["pump-2"]


def test_a_cause_stands_only_where_it_can() -> None:
    """A worn pump is no fault of a relief valve, and a part that the machine lacks has none at all."""
    known = kb_with(
        rule(
            {"fact": "finding", "test": "flow", "part": "$p"},
            suspect=[{"cause": "pump.worn", "at": {"part": "$p"}}],
        )
    )
    assert suspect((*PARTS, finding("flow", "out", part="main-relief")), known) == Suspicions()
    assert suspect((*PARTS, finding("flow", "out", part="pump-9")), known) == Suspicions()


def test_firings_of_one_rule_are_one_suspicion() -> None:
    known = kb_with(rule({"fact": "finding", "test": "stall-pressure", "state": "out", "function": "$f"}))
    low = [finding("stall-pressure", "out", f"r{number}", function=f"f-{number}") for number in range(3)]
    assert brief(suspect((RELIEF, *low), known)) == [("a-rule", "main-relief.low", "main-relief", ("r0", "r1", "r2"))]


def test_suspicions_are_sorted_by_rule_cause_and_part() -> None:
    at_all = {"suspect": [{"cause": "pump.worn"}, {"cause": "main-relief.low"}, {"cause": "pump.damaged"}]}
    ask = {"fact": "finding", "test": "flow"}
    said = suspect(
        (*PARTS, finding("flow", "out")), kb_with(rule(ask, id_="b", **at_all), rule(ask, id_="a", **at_all))
    )
    keys = [(one.rule, one.cause, one.part) for one in said.suspicions]
    assert keys == sorted(keys)
    assert len(keys) == 10


def test_pitfalls_warn_once_and_suspect_nothing() -> None:
    warns = rule(
        {"fact": "finding", "test": "drift", "state": "invalid"}, kind="pitfall", suspect=[], warn="Hold it longer."
    )
    facts = [finding("drift", "invalid", f"r{number}", cylinder=f"c-{number}") for number in range(2)]
    assert suspect(facts, kb_with(warns)) == Suspicions((), (RuleWarning("a-rule", Filled("Hold it longer.")),))


def test_no_facts_and_no_rules_say_nothing() -> None:
    assert suspect((), KB) == Suspicions()
    assert suspect((RELIEF,), kb_with()) == Suspicions()


# ------------------------------------------------------------------ trap: facts that nothing takes


def test_engine_drops_a_fact_that_no_condition_meets() -> None:
    """Alone it raises; in a batch it keeps every rule from firing. And deleting its session crashes the interpreter."""
    code = """
fired = []
host.set_rulesets({'r': {'a': {'all': [{'m': {'k': 'yes'}}], 'run': lambda c: fired.append(1)}}})
try:
    host.assert_fact('r', {'id': '1', 'sid': '1', 'k': 'no'})
except engine.MessageNotHandledException:
    print('dropped')
try:
    host.assert_facts('r', [{'id': '2', 'sid': '2', 'k': 'no'}, {'id': '3', 'sid': '2', 'k': 'yes'}])
except engine.MessageNotHandledException:
    print('batch', fired)
"""
    assert in_a_process(code).stdout.splitlines() == ["dropped", "batch []"]


def test_a_fact_that_no_rule_asks_for_does_no_harm() -> None:
    known = kb_with(rule({"fact": "finding", "test": "flow", "state": "out"}))
    facts = (RELIEF, finding("drift", "in"), group("all", "all", "none-out"), finding("flow", "out"), *PARTS)
    for _ in range(3):
        assert len(suspect(facts, known).suspicions) == 1
    assert suspect((RELIEF, finding("drift", "in")), known) == Suspicions()


def test_a_fact_that_came_before_its_partner_still_joins() -> None:
    """The early fact meets a condition and no rule yet; it must be there when the second one comes."""
    known = kb_with(
        rule(
            {"fact": "group", "kind": "all", "of": "all", "state": "all-out"},
            {"fact": "finding", "test": "pilot-pressure", "state": "out"},
        )
    )
    assert suspect((RELIEF, group("all", "all", "all-out"), finding("pilot-pressure", "out")), known).suspicions
    assert suspect((RELIEF, finding("pilot-pressure", "out"), group("all", "all", "all-out")), known).suspicions


# ------------------------------------------------------------------ trap: exceptions in actions are swallowed


def test_engine_swallows_what_an_action_raises() -> None:
    code = """
def run(c): raise KeyboardInterrupt
host.set_rulesets({'r': {'a': {'all': [{'m': {'k': 'yes'}}], 'run': run}}})
host.assert_fact('r', {'id': '1', 'sid': '1', 'k': 'yes'})
print('nothing was raised')
"""
    assert "nothing was raised" in in_a_process(code).stdout


@pytest.mark.parametrize(
    ("error", "raised"), [(RuntimeError("odd"), KnowledgeError), (KeyboardInterrupt(), KeyboardInterrupt)]
)
def test_what_an_action_raises_comes_out_and_names_the_rule(
    monkeypatch: pytest.MonkeyPatch, error: BaseException, raised: type[BaseException]
) -> None:
    known = kb_with(rule({"fact": "finding", "test": "flow"}, id_="the-guilty-one"))
    facts = (RELIEF, finding("flow", "out"))

    def fail(*_: object) -> tuple[int, ...]:
        raise error

    with monkeypatch.context() as patched:
        patched.setattr(suspicion, "matched_facts", fail)
        with pytest.raises(raised, match="the-guilty-one" if raised is KnowledgeError else None):
            suspect(facts, known)
    assert len(suspect(facts, known).suspicions) == 1  # nothing sticks to the next session


def test_a_rule_that_the_engine_refuses_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    good, bad = rule({"fact": "finding"}, id_="good"), rule({"fact": "finding"}, id_="bad")
    whole = suspicion.engine_form

    def form(one: Rule) -> list[dict[str, Any]]:
        return [{"c0": {"$no-such-word": {"k": 1}}}] if one.id == "bad" else whole(one)

    monkeypatch.setattr(suspicion, "engine_form", form)
    with pytest.raises(KnowledgeError, match="rule bad cannot be compiled"):
        suspect((RELIEF,), kb_with(good, bad))


# ------------------------------------------------------------------ trap: loose types


def test_engine_takes_numbers_texts_and_truth_for_the_same() -> None:
    code = """
fired = []
host.set_rulesets({'r': {'a': {'all': [{'m': {'k': 1}}], 'run': lambda c: fired.append(1)},
                         'z': {'all': [{'m': {'$ex': {'k': 1}}}], 'run': lambda c: None}}})
for number, value in enumerate([1, '1', True]):
    host.assert_fact('r', {'id': str(number), 'sid': '1', 'k': value})
print(len(fired))
"""
    assert int(in_a_process(code).stdout) > 1


@pytest.mark.parametrize(("asked", "given_"), [("1", "1.0"), ("1", "01"), ("true", "1"), ("in", "IN"), ("1", "1e0")])
def test_words_that_look_like_numbers_are_words(asked: str, given_: str) -> None:
    known = kb_with(rule({"fact": "observed", "kind": "code", "of": asked}))
    fact = Fact("observed", slots_for("observed", kind="code", of=given_))
    assert suspect((RELIEF, fact), known) == Suspicions()
    same = Fact("observed", slots_for("observed", kind="code", of=asked))
    assert len(suspect((RELIEF, same), known).suspicions) == 1


@given(st.text(min_size=1, max_size=30))
def test_any_text_in_a_fact_is_borne(text: str) -> None:
    known = kb_with(rule({"fact": "finding", "test": "flow", "result": "$r"}, because="Of $r."))
    said = suspect((RELIEF, finding("flow", "out", result=text.encode("utf-8", "ignore").decode() or "x")), known)
    assert len(said.suspicions) == (0 if text == "-" else 1)


# ------------------------------------------------------------------ trap: limits of one ruleset


def many(number: int, ask: Any) -> tuple[Rule, ...]:
    return tuple(rule(ask(n), id_=f"rule-{n}") for n in range(number))


@pytest.mark.parametrize(
    ("rules", "word"),
    [
        (many(256, lambda n: {"fact": "finding", "test": "flow"}), "very same condition"),
        (many(64, lambda n: {"fact": "finding", "test": "flow", "state": f"not in-{n}" if n < 0 else "not in",
                             "result": f"not r{n}"}), "one fact can meet"),
        (many(512, lambda n: {"fact": "finding", "result": f"r{n}"}), "distinct words"),
    ],
    ids=["same", "met", "words"],
)  # fmt: skip
def test_limits_are_counted_and_the_rules_split_before(rules: tuple[Rule, ...], word: str) -> None:
    assert any(word in fault for fault in over_limits(rules))
    assert engine_limits(rules) == []
    parts = split_rules(rules)
    assert len(parts) > 1
    assert tuple(one for part_ in parts for one in part_) == rules
    assert all(over_limits(part_, share=0.5) == [] for part_ in parts)


def test_joined_conditions_are_counted() -> None:
    wide = rule({"fact": "finding"}).model_copy(update={"when": (Condition(fact="finding", slots={}),) * 17})
    assert any("joined in rule a-rule" in fault for fault in engine_limits((wide,)))


def test_conditions_that_exclude_each_other_are_not_counted_together() -> None:
    apart = many(100, lambda n: {"fact": "finding", "result": f"r{n}", "state": "out"})
    assert over_limits(apart) == []


def test_split_rules_answer_as_one() -> None:
    """Rules far beyond the limits of one ruleset all fire."""
    rules = many(300, lambda n: {"fact": "finding", "test": "flow"})
    said = suspect((RELIEF, finding("flow", "out", "r1")), kb_with(*rules))
    assert len(said.suspicions) == 300


# ------------------------------------------------------------------ trap: `any` over-fires, joins explode


def test_no_rule_is_compiled_with_any() -> None:
    for one in KB.rules:
        form = engine_form(one)
        assert [list(condition) for condition in form] == [[f"c{number}"] for number in range(len(form))]
        assert "any" not in repr(form).replace("'any-", "")


def test_a_variable_becomes_a_comparison_with_where_it_was_bound() -> None:
    form = engine_form(
        rule(
            {"fact": "group", "of": "$p", "state": "all-out or some-out"},
            {"fact": "group", "state": "all-out or some-out", "of": "not $p", "kind": "pump"},
            {"fact": "group", "of": "$p"},
        )
    )
    either = {"$or": [{"state": "all-out"}, {"state": "some-out"}]}
    assert form == [
        {"c0": {"$and": [{"fact": "group"}, {"$neq": {"of": "-"}}, either]}},
        {"c1": {"$and": [{"fact": "group"}, {"kind": "pump"}, {"$neq": {"of": {"c0": "of"}}}, NEVER_FAILS, either]}},
        {"c2": {"$and": [{"fact": "group"}, {"of": {"c0": "of"}}, NEVER_FAILS]}},
    ]


# ------------------------------------------------------------------ trap: comparisons last, or behind an `$or`


def test_engine_leaves_out_a_comparison_behind_an_or() -> None:
    code = """
fired = []
first = {'c0': {'$and': [{'k': 'a'}, {'of': 'x'}]}}
either = {'$or': [{'k': 'b'}, {'k': 'c'}]}
other = {'$neq': {'of': {'c0': 'of'}}}
host.set_rulesets({'r': {'a': {'all': [first, {'c1': {'$and': [either, other]}}], 'run': lambda c: fired.append(1)},
                         'z': {'all': [{'m': {'$ex': {'k': 1}}}], 'run': lambda c: None}}})
host.assert_fact('r', {'id': '1', 'sid': '1', 'k': 'a', 'of': 'x'})
host.assert_fact('r', {'id': '2', 'sid': '1', 'k': 'b', 'of': 'x'})
print('fired', len(fired))
"""
    assert in_a_process(code).stdout.strip() == "fired 1"


def test_comparisons_stand_before_either_or_and_end_with_one_that_never_fails() -> None:
    """Where the last comparison fails, the engine reads on beyond the condition and may crash; one behind an `$or` is
    left out (both seen in events.c of durable-rules 2.0.28 and with a memory checker).
    """

    def compares(wanted: dict[str, Any]) -> bool:
        return re.search(r"\{'c[0-9]': ", str(wanted)) is not None

    seen = 0
    for one in KB.rules:
        for condition in engine_form(one):
            (wants,) = condition.values()
            listed = wants.get("$and", [wants])
            kinds = ["or" if "$or" in wanted else "join" if compares(wanted) else "fixed" for wanted in listed]
            assert kinds == sorted(kinds, key=["fixed", "join", "or"].index)
            joins = [wanted for wanted, kind in zip(listed, kinds, strict=True) if kind == "join"]
            seen += len(joins)
            assert not joins or joins[-1] == NEVER_FAILS
            assert not {"id", "sid"} & {slot for wanted in listed for slot in (*wanted, *wanted.get("$neq", {}))}
    assert seen > 20


@pytest.mark.parametrize("state", ["all-out", "some-out"])
def test_a_comparison_beside_an_either_or_counts(state: str) -> None:
    known = kb_with(
        rule(
            {"fact": "group", "kind": "pump", "of": "$p"},
            {"fact": "group", "kind": "stall or drain", "state": "all-out or some-out", "of": "$p", "pump": "not -"},
            {"fact": "group", "kind": "side or range", "of": "not $p"},
        )
    )
    pump, side = group("pump", "a", "all-out"), group("side", "b", "all-out")
    assert suspect((RELIEF, pump, side, group("stall", "a", state, pump="x")), known).suspicions
    assert not suspect((RELIEF, pump, side, group("stall", "b", state, pump="x")), known).suspicions
    assert not suspect((RELIEF, pump, side, group("stall", "a", state)), known).suspicions
    same = group("side", "a", "all-out")
    assert not suspect((RELIEF, pump, same, group("stall", "a", state, pump="x")), known).suspicions


# ------------------------------------------------------------------ trap: equal facts are refused


def test_engine_refuses_a_fact_that_it_has() -> None:
    code = """
host.set_rulesets({'r': {'z': {'all': [{'m': {'$ex': {'k': 1}}}], 'run': lambda c: None}}})
host.assert_fact('r', {'id': '1', 'sid': '1', 'k': 'a'})
try:
    host.assert_fact('r', {'id': '1', 'sid': '1', 'k': 'a'})
except engine.MessageObservedException:
    print('refused')
"""
    assert in_a_process(code).stdout.strip() == "refused"


def test_equal_facts_are_borne() -> None:
    known = kb_with(rule({"fact": "finding", "test": "flow"}))
    fact = finding("flow", "out", "r1")
    assert brief(suspect((RELIEF, fact, fact, fact), known)) == [("a-rule", "main-relief.low", "main-relief", ("r1",))]


# ------------------------------------------------------------------ trap: threads, sessions that share memory, growth


def sheet_facts(number: int) -> tuple[Fact, ...]:
    """Facts of one of several made-up sheets, each with another answer."""
    pump = f"pump-{1 + number % 2}"
    return (
        *PARTS,
        part(f"{pump}-regulator", "regulator", of=pump, pump=pump),
        group("pump", pump, "all-out", f"r{number}", only="yes", pump=pump),
        group("stall", pump, "none-out" if number % 3 else "unmeasured", deviation="low", pump=pump),
        finding(
            "pilot-pressure", "out" if number % 5 == 0 else "in", "pilot-pressure", deviation="low", variant="standard"
        ),
    )


def test_sessions_share_no_memory() -> None:
    """A fact of one sheet never completes a rule on the next one."""
    known = kb_with(
        rule({"fact": "group", "kind": "all", "state": "all-out"}, {"fact": "finding", "test": "flow", "state": "out"})
    )
    for _ in range(3):
        assert suspect((RELIEF, group("all", "all", "all-out")), known) == Suspicions()
        assert suspect((RELIEF, finding("flow", "out")), known) == Suspicions()


def test_eight_threads_answer_as_one() -> None:
    alone = [suspect(sheet_facts(number), KB) for number in range(30)]
    assert len(set(alone)) > 2
    with ThreadPoolExecutor(8) as threads:
        together = list(threads.map(lambda number: suspect(sheet_facts(number % 30), KB), range(240)))
    assert together == [alone[number % 30] for number in range(240)]


def test_the_engine_starts_no_threads() -> None:
    suspect(sheet_facts(1), KB)
    assert not [thread for thread in threading.enumerate() if isinstance(thread, threading.Timer)]


def test_nothing_grows_from_session_to_session() -> None:
    """1000 sessions take less memory than the 5.7 MB of a single new host (measured on durable-rules 2.0.28)."""
    resource = pytest.importorskip("resource")
    facts = sheet_facts(1)
    for _ in range(100):
        suspect(facts, KB)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for _ in range(1000):
        suspect(facts, KB)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 5_000  # kB


def test_which_facts_the_engine_is_shown_is_remembered_within_bounds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(suspicion, "KEPT_FACTS", 3)
    known = kb_with(rule({"fact": "finding", "test": "flow", "state": "out"}))
    ruleset = suspicion.Rules(known).rulesets[0]
    facts = [RELIEF, *(finding(test, state) for test in ("flow", "drift") for state in ("out", "in", "near"))]
    for _ in range(2):
        assert [suspicion._met_by(fact, ruleset) for fact in facts] == [0, 1, *[0] * 5]
        assert 0 < len(ruleset.met) <= 3


def test_the_rules_are_not_changed_by_running_them() -> None:
    before = [one.model_dump_json() for one in KB.rules]
    suspect(sheet_facts(0), KB)
    assert [one.model_dump_json() for one in KB.rules] == before


# ------------------------------------------------------------------ the engine missing


def test_a_missing_engine_is_said_with_the_command_that_builds_it(monkeypatch: pytest.MonkeyPatch) -> None:
    load = builtins.__import__

    def refuse(name: str, *rest: Any, **more: Any) -> Any:
        if name == "durable":
            raise ImportError("undefined symbol: PyEval_CallObject")
        return load(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(RuleEngineMissing) as caught:
        suspicion._load_engine()
    text = str(caught.value)
    assert "CPPFLAGS=-DPyEval_CallObject=PyObject_CallObject pip install" in text
    assert "--no-binary durable-rules" in text
    assert "undefined symbol" not in text


def test_the_engine_is_imported_only_when_rules_run() -> None:
    code = "import sys, oilpath.rules.engine; print([name for name in sys.modules if name.startswith('durable')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


# ------------------------------------------------------------------ rules as they are written


def test_terms_are_read() -> None:
    assert read_term("a or b-c") == Term(("a", "b-c"))
    assert read_term("not $x") == Term((), "x", True)
    assert read_term("any $x") == Term((), "x", False, True)
    for wrong in ("", "A", "a b", "not a or b", "any a", "any not $x", "$", "$1", "a, b", "a|b"):
        with pytest.raises(ValueError, match=f"^{re.escape(wrong)}$"):
            read_term(wrong)


def test_sentences_are_filled_in() -> None:
    assert fill_in("$pump and $side.", {"pump": "main pump 1", "side": "left"}) == "main pump 1 and left."


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"when": [{"fact": "group", "knd": "pump"}]}, "did you mean kind"),
        ({"when": [{"fact": "group", "state": "slow"}]}, "never stands there"),
        ({"when": [{"fact": "nothing"}]}, "observed"),
        ({"when": [{"fact": "group", "of": "a, b"}]}, "not a word for a slot"),
        ({"when": [{"fact": "group", "of": 1}]}, "not a word for a slot"),
        ({"when": [{"fact": "group"}] * 5}, "4"),
        ({"when": []}, "1"),
        ({"when": [{"fact": "group", "of": "not $p"}]}, r"\$p is not bound before"),
        ({"when": [{"fact": "group", "of": "$p", "pump": "$p"}]}, "twice in one condition"),
        ({"suspect": [{"cause": "main-relief.low", "at": {"part": "$p"}}]}, r"\$p is bound by no condition"),
        ({"suspect": [{"cause": "main-relief.low", "at": {"prt": "x"}}]}, "did you mean part"),
        ({"because": "Of $p."}, r"\$p is bound by no condition"),
        ({"suspect": []}, "suspect belongs to"),
        ({"warn": "Beware."}, "warn belongs to"),
        ({"kind": "pitfall", "warn": "Beware."}, "suspect belongs to"),
        ({"kind": "finding"}, "likelihood belongs to"),
        ({"suspect": [{"cause": "main-relief.low", "likelihood": 2}]}, "likelihood belongs to"),
        ({"kind": "finding", "suspect": [{"cause": "main-relief.low", "likelihood": 0}]}, "more than zero"),
        ({"fires": []}, "1"),
        ({"silent": []}, "1"),
    ],
)
def test_a_rule_that_cannot_be_meant_is_refused(change: dict[str, Any], says: str) -> None:
    with pytest.raises(ValidationError) as caught:
        rule(**({"when": [{"fact": "finding", "test": "flow"}]} | change))
    assert re.search(says, str([(error["msg"], error.get("ctx")) for error in caught.value.errors()]))


def test_a_rule_reads_back_as_it_was_written() -> None:
    for one in KB.rules:
        assert Rule.model_validate(one.model_dump(mode="json", by_alias=True)) == one


@pytest.mark.parametrize("fact", ["part", "finding"])
def test_a_slot_that_a_kind_of_fact_lacks_is_refused(fact: str) -> None:
    with pytest.raises(KeyError, match="has no slot"):
        slots_for(fact, relation="alike")
