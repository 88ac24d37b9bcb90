"""Laws of moving cylinders."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import cylinder, pump

bores = st.floats(0.02, 0.4)
slimness = st.floats(0.1, 0.95)  # rod over bore
flows = st.floats(1e-6, 2e-2)
pressures = st.floats(0, 5e7)
strokes = st.floats(0.05, 3)


@given(bores, slimness)
def test_cap_area_is_annulus_and_rod_together(bore: float, slim: float) -> None:
    rod = bore * slim
    assert cylinder.cap_area(bore) == pytest.approx(cylinder.annulus_area(bore, rod) + cylinder.rod_area(rod))
    assert cylinder.area_ratio(bore, rod) == pytest.approx(cylinder.cap_area(bore) / cylinder.annulus_area(bore, rod))
    assert cylinder.area_ratio(bore, rod) > 1


@given(bores, strokes, flows)
def test_time_and_flow_are_inverse(bore: float, stroke: float, flow: float) -> None:
    area = cylinder.cap_area(bore)
    time = cylinder.stroke_time(area, stroke, flow)
    assert cylinder.flow_for_time(area, stroke, time) == pytest.approx(flow)
    assert cylinder.speed(flow, area) * time == pytest.approx(stroke)


@given(bores, strokes, flows, st.floats(1.01, 5))
def test_more_flow_takes_less_time(bore: float, stroke: float, flow: float, more: float) -> None:
    area = cylinder.cap_area(bore)
    assert cylinder.stroke_time(area, stroke, flow * more) < cylinder.stroke_time(area, stroke, flow)


@given(bores, slimness, flows)
def test_oil_is_conserved_by_a_stroke_and_its_return(bore: float, slim: float, flow: float) -> None:
    cap, annulus = cylinder.cap_area(bore), cylinder.annulus_area(bore, bore * slim)
    out = cylinder.return_flow(flow, cap, annulus)
    assert cylinder.return_flow(out, annulus, cap) == pytest.approx(flow)
    assert flow - out == pytest.approx(cylinder.speed(flow, cap) * cylinder.rod_area(bore * slim))


@given(bores, slimness, flows)
def test_speed_is_odd_in_flow(bore: float, slim: float, flow: float) -> None:
    area = cylinder.annulus_area(bore, bore * slim)
    assert cylinder.speed(-flow, area) == -cylinder.speed(flow, area)


@given(pressures, bores)
def test_force_and_pressure_are_inverse(pressure: float, bore: float) -> None:
    area = cylinder.cap_area(bore)
    assert cylinder.pressure_for_force(cylinder.force(pressure, area), area) == pytest.approx(pressure)


@given(pressures, bores, slimness)
def test_equal_pressures_leave_the_force_of_regeneration(pressure: float, bore: float, slim: float) -> None:
    rod = bore * slim
    by_balance = cylinder.net_force(pressure, pressure, bore, rod)
    whole = cylinder.force(pressure, cylinder.cap_area(bore))
    assert by_balance == pytest.approx(cylinder.regeneration_force(pressure, rod), rel=1e-9, abs=1e-9 * whole)


@given(flows, st.floats(1e5, 4e7), bores, slimness)
def test_regeneration_keeps_the_power(flow: float, pressure: float, bore: float, slim: float) -> None:
    rod = bore * slim
    work = cylinder.regeneration_speed(flow, rod) * cylinder.regeneration_force(pressure, rod)
    assert work == pytest.approx(pump.hydraulic_power(pressure, flow))


@given(st.floats(1e5, 4e7), bores, slimness)
def test_blocked_rod_side_balances_the_cap_side(pressure: float, bore: float, slim: float) -> None:
    rod = bore * slim
    cap, annulus = cylinder.cap_area(bore), cylinder.annulus_area(bore, rod)
    raised = cylinder.intensified_pressure(pressure, cap, annulus)
    assert raised > pressure
    assert cylinder.net_force(pressure, raised, bore, rod) == pytest.approx(0, abs=1e-9 * pressure * cap)
