"""Pictures as DOT and as our own SVG: what they show of the circuit, the causes and the plan."""

from __future__ import annotations

import os
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.problems import UnusableInput
from oilpath.reports import dot
from oilpath.reports.blocks import Bar
from oilpath.reports.drawing import bar_drawing, results_drawing, to_drawing
from oilpath.reports.page import bar_of
from oilpath.reports.pictures import (
    SUSPECTED,
    Box,
    Edge,
    Picture,
    causes_picture,
    circuit_picture,
    failing,
    plan_picture,
)
from oilpath.reports.words import Words

SHEETS = sorted((data_folder("cases") / "demo").glob("*.yaml"))


@cache
def answered(name: str) -> Any:
    knowledge = load_knowledge()
    sheet = load_sheet(data_folder("cases") / f"demo/{name}.yaml", knowledge)
    circuit = bench_for(sheet.machine, knowledge).circuit
    return SimpleNamespace(
        answer=diagnose(sheet, knowledge), words=Words(knowledge, sheet.machine), circuit=circuit
    )  # fmt: skip


def picture(name: str) -> Picture:
    one = answered(name)
    return circuit_picture(one.answer, one.words, one.circuit)


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_the_oils_way_is_that_of_the_circuit(path: Path) -> None:
    """Every part of every failing way is there; suspected parts are marked with their share."""
    one, shown = answered(path.stem), picture(path.stem)
    boxes = {box.id: box for box in shown.boxes}
    for function in failing(one.answer, one.circuit):
        assert set(one.circuit.path(function)) <= set(boxes)
    shares: dict[str, float] = {}
    for cause in one.answer.causes:
        shares[cause.part] = shares.get(cause.part, 0.0) + cause.probability
    for name, box in boxes.items():
        assert (box.kind == "suspect") == (shares.get(name, 0.0) >= SUSPECTED)
    assert {edge.tail for edge in shown.edges} | {edge.head for edge in shown.edges} == set(boxes)


def test_pulling_to_the_right_shows_the_way_of_the_right_track() -> None:
    one = answered("pump-1-slow")
    ids = {box.id for box in picture("pump-1-slow").boxes}
    assert "travel-right-motor" in ids
    assert {"pump-1"} <= {box.id for box in picture("pump-1-slow").boxes if box.kind == "suspect"}
    assert len(list(failing(one.answer, one.circuit))) <= 6


def test_the_pump_that_joins_stands_beside_the_first() -> None:
    edges = {(edge.tail, edge.head) for edge in picture("two-causes").edges}
    assert ("pump-2", "boom-merge-valve") in edges
    assert ("pump-1", "pump-2") not in edges
    assert ("pump-1", "boom-spool") in edges


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_our_own_drawing_is_well_formed_and_nothing_overlaps(path: Path) -> None:
    drawing = to_drawing(picture(path.stem))
    if not drawing:
        assert path.stem in ("nothing-wrong", "engine-low")
        return
    root = ET.fromstring(drawing)
    space = "{http://www.w3.org/2000/svg}"
    wide, high = (float(root.attrib[name]) for name in ("width", "height"))
    boxes = [[float(one.attrib[name]) for name in ("x", "y", "width", "height")] for one in root.iter(f"{space}rect")]
    assert len(boxes) == len(picture(path.stem).boxes)
    for number, (x, y, w, h) in enumerate(boxes):
        assert x >= 0
        assert x + w <= wide
        assert y >= 0
        assert y + h <= high
        for to_x, to_y, to_w, to_h in boxes[:number]:
            assert x + w <= to_x or to_x + to_w <= x or y + h <= to_y or to_y + to_h <= y


def test_a_cycle_is_drawn_all_the_same() -> None:
    round_ = Picture("x", (Box("a", ("A",)), Box("b", ("B",))), (Edge("a", "b"), Edge("b", "a")))
    assert to_drawing(round_).count("<rect") == 2


def test_markup_in_a_picture_is_escaped() -> None:
    evil = Picture("<b>", (Box("a", ('<script>"&',)),), ())
    assert "<script>" not in to_drawing(evil)
    ET.fromstring(to_drawing(evil))
    assert '"<script>\\"&"' in dot.to_dot(evil) or '<script>\\"&' in dot.to_dot(evil)


@pytest.mark.parametrize("make", [causes_picture, plan_picture])
def test_trees_have_one_root(make: Any) -> None:
    one = answered("boom-drift")
    shown = make(one.answer, one.words)
    heads = [edge.head for edge in shown.edges]
    assert len(heads) == len(set(heads)) == len(shown.boxes) - 1


# --- Graphviz -------------------------------------------------------------------------


def test_dot_source_needs_no_program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    source = dot.to_dot(picture("two-causes"))
    assert source.startswith("// oilpath\ndigraph {")
    assert "suspected, " in source


def test_without_the_program_svg_says_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr("sys.executable", "/nowhere/python")
    with pytest.raises(UnusableInput) as error:
        dot.to_svg("digraph {}")
    assert "needs the program dot" in str(error.value)
    assert "--format dot works without" in str(error.value)


@pytest.mark.skipif(os.name != "posix", reason="a program made of a shell script")
@pytest.mark.parametrize(("script", "says"), [("exit 3", "dot failed"), ("exec sleep 20", "did not return")])
def test_a_program_that_fails_is_said(script: str, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "dot"
    program.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
    program.chmod(0o755)
    monkeypatch.setattr(dot, "dot_program", lambda: str(program))
    monkeypatch.setattr(dot, "SECONDS", 0.3)
    with pytest.raises(UnusableInput, match=says):
        dot.to_svg("digraph {}")


@pytest.mark.skipif(dot.dot_program() is None, reason="needs Graphviz: apt-get install graphviz")
@pytest.mark.parametrize("make", ["circuit", "causes", "plan"])
def test_graphviz_draws_every_box(make: str) -> None:
    """Against Graphviz: as many nodes and edges as the picture has."""
    one = answered("two-causes")
    shown = {
        "circuit": lambda: picture("two-causes"),
        "causes": lambda: causes_picture(one.answer, one.words),
        "plan": lambda: plan_picture(one.answer, one.words),
    }[make]()
    drawn = dot.to_svg(dot.to_dot(shown))
    assert len(re.findall(r'class="node"', drawn)) == len(shown.boxes)
    assert len(re.findall(r'class="edge"', drawn)) == len(shown.edges)


# --- bars -----------------------------------------------------------------------------


def test_a_bar_puts_the_value_where_it_lies() -> None:
    def marks(bar: Bar) -> tuple[float, float, float]:
        root = ET.fromstring(bar_drawing(bar, False))
        (range_,) = (one for one in root if one.tag.endswith("rect"))
        value = float(list(root)[-1].attrib["x1"])
        return value, float(range_.attrib["x"]), float(range_.attrib["x"]) + float(range_.attrib["width"])

    value, low, high = marks(Bar(5.0, 0.1, 4.0, 6.0))
    assert low < value < high
    value, low, high = marks(Bar(9.0, 0.1, None, 6.0, 4.0))
    assert low == 0
    assert value > high
    value, low, high = marks(Bar(3.0, 0.1, 4.0, None))
    assert value < low


def test_results_as_one_picture() -> None:
    one = answered("pump-1-slow")
    bars = [(result, bar) for result in one.answer.results if (bar := bar_of(result)) is not None]
    drawn = results_drawing(one.words, bars)
    ET.fromstring(drawn)
    assert drawn.count('class="bar"') == len(bars) > 10


def test_what_is_out_of_nothing_is_no_way() -> None:
    one = answered("nothing-wrong")
    calm = replace(one.answer, results=())
    assert circuit_picture(calm, one.words, one.circuit).boxes == ()
