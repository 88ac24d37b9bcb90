"""What general libraries say to the same inputs; they are installed by `make test-peers` only."""

import math
from itertools import product

import pytest

from oilpath import uncertainty as un
from oilpath.physics.formulas import oil, orifice

PIPES = [(0.0035, 0.05, 300.0, 0.1, 900.0), (1e-4, 0.0254, 30.0, 0.09, 900.0), (2e-5, 0.008, 2.0, 0.02, 870.0)]


@pytest.mark.peer("fluids")
@pytest.mark.parametrize("pipe", PIPES)
def test_laminar_pipe(pipe: tuple[float, float, float, float, float]) -> None:
    """L9 to L11: Darcy's equation with the library's laminar friction factor."""
    core, friction = pytest.importorskip("fluids.core"), pytest.importorskip("fluids.friction")
    flow, diameter, length, viscosity, density = pipe
    speed = flow / (math.pi / 4 * diameter**2)
    reynolds = core.Reynolds(speed, diameter, rho=density, mu=viscosity)
    drop = core.dP_from_K(friction.friction_laminar(reynolds) * length / diameter, density, speed)
    passed = orifice.laminar_leakage(math.pi * diameter**4 / (128 * length), drop, viscosity)
    assert passed == pytest.approx(flow)


@pytest.mark.peer("fluids")
@pytest.mark.parametrize("drop", [1e5, 1e6, 2e7])
def test_sharp_edged_orifice(drop: float) -> None:
    """L3, L8: the same loss as a resistance K referred to the opening, K = 1/C_d²."""
    core = pytest.importorskip("fluids.core")
    area, coefficient = 5e-5, 0.62
    speed = orifice.orifice_flow(coefficient * area * math.sqrt(2 / 870.0), drop) / area
    assert core.dP_from_K(1 / coefficient**2, 870.0, speed) == pytest.approx(drop)


@pytest.mark.peer("chemicals")
@pytest.mark.parametrize(("u", "y"), [(73.30, 8.86), (22.83, 5.05), (53.47, 7.80)])
def test_viscosity_index_of_the_standard_examples(u: float, y: float) -> None:
    """O2 to O4: the library's own reading of the table of ASTM D2270."""
    peer = pytest.importorskip("chemicals.viscosity")
    index = peer.viscosity_index(u * 1e-6, y * 1e-6)
    assert oil.viscosity_at_100(u * 1e-6, index) == pytest.approx(y * 1e-6, rel=3e-3)


@pytest.mark.peer("GTC")
def test_end_gauge() -> None:
    """U1: JCGM 100:2008 H.1 worked whole by the library, 31.66 nm."""
    gtc = pytest.importorskip("GTC")
    standard = gtc.ureal(50_000_623, 25, 18)
    difference = gtc.ureal(215, 5.8, 24) + gtc.ureal(0, 3.9, 5) + gtc.ureal(0, 6.7, 8)
    expansion = gtc.ureal(11.5e-6, gtc.type_b.uniform(2e-6))
    apart = gtc.ureal(0, gtc.type_b.uniform(1e-6), 50)
    warmer = gtc.ureal(0, gtc.type_b.uniform(0.05), 2)
    bed = gtc.ureal(-0.1, 0.2) + gtc.ureal(0, gtc.type_b.arcsine(0.5))
    length = standard + difference - standard * (apart * bed + expansion * warmer)
    assert un.rectangular(0.05) == pytest.approx(gtc.type_b.uniform(0.05))
    assert un.arcsine(0.5) == pytest.approx(gtc.type_b.arcsine(0.5))
    ours = un.combine(
        25, un.combine(5.8, 3.9, 6.7), 50_000_623 * 0.1 * un.rectangular(1e-6),
        50_000_623 * 11.5e-6 * un.rectangular(0.05),
    )  # fmt: skip
    assert gtc.value(length) == pytest.approx(50_000_838, abs=0.5)
    assert ours == pytest.approx(gtc.uncertainty(length), rel=1e-6)


@pytest.mark.peer("GTC")
def test_correlated_inputs() -> None:
    """U2: JCGM 100:2008 H.2, resistance from voltage, current and phase."""
    gtc = pytest.importorskip("GTC")
    values, us = (4.999, 19.661e-3, 1.04446), (3.2e-3, 9.5e-6, 7.5e-4)
    r = ((1.0, -0.36, 0.86), (-0.36, 1.0, -0.65), (0.86, -0.65, 1.0))
    inputs = [gtc.ureal(value, u, independent=False) for value, u in zip(values, us, strict=True)]
    for i, j in product(range(3), repeat=2):
        if i < j:
            gtc.set_correlation(r[i][j], inputs[i], inputs[j])
    volt, ampere, phase = inputs
    resistance = volt / ampere * gtc.cos(phase)
    ohm = values[0] / values[1]
    sensitivities = (
        math.cos(values[2]) / values[1], -ohm * math.cos(values[2]) / values[1], -ohm * math.sin(values[2]),
    )  # fmt: skip
    assert un.propagate(sensitivities, us, r) == pytest.approx(gtc.uncertainty(resistance), rel=1e-9)
