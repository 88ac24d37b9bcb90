"""Figures in US customary units by choice: what people read changes, what programs read does not.

Factors: NIST SP 811, B.8 (1 psi = 6894.757 Pa, 1 in = 25.4 mm, 1 US gal = 3.785412 L, 1 hp = 745.6999 W).
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.flow import Computed
from oilpath.flow.notes import Amount, Between, Named, Note, OfTest, Quote, Stretch, note
from oilpath.reports.json_ import to_data
from oilpath.reports.markdown import to_markdown
from oilpath.reports.notes import Sayer
from oilpath.reports.order_page import to_order
from oilpath.reports.text import to_text
from oilpath.reports.why import why
from oilpath.reports.words import Words, named
from oilpath.units import CUSTOMARY, UNITS, from_unit, to_unit
from tests.reports.sample import DIAGNOSIS, KNOWLEDGE, MACHINE, WORDS

US = Words(KNOWLEDGE, MACHINE, "us")
RESULTS: dict[str, Any] = {result.id: result for result in DIAGNOSIS.results}


@pytest.mark.parametrize(
    ("id_", "value", "limit"),
    [
        ("cycle-time/boom-raise", "4.77 s", "max 4.9 s"),
        ("drift/boom-cylinder", "0.354 in", "max 0.4724 in"),
        ("travel-veer/forward/high", "1.31 ft left", "within ±3.937 ft"),
        ("stall-pressure/pump-1/bucket-curl", "4946 psi", "4830 to 5120 psi"),
        ("case-drain/pump-1", "8.19 gpm", "max 6.34 gpm"),
        ("engine-speed/stall-both-pumps", "1820 rpm", ""),
        ("temperature/travel-left-motor", "160 °F", ""),
    ],
)
def test_values_and_limits(id_: str, value: str, limit: str) -> None:
    assert (US.value(RESULTS[id_]), US.limit(RESULTS[id_])) == (value, limit)


def test_uncertainty_of_a_temperature_has_no_offset() -> None:
    assert US.uncertainty(RESULTS["temperature/travel-left-motor"]) == "4 °F"  # 2.2 K


@pytest.mark.parametrize(
    ("computed", "si", "us"),
    [
        (Computed(from_unit(34, "mL/min"), "flow", from_unit(5, "mL/min")), "34 ± 5 mL/min", "2.07 ± 0.31 in3/min"),
        (Computed(from_unit(200.0, "L/min"), "flow", from_unit(9, "L/min")), "200 ± 9 L/min", "52.8 ± 2.4 gpm"),
        (Computed(157.08e3, "force", 1e3), "157.1 ± 1 kN", "35310 ± 220 lbf"),
        (Computed(13.33e3, "power"), "13.3 kW", "17.9 hp"),
        (Computed(from_unit(5.5, "km/h"), "speed", from_unit(0.04, "km/h")), "5.5 ± 0.04 km/h", "3.418 ± 0.025 mph"),
        (Computed(0.92, "ratio", 0.05), "92 ± 5 %", "92 ± 5 %"),
        (Computed(-0.0411, "ratio", 0.0034), "4.11 ± 0.34 %", "4.11 ± 0.34 %"),
        (Computed(0.462e-3, "length", 0.349e-3), "0.46 ± 0.35 mm", "0.018 ± 0.014 in"),
        (Computed(4.0, "temperature-difference", 1.5), "4 ± 1.5 K", "7.2 ± 2.7 °F"),
    ],
)  # fmt: skip
def test_figures_beside_a_result(computed: Computed, si: str, us: str) -> None:
    assert WORDS.computed("x", computed) == f"x {si}"
    assert US.computed("x", computed) == f"x {us}"


WINDOW = Between(273.15 + 50, 273.15 + 60, "temperature")


@pytest.mark.parametrize(
    ("said", "us"),
    [
        (
            note("oil-too-cold", oil=Amount(273.15 + 22, "temperature"), window=WINDOW),
            "oil at 71.6 °F, but the test requires 122 to 140 °F; warm it up and repeat",
        ),
        (
            note(
                "cooling-is-a-part", length=Amount(0.002, "length"), spread=Amount(0.001, "length"),
                by=Amount(4.0, "temperature-difference"), share=Amount(0.22, "ratio"),
            ),
            "cooling of the oil by 7.2 °F can explain about 0.0787 in (± 0.0394 in), 22 % of the drift; the limit is"
            " for the value as measured",
        ),
        (
            note("limit-scaled", limit=Stretch(20.0, "distance", "length"), made=Stretch(10.0, "distance", "length")),
            "limit for a distance of 65.6 ft scaled to a distance of 32.8 ft",
        ),
        (
            note("limit-scaled", limit=Stretch(300.0, "hold", "time"), made=Stretch(3.0, "turns", None)),
            "limit for a hold of 5 min scaled to 3 turns",
        ),
        (
            note(
                "more-than-plain", by=OfTest(0.7e6, "stall-pressure", difference=True),
                other=Named("result", "stall-pressure/pump-1/bucket-curl"), value=OfTest(34.3e6, "stall-pressure"),
            ),
            "102 psi more than “Stall pressure, main pump 1, bucket curl” (4975 psi); not compared with a limit",
        ),
        (
            note("not-comparable", key="pump-speed", own=Amount(30.0, "rotation"), theirs=Amount(31.0, "rotation")),
            "not comparable: pump speed 1800 rpm, 1860 rpm in the earlier readings; repeat with the same pump speed",
        ),
        (
            # other people's text stays as it is
            note("code-says", says=Quote("Pressure above 35 MPa")), "Pressure above 35 MPa",
        ),
    ],
)  # fmt: skip
def test_notes(said: Note, us: str) -> None:
    assert Sayer(US, DIAGNOSIS.results).say(said) == us


def test_severity() -> None:
    cause = next(cause for cause in DIAGNOSIS.causes if cause.severity and cause.severity.quantity == "flow")
    assert cause.severity is not None
    assert "gpm" in US.severity(cause.severity)
    assert "L/min" in WORDS.severity(cause.severity)


def test_json_is_always_si() -> None:
    assert to_data(DIAGNOSIS, US) == to_data(DIAGNOSIS, WORDS)


SI_ONLY = (" MPa", " L/min", " mL/min", " °C", " kN", " kW", " km/h")


def _measured(text: str) -> str:
    """Without the prose of the knowledge base, which keeps its units."""
    return text.partition("Next checks")[0].partition("NEXT")[0]


@pytest.mark.parametrize("show", [to_text, to_markdown, to_order])
def test_no_si_figure_is_left_in_what_people_read(show: object) -> None:
    assert callable(show)
    text = _measured(show(DIAGNOSIS, US))
    assert [unit for unit in SI_ONLY if unit in text] == []
    assert any(unit in _measured(show(DIAGNOSIS, WORDS)) for unit in SI_ONLY)


def test_why_says_demands_in_the_chosen_units() -> None:
    shown = why(DIAGNOSIS, "drift/boom-cylinder", US)
    assert "oil 122 to 140 °F" in shown
    assert " mm" not in shown.partition("Speaks for")[0]


@given(st.floats(-1e4, 1e4), st.sampled_from(sorted(CUSTOMARY)))
def test_the_other_unit_means_the_same(value: float, unit: str) -> None:
    there = to_unit(from_unit(value, unit), CUSTOMARY[unit])
    assert to_unit(from_unit(there, CUSTOMARY[unit]), unit) == pytest.approx(value, abs=1e-7)


def test_every_unit_that_differs_has_another_one() -> None:
    same = {"s", "rpm", "%", "deg", "mm2/s"}
    assert {unit for unit, _, _ in UNITS.values()} - set(CUSTOMARY) == same
    assert named(CUSTOMARY["K"]) == "°F"
