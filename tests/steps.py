"""Single steps of the flow for tests that have a knowledge base in hand and no bench."""

from collections.abc import Sequence

from oilpath import judging
from oilpath.bench import bench_for, rules_for
from oilpath.documents.sheet import Sheet
from oilpath.flow import Fact, Result, Suspicions
from oilpath.knowledge.base import Knowledge
from oilpath.rules import engine


def judge(sheet: Sheet, knowledge: Knowledge, *, fail_at: float = 0.95, pass_at: float = 0.05) -> tuple[Result, ...]:
    """The results of a sheet."""
    return judging.judge(sheet, bench_for(sheet.machine, knowledge), fail_at=fail_at, pass_at=pass_at)


def suspect(facts: Sequence[Fact], knowledge: Knowledge) -> Suspicions:
    """What the rules of a knowledge base say of some facts."""
    return engine.suspect(facts, rules_for(knowledge))
