"""Signatures alike: a cause on the curve of another one looks the same, one beside it does not."""

from __future__ import annotations

import numpy as np
import pytest

from oilpath.kbcheck.alike import alike

SEVERITIES = np.linspace(1, 4, 16)


def curves(*ways: tuple[float, float]) -> np.ndarray:
    return np.array([np.outer(SEVERITIES, way) for way in ways])


@pytest.mark.parametrize(
    ("other", "same"),
    [((1.0, 0.0), True), ((0.9, 0.0), True), ((1.0, 0.02), True), ((1.0, 0.3), False), ((-1.0, 0.0), False)],
)
def test_a_cause_on_the_same_curve_looks_the_same(other: tuple[float, float], same: bool) -> None:
    found = alike(curves((1.0, 0.0), other), np.ones(2), 8)
    assert found[0, 1] == found[1, 0] == same
    assert not found.diagonal().any()


def test_severities_between_the_nodes_count() -> None:
    """A coarse curve passes through the middle of another one between its nodes only."""
    coarse = np.outer(np.array([1.0, 4.0]), (1.0, 0.0))
    fine = np.outer(np.array([2.0, 2.5]), (1.0, 0.0))
    assert alike(np.array([coarse, fine]), np.ones(2), 0)[0, 1]


def test_what_no_reading_shows_is_like_nothing() -> None:
    assert not alike(curves((0.1, 0.0), (0.1, 0.0)), np.ones(2), 8).any()
