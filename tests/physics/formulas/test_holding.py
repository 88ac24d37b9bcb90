"""Laws of cylinders that hold a load."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import cylinder, holding

areas = st.floats(1e-4, 0.1)
holds = st.floats(10, 3600)
bores = st.floats(0.02, 0.4)
slimness = st.floats(0.1, 0.95)
leaks = st.floats(0, 50)


@given(areas, st.floats(-0.1, 0.1), holds)
def test_drift_and_leakage_are_inverse(area: float, moved: float, hold: float) -> None:
    leakage = holding.leakage_from_drift(area, moved, hold)
    assert holding.drift_from_leakage(area, leakage, hold) == pytest.approx(moved)
    assert holding.leakage_from_drift(area, -moved, hold) == -leakage


@given(st.floats(1e2, 1e6), st.floats(1e-3, 1e3), bores, slimness)
def test_plugged_ports_lock_the_load_on_the_rod(force: float, seal: float, bore: float, slim: float) -> None:
    """Equal pressures at both ends carry the load on the rod's area alone: p = F/A_rod, balance of forces."""
    area = cylinder.area_ratio(bore, bore * slim)
    loaded, beyond = holding.end_pressures(seal, 0.0, 0.0, area)
    assert loaded == pytest.approx(beyond)
    assert force * loaded / cylinder.cap_area(bore) == pytest.approx(force / cylinder.cap_area(bore * slim))
    assert holding.creep_flow(seal, 0.0, 0.0, area) == pytest.approx(0, abs=1e-9 * seal)


@given(leaks, leaks.map(lambda leak: leak + 0.01), leaks.map(lambda leak: leak + 0.01), st.floats(0.3, 3))
def test_both_ends_of_a_creeping_cylinder_balance(seal: float, held: float, other: float, area: float) -> None:
    """Oil is conserved at both ends, the pressures of a single cylinder's forces; a pressure below zero is none."""
    loaded, beyond = holding.end_pressures(seal, held, other, area)
    assert loaded == pytest.approx(1 + beyond / area)
    speed = seal * (loaded - beyond) + held * loaded  # over the loaded area
    assert holding.creep_flow(seal, held, other, area) == pytest.approx(speed)
    if beyond > 0:
        assert speed / area == pytest.approx(seal * (loaded - beyond) - other * beyond, rel=1e-6, abs=1e-9)


@given(st.floats(0.01, 3), st.floats(0, 100))
def test_cooling_shrinks_and_warming_grows_alike(column: float, cooling: float) -> None:
    assert holding.cooling_shrinkage(column, -cooling) == -holding.cooling_shrinkage(column, cooling)
    assert 0 <= holding.cooling_shrinkage(column, cooling) <= 0.08 * column


@given(st.floats(0.01, 3), st.floats(0.1, 60))
def test_a_steel_barrel_hides_a_little_of_the_shrinkage(column: float, cooling: float) -> None:
    rigid = holding.cooling_shrinkage(column, cooling)
    steel = holding.cooling_shrinkage(column, cooling, steel_expansion=holding.STEEL_EXPANSION)
    assert 0.9 * rigid < steel < rigid


def test_shrinkage_agrees_with_volumes_and_a_barrel_that_cools() -> None:
    """Volume of oil over area of the cooled barrel, read against the cooled barrel's own length (derived)."""
    column, cooling, oil, steel = 0.8, 20.0, 7e-4, 1.15e-5
    shrunk = column * (1 - oil * cooling) / (1 - steel * cooling) ** 2
    in_the_barrel = shrunk / (1 - steel * cooling)
    assert holding.cooling_shrinkage(column, cooling, oil, steel) == pytest.approx(column - in_the_barrel, rel=2e-3)


def test_uncertainty_of_the_shrinkage() -> None:
    """0.8 m, 10 K ± 4 K, 7e-4 ± 0.5e-4 per kelvin: 2.24 mm and 0.4 mm, together 2.275 mm (derived)."""
    u = holding.cooling_shrinkage_uncertainty(0.8, 10.0, 4.0)
    assert u == pytest.approx(math.hypot(2.24e-3, 0.4e-3))
    assert holding.cooling_shrinkage_uncertainty(0.8, 10.0, 0.0, expansion_uncertainty=0.0) == 0
