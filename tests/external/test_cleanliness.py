"""Cleanliness codes against published tables; status words as in test_cylinders.py."""

import pytest

from oilpath.physics.formulas import cleanliness
from oilpath.physics.formulas.cleanliness import PER_ML

TABLE = "table of scale numbers, ISO 4406, three public copies agree; READ"
LIMITS = {
    0: 0.01, 1: 0.02, 2: 0.04, 3: 0.08, 4: 0.16, 5: 0.32, 6: 0.64, 7: 1.3, 8: 2.5, 9: 5, 10: 10, 11: 20, 12: 40, 13: 80,
    14: 160, 15: 320, 16: 640, 17: 1300, 18: 2500, 19: 5000, 20: 10_000, 21: 20_000, 22: 40_000, 23: 80_000,
    24: 160_000, 25: 320_000, 26: 640_000, 27: 1_300_000, 28: 2_500_000,
}  # fmt: skip


@pytest.mark.parametrize("number", LIMITS)
def test_table_of_scale_numbers(number: int) -> None:
    low, high = cleanliness.scale_limits(number)
    assert high / PER_ML == pytest.approx(LIMITS[number], rel=1e-12), TABLE
    assert low / PER_ML == pytest.approx(LIMITS.get(number - 1, 0.0), rel=1e-12), TABLE


def test_code_of_counts() -> None:
    """I1: a laboratory's page, 300 000, 50 000 and 700 per 100 mL are 19/16/10; READ."""
    assert cleanliness.cleanliness_code([count / 100 * PER_ML for count in (300_000, 50_000, 700)]) == "19/16/10"


def test_reading_of_a_code() -> None:
    """I2: a handbook's page, 14/12/≥7: 80 to 160, 20 to 40 and 0.64 to 1.3 per mL, the last weak; READ."""
    ranges = cleanliness.read_code("14/12/>=7")
    shown = [(r.low / PER_ML, r.high / PER_ML, r.weak) for r in ranges]
    assert shown == [(80, 160, False), (20, 40, False), (0.64, 1.3, True)]
    assert cleanliness.cleanliness_code([150 * PER_ML, 30 * PER_ML, PER_ML], [1500, 300, 10]) == "14/12/≥7"


@pytest.mark.parametrize(("count", "number"), [(640, 16), (640.1, 17), (1300, 17)], ids=["I3 a", "I3 b", "I3 c"])
def test_edges_belong_to_the_lower_number(count: float, number: int) -> None:
    assert cleanliness.scale_number(count * PER_ML) == number, TABLE + " (DERIVED)"


def test_illustration_of_the_standard() -> None:
    """I4: 22/18/13 is 20k to 40k, 1.3k to 2.5k and 40 to 80 per mL; MEM, agrees with the table."""
    shown = [(r.low / PER_ML, r.high / PER_ML) for r in cleanliness.read_code("22/18/13")]
    assert shown == [(20_000, 40_000), (1300, 2500), (40, 80)]


AS4059 = {
    "I5 class 6": (6, (50_000, 19_462, 3_462, 612, 106, 16)),
    "I6 class 5": (5, (25_000, 9_731, 1_731, 306, 53, 8)),
    "I6 class 7": (7, (100_000, 38_924, 6_924, 1_224, 212, 32)),
}


@pytest.mark.parametrize(("class_", "row"), AS4059.values(), ids=list(AS4059))
def test_cumulative_classes(class_: int, row: tuple[int, ...]) -> None:
    """Table of AS4059E in a public copy (joomag p. 30); READ. Counts per 100 mL at 4, 6, 14, 21, 38 and 70 µm(c)."""
    found = [cleanliness.as4059_limit(class_, size) / PER_ML * 100 for size in cleanliness.AS4059_SIZES]
    assert found == pytest.approx(list(row), rel=1e-12)
