"""Pictures of how: well-formed, with words for those who do not see them, and one for every test and check."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import pytest

from oilpath import load_knowledge, load_machine
from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.reports.form import form_of
from oilpath.reports.form import to_html as form_to_html
from oilpath.reports.how import how_drawing, how_lines, how_of_check, how_of_test
from oilpath.reports.html import day_to_html
from oilpath.reports.words import Words
from oilpath.session.day import prepare

MACHINES = Path(__file__).parents[2] / "cases/machines"
NAMES = ("trainer-22t", "compact-3t", "loader-11t", "training-rig")
SVG = "{http://www.w3.org/2000/svg}"
KNOWLEDGE = load_knowledge()


@cache
def machine(name: str) -> Machine:
    return load_machine(MACHINES / f"{name}.yaml", KNOWLEDGE)


def drawings(name: str) -> dict[str, str]:
    here, found = machine(name), {}
    words = Words(KNOWLEDGE, here)
    day = prepare(here, KNOWLEDGE)
    for test in (*day.tests, *day.left_out):
        if (how := how_of_test(test, here, words)) is not None:
            found[test.test] = how_drawing(how, f"how-{test.test}", alone=True)
    for check in KNOWLEDGE.checks:
        part = next(iter(bench_for(here, KNOWLEDGE).places.of(check)), None)
        if part is not None and (how := how_of_check(check.check, part, here, words)) is not None:
            found[check.check] = how_drawing(how, f"how-{check.check}", alone=True)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_drawing_is_well_formed_and_says_what_it_shows(name: str) -> None:
    made = drawings(name)
    assert len(made) > (20 if name != "training-rig" else 3)
    for text in made.values():
        root = ET.fromstring(text)
        title, said = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None
        assert said is not None
        assert len(said.text or "") > 60
        assert root.get("role") == "img"
        assert root.get("aria-labelledby") == f"{title.get('id')} {said.get('id')}"
        assert not re.search(r"href|url\(|<script|nan|inf\b", text)
        width, height = (float(root.get(key) or 0) for key in ("width", "height"))
        for one in root.iter(f"{SVG}polygon"):
            for pair in (one.get("points") or "").split():
                x, y = map(float, pair.split(","))
                assert -1 <= x <= width + 1
                assert -1 <= y <= height + 1


@pytest.mark.parametrize("name", NAMES[:3])
def test_whoever_acts_and_what_must_be_free_is_said(name: str) -> None:
    here = machine(name)
    words = Words(KNOWLEDGE, here)
    drift = next(test for test in prepare(here, KNOWLEDGE).tests if test.test == "drift")
    how = how_of_test(drift, here, words)
    assert how is not None
    said = " ".join(how_lines(how))
    for expected in ("Engine off", "stand rated for the load", "never under the load", "Nobody within reach"):
        assert expected in said


def test_the_lane_has_its_lengths_in_the_reader_s_units() -> None:
    here = machine("trainer-22t")
    travel = next(test for test in prepare(here, KNOWLEDGE).tests if test.test == "travel-time")
    for units, length in (("si", ">20 m<"), ("us", ">65.6 ft<")):
        how = how_of_test(travel, here, Words(KNOWLEDGE, here, units))  # type: ignore[arg-type]
        assert how is not None
        assert length in how_drawing(how, "p")


def test_the_day_and_the_form_hold_a_picture_for_each_test() -> None:
    here = machine("trainer-22t")
    words, plan = Words(KNOWLEDGE, here), prepare(here, KNOWLEDGE)
    posed = [test for test in plan.tests if how_of_test(test, here, words) is not None]
    page = day_to_html(plan, words, here)
    assert page.count('class="how"') == len(posed) > 8
    assert len(page.encode()) < 250_000
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    form = form_to_html(form_of(plan, here, words))
    assert form.count("<svg") >= 8
    assert "src=" not in form + page
