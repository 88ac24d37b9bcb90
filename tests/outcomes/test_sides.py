"""On which side a reading lies, and what several readings give. Student's t: tables of Abramowitz and Stegun, 26.10."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.knowledge.check import Check
from oilpath.outcomes.sides import outcomes, sides, student


@pytest.mark.parametrize(
    ("t", "freedom", "below"),
    [(2.015, 5, 0.95), (3.365, 5, 0.99), (4.032, 5, 0.995), (-2.015, 5, 0.05), (1.697, 30, 0.95), (0, 3, 0.5)],
)
def test_students_t(t: float, freedom: float, below: float) -> None:
    """Abramowitz and Stegun, table 26.10 (percentage points, three decimals)."""
    assert float(student(np.array(t), freedom)) == pytest.approx(below, abs=1e-4)


def test_one_degree_of_freedom_is_cauchys() -> None:
    """1/2 + arctan(t)/π."""
    t = np.array([-30.0, -1.0, 0.2, 5.0])
    np.testing.assert_allclose(student(t, 1), 0.5 + np.arctan(t) / np.pi, atol=1e-6)


@given(st.floats(-5, 5), st.floats(0.01, 2), st.floats(0.01, 2), st.floats(1, 60))
def test_sides_add_to_one_and_go_with_the_effect(effect: float, sd: float, noticeable: float, freedom: float) -> None:
    below, within, above = sides(np.array([effect, effect + 0.1]), np.array([sd, sd]), noticeable, freedom)
    np.testing.assert_allclose(below + within + above, 1, atol=1e-12)
    assert below[0] >= below[1] - 1e-12
    assert above[0] <= above[1] + 1e-12


def check_of(**more: object) -> Check:
    return Check.model_validate(
        {
            "check": "zz", "title": "Read", "at": {"class": "main-pump"}, "minutes": 5, "intrusiveness": 0,
            "tools": [], "cautions": [], "how": "Read.", "outcomes": {"both": "b", "one": "o", "none": "n", "odd": "x"},
            "measures": {"first": {"test": "flow"}, "second": {"test": "flow"}},
            "gives": [
                {"outcome": "both", "when": {"first": "below", "second": "below"}},
                {"outcome": "one", "when": {"first": "below"}},
                {"outcome": "one", "when": {"second": ["below"]}},
                {"outcome": "none"},
            ],
            "otherwise": {"odd": 0.1},
            "source": "from memory",
        }
        | more
    )  # fmt: skip


def test_outcomes_of_two_readings() -> None:
    """Independent readings, each below with 0.2 and 0.5: both 0.1, one 0.5, neither 0.4; a tenth left for the rest."""
    lie = {"first": np.array([0.2, 0.7, 0.1]), "second": np.array([0.5, 0.5, 0.0])}
    chance = outcomes(check_of(), {name: one[:, None] for name, one in lie.items()}, gross=0.0)
    np.testing.assert_allclose(chance[:, 0], [0.09, 0.45, 0.36, 0.1])
    mistaken = outcomes(check_of(), {name: one[:, None] for name, one in lie.items()}, gross=0.3)[:, 0]
    np.testing.assert_allclose(mistaken, [0.9 * (0.07 + 0.1), 0.9 * (0.35 + 0.1), 0.9 * (0.28 + 0.1), 0.1])


@given(st.lists(st.floats(0, 1), min_size=6, max_size=6).filter(lambda x: sum(x[:3]) > 0.1 < sum(x[3:])))
def test_outcomes_add_to_one(shares: list[float]) -> None:
    first, second = np.array(shares[:3]) / sum(shares[:3]), np.array(shares[3:]) / sum(shares[3:])
    chance = outcomes(check_of(), {"first": first[:, None], "second": second[:, None]}, gross=0.0015)
    assert chance.sum() == pytest.approx(1)
    assert (chance > 0).all()
