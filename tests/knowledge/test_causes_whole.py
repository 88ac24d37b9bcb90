"""Every cause under its fixed headings: none is left out, none contradicts another."""

from __future__ import annotations

import pytest

from oilpath.knowledge.cause import Cause
from tests import shipped

CAUSES = shipped.causes()


@pytest.mark.parametrize("cause", CAUSES, ids=lambda cause: cause.cause)
def test_a_cause_is_whole(cause: Cause) -> None:
    for heading in ("mechanism", "signature", "against", "mistaken_for", "confirm", "urgency", "remedy", "proof"):
        assert getattr(cause, heading), heading
    assert cause.afterwards
    assert cause.repair
    assert cause.waiting or cause.stop_use


def test_a_replaced_unit_is_filled_before_it_starts() -> None:
    """Common practice: a pump or motor that starts with an empty case is ruined at once."""
    for cause in CAUSES:
        replaced = cause.repair is not None and cause.repair.action == "exchanged" and cause.repair.parts == "major"
        if replaced and {"main-pump", "travel-motor", "swing-motor"} & set(cause.at.class_):
            assert any("Fill the case" in text for text in cause.afterwards), cause.cause


def test_a_cylinder_that_was_open_is_bled() -> None:
    """Common practice; a cylinder with air in it jumps."""
    for cause in CAUSES:
        if "cylinder" in cause.at.class_ and any("eal kit" in text for text in cause.order.values()):
            assert any("leed" in text for text in cause.afterwards), cause.cause
