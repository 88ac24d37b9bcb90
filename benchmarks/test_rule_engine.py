"""The rule engine at work for long: many sheets from many threads at once, no wrong answer, no growth."""

import itertools
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest

from oilpath import load_knowledge, load_sheet
from oilpath.bench import bench_for, rules_for
from oilpath.flow import Fact
from oilpath.judging import judge
from oilpath.rules.engine import suspect
from oilpath.rules.facts import relate

from .conftest import LINES, sheet_files

SESSIONS, THREADS = 1000, 8
MOST_GROWN = 20.0  # MiB


def resident() -> float:
    """Memory of this process that is in use now [MiB]."""
    with open("/proc/self/statm", encoding="ascii") as file:
        pages = int(file.read().split()[1])
    resource = pytest.importorskip("resource")
    return float(pages * resource.getpagesize() / 2**20)


def facts_of_all_cases() -> list[tuple[Fact, ...]]:
    """The facts of every sheet that ships: each has another answer, or none."""
    knowledge = load_knowledge()
    facts = []
    for file in sheet_files():
        sheet = load_sheet(file, knowledge)
        facts.append(relate(judge(sheet, bench_for(sheet.machine, knowledge)), bench_for(sheet.machine, knowledge)))
    return facts


def test_a_thousand_sessions_from_eight_threads() -> None:
    try:
        resident()
    except OSError:
        pytest.skip("memory is read from /proc, which this system does not have")
    rules, facts = rules_for(load_knowledge()), facts_of_all_cases()
    expected = [suspect(one, rules) for one in facts]
    assert len(set(expected)) > len(facts) // 2 > 5

    def right(number: int) -> bool:  # compared at once: kept answers would count as growth
        return suspect(facts[number % len(facts)], rules) == expected[number % len(facts)]

    with ThreadPoolExecutor(THREADS) as threads:
        list(threads.map(right, range(100)))  # every thread is warm
        before, begun = resident(), time.perf_counter()
        wrong = sum(not one for one in threads.map(right, range(SESSIONS)))
        took, grown = time.perf_counter() - begun, resident() - before
    LINES.append(
        f"rule engine: {SESSIONS} sessions from {THREADS} threads, {len(rules.knowledge.rules)} rules:"
        f" {wrong} wrong answers, memory grew by {grown:.1f} MiB, {took / SESSIONS * 1e3:.1f} ms each"
    )
    assert wrong == 0
    assert grown < MOST_GROWN


def test_the_rules_on_one_sheet(compare: Callable[..., tuple[float, float]]) -> None:
    """All rules, beside the bare engine with one rule that takes every fact, also those that no rule asks for."""
    from durable import engine

    class Bare(engine.Host):  # type: ignore[misc]
        def _run(self) -> None:
            """No timer threads."""

    rules, facts = rules_for(load_knowledge()), max(facts_of_all_cases(), key=len)
    host, sessions = Bare(), itertools.count()
    host.set_rulesets({"bare": {"every": {"all": [{"m": {"$ex": {"fact": 1}}}], "run": lambda _: None}}})

    def bare() -> None:
        session = f"s{next(sessions)}"
        for number, fact in enumerate(facts):
            host.assert_fact("bare", {**fact.slots, "fact": fact.kind, "id": f"f{number}", "sid": session})
        host.delete_state("bare", session)

    ours, theirs = compare("all rules on one sheet", lambda: suspect(facts, rules), "the bare engine, one rule", bare)
    LINES.append(f"  {len(facts)} facts; that is {ours / theirs:.2f} times; 1.5 are allowed")
    assert ours <= 1.5 * theirs
