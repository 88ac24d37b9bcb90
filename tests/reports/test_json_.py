"""The answer for programs: shape, units and rounding of the fixed format."""

import json
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.flow import GaugePoint
from oilpath.problems import Problem
from oilpath.reports.json_ import error_data, number, to_data, to_json, to_jsonl
from oilpath.reports.text import to_text
from tests.reports.sample import CAUSES, DIAGNOSIS, SOUND, WORDS

Golden = Callable[[str, str], None]

# Keys and their order, from the format of the answer, `diagnosis/1`.
TOP = (
    "oilpath sheet machine unit-number stop-use results questions suspicions reasons causes groups sets checks plan"
    " work similar comeback closed-jobs figures cautions warnings words versions"
)
RESULT = "id test title value unit uncertainty count new min max basis verdict deviation probability-out computed notes"
CAUSE = "cause part variant title probability present severity prior total for against together"


def test_golden(golden: Golden) -> None:
    golden("json-full.txt", to_json(to_data(DIAGNOSIS, WORDS)))
    golden("json-sound.txt", to_json(to_data(SOUND, WORDS)))


def test_keys_in_their_order() -> None:
    data = to_data(DIAGNOSIS, WORDS)
    assert " ".join(data) == TOP
    assert {" ".join(entry) for entry in data["results"]} == {RESULT}
    assert {" ".join(entry) for entry in data["causes"]} == {CAUSE}
    assert {" ".join(entry) for entry in data["suspicions"]} == {"rule cause part because evidence"}
    assert {" ".join(entry) for entry in data["groups"]} == {"title probability members parted-by"}
    assert {" ".join(entry) for entry in data["sets"]} == {"members probability"}
    assert {" ".join(entry) for entry in data["checks"]} == {"check part title minutes bits cautions outcomes record"}
    assert " ".join(data["checks"][0]["outcomes"][0]) == "outcome says probability then"
    assert " ".join(data["checks"][0]["outcomes"][0]["then"][0]) == "cause part probability"
    assert " ".join(data["causes"][0]["severity"]) == "parameter median low high unit"
    assert " ".join(data["causes"][0]["for"][0]) == "result weight"
    assert " ".join(data["stop-use"][0]) == "cause part because sign probability"
    assert " ".join(data["versions"]) == "tool knowledge"


def test_figures_in_the_units_of_the_format() -> None:
    results = {entry["id"]: entry for entry in to_data(DIAGNOSIS, WORDS)["results"]}
    shown = {id_: (entry["value"], entry["unit"], entry["max"]) for id_, entry in results.items()}
    assert shown["cycle-time/boom-raise"] == (4.76667, "s", 4.9)
    assert shown["drift/boom-cylinder"] == (9, "mm", 12)
    assert shown["travel-veer/forward/high"] == (-0.4, "m", 1.2)
    assert shown["stall-pressure/pump-1/bucket-curl"] == (34.1, "MPa", 35.3)
    assert shown["case-drain/pump-1"] == (31, "L/min", 24)
    assert shown["engine-speed/stall-both-pumps"] == (1820, "rpm", None)
    assert shown["temperature/travel-left-motor"] == (71, "°C", None)
    assert results["temperature/travel-left-motor"]["uncertainty"] == 2.2  # a difference has no offset
    assert results["cycle-time/bucket-curl"]["computed"] == {
        "flow": {"value": 198.5, "unit": "L/min", "uncertainty": None}
    }
    assert results["drift/boom-cylinder"]["computed"]["leakage"] == {
        "value": 0.0034, "unit": "L/min", "uncertainty": 0.0005,
    }  # fmt: skip
    assert to_data(DIAGNOSIS, WORDS)["causes"][0]["severity"] == {
        "parameter": "leakage", "median": 34, "low": 26, "high": 45, "unit": "L/min",
    }  # fmt: skip


def test_a_sign_a_code_and_a_check_have_no_numbers() -> None:
    results = {entry["id"]: entry for entry in to_data(DIAGNOSIS, WORDS)["results"]}
    for id_, value, verdict in (
        ("code/520201-4", True, "fail"),
        ("sign/foamy-oil", False, "pass"),
        ("check/flow-at-pressure/pump-1", "short", "unjudged"),
    ):
        assert results[id_]["value"] is value or results[id_]["value"] == value
        assert results[id_]["verdict"] == verdict
        for key in ("unit", "uncertainty", "count", "new", "min", "max", "basis", "deviation", "probability-out"):
            assert results[id_][key] is None


def test_plan_is_an_object() -> None:
    plan = to_data(DIAGNOSIS, WORDS)["plan"]
    assert plan["expected-minutes"] == 64.7
    assert plan["first"]["branches"][1]["next"]["check"] == "swap-spools"
    assert to_data(SOUND, WORDS)["plan"] == {"first": None, "expected-minutes": None, "remarks": [], "gauge-points": []}


def _numbers(data: Any) -> Iterator[float]:
    if isinstance(data, dict):
        for value in data.values():
            yield from _numbers(value)
    elif isinstance(data, list):
        for value in data:
            yield from _numbers(value)
    elif isinstance(data, int | float) and not isinstance(data, bool):
        yield data


def test_at_most_six_significant_digits_everywhere() -> None:
    for figure in _numbers(to_data(DIAGNOSIS, WORDS)):
        assert figure == float(f"{figure:.6g}")


@given(st.one_of(st.none(), st.floats()))
def test_number_is_finite_or_null(value: float | None) -> None:
    shown = number(value)
    if value is None or not math.isfinite(value):
        assert shown is None
    else:
        assert shown is not None
        assert shown == float(f"{value:.6g}")
        assert str(shown) != "-0.0"
        json.dumps(shown, allow_nan=False)


def test_infinite_weights_become_null() -> None:
    odd = replace(DIAGNOSIS, causes=(replace(CAUSES[0], total=math.inf, prior=math.nan), *CAUSES[1:]))
    cause = json.loads(to_json(to_data(odd, WORDS)))["causes"][0]
    assert (cause["prior"], cause["total"]) == (None, None)


def test_text_goes_through_unchanged_and_a_lone_surrogate_is_replaced() -> None:
    data = to_data(replace(DIAGNOSIS, unit_number="a\x1b\u202e\n日本", sheet="bad\udcff.yaml"), WORDS)
    back = json.loads(to_json(data).encode("utf-8"))
    assert back["unit-number"] == "a\x1b\u202e\n日本"
    assert back["sheet"] == "bad?.yaml"


def test_jsonl_is_one_line() -> None:
    line = to_jsonl(to_data(DIAGNOSIS, WORDS))
    assert line.endswith("\n")
    assert len(line.splitlines()) == 1
    assert json.loads(line) == json.loads(to_json(to_data(DIAGNOSIS, WORDS)))


def test_error_entry() -> None:
    assert error_data("x.yaml", [Problem("x.yaml", 3, "machine", "is missing", "a path")]) == {
        "oilpath": "error/1",
        "sheet": "x.yaml",
        "problems": [{"file": "x.yaml", "line": 3, "key": "machine", "message": "is missing", "accepted": "a path"}],
    }


@pytest.mark.parametrize("answer", [DIAGNOSIS, SOUND])
def test_same_answer_same_bytes(answer: Any) -> None:
    assert to_json(to_data(answer, WORDS)) == to_json(to_data(answer, WORDS))


def test_points_for_a_gauge_stand_in_the_plan() -> None:
    point = GaugePoint("boom-raise", "boom-spool", 1 / 3, 2 / 3)
    plan = replace(DIAGNOSIS.plan, gauge_points=(point,))
    data = to_data(replace(DIAGNOSIS, plan=plan), WORDS)["plan"]["gauge-points"]
    assert data == [{"function": "boom-raise", "behind": "boom-spool", "before": 0.333333, "after": 0.666667}]
    text = " ".join(to_text(replace(DIAGNOSIS, plan=plan), WORDS).split())
    assert "A pressure gauge after the boom spool would best divide the suspects along the path of" in text
