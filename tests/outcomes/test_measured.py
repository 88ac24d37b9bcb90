"""Computed outcomes on the machines that ship: distributions, monotone, on the side that the trade knows."""

from collections.abc import Callable

import numpy as np
import pytest

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.outcomes import likelihoods, table
from oilpath.outcomes.measured import Measured
from oilpath.physics.predictions import SEVERITIES

NONE = ("none", "machine")

Chance = Callable[..., float]


@pytest.fixture(scope="module")
def found(machine: Machine, knowledge: Knowledge) -> Measured:
    return bench_for(machine, knowledge).outcomes


@pytest.fixture(scope="module")
def chance(machine: Machine, knowledge: Knowledge) -> Chance:
    """P(outcome | cause) of a check at a part."""

    def of(check: str, part: str, outcome: str, cause: tuple[str, str] = NONE) -> float:
        entry = named(knowledge, check)
        words = [one.outcome for one in entry.outcomes]
        return float(likelihoods(entry, part, bench_for(machine, knowledge), [cause])[words.index(outcome), 0])

    return of


def named(knowledge: Knowledge, name: str) -> Check:
    return next(check for check in knowledge.checks if check.check == name)


def test_every_outcome_is_possible_and_all_add_to_one(knowledge: Knowledge) -> None:
    for circuit in knowledge.circuits.values():
        found = bench_for(Machine(name=circuit.id, circuit=circuit), knowledge).outcomes
        assert (found.table > 0).all()
        assert (found.table < 1).all()
        for check, at in found.at.items():
            whole = np.vstack([found.sound, found.table])[:, at].reshape(-1, len(named(knowledge, check).outcomes))
            np.testing.assert_allclose(whole.sum(axis=1), 1, atol=1e-12)


@pytest.mark.parametrize(
    ("check", "part", "worse", "cause"),
    [
        ("case-drain", "pump-1", ["high"], ("pump.worn", "pump-1")),
        ("case-drain", "travel-left-motor", ["high"], ("travel-motor.worn", "travel-left-motor")),
        ("flow-at-pressure", "pump-1", ["low-from-zero"], ("regulator.stuck-low", "pump-1-regulator")),
        (
            "flow-at-pressure", "pump-1", ["low-from-zero", "falls-with-pressure", "falls-along-power"],
            ("pump.worn", "pump-1"),
        ),
        ("free-running-pressure", "travel-left-motor", ["high"], ("travel-brake.dragging", "travel-left-brake")),
        ("pilot-pressure-at-points", "pilot-pump", ["low-everywhere"], ("pilot-relief.low", "pilot-relief")),
        ("drift-engine-on-off", "boom-cylinder", ["faster-running"], ("spool.off-centre", "boom-spool")),
    ],
)  # fmt: skip
def test_the_worse_the_cause_the_likelier_the_bad_outcome(
    check: str, part: str, worse: list[str], cause: tuple[str, str], found: Measured, knowledge: Knowledge
) -> None:
    words = [one.outcome for one in named(knowledge, check).outcomes]
    column = found.at[check].start + found.parts[check].index(part) * len(words)
    first = int(found.start[found.members[cause][0]])
    columns = [column + words.index(word) for word in worse]
    rising = found.table[first : first + SEVERITIES, columns].sum(axis=1)
    assert (np.diff(rising) > -2e-3).all()  # the model's own error grows with the effect, which flattens the end
    assert rising[-1] > 0.8
    assert rising[-1] > rising[0] + 0.02


def test_a_worn_pump_falls_with_pressure_and_a_regulator_is_short_from_zero(chance: Chance) -> None:
    """Leakage goes with pressure, stroke with none; a torque limit with power: common practice of pump testing."""
    flow = ("flow-at-pressure", "pump-1")
    shapes = ["good", "low-from-zero", "falls-with-pressure", "falls-along-power"]

    def best(cause: tuple[str, str]) -> str:
        return max(shapes, key=lambda shape: chance(*flow, shape, cause))

    assert best(("pump.worn", "pump-1")) == "falls-with-pressure"
    assert best(("regulator.stuck-low", "pump-1-regulator")) == "low-from-zero"
    assert best(("regulator.torque-low", "pump-1-regulator")) == "falls-along-power"
    assert best(NONE) == best(("pump.worn", "pump-2")) == "good"


def test_a_low_case_drain_does_not_clear_a_pump(chance: Chance) -> None:
    """Leakage between barrel and port plate does not pass the case: common practice, maintenance encyclopedia."""
    drain = ("case-drain", "pump-1")
    assert chance(*drain, "high", ("pump.worn", "pump-1")) > 0.6
    assert 0.1 < chance(*drain, "normal", ("pump.worn", "pump-1")) < 0.4
    assert chance(*drain, "high") < 0.03


def test_a_dragging_brake_raises_the_free_running_pressure_and_a_worn_motor_does_not(chance: Chance) -> None:
    """High free-running pressure means drag, a usual one that flow is lost: common practice."""
    free = ("free-running-pressure", "travel-left-motor", "high")
    assert chance(*free, ("travel-brake.dragging", "travel-left-brake")) > 0.85
    assert chance(*free, ("travel-motor.worn", "travel-left-motor")) == pytest.approx(chance(*free), abs=0.02)
    # held against the other side, which then drags
    assert chance(*free, ("travel-brake.dragging", "travel-right-brake")) < chance(*free)


def test_a_dead_headed_worn_pump_still_reaches_its_pressure(chance: Chance) -> None:
    """It reaches relief pressure while it leaks less than it pumps; a low relief shows both ways: common practice."""
    stall = ("stall-per-direction", "bucket-spool")
    assert chance(*stall, "both-right", ("pump.worn", "pump-1")) > 0.7
    assert chance(*stall, "both-low", ("main-relief.low", "main-relief")) > 0.8
    assert chance(*stall, "one-low", ("port-relief.leaking", "bucket-cap-port-relief")) > 0.5


def test_a_piston_seal_drifts_with_either_end_loaded_and_a_holding_valve_with_its_own(chance: Chance) -> None:
    """Trade articles on cylinder drift: with the rod end loaded the rod moves freely past a leaking piston seal."""
    other = ("drift-load-reversed", "boom-cylinder", "both-ways")
    assert chance(*other, ("cylinder.scored-barrel", "boom-cylinder-left")) > 0.5
    assert chance(*other, ("holding-valve.leaking", "boom-holding-valve")) == pytest.approx(chance(*other))


def test_a_raised_track_that_turns_right_does_not_clear_the_motor(chance: Chance) -> None:
    """It runs at low pressure, where leakage hardly counts; short flow shows there too: common practice."""
    run = ("raised-track-run", "travel-left-motor")
    assert chance(*run, "slow", ("regulator.stuck-low", "pump-2-regulator")) > 0.6
    assert chance(*run, "slow", ("travel-motor.worn", "travel-left-motor")) < 0.5
    assert chance(*run, "in-order", ("travel-motor.worn", "travel-right-motor")) == pytest.approx(
        chance(*run, "in-order"), abs=0.01
    )
    assert chance(*run, "fast", ("travel-shift.stuck-high", "travel-left-shift")) > 0.8


def test_a_leaking_swing_runs_on_and_a_dragging_one_does_not(chance: Chance) -> None:
    """Oil that passes motor or reliefs lets the upper structure run on: common practice."""
    run = ("swing-run-on", "swing-motor")
    assert chance(*run, "far", ("swing-motor.worn", "swing-motor")) > 0.5
    assert chance(*run, "short", ("swing-brake.dragging", "swing-brake")) > 0.3
    assert chance(*run, "far", ("swing-brake.dragging", "swing-brake")) < 0.05


def test_a_reading_that_the_model_does_not_move_stays_within(chance: Chance, found: Measured) -> None:
    for cause in (("pilot-filter.blocked", "pilot-filter"), ("tank.low-level", "tank"), ("unknown", "machine")):
        stays = chance("free-running-pressure", "travel-left-motor", "normal", cause)
        assert stays == pytest.approx(chance("free-running-pressure", "travel-left-motor", "normal"), abs=1e-12)
    assert (found.probabilities([("no.such", "thing"), NONE], ()) == found.sound).all()


def test_what_a_check_says_itself_goes_before_the_model(chance: Chance, knowledge: Knowledge) -> None:
    (entry,) = named(knowledge, "check-engine-speed-and-settings").tells
    assert entry.because
    setting = ("setup.wrong-setting", "machine")
    assert chance("check-engine-speed-and-settings", "machine", "setting-wrong", setting) == 0.92


def test_severities_that_fit_the_sheet_count(machine: Machine, knowledge: Knowledge, found: Measured) -> None:
    """The average over nodes with given weights, by hand."""
    cause = ("travel-motor.worn", "travel-left-motor")
    (begin, end) = found.members[cause]
    assert end == begin + 1
    first = int(found.start[begin])
    rows = found.table[first : first + SEVERITIES]
    weights = np.zeros(SEVERITIES)
    weights[[2, 9]] = 0.25, 0.75
    np.testing.assert_allclose(
        found.probabilities([NONE, cause], [(), weights.tolist()]), [found.sound, 0.25 * rows[2] + 0.75 * rows[9]]
    )
    np.testing.assert_allclose(found.probabilities([cause], ()), [rows.mean(axis=0)])

    def high(nodes: list[float]) -> float:
        whole = table(bench_for(machine, knowledge), [cause, NONE], [nodes, ()])
        row = [(check.check, part) for check, part in whole.checks].index(("case-drain", cause[1]))
        return float(whole.likelihood[row, 1, 0])

    assert high(weights.tolist()) > high([])


def test_variants_are_averaged(found: Measured) -> None:
    """Ways of a cause count alike where no weights are given; a way that moves nothing counts as the sound machine."""
    cause = ("pressure-sensor.offset", "pressure-sensor-1")
    begin, end = found.members[cause]
    assert end == begin + 3
    mean = [
        found.sound if start < 0 else found.table[start : start + SEVERITIES].mean(axis=0)
        for start in found.start[begin:end].tolist()
    ]
    np.testing.assert_allclose(found.probabilities([cause], ()), [np.mean(mean, axis=0)])


def test_a_check_is_not_offered_where_the_model_knows_no_reading(machine: Machine, knowledge: Knowledge) -> None:
    check = named(knowledge, "case-drain")
    with pytest.raises(LookupError, match="no reading of case-drain is known at pilot-pump"):
        likelihoods(check, "pilot-pump", bench_for(machine, knowledge), [NONE])
    rig = knowledge.circuits["hydraulic-test-rig"]
    assert "cold-hot-pair" not in bench_for(Machine(name="rig", circuit=rig), knowledge).outcomes.at


def test_made_once_for_a_machine(machine: Machine, knowledge: Knowledge) -> None:
    found = bench_for(machine, knowledge).outcomes
    assert bench_for(machine, knowledge).outcomes is found
    assert len(found.start) == len(bench_for(machine, knowledge).model.hypotheses)
