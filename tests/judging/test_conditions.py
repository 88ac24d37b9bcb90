"""Conditions that a test demands: invalid outside them, judged with a warning where not stated."""

from __future__ import annotations

import math
from typing import Any

import pytest

from oilpath.documents.machine import Machine
from oilpath.judging.conditions import check, demands
from oilpath.knowledge.compile import load_knowledge
from tests.saying import said

BOOM = "test: cycle-time, function: boom-raise, times: [4.2 s, 4.2 s, 4.2 s]"
LOWER = "test: cycle-time, function: boom-lower, times: [3.8 s, 3.8 s, 3.8 s]"
ID = "cycle-time/boom-raise"
GOOD = {
    "oil-temperature": "54 °C", "engine-speed": "1900 rpm", "attachment": "empty", "auto-idle": "off",
    "working-setting": "full",
}  # fmt: skip


def _conditions(**other: str | None) -> str:
    stated = {**GOOD, **{key.replace("_", "-"): value for key, value in other.items()}}
    return ", ".join(f"{key}: {value}" for key, value in stated.items() if value is not None)


@pytest.mark.parametrize(
    ("name", "bad", "reason"),
    [
        ("oil_temperature", "24 °C", "warm it up"),
        ("attachment", "loaded", "attachment loaded, but the test requires empty"),
        ("auto_idle", "on", "auto idle on, but the test requires off"),
        ("working_setting", "reduced", "working setting reduced, but the test requires full"),
        ("engine_speed", "1400 rpm", "bring it to the test speed"),
        ("engine_speed", "2100 rpm", "bring it to the test speed"),
    ],
)
def test_outside_a_condition_is_invalid_and_no_evidence(judged: Any, name: str, bad: str, reason: str) -> None:
    results = judged(BOOM, conditions=_conditions(**{name: bad}))
    result, condition = results[ID], results[f"condition/{name.replace('_', '-')}"]
    assert (result.verdict, result.probability_out, result.deviation, result.evidence) == ("invalid", None, None, None)
    assert reason in said(result)
    assert condition.verdict == "fail"
    assert "makes 1 reading invalid" in said(condition)


@pytest.mark.parametrize("name", ["oil_temperature", "attachment", "auto_idle", "working_setting", "engine_speed"])
def test_not_stated_is_judged_with_a_warning(judged: Any, name: str) -> None:
    results = judged(BOOM, conditions=_conditions(**{name: None}))
    assert results[ID].verdict == "pass"
    assert f"not stated: {name.replace('_', ' ')}" in said(results[ID])
    assert f"condition/{name.replace('_', '-')}" not in results


def test_all_conditions_right(judged: Any) -> None:
    results = judged(BOOM)
    assert results[ID].notes == ()
    assert [results[f"condition/{name}"].verdict for name in GOOD] == ["pass"] * 5
    assert (results["condition/attachment"].word, results["condition/auto-idle"].word) == ("empty", "off")


def test_conditions_of_the_reading_override_the_sheet(judged: Any) -> None:
    assert judged(BOOM + ", conditions: {oil-temperature: 24 °C}")[ID].verdict == "invalid"
    cold = _conditions(oil_temperature="24 °C")
    assert judged(BOOM + ", conditions: {oil-temperature: 55 °C}", conditions=cold)[ID].verdict == "pass"


@pytest.mark.parametrize(
    ("hold", "verdict"), [("2 min", "invalid"), ("179 s", "invalid"), ("3 min", "pass"), ("180 s", "pass")]
)
def test_least_hold(judged: Any, hold: str, verdict: str) -> None:
    # Common practice: three minutes at least.
    result = judged(f"test: drift, cylinder: boom-cylinder, hold: {hold}, moved: 2 mm")["drift/boom-cylinder"]
    assert result.verdict == verdict


def test_machine_file_overrides_common_practice(judged: Any) -> None:
    machine = """
  engine-speed: 1900 rpm
  limits:
    - {test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}
    - {test: drift, cylinder: boom-cylinder, hold: 5 min, new: 3 mm, max: 12 mm}
  conditions:
    - {test: cycle-time, oil-temperature: [20 °C, 30 °C], attachment: loaded}
    - {test: drift, hold: 4 min}
"""
    drift = "test: drift, cylinder: boom-cylinder, hold: 3 min, moved: 2 mm"
    cold = _conditions(oil_temperature="24 °C", attachment="loaded")
    results = judged(BOOM, machine=machine, conditions=cold)
    assert results[ID].verdict == "pass"
    assert judged(BOOM, machine=machine)[ID].verdict == "invalid"
    assert judged(drift, machine=machine)["drift/boom-cylinder"].verdict == "invalid"


def test_drift_goes_by_its_own_oil_temperature(judged: Any) -> None:
    drift = "test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 2 mm, oil-start: {}"
    assert judged(drift.format("40 °C"))["drift/boom-cylinder"].verdict == "invalid"
    cold = judged(drift.format("55 °C"), conditions=_conditions(oil_temperature="40 °C"))
    assert cold["drift/boom-cylinder"].verdict == "pass"
    assert cold["condition/oil-temperature"].verdict == "unjudged"


def test_exactly_on_the_edge_is_accepted_in_any_unit(judged: Any) -> None:
    assert judged(BOOM, conditions=_conditions(oil_temperature="122 degF"))[ID].verdict == "pass"
    edge = judged(BOOM, conditions=_conditions(engine_speed="1843 rpm"))  # 97 %
    assert (edge["condition/engine-speed"].verdict, edge[ID].value) == ("pass", pytest.approx(4.2))


def test_speed_within_seven_per_cent_is_corrected(judged: Any) -> None:
    # A flow-limited time goes with the inverse of pump speed (Q = V·n): t at test speed = t·n/n_test.
    sound = judged(BOOM)[ID]
    results = judged(BOOM, conditions=_conditions(engine_speed="1805 rpm"))  # 95 %
    result, condition = results[ID], results["condition/engine-speed"]
    assert result.value == pytest.approx(4.2 * 0.95)
    assert result.uncertainty / result.value > sound.uncertainty / sound.value
    assert result.evidence.corrected == ("engine-speed",)
    assert "0.95 times the measured one" in said(result)
    assert (condition.verdict, condition.deviation) == ("fail", "low")


def test_fast_engine_is_corrected_too(judged: Any) -> None:
    result = judged(BOOM, conditions=_conditions(engine_speed="1995 rpm"))[ID]  # 105 %
    assert result.value == pytest.approx(4.2 * 1.05)


def test_flow_is_corrected_the_other_way(judged: Any) -> None:
    reading = "test: flow, at: pump-1-outlet, flow: 190 L/min"
    result = judged(reading, conditions=_conditions(engine_speed="1805 rpm"))["flow/pump-1-outlet"]
    assert result.value == pytest.approx(190e-3 / 60 / 0.95)


def test_what_weight_lowers_is_not_corrected_but_less_certain(judged: Any) -> None:
    sound = judged(LOWER)["cycle-time/boom-lower"]
    result = judged(LOWER, conditions=_conditions(engine_speed="1805 rpm"))["cycle-time/boom-lower"]
    assert result.value == sound.value
    assert result.uncertainty > sound.uncertainty
    assert result.evidence.corrected == ()


def test_within_three_per_cent_is_taken_as_it_is(judged: Any) -> None:
    result = judged(BOOM, conditions=_conditions(engine_speed="1870 rpm"))[ID]
    assert (result.value, result.evidence.corrected) == (pytest.approx(4.2), ())


def test_pressures_do_not_ask_for_engine_speed(judged: Any) -> None:
    results = judged(
        "test: stall-pressure, pump: pump-1, function: bucket-curl, pressure: 34.3 MPa",
        conditions=_conditions(engine_speed="1400 rpm"),
    )
    assert results["stall-pressure/pump-1/bucket-curl"].verdict == "pass"
    assert results["condition/engine-speed"].verdict == "fail"


def test_engine_speed_condition(judged: Any) -> None:
    condition = judged(BOOM, conditions=_conditions(engine_speed="1400 rpm"))["condition/engine-speed"]
    assert (condition.value, condition.new) == pytest.approx((1400 / 60, 1900 / 60))
    assert (condition.min, condition.max) == pytest.approx((0.97 * 1900 / 60, 1.03 * 1900 / 60))
    assert condition.evidence.e == pytest.approx(math.log(1400 / 1900))
    assert (condition.evidence.observe, condition.evidence.load) == ("condition", "engine-speed")
    assert (condition.quantity, condition.deviation) == ("rotation", "low")


def test_tolerance_of_the_machine(judged: Any) -> None:
    machine = """
  engine-speed: {test: 1900 rpm, tolerance: 1 %}
  limits: [{test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}]
"""
    results = judged(BOOM, machine=machine, conditions=_conditions(engine_speed="1862 rpm"))  # 98 %
    assert results["condition/engine-speed"].verdict == "fail"
    assert results[ID].value == pytest.approx(4.2 * 0.98)


def test_machine_without_a_test_speed(judged: Any) -> None:
    machine = "  limits: [{test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}]"
    results = judged(BOOM, machine=machine)
    assert results["condition/engine-speed"].verdict == "unjudged"
    assert "states no test speed" in said(results["condition/engine-speed"])
    assert results[ID].verdict == "pass"


def test_condition_that_nothing_demands_is_unjudged(judged: Any) -> None:
    results = judged("test: creep, of: swing, hold: 3 min, moved: 0 mm")
    assert results["condition/attachment"].verdict == "unjudged"
    assert results["condition/oil-temperature"].verdict == "unjudged"


# --- what a machine is asked for --------------------------------------------------------

NEEDS = {"engine-speed": ("engine",), "auto-idle": ("engine",), "working-setting": ("engine", "controller")}


def _missing(read: Any, machine: str, conditions: str = "oil-temperature: 54 °C, attachment: empty") -> set[str]:
    sheet = read(BOOM, machine=machine, conditions=conditions)
    return set(check(sheet.readings[0], sheet, needs=NEEDS).missing)


def test_a_machine_without_an_engine_is_not_asked_for_its_speed(read: Any) -> None:
    """Common practice: a rig's motor runs at the speed of the mains, there is nothing to set or to write down."""
    assert _missing(read, "") == {"engine-speed", "auto-idle", "working-setting"}
    assert _missing(read, "  absent: [engine]\n") == {"working-setting"}
    assert _missing(read, "  absent: [engine, controller]\n") == set()


def test_what_the_machines_own_file_states_is_asked_for_all_the_same(read: Any) -> None:
    absent = "  absent: [engine, controller]\n"
    assert _missing(read, absent + "  engine-speed: 1500 rpm\n") == {"engine-speed"}
    own = "  conditions: [{test: cycle-time, working-setting: full}]\n"
    assert _missing(read, absent + own) == {"working-setting"}


def test_what_is_stated_and_wrong_counts_though_nobody_asked(read: Any) -> None:
    sheet = read(BOOM, machine="  absent: [engine, controller]\n", conditions="working-setting: reduced")
    assert "working-setting" in check(sheet.readings[0], sheet, needs=NEEDS).faults


def test_what_is_about_an_engine_in_the_knowledge_base() -> None:
    known = load_knowledge()
    assert known.asked_of == NEEDS
    for name, kind in known.tests.items():
        if kind.conditions.engine_speed:
            rig = Machine(name="Invented", circuit=known.circuits["hydraulic-test-rig"])
            loader = Machine(name="Invented", circuit=known.circuits["wheel-loader"])
            assert not demands(name, kind, rig, needs=known.asked_of).engine_speed
            assert demands(name, kind, loader, needs=known.asked_of).engine_speed
