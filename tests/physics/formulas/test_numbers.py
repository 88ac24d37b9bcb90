"""One formula serves floats and arrays, and refuses what is out of range."""

import math
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from oilpath.physics.formulas import cylinder, holding, oil, orifice, pump, travel, valve

# Every formula whose arguments may be arrays, with values inside its range.
ARRAY_CALLS: list[tuple[Callable[..., Any], tuple[float, ...]]] = [
    (cylinder.cap_area, (0.12,)),
    (cylinder.annulus_area, (0.12, 0.085)),
    (cylinder.area_ratio, (0.12, 0.085)),
    (cylinder.stroke_time, (0.011, 1.2, 0.003)),
    (holding.leakage_from_drift, (0.011, 0.008, 240.0)),
    (holding.cooling_shrinkage, (0.8, 20.0)),
    (pump.delivered_flow, (112e-6, 31.7, 0.93)),
    (orifice.orifice_flow, (1e-5, 2e6)),
    (orifice.laminar_leakage, (1e-15, -2e7, 0.02)),
    (orifice.held_pressure, (0.9, 0.05, 0.1)),
    (holding.creep_flow, (2.0, 0.1, 1.0, 2.0)),
    (pump.displacement_at_torque, (600.0, 2e7)),
    (valve.relief_share, (0.98, 1.0, 0.05)),
    (valve.relief_pressure, (0.5, 1.0, 0.05)),
    (oil.kinematic_viscosity, (330.0,)),
    (travel.veer_offset, (0.01, 20.0, 2.4)),
    (travel.speed_difference, (-0.8, 20.0, 2.4)),
]


def _call(function: Callable[..., Any], values: tuple[Any, ...]) -> Any:
    return function(*values, 46e-6) if function is oil.kinematic_viscosity else function(*values)


@pytest.mark.parametrize(("function", "values"), ARRAY_CALLS, ids=[f.__name__ for f, _ in ARRAY_CALLS])
def test_arrays_give_what_floats_give(function: Callable[..., Any], values: tuple[float, ...]) -> None:
    plain = _call(function, values)
    assert type(plain) is float
    factors = np.array([0.98, 1.0, 1.02])
    arrays = tuple(value * factors for value in values)
    expected = [_call(function, tuple(float(a[k]) for a in arrays)) for k in range(3)]
    assert _call(function, arrays) == pytest.approx(np.array(expected), rel=1e-12)
    assert _call(function, arrays)[1] == pytest.approx(plain, rel=1e-12)


def test_one_bad_element_of_an_array_is_refused() -> None:
    with pytest.raises(ValueError, match="bore must be above zero and finite"):
        cylinder.cap_area(np.array([0.1, -0.1]))


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize(
    "call",
    [
        cylinder.cap_area,
        lambda x: cylinder.annulus_area(x, 0.05),
        lambda x: cylinder.stroke_time(0.01, 1.0, x),
        lambda x: holding.leakage_from_drift(0.01, 0.001, x),
        lambda x: orifice.laminar_leakage(1e-15, 1e7, x),
        lambda x: orifice.held_pressure(1e-3, x, 1e-6),
        lambda x: holding.creep_flow(1.0, 0.1, 1.0, x),
        lambda x: pump.displacement_at_torque(600.0, x),
        lambda x: valve.relief_pressure(0.5, x, 0.05),
        lambda x: oil.viscosity_at_100(x, 100),
        lambda x: oil.walther_viscosity(x, oil.Walther(9.5, 3.7)),
        lambda x: travel.veer_offset(0.01, 20.0, x),
        lambda x: travel.track_speed(3, 9.2, x),
    ],
)
def test_figures_that_cannot_be_are_refused_with_a_sentence(call: Callable[[float], float], bad: float) -> None:
    with pytest.raises(ValueError, match=r"must be .*, not "):
        call(bad)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: cylinder.annulus_area(0.1, 0.1), "rod must be thinner than the bore"),
        (lambda: pump.delivered_flow(1e-4, 30.0, 1.01), "volumetric efficiency must be above 0 and at most 1"),
        (lambda: orifice.orifice_flow(1e-5, -1e6), "pressure drop must be zero or more"),
        (lambda: holding.cooling_shrinkage(0.8, 101.0), "cooling must be within"),
        (lambda: oil.kinematic_viscosity(273.15 + 151, 46e-6), "temperature must be"),
        (lambda: oil.kinematic_viscosity(273.15 + 140, 10e-6), "2 mm²/s"),
        (lambda: oil.viscosity_at_100(2e-6, 100), "2 to 500 mm²/s at 100 °C"),
        (lambda: oil.viscosity_at_100(46e-6, 401), "viscosity index must be between"),
        (lambda: oil.walther_constants(46e-6, 313.0, 46e-6, 313.0), "another than the first"),
        (lambda: oil.walther_constants(7e-6, 313.0, 46e-6, 373.0), "lower at the higher temperature"),
        (lambda: travel.veer_offset(0.01, 20.0, 2.4, reference="wall"), "start-line, run-up-line or chord"),  # type: ignore[arg-type]
    ],
)
def test_range_of_validity_is_reported(call: Callable[[], float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


def test_floats_need_no_numpy() -> None:
    program = (
        "import sys, oilpath.uncertainty, oilpath.codes\n"
        "from oilpath.physics.formulas import cylinder, holding, oil, orifice\n"
        "from oilpath.physics.formulas import pump, travel, valve\n"
        "oil.kinematic_viscosity(330.0, 46e-6), orifice.orifice_flow(1e-5, 1e6)\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        "print(sorted(loaded & {'numpy', 'pydantic', 'networkx', 'durable', 'rich', 'yaml', 'pint'}))"
    )
    source = cylinder.__file__.rsplit("oilpath", 1)[0]
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, env={"PYTHONPATH": source}, check=True
    )
    assert done.stdout.strip() == "[]"
