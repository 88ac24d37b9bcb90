"""Properties of displacement from geometry."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import displacement

lengths = st.floats(0.005, 0.3)


@given(st.integers(3, 15), lengths, lengths, st.floats(0, 0.7))
def test_angle_is_the_inverse_of_displacement(pistons: int, bore: float, circle: float, angle: float) -> None:
    volume = displacement.axial_piston_displacement(pistons, bore, circle, angle)
    assert displacement.swash_angle(volume, pistons, bore, circle) == pytest.approx(angle, abs=1e-12)


@given(lengths, lengths, st.floats(0, 1))
def test_vane_pump_at_full_eccentricity_moves_the_whole_ring(rotor: float, width: float, share: float) -> None:
    ring = rotor * 1.3
    full = displacement.vane_displacement(rotor, ring, width, (ring - rotor) / 2)
    assert full == pytest.approx(math.pi / 4 * (ring**2 - rotor**2) * width)
    part = displacement.vane_displacement(rotor, ring, width, (ring - rotor) / 2 * share)
    assert part == pytest.approx(full * share, abs=1e-18)


@given(lengths, lengths, st.floats(1.5, 3))
def test_gear_pump_grows_with_its_width(inside: float, width: float, times: float) -> None:
    one = displacement.gear_displacement(inside * 1.4, inside, width)
    assert displacement.gear_displacement(inside * 1.4, inside, width * times) == pytest.approx(one * times)
