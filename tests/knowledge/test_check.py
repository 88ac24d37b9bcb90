"""Checks that measure: every side of the readings gives one outcome, and what the model cannot tell says why."""

from typing import Any

import pytest
from pydantic import ValidationError

from oilpath.documents.nodes import read_nodes
from oilpath.documents.validate import model_from
from oilpath.knowledge.check import Check, CheckFile
from oilpath.problems import Problems

GOOD: dict[str, Any] = {
    "check": "read", "title": "Read", "at": {"class": "main-pump"}, "minutes": 5, "intrusiveness": 0, "tools": [],
    "cautions": [], "how": "Read.", "outcomes": {"right": "right", "low": "low", "odd": "odd"}, "source": "from memory",
    "measures": {"now": {"test": "flow", "against": "then"}, "then": {"test": "flow", "variant": "cold"}},
    "gives": [{"outcome": "low", "when": {"now": "below"}}, {"outcome": "right"}],
    "tells": [{"causes": "pump.worn", "outcomes": {"right": 0.1, "low": 0.2, "odd": 0.7}, "because": "not modelled"}],
    "otherwise": {"odd": 0.05},
}  # fmt: skip
LOW, RIGHT, ODD = {"outcome": "low", "when": {"now": "below"}}, {"outcome": "right"}, {"outcome": "odd"}


def test_as_written() -> None:
    check = Check.model_validate(GOOD)
    assert check.read == ("now",)
    assert check.gives[0].when == {"now": ("below",)}
    assert Check.model_validate_json(check.model_dump_json(by_alias=True)) == check
    assert Check.model_validate({k: v for k, v in GOOD.items() if k != "tells"}).tells == ()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"gives": []}, "`measures` or `gives` alone"),
        ({"measures": {}}, "`measures` or `gives` alone"),
        ({"gives": [LOW]}, "gives no outcome where now within"),
        ({"gives": [{"outcome": "low", "when": {"now": ["below", "within"]}}]}, "gives no outcome where now above"),
        ({"gives": [RIGHT, LOW]}, r"gives\[2\] never counts"),
        ({"gives": [LOW, {"outcome": "high"}]}, r"gives\[2\] names no outcome of the check"),
        ({"gives": [{"outcome": "low", "when": {"new": "below"}}, RIGHT]}, r"names no reading of the check: new"),
        ({"gives": [{"outcome": "low", "when": {"now": "lower"}}, RIGHT]}, "'below', 'within' or 'above'"),
        ({"measures": {"now": {"test": "flow", "against": "once"}}}, "held against once, which is not another reading"),
        ({"measures": {"now": {"test": "flow", "against": "now"}}}, "held against now, which is not another reading"),
        ({"measures": {"now": {"test": "flow"}, "then": {"test": "flow"}}}, "reads then for nothing"),
        ({"measures": {"now": {"test": "flow", "noticeable": 0}}}, "must be more than zero"),
        ({"measures": {"now": {"test": "flow", "take": "best"}}}, "'strongest', 'least' or 'most'"),
        ({"otherwise": {}}, "otherwise does not name the outcomes"),
        ({"otherwise": {"odd": 0.05, "low": 0.1}}, "otherwise does not name the outcomes"),
        ({"gives": [LOW, ODD], "otherwise": {"right": 1.0}}, "otherwise holds a certainty"),
        ({"tells": [{"causes": "pump.worn", "outcomes": {"right": 0.1, "low": 0.2, "odd": 0.7}}]}, "does not say why"),
        ({"measures": {}, "gives": [], "tells": []}, "tells no causes apart"),
    ],
)
def test_what_does_not_hold_together_is_refused(change: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        Check.model_validate(GOOD | change)


def test_a_problem_names_file_line_and_key() -> None:
    text = """\
oilpath: checks/1
checks:
  - check: read
    title: Read
    at: {class: main-pump}
    minutes: 5
    intrusiveness: 0
    tools: []
    cautions: []
    how: Read.
    outcomes: {right: right, low: low}
    measures:
      now: {test: flow, agianst: twin}
    gives: [{outcome: low, when: {now: below}}]
    source: from memory
"""
    problems = Problems()
    assert model_from(read_nodes(text, "checks/zz.yaml"), CheckFile, "checks/zz.yaml", problems) is None
    (one,) = problems
    assert (one.file, one.line, one.key) == ("checks/zz.yaml", 13, "checks[0].measures.now.agianst")
    assert "against" in one.accepted
    problems = Problems()
    text = text.replace("agianst", "against")
    assert model_from(read_nodes(text, "checks/zz.yaml"), CheckFile, "checks/zz.yaml", problems) is None
    (one,) = problems
    assert (one.line, one.key) == (3, "checks[0]")
    assert one.message == "gives no outcome where now within"


def test_a_check_that_reads_too_much_is_refused_at_once() -> None:
    """Thirty readings on three sides each would otherwise be gone through for ever."""
    names = [f"m{number}" for number in range(30)]
    change = {
        "measures": {name: {"test": "flow"} for name in names},
        "gives": [{"outcome": "low", "when": dict.fromkeys(names, "below")}, RIGHT],
    }
    with pytest.raises(ValidationError, match="decides by 30 readings"):
        Check.model_validate({**GOOD, **change})
