"""The chain of reasons where people look for it: in the tree, in `why` of a result, in `explore` of a rule."""

from __future__ import annotations

from functools import cache

import pytest

from oilpath import Diagnosis, diagnose, load_knowledge, load_sheet
from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.documents.machine import Machine
from oilpath.explore.topics import Topic
from oilpath.explore.views import SuspectView, view
from oilpath.reports.blocks import Branch, Tree
from oilpath.reports.page import lay_out
from oilpath.reports.why import why
from oilpath.reports.words import Words

SHEET = data_folder("cases") / "demo" / "one-track-slow.yaml"


@cache
def case() -> tuple[Diagnosis, Machine, Words]:
    sheet = load_sheet(SHEET)
    return diagnose(sheet), sheet.machine, Words(load_knowledge(), sheet.machine)


def below(branch: Branch) -> list[Branch]:
    return [branch, *(one for child in branch.children for one in below(child))]


def test_the_tree_shows_how_it_came_to_a_cause() -> None:
    """Below a cause stand the steps that suspect it, below each what it rests on; no step is explained twice."""
    answer, _, words = case()
    tree = next(block for block in lay_out(answer, words) if isinstance(block, Tree))
    because = [one for one in below(tree.root) if one.text.startswith("Because: ")]
    deep = [one for one in because if one.children]
    assert deep
    assert all(child.text.startswith("Because: ") for one in deep for child in one.children)
    assert len({one.text for one in deep}) == len(deep)


def test_why_a_result_shows_the_steps_that_it_carries() -> None:
    answer, _, words = case()
    chained = next(one for one in answer.reasons if one.after)
    text = why(answer, chained.results[0], words)
    assert "Step by step" in text
    assert text.index("1. ") < text.index("2. ")
    silent = next(r.id for r in answer.results if not any(r.id in one.results for one in answer.reasons))
    assert "Step by step" not in why(answer, silent, words)


@pytest.mark.parametrize(
    ("rule", "leads", "rests"),
    [
        ("one-pump-slow", {"pump-group-slow-stall-normal"}, set()),
        ("flow-measured-short", set(), {"pump-slow", "pump-flow-low"}),
        ("slow-under-load-engine-holds", set(), {"all-loaded-slow"}),
    ],
)
def test_a_rule_is_explored_with_what_it_leads_to(rule: str, leads: set[str], rests: set[str]) -> None:
    """Also a rule that suspects nothing by itself: it narrows down what other rules go on from."""
    _, machine, _ = case()
    found = view(Topic("symptom", rule), bench_for(machine, load_knowledge()))
    assert isinstance(found, SuspectView)
    assert leads <= {one.id for one in found.leads_to}
    assert rests <= {one.id for one in found.rests_on}
