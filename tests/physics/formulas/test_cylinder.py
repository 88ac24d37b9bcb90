"""Laws of moving cylinders."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import cylinder

bores = st.floats(0.02, 0.4)
slimness = st.floats(0.1, 0.95)  # rod over bore
flows = st.floats(1e-6, 2e-2)
strokes = st.floats(0.05, 3)


@given(bores, slimness)
def test_cap_area_is_annulus_and_rod_together(bore: float, slim: float) -> None:
    rod = bore * slim
    assert cylinder.cap_area(bore) == pytest.approx(cylinder.annulus_area(bore, rod) + cylinder.cap_area(rod))
    assert cylinder.area_ratio(bore, rod) == pytest.approx(cylinder.cap_area(bore) / cylinder.annulus_area(bore, rod))
    assert cylinder.area_ratio(bore, rod) > 1


@given(bores, strokes, flows)
def test_time_and_flow_are_inverse(bore: float, stroke: float, flow: float) -> None:
    area = cylinder.cap_area(bore)
    time = cylinder.stroke_time(area, stroke, flow)
    assert cylinder.flow_for_time(area, stroke, time) == pytest.approx(flow)


@given(bores, strokes, flows, st.floats(1.01, 5))
def test_more_flow_takes_less_time(bore: float, stroke: float, flow: float, more: float) -> None:
    area = cylinder.cap_area(bore)
    assert cylinder.stroke_time(area, stroke, flow * more) < cylinder.stroke_time(area, stroke, flow)
