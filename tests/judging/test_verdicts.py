"""Mean, uncertainty, probability of being out, verdict, deviation and evidence."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath.documents.machine import Limit
from oilpath.documents.sheet import Sheet
from oilpath.flow import Measured, Result
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import Instrument
from tests.saying import said
from tests.steps import judge

BOOM = "test: cycle-time, function: boom-raise, times: [{}]"
few = settings(max_examples=60)


def test_mean_and_uncertainty_of_three_times(judged: Any) -> None:
    # JCGM 100:2008, 4.2.3: s of the three is 0.0577 s, below the least scatter of a hand stopwatch, 0.09 s.
    result = judged(BOOM.format("4.8 s, 4.7 s, 4.8 s"))["cycle-time/boom-raise"]
    assert result.value == pytest.approx(4.76667, abs=1e-5)
    assert result.uncertainty == pytest.approx(math.hypot(0.09 / math.sqrt(3), 0.05))
    assert (result.count, result.new, result.max, result.min) == (3, 4.2, 4.9, None)
    assert (result.basis, result.deviation, result.verdict) == ("limit", "slow", "pass")


@pytest.mark.parametrize(
    ("times", "verdict"),
    [("4.2 s, 4.2 s, 4.2 s", "pass"), ("4.9 s, 4.9 s, 4.9 s", "near"), ("5.4 s, 5.5 s, 5.4 s", "fail")],
)
def test_verdicts(judged: Any, times: str, verdict: str) -> None:
    assert judged(BOOM.format(times))["cycle-time/boom-raise"].verdict == verdict


def test_value_on_its_limit_is_out_by_one_half(judged: Any) -> None:
    # JCGM 106:2012, 7.3: a normal value whose mean lies on the limit.
    assert judged(BOOM.format("4.9 s"))["cycle-time/boom-raise"].probability_out == pytest.approx(0.5)


def test_thresholds_are_options(judged: Any) -> None:
    reading = BOOM.format("4.9 s")
    assert judged(reading, fail_at=0.5, pass_at=0.1)["cycle-time/boom-raise"].verdict == "fail"
    assert judged(reading, fail_at=0.95, pass_at=0.5)["cycle-time/boom-raise"].verdict == "pass"


@pytest.mark.parametrize(("fail_at", "pass_at"), [(0.05, 0.95), (0.5, 0.5), (1.2, 0.05), (0.9, -0.1)])
def test_thresholds_must_be_in_order(judged: Any, fail_at: float, pass_at: float) -> None:
    with pytest.raises(ValueError, match="thresholds"):
        judged(BOOM.format("4.9 s"), fail_at=fail_at, pass_at=pass_at)


def test_scatter_is_pooled_over_the_test(judged: Any) -> None:
    # JCGM 100:2008, H.3.6: s² = (Σ of squares about each mean) / (Σ of n − 1) = (0.5 + 0.0) / 2.
    results = judged(BOOM.format("4.0 s, 5.0 s"), "test: cycle-time, function: boom-lower, times: [3.8 s, 3.8 s]")
    expected = math.hypot(0.5 / math.sqrt(2), 0.05)
    assert results["cycle-time/boom-lower"].uncertainty == pytest.approx(expected)


def test_gauge_of_the_sheet_sets_the_uncertainty(judged: Any) -> None:
    # EN 837-1: class 1.0 of 60 MPa is ± 0.6 MPa; JCGM 100:2008, 4.3.7: rectangular. Display steps of 0.1 MPa: F.2.2.1.
    reading = "test: stall-pressure, pump: pump-1, function: bucket-curl, pressure: 34.1 MPa"
    more = "instruments: {pressure: {span: 60 MPa, class: 1.0, resolution: 0.1 MPa}}"
    result = judged(reading, more=more)["stall-pressure/pump-1/bucket-curl"]
    expected = math.sqrt((0.6e6 / math.sqrt(3)) ** 2 + (0.1e6 / math.sqrt(12)) ** 2 + (0.004 * 34.1e6) ** 2)
    assert result.uncertainty == pytest.approx(expected)
    assert judged(reading)["stall-pressure/pump-1/bucket-curl"].uncertainty < result.uncertainty


@pytest.mark.parametrize(
    ("value", "u", "low", "high", "out"),
    [
        (13.6, 1.8, 12.5, 16.3, 1 - 0.663),  # JCGM 106:2012, 7.4 (two-sided)
        (-5.47, 0.05, None, -5.40, 1 - 0.92),  # JCGM 106:2012, 7.3.3 example 1, answer from memory
        (509.7, 8.6, 490.0, None, 1 - 0.99),  # JCGM 106:2012, 7.3.3 example 2, answer from memory
    ],
)
def test_published_probabilities_of_being_out(
    read: Any, knowledge: Knowledge, value: float, u: float, low: float | None, high: float | None, out: float
) -> None:
    sheet: Sheet = read("test: pilot-pressure, pressure: 3.9 MPa")
    kind = sheet.readings[0].kind.model_copy(update={"instrument": Instrument(kind="exact", systematic=u)})
    reading = dataclasses.replace(sheet.readings[0], kind=kind, values=(value,))
    limit = Limit(test="pilot-pressure", min=low, max=high)
    machine = sheet.machine.model_copy(update={"limits": (limit,)})
    result = judge(dataclasses.replace(sheet, machine=machine, readings=(reading,)), knowledge)[0]
    assert isinstance(result, Measured)
    assert result.probability_out == pytest.approx(out, abs=0.005)


def test_deviation_is_against_new_then_the_middle(judged: Any) -> None:
    results = judged(
        BOOM.format("4.1 s"),
        "test: cycle-time, function: boom-lower, times: [3.8 s]",
        "test: pilot-pressure, pressure: 3.8 MPa",
        "test: case-drain, part: pump-1, flow: 9 L/min",
    )
    assert results["cycle-time/boom-raise"].deviation == "fast"
    assert results["cycle-time/boom-lower"].deviation is None
    assert results["pilot-pressure"].deviation == "low"  # the middle is 3.95 MPa
    assert results["case-drain/pump-1"].deviation is None  # only a maximum is known, and it is within
    high = judged("test: case-drain, part: pump-1, flow: 40 L/min")["case-drain/pump-1"]
    assert (high.deviation, high.verdict) == ("high", "fail")


def test_lower_limit_alone(judged: Any) -> None:
    result = judged("test: flow, at: pump-1-outlet, flow: 150 L/min")["flow/pump-1-outlet"]
    assert (result.verdict, result.deviation, result.max) == ("fail", "low", None)
    assert result.evidence.e == pytest.approx(math.log(150 / (190 * 1.1)))


def test_evidence_is_the_ratio_to_new(judged: Any) -> None:
    result = judged(BOOM.format("4.8 s, 4.7 s, 4.8 s"))["cycle-time/boom-raise"]
    evidence = result.evidence
    assert evidence.e == pytest.approx(math.log(result.value / 4.2))
    assert evidence.u == pytest.approx(result.uncertainty / result.value)
    assert (evidence.result, evidence.observe, evidence.load, evidence.scale) == (
        result.id,
        "function-time",
        "cycle",
        "ratio",
    )
    assert evidence.keys["function"] == "boom-raise"


def test_evidence_where_only_the_maximum_is_known_is_as_uncertain_as_the_guess(judged: Any) -> None:
    evidence = judged("test: case-drain, part: pump-1, flow: 9 L/min")["case-drain/pump-1"].evidence
    assert evidence.e == pytest.approx(math.log(9 / (24 * 0.4)))
    assert evidence.u > 0.5


def test_load_case_names_the_range(judged: Any) -> None:
    reading = "test: track-time, side: left, direction: forward, range: high, turns: 3, times: [18.2 s]"
    assert judged(reading)["track-time/left/forward/high"].evidence.load == "raised-high"


def test_no_limit_no_dimensions_no_verdict(judged: Any) -> None:
    result = judged(BOOM.format("4.8 s"), machine="  engine-speed: 1900 rpm")["cycle-time/boom-raise"]
    assert (result.verdict, result.basis, result.probability_out, result.evidence) == ("unjudged", None, None, None)
    assert "states no limit" in said(result)
    assert result.value == 4.8


def test_only_the_new_value_is_known(judged: Any) -> None:
    machine = "  engine-speed: 1900 rpm\n  limits: [{test: cycle-time, function: boom-raise, new: 4.2 s}]"
    result = judged(BOOM.format("4.8 s"), machine=machine)["cycle-time/boom-raise"]
    assert (result.verdict, result.deviation, result.probability_out) == ("unjudged", "slow", None)
    assert result.evidence.e == pytest.approx(math.log(4.8 / 4.2))


def test_results_are_in_the_order_of_the_readings_with_conditions_last(judged: Any) -> None:
    travel = "test: travel-time, direction: forward, range: high, distance: 20 m, times: [14.2 s], "
    results = judged(
        "test: pilot-pressure, pressure: 3.9 MPa", travel + "veer: {toward: left, offset: 0.4 m}", BOOM.format("4.2 s")
    )
    assert list(results) == [
        "pilot-pressure", "travel-time/forward/high", "travel-veer/forward/high", "cycle-time/boom-raise",
        "condition/engine-speed", "condition/oil-temperature", "condition/attachment", "condition/auto-idle",
        "condition/working-setting",
    ]  # fmt: skip


times = st.lists(st.floats(2.0, 9.0), min_size=2, max_size=5)


def _with(sheet: Sheet, *values: tuple[float, ...]) -> Sheet:
    readings = tuple(dataclasses.replace(r, values=v) for r, v in zip(sheet.readings, values, strict=True))
    return dataclasses.replace(sheet, readings=readings)


@few
@given(values=times, seed=st.randoms(use_true_random=False))
def test_order_of_repeats_is_irrelevant(read: Any, knowledge: Knowledge, values: list[float], seed: Any) -> None:
    sheet, other = read(BOOM.format("4.8 s")), list(values)
    seed.shuffle(other)
    assert judge(_with(sheet, tuple(values)), knowledge) == judge(_with(sheet, tuple(other)), knowledge)


def _probability(result: Result) -> float | None:
    return result.probability_out if isinstance(result, Measured) else None


@few
@given(a=st.floats(2.0, 9.0), b=st.floats(2.0, 9.0))
def test_slower_is_never_less_probably_out(read: Any, knowledge: Knowledge, a: float, b: float) -> None:
    sheet = read(BOOM.format("4.8 s"))
    fast, slow = (_probability(judge(_with(sheet, (t,)), knowledge)[0]) for t in sorted((a, b)))
    assert fast is not None
    assert slow is not None
    assert fast <= slow


@few
@given(left=st.floats(15.0, 25.0), right=st.floats(15.0, 25.0))
def test_left_and_right_are_treated_alike(read: Any, knowledge: Knowledge, left: float, right: float) -> None:
    reading = "test: track-time, side: {}, direction: forward, range: high, turns: 3, times: [18.2 s]"
    sheet = read(reading.format("left"), reading.format("right"))
    one: Any = judge(_with(sheet, (left,), (right,)), knowledge)
    two: Any = judge(_with(sheet, (right,), (left,)), knowledge)
    for a, b in ((0, 1), (1, 0)):
        assert one[a].verdict == two[b].verdict
        assert one[a].probability_out == two[b].probability_out
        assert one[a].deviation == two[b].deviation
