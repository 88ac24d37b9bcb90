"""Safety facts that the cautions and formulas must say; status words as in test_cylinders.py.

Each caution names its source in kb/cautions.yaml; here it is compared with what that source says.
"""

import pytest

from oilpath import load_knowledge
from oilpath.physics.formulas import cylinder, holding

# Caution, words it must contain.
SAID = {
    "S3 blocked before anyone goes under": ("29 CFR 1926.600(a)(3)(i); READ", "nobody-under-load", ["Nobody under"]),
    "S3 lowered or blocked for repair": (
        "29 CFR 1926.600(a)(3)(i); READ", "block-and-relieve",
        ["to the ground or onto blocks", "stop the engine or motor"],
    ),
    "S1 all stored energy made safe": (
        "29 CFR 1910.147(d)(5); READ", "block-and-relieve",
        ["relieve the pressure", "secure anything that can turn or roll"],
    ),
    "S4 pressure released first": (
        "WAC 296-45-285 (e); READ", "release-pressure-first", ["Before opening a connection, relieve the pressure"],
    ),
    "S4 no part of the body near a leak": ("WAC 296-45-285 (f); READ", "never-feel-for-leaks", ["Never feel for"]),
    "S5 injected oil": ("two trade pages on injection; READ", "never-feel-for-leaks", ["surgical emergency"]),
}  # fmt: skip


@pytest.mark.parametrize(("source", "caution", "words"), SAID.values(), ids=list(SAID))
def test_caution_says_it(source: str, caution: str, words: list[str]) -> None:
    says = load_knowledge().cautions[caution].says
    assert [word for word in words if word not in says] == [], source


def test_what_must_be_said_stands_in_every_answer() -> None:
    """S1: 29 CFR 1910.147(d)(5) and S4: WAC 296-45-285; READ."""
    assert {"block-and-relieve", "never-feel-for-leaks"} <= set(load_knowledge().always)


def test_a_load_on_oil_can_move_without_a_leak_outside() -> None:
    """S11: DERIVED from the ratio of C9 and the shrinking of O16."""
    # Past a leaking seal the pressure has to rise first, which takes movement; and cooling alone shortens the column.
    assert holding.end_pressures(1.0, 0.0, 0.0, cylinder.area_ratio(0.100, 0.070))[0] > 2
    assert holding.cooling_shrinkage(0.8, 20) > 0.010
