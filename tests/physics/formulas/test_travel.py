"""Laws of travelling; the veer against exact circles."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import travel
from oilpath.physics.formulas.travel import Reference

REFERENCES: tuple[Reference, ...] = ("start-line", "run-up-line", "chord")
references = st.sampled_from(REFERENCES)
differences = st.floats(-0.1, 0.1)
distances = st.floats(5, 50)
gauges = st.floats(1, 4)
run_ups = st.floats(0, 10)


@given(differences, distances, gauges, run_ups, references)
def test_offset_and_difference_are_inverse(
    difference: float, distance: float, gauge: float, run_up: float, reference: Reference
) -> None:
    offset = travel.veer_offset(difference, distance, gauge, run_up, reference)
    assert travel.speed_difference(offset, distance, gauge, run_up, reference) == pytest.approx(difference)
    assert travel.veer_offset(-difference, distance, gauge, run_up, reference) == -offset


@pytest.mark.parametrize(("reference", "expected"), [("start-line", 0.83), ("run-up-line", 1.25), ("chord", 0.21)])
def test_one_per_cent_over_twenty_metres(reference: Reference, expected: float) -> None:
    """1 % speed difference, 2.4 m gauge, 5 m run-up: two decimals, derived from circles."""
    assert round(travel.veer_offset(0.01, 20.0, 2.4, 5.0, reference), 2) == expected


@given(st.floats(0.001, 0.5), distances, gauges, run_ups)
def test_offsets_agree_with_the_exact_circle(turn: float, distance: float, gauge: float, run_up: float) -> None:
    """The centre runs on a circle of radius gauge/difference; ``turn`` is the heading change of the whole run."""
    whole = distance + run_up
    difference = turn * gauge / whole
    radius = gauge / difference

    def aside(length: float) -> float:
        return radius * (1 - math.cos(length / radius))

    def offset(reference: Reference) -> float:
        return travel.veer_offset(difference, distance, gauge, run_up, reference)

    assert whole / radius == pytest.approx(turn)
    assert offset("start-line") == pytest.approx(aside(distance), rel=0.03)
    assert offset("run-up-line") == pytest.approx(aside(whole) - aside(run_up), rel=0.045)  # t/sin t at 0.5
    assert offset("chord") == pytest.approx(aside(distance / 2), rel=0.03)


@given(distances, gauges, st.floats(0.001, 0.1))
def test_start_line_shows_four_times_the_chord(distance: float, gauge: float, difference: float) -> None:
    start = travel.veer_offset(difference, distance, gauge)
    assert start == pytest.approx(4 * travel.veer_offset(difference, distance, gauge, reference="chord"))


@given(st.floats(0.5, 20), st.floats(3, 15), st.floats(5, 300))
def test_track_speed_is_the_ground_speed_of_the_same_length(turns: float, length: float, time: float) -> None:
    assert travel.track_speed(turns, length, time) == pytest.approx(travel.ground_speed(turns * length, time))
    assert travel.swing_speed(turns, time) * time == pytest.approx(turns)
