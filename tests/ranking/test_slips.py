"""Slips of writing are summed out: the mixture written out, whatever the likelihood itself is."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.arrays import Array
from oilpath.flow import Evidence, Slip
from oilpath.ranking.likelihood import SheetScatter, approximate_robust, likelihood, scatter
from oilpath.ranking.slips import MOST, Shift, shifts

FREE = np.array([np.inf, np.inf, np.inf])


def case(seed: int, r: int, slips: tuple[Shift, ...] = ()) -> tuple[SheetScatter, Array]:
    random = np.random.default_rng(seed)
    shared = random.normal(size=(r, 2)) * 0.05
    variance, width = random.uniform(1e-4, 1e-2, r), random.uniform(1, 4, r)
    s = scatter(random.normal(0, 0.2, r), variance, shared, width, 0.2, 5.0, 0.01, slips)
    return s, random.normal(0, 0.2, (3, r))


def reading(test: str, e: float, *slips: Slip) -> Evidence:
    return Evidence(test, test, "function-time", "cycle", {}, "ratio", e, 0.01, slips=slips)


@given(seed=st.integers(0, 2**32 - 1), r=st.integers(1, 6), p=st.floats(1e-6, 0.4), at=st.floats(-5, 5))
def test_a_slip_is_a_mixture_of_what_was_read_and_what_was_meant(seed: int, r: int, p: float, at: float) -> None:
    by = np.zeros(r)
    by[0] = at
    s, effect = case(seed, r, (Shift(by, p),))
    plain = replace(s, slips=())
    meant = replace(plain, e=s.e + by)
    got, one, two = likelihood(s, effect), likelihood(plain, effect), likelihood(meant, effect)
    expected = np.log((1 - p) * np.exp(one.robust) + p * np.exp(two.robust))
    assert got.robust == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert got.without[:, 0] == pytest.approx(one.without[:, 0], abs=1e-7)  # left out, its slip says nothing
    got_robust = approximate_robust(s, effect)
    expected = np.log(
        (1 - p) * np.exp(approximate_robust(plain, effect)) + p * np.exp(approximate_robust(meant, effect))
    )
    assert got_robust == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_a_slip_explains_a_wild_reading_on_a_sound_sheet() -> None:
    wild = math.log(10)
    e = np.array([wild, 0.0, 0.01])
    slips = shifts([reading("a", wild, Slip("decimal", 4.2, -wild, 0.001))], e[:1], FREE[:1])
    s = scatter(e, np.full(3, 4e-4), np.zeros((3, 0)), np.full(3, 3.0), 0.2, 5.0, 0.0015)
    padded = tuple(Shift(np.pad(one.by, (0, 2)), one.probability) for one in slips)
    nothing = np.zeros((1, 3))
    gain = likelihood(replace(s, slips=padded), nothing).robust[0] - likelihood(s, nothing).robust[0]
    assert gain > 1.0


def test_readings_of_one_test_or_of_one_gauge_may_share_a_slip() -> None:
    off = -math.log(10)
    low = Slip("bar", 34e6, -off, 0.001)
    made = shifts(
        [reading("stall", off, low), reading("stall", off, low), reading("other", off, low)], np.full(3, off), FREE
    )
    patterns = [tuple(np.flatnonzero(one.by).tolist()) for one in made]
    assert patterns == [(0,), (1,), (2,), (0, 1), (0, 1, 2)]


def test_a_slip_leads_to_what_was_meant_whatever_the_reading_was_clipped_to() -> None:
    made = shifts([reading("a", -4.98, Slip("psi", 34e6, 4.98, 0.001))], np.array([-3.9]), FREE[:1])
    assert made[0].by == pytest.approx([3.9])


def test_all_slips_together_leave_room_for_what_was_read() -> None:
    many = [reading(str(n), 2.0, Slip("decimal", 1.0, -2.0, 0.3)) for n in range(5)]
    made = shifts(many, np.full(5, 2.0), np.full(5, np.inf))
    assert sum(one.probability for one in made) == pytest.approx(MOST)


def test_without_slips_nothing_changes() -> None:
    s, effect = case(1, 4)
    assert shifts([reading("a", 0.1)], np.array([0.1]), FREE[:1]) == ()
    assert likelihood(s, effect).robust.tolist() == likelihood(replace(s, slips=()), effect).robust.tolist()
