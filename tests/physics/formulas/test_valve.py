"""Laws of relief valves."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import valve

settings = st.floats(1e6, 4e7)
overrides = st.floats(0.01, 0.4)


@given(settings, overrides, st.floats(0, 1))
def test_share_and_pressure_are_inverse(setting: float, override: float, passing: float) -> None:
    pressure = valve.relief_pressure(passing, setting, override)
    assert valve.relief_share(pressure, setting, override) == pytest.approx(1 - passing, abs=1e-9)


@given(settings, overrides)
def test_nothing_passes_below_cracking_and_all_at_the_setting(setting: float, override: float) -> None:
    cracking = valve.relief_pressure(0.0, setting, override)
    assert valve.relief_share(0.99 * cracking, setting, override) == 1
    assert valve.relief_share(1.01 * setting, setting, override) == 0
