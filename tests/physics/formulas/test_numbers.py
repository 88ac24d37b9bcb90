"""One formula serves floats and arrays, and refuses what is out of range."""

import math
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from oilpath.physics.formulas import cylinder, displacement, holding, oil, orifice, pump, stiffness, travel, valve

# Every formula whose arguments may be arrays, with values inside its range.
ARRAY_CALLS: list[tuple[Callable[..., Any], tuple[float, ...]]] = [
    (cylinder.cap_area, (0.12,)),
    (cylinder.annulus_area, (0.12, 0.085)),
    (cylinder.area_ratio, (0.12, 0.085)),
    (cylinder.stroke_time, (0.011, 1.2, 0.003)),
    (cylinder.net_force, (2e7, 1e6, 0.12, 0.085)),
    (cylinder.regeneration_speed, (0.003, 0.085)),
    (holding.equalised_pressure, (5e4, 0.085)),
    (holding.leakage_from_drift, (0.011, 0.008, 240.0)),
    (holding.cooling_shrinkage, (0.8, 20.0)),
    (pump.delivered_flow, (112e-6, 31.7, 0.93)),
    (pump.motor_torque, (112e-6, 2e7, 0.9)),
    (orifice.orifice_flow, (1e-5, -2e6, 870.0)),
    (orifice.clearance_flow, (0.02, 5e-6, 0.015, 2e7, 0.02)),
    (orifice.pipe_drop, (1e-4, 0.02, 2.0, 0.04, 870.0)),
    (oil.kinematic_viscosity, (330.0,)),
    (stiffness.locked_pressure_rise, (10.0, 7e-4, 1.6e9)),
    (stiffness.wall_modulus, (0.02, 0.002)),
    (stiffness.effective_modulus, (1.6e9, 0.01, 3e6, 2e10)),
    (valve.valve_flow, (1e-6, -2e6, 0.87)),
    (valve.valve_drop, (1e-6, -1e-3, 0.87)),
    (valve.meter_in_speed, (1e-6, 1e7, 1e4, 0.01, 0.87)),
    (displacement.gear_displacement, (0.075, 0.05, 0.025)),
    (displacement.vane_displacement, (0.05, 0.075, 0.05, 0.008)),
    (holding.equal_pressure_force, (1e7, 0.07, 0.05)),
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
        lambda x: cylinder.speed(0.001, x),
        lambda x: cylinder.stroke_time(0.01, 1.0, x),
        lambda x: holding.leakage_from_drift(0.01, 0.001, x),
        lambda x: pump.motor_speed(0.001, x, 0.9),
        lambda x: pump.pump_volumetric_efficiency(0.001, 1e-4, x),
        lambda x: orifice.orifice_flow(1e-5, 1e6, x),
        lambda x: orifice.clearance_flow(0.02, 1e-6, x, 1e6, 0.02),
        lambda x: oil.dynamic_viscosity(4e-5, x),
        lambda x: oil.viscosity_at_100(x, 100),
        lambda x: oil.walther_viscosity(x, oil.Walther(9.5, 3.7)),
        lambda x: stiffness.modulus_air_at_atmosphere(1e6, 0.01, x),
        lambda x: stiffness.wall_modulus(x, 1e-3),
        lambda x: valve.spring_pressure(1e5, 0.01, x),
        lambda x: displacement.gear_displacement(0.1, 0.05, x),
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
        (lambda: orifice.orifice_flow(1e-5, 1e6, 870.0, 1.2), "coefficient must be above 0 and at most 1"),
        (lambda: orifice.clearance_flow(0.02, 0.003, 0.01, 1e6, 0.02), "gap must be at most a tenth"),
        (lambda: orifice.clearance_flow(0.02, 1e-6, 0.01, 1e6, 0.02, 1.1), "eccentricity must be between 0 and 1"),
        (lambda: orifice.pipe_drop(0.01, 0.02, 1.0, 0.01, 870.0), "Reynolds number must be at most 2300"),
        (lambda: orifice.pipe_flow(1e7, 0.02, 1.0, 0.01, 870.0), "Reynolds number must be at most 2300"),
        (lambda: holding.cooling_shrinkage(0.8, 101.0), "cooling must be within"),
        (lambda: oil.kinematic_viscosity(273.15 + 151, 46e-6), "temperature must be"),
        (lambda: oil.kinematic_viscosity(273.15 + 140, 10e-6), "2 mm²/s"),
        (lambda: oil.viscosity_at_100(2e-6, 100), "2 to 500 mm²/s at 100 °C"),
        (lambda: oil.viscosity_at_100(46e-6, 401), "viscosity index must be between"),
        (lambda: oil.viscosity_index(5e-6, 6e-6), "viscosity 40 must be above that at 100 °C"),
        (lambda: oil.walther_constants(46e-6, 313.0, 46e-6, 313.0), "another than the first"),
        (lambda: oil.walther_constants(7e-6, 313.0, 46e-6, 373.0), "lower at the higher temperature"),
        (lambda: oil.grade_limits(45), "grade must be one of 10, 15, 22"),
        (lambda: stiffness.compression(1.0, 2e8, 1.6e9), "at most a tenth of the bulk modulus"),
        (lambda: stiffness.modulus_air_at_atmosphere(1e6, 0.21), "air must be between 0 and 0.2"),
        (lambda: stiffness.modulus_air_at_pressure(1e6, 1.0), "air must be zero or more and below 1"),
        (lambda: stiffness.modulus_air_at_pressure(1e6, 0.1, polytropic=1.5), "polytropic must be between 1 and 1.4"),
        (lambda: stiffness.effective_modulus(1.6e9, 0.2, 1e6), "gas share must be between 0 and 0.1"),
        (lambda: stiffness.wall_modulus(0.02, 0.005), "at most a fifth of the diameter"),
        (lambda: valve.meter_in_speed(1e-6, 1e6, 1e5, 0.01, 0.87), "load must be less than pressure times area"),
        (lambda: valve.pressure_override(2e7, 1e7), "full flow must be at least the cracking pressure"),
        (lambda: displacement.gear_displacement(0.05, 0.05, 0.02), "below the outside diameter"),
        (lambda: displacement.vane_displacement(0.05, 0.075, 0.05, 0.013), "at most half the gap"),
        (lambda: displacement.axial_piston_displacement(2, 0.01, 0.1, 0.2), "pistons must be 3 or more"),
        (lambda: displacement.axial_piston_displacement(9, 0.01, 0.1, 0.8), "between 0 and 0.7 rad"),
        (lambda: oil.walther_number(0.2e-6), "0.21e-6 m²/s or more"),
        (lambda: oil.density(273.15 + 200, 870), "temperature must be"),
        (lambda: travel.veer_offset(0.01, 20.0, 2.4, reference="wall"), "start-line, run-up-line or chord"),  # type: ignore[arg-type]
    ],
)
def test_range_of_validity_is_reported(call: Callable[[], float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


def test_floats_need_no_numpy() -> None:
    program = (
        "import sys, oilpath.uncertainty, oilpath.codes\n"
        "from oilpath.physics.formulas import cleanliness, cylinder, displacement, holding, oil, orifice\n"
        "from oilpath.physics.formulas import pump, stiffness, travel, valve\n"
        "oil.kinematic_viscosity(330.0, 46e-6), orifice.orifice_flow(1e-5, -1e6, 870.0)\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        "print(sorted(loaded & {'numpy', 'pydantic', 'networkx', 'durable', 'rich', 'yaml', 'pint'}))"
    )
    source = cylinder.__file__.rsplit("oilpath", 1)[0]
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, env={"PYTHONPATH": source}, check=True
    )
    assert done.stdout.strip() == "[]"
