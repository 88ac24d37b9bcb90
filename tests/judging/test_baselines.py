"""Readings judged by earlier sheets of the same machine: means, scatter, oil, engine speed, and which ones count."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_sheet
from oilpath.judging import baseline_warnings
from oilpath.knowledge.base import Knowledge
from oilpath.physics.formulas.oil import kinematic_viscosity
from tests.judging.conftest import USUAL
from tests.saying import sentences
from tests.steps import judge

MACHINE = "oilpath: machine/1\nname: {name}\ncircuit: two-pump-excavator\nengine-speed: 1900 rpm\n{more}"
CURL = "test: cycle-time, function: bucket-curl, times: [{} s]"
DRIFT = "test: drift, cylinder: boom-cylinder, hold: {} min, moved: {} mm, oil-start: {} °C"

Yard = Callable[..., Any]
Judged = Callable[..., Mapping[str, Any]]


@pytest.fixture
def sheet(tmp_path: Path, knowledge: Knowledge) -> Yard:
    """sheet(now, earlier readings …): a sheet with one earlier sheet for each; all of one invented machine."""

    def make(
        now: str, *earlier: str, more: str = "", usual: str = USUAL, then: str = USUAL, head: str = "", old: str = ""
    ) -> Any:
        def write(name: str, reading: str, conditions: str, lines: str) -> Path:
            path = tmp_path / name
            text = f"oilpath: sheet/1\nmachine: machine.yaml\nconditions: {{{conditions}}}\n{lines}\n"
            path.write_text(f"{text}readings:\n  - {{{reading}}}\n", encoding="utf-8")
            return path

        (tmp_path / "machine.yaml").write_text(MACHINE.format(name="Invented", more=more), encoding="utf-8")
        (tmp_path / "other.yaml").write_text(MACHINE.format(name="Another", more=more), encoding="utf-8")
        names = [write(f"old-{number}.yaml", reading, then, old).name for number, reading in enumerate(earlier)]
        return load_sheet(write("now.yaml", now, usual, f"{head}\nbaseline: [{', '.join(names)}]"), knowledge)

    return make


@pytest.fixture
def against(sheet: Yard, knowledge: Knowledge) -> Judged:
    def results(*readings: str, **rest: Any) -> Mapping[str, Any]:
        return {result.id: result for result in judge(sheet(*readings, **rest), knowledge)}

    return results


def only(results: Mapping[str, Any]) -> Any:
    return next(iter(results.values()))


def test_the_mean_of_the_earlier_readings_is_new(against: Judged) -> None:
    """The geometric mean, as ratios are compared."""
    result = only(against(CURL.format(3.5), CURL.format(3.3), CURL.format(3.5), CURL.format(3.4)))
    assert result.basis == "baseline"
    assert result.new == pytest.approx((3.3 * 3.5 * 3.4) ** (1 / 3))
    assert result.verdict == "pass"
    assert result.new is not None
    assert result.evidence is not None
    assert result.evidence.e == pytest.approx(math.log(3.5 / result.new))
    assert any("3 earlier readings" in note for note in sentences(result.notes))


def test_action_limits_are_three_deviations_from_the_mean(against: Judged) -> None:
    """Shewhart's chart (ISO 7870-2): three standard deviations; here of the logarithms, larger than any floor."""
    times = (3.0, 3.5, 4.0)
    logs = [math.log(time) for time in times]
    mean = sum(logs) / 3
    deviation = math.sqrt(sum((log - mean) ** 2 for log in logs) / 2)
    result = only(against(CURL.format(3.5), *(CURL.format(time) for time in times)))
    assert result.max == pytest.approx(math.exp(mean + 3 * deviation))
    assert result.min is None  # a time has an upper limit only


def test_much_scatter_makes_less_sure(against: Judged) -> None:
    close = only(against(CURL.format(4.2), CURL.format(3.49), CURL.format(3.5), CURL.format(3.51)))
    apart = only(against(CURL.format(4.2), CURL.format(3.0), CURL.format(3.5), CURL.format(4.0)))
    assert close.verdict == "fail"
    assert apart.probability_out is not None
    assert close.probability_out is not None
    assert apart.probability_out < close.probability_out
    assert apart.evidence is not None
    assert close.evidence is not None
    assert apart.evidence.u > close.evidence.u


def test_two_that_agree_by_chance_are_no_surer_than_the_instrument(against: Judged, knowledge: Knowledge) -> None:
    result = only(against(CURL.format(3.5), CURL.format(3.5), CURL.format(3.5)))
    assert result.max is not None
    assert result.new is not None
    own = knowledge.tests["cycle-time"].scatter
    assert own is not None
    instrument = math.hypot(0.05, 0.09) / 3.5  # a hand stopwatch as tests.yaml states it
    assert math.log(result.max / result.new) / 3 >= max(own.own, instrument) * (1 - 1e-9)


def test_a_limit_of_the_machine_comes_first_and_the_baseline_stands_beside(against: Judged) -> None:
    limit = "limits:\n  - {test: cycle-time, function: bucket-curl, new: 3.4 s, max: 4.0 s}\n"
    result = only(against(CURL.format(4.5), CURL.format(3.5), more=limit))
    assert (result.basis, result.new, result.max) == ("limit", 3.4, 4.0)
    assert any(
        "when it was sound, this machine showed 3.5 s: 29 % more, beyond" in note for note in sentences(result.notes)
    )
    same = only(against(CURL.format(3.51), CURL.format(3.5), more=limit))
    assert any("no significant change" in note for note in sentences(same.notes))


def test_only_a_value_of_a_new_machine_is_no_limit(against: Judged) -> None:
    limit = "limits:\n  - {test: cycle-time, function: bucket-curl, new: 3.4 s}\n"
    assert only(against(CURL.format(4.5), CURL.format(3.5), more=limit)).basis == "baseline"


def test_an_earlier_reading_that_was_invalid_does_not_count(against: Judged) -> None:
    cold = USUAL.replace("54 °C", "20 °C")
    assert only(against(CURL.format(3.5), CURL.format(3.5), then=cold)).basis != "baseline"


def test_times_follow_the_engine_speed(against: Judged) -> None:
    """t goes with 1/n: 3.5 s at 1940 rpm are 3.5·1940/1880 s at 1880 rpm, both within what a test accepts."""
    slow, fast = (USUAL.replace("1900", speed) for speed in ("1880", "1940"))
    result = only(against(CURL.format(3.6), CURL.format(3.5), usual=slow, then=fast))
    assert result.new == pytest.approx(3.5 * 1940 / 1880)
    assert any("engine at 1940 rpm are converted to 1880 rpm" in note for note in sentences(result.notes))
    plain = only(against(CURL.format(3.6), CURL.format(3.5)))
    assert result.evidence is not None
    assert plain.evidence is not None
    assert result.evidence.u > plain.evidence.u


def test_a_speed_that_was_corrected_already_is_not_corrected_twice(against: Judged) -> None:
    """At 1805 rpm (95 %) the value is worked out for the test speed; so is what it is compared with."""
    result = only(against(CURL.format(3.6), CURL.format(3.5), usual=USUAL.replace("1900", "1805")))
    assert result.value == pytest.approx(3.6 * 0.95)
    assert result.new == pytest.approx(3.5)


def test_weight_led_movements_are_not_corrected_for_engine_speed(against: Judged) -> None:
    lower = CURL.replace("bucket-curl", "boom-lower")
    result = only(against(lower.format(3.9), lower.format(3.8), then=USUAL.replace("1900", "1940")))
    assert result.new == pytest.approx(3.8)


def test_drift_goes_against_the_viscosity_of_the_oil(against: Judged) -> None:
    """ISO VG 46 with index 100 by ASTM D341: 20.6 mm²/s at 60 °C, some 30 at 50 °C, so it drifts half as much again."""
    oil = "oil: {grade: ISO VG 46, viscosity-index: 100}\n"
    result = only(against(DRIFT.format(5, 6, 60), DRIFT.format(5, 4, 50), more=oil))
    ratio = kinematic_viscosity(323.15, 46e-6) / kinematic_viscosity(333.15, 46e-6)
    assert result.new == pytest.approx(4 * ratio / 1000, rel=1e-9)
    assert 1.4 < ratio < 1.5
    same = only(against(DRIFT.format(5, 6, 60), DRIFT.format(5, 4, 60), more=oil))
    assert result.evidence is not None
    assert same.evidence is not None
    assert result.evidence.u > same.evidence.u


def test_times_follow_the_oil_by_the_share_that_leaks(against: Judged, knowledge: Knowledge) -> None:
    """A share s leaks at 55 °C: (1 − s·ν55/ν50)/(1 − s·ν55/ν70) times the time, with ν of ISO VG 46."""
    warm, hot = USUAL.replace("54 °C", "50 °C"), USUAL.replace("54 °C", "70 °C")
    result = only(against(CURL.format(3.6), CURL.format(3.5), usual=hot, then=warm))
    rules = knowledge.tests["cycle-time"].leakage
    assert rules is not None
    v50, v55, v70 = (kinematic_viscosity(273.15 + t, 46e-6) for t in (50, 55, 70))
    assert result.new == pytest.approx(3.5 * (1 - rules.share * v55 / v50) / (1 - rules.share * v55 / v70), rel=1e-9)
    assert result.new is not None
    assert 3.5 < result.new < 3.7


def test_readings_of_another_hold_are_scaled(against: Judged) -> None:
    result = only(against(DRIFT.format(3, 3, 55), DRIFT.format(5, 4, 55)))
    assert result.new == pytest.approx(4 / 5 * 3 / 1000)


def test_a_swing_from_rest_is_not_scaled(against: Judged) -> None:
    swing = "test: swing-time, direction: left, turns: {}, start: rest, times: [{} s]"
    assert only(against(swing.format(3, 14.2), swing.format(2, 9.9))).basis is None
    assert only(against(swing.format(3, 14.2), swing.format(3, 14.0))).basis == "baseline"


def test_a_veer_is_compared_with_the_earlier_veer(against: Judged) -> None:
    """0.4 m on 20 m are 0.1 m on 10 m (square of the distance)."""
    run = "test: travel-time, direction: forward, range: high, distance: {} m, times: [{} s], "
    run += "veer: {{toward: left, offset: {} m}}"
    veer = against(run.format(10, 7.1, 1.5), run.format(20, 14.1, 0.4))["travel-veer/forward/high"]
    assert veer.basis == "baseline"
    assert veer.new == pytest.approx(-0.1)
    assert veer.verdict == "fail"


def test_a_drift_of_nothing_is_no_division_by_zero(against: Judged) -> None:
    result = only(against(DRIFT.format(5, 0, 55), DRIFT.format(5, 0, 55)))
    assert result.basis == "baseline"
    assert result.verdict == "pass"


def test_another_machine_warns_and_is_not_used(sheet: Yard, knowledge: Knowledge) -> None:
    found = sheet(CURL.format(3.5), CURL.format(3.4), head="unit-number: A-1", old="unit-number: B-2")
    (warning,) = baseline_warnings(found)
    (told,) = sentences([warning])
    assert "unit number" in told
    assert "old-0.yaml" in told
    assert only({one.id: one for one in judge(found, knowledge)}).basis != "baseline"
    same = sheet(CURL.format(3.5), CURL.format(3.4), head="unit-number: A-1", old="unit-number: A-1")
    assert baseline_warnings(same) == ()
    not_stated = sheet(CURL.format(3.5), CURL.format(3.4), head="unit-number: A-1")
    assert baseline_warnings(not_stated) == ()
    assert only({one.id: one for one in judge(not_stated, knowledge)}).basis == "baseline"


def test_a_later_sheet_warns(sheet: Yard) -> None:
    (warning,) = baseline_warnings(sheet(CURL.format(3.5), CURL.format(3.4), head="hours: 100", old="hours: 900"))
    assert "later than this one" in sentences([warning])[0]
