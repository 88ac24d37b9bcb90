"""Causes that move few readings: their densities against the likelihood that takes all readings at once."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath.arrays import Array
from oilpath.ranking.few import SIZES, few_of, moved_by
from oilpath.ranking.likelihood import SheetScatter, likelihood, scatter
from oilpath.ranking.slips import Shift

SEVERITIES = 4


def case(seed: int, r: int, kinds: int, slips: int) -> tuple[SheetScatter, Array, Array, Array]:
    """A sheet, and the effects of hypotheses that move one reading to all of them, with smear and doubt of each."""
    random = np.random.default_rng(seed)
    shared = random.normal(size=(r, 3)) * random.choice([0.0, 0.05], size=(r, 3))
    shifts = tuple(Shift(random.normal(0, 0.5, r) * (random.random(r) < 0.3), 0.01) for _ in range(slips))
    members = np.eye(kinds)[random.integers(0, kinds, r)] if kinds else None
    off = random.choice([0.0, 0.3, 0.6], size=r) if kinds else None
    e = random.normal(0, 0.2, r)
    e[random.integers(r)] += 2.0
    s = scatter(
        e, random.uniform(1e-4, 1e-2, r), shared, random.uniform(1, 4, r), 0.2, 5.0, 0.01, shifts,
        kinds=members, off=off, tempering=0.8,
    )  # fmt: skip
    sizes = np.arange(1, r + 1)
    moves = random.permuted(np.arange(r) < sizes[:, None], axis=1)
    effects = random.normal(0, 0.3, (r, SEVERITIES, r)) * moves[:, None]
    return s, effects, random.uniform(0, 0.3, r), random.choice([0.25, 1.0], size=r)


@pytest.mark.parametrize(("r", "kinds", "slips"), [(1, 0, 0), (3, 2, 0), (9, 3, 2), (15, 4, 1)])
@settings(max_examples=15)
@given(seed=st.integers(0, 2**32 - 1))
def test_they_are_as_with_all_readings_at_once(r: int, kinds: int, slips: int, seed: int) -> None:
    s, effects, smear, doubt = case(seed, r, kinds, slips)
    moved = moved_by(effects, s.kinds, s.off, s.model_error, smear, doubt)
    assert sorted(np.concatenate([one.row for one in moved]).tolist()) == list(range(min(r, SIZES[-1])))
    for few in few_of(s, moved):
        h = few.moved.row
        row, node = (at.ravel() for at in np.indices((len(h), SEVERITIES)))
        got = few.exact(row, node)
        whole = likelihood(s, effects[h].reshape(-1, r), smear=smear[h][row], doubt=doubt[h][row])
        assert got.plain == pytest.approx(whole.plain, rel=1e-8, abs=1e-7)
        assert got.without == pytest.approx(whole.without, rel=1e-7, abs=1e-6)
        assert got.robust == pytest.approx(whole.robust, rel=1e-8, abs=1e-7)
        assert got.distance == pytest.approx(whole.distance, rel=1e-7, abs=1e-7)
        least, about, _ = (one.ravel() for one in few.promise())
        assert (least <= got.robust + 1e-7).all()
        assert (about <= got.robust + 1e-7).all()
        assert (about >= got.robust - math.log(r + 1) - 1.5).all()  # all mistakes together against the likeliest
