"""Properties of cleanliness codes: every count has one number, codes read back, wrong ones are refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.physics.formulas import cleanliness

counts = st.floats(0, 2.5e12)


@given(counts)
def test_a_count_lies_within_the_limits_of_its_number(count: float) -> None:
    low, high = cleanliness.scale_limits(cleanliness.scale_number(count))
    assert low < count <= high or count == low == 0


@given(counts, counts)
def test_more_particles_never_give_a_lower_number(one: float, two: float) -> None:
    few, many = sorted((one, two))
    assert cleanliness.scale_number(few) <= cleanliness.scale_number(many)


@given(st.lists(counts, min_size=2, max_size=3))
def test_code_reads_back(found: list[float]) -> None:
    falling = sorted(found, reverse=True)
    ranges = cleanliness.read_code(cleanliness.cleanliness_code(falling))
    assert [r.number for r in ranges] == [cleanliness.scale_number(count) for count in falling]


def test_a_size_that_was_not_counted_is_left_out() -> None:
    assert [r.number for r in cleanliness.read_code("-/18/15")] == [18, 15]


@pytest.mark.parametrize("code", ["", "19", "19/16/13/11", "19/x/13", "16/19/13", "40/20/10", "19/16/-1", "19-16-13"])
def test_what_is_no_code_is_refused(code: str) -> None:
    with pytest.raises(ValueError, match="must be"):
        cleanliness.read_code(code)


@pytest.mark.parametrize("found", [[1.0], [1e6, 2e6, 1e5], [3e12, 1e6, 1e5], [-1.0, -2.0]])
def test_counts_that_cannot_be_are_refused(found: list[float]) -> None:
    with pytest.raises(ValueError, match="must be"):
        cleanliness.cleanliness_code(found)


@given(st.integers(0, 11), st.sampled_from(cleanliness.AS4059_SIZES))
def test_classes_double(class_: int, size: int) -> None:
    limit = cleanliness.as4059_limit(class_, size)
    assert cleanliness.as4059_limit(class_ + 1, size) == pytest.approx(2 * limit)
