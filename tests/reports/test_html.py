"""The page of an answer: one file that asks for nothing, escapes everything, and can be read by everybody."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.machine.graph import circuit_graph
from oilpath.reports.html import to_html
from oilpath.reports.words import Words
from tests.reports.sample import DIAGNOSIS, MACHINE, WORDS

SHEETS = sorted((data_folder("cases") / "demo").glob("*.yaml"))
VOID = {"meta", "br", "link", "img", "hr"}
CIRCUIT = circuit_graph(MACHINE)


class Read(HTMLParser):
    """Elements with their attributes, all text, and what is not closed as it was opened."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        self.text.append(data)


@cache
def page(path: Path) -> str:
    knowledge = load_knowledge()
    sheet = load_sheet(path, knowledge)
    circuit = bench_for(sheet.machine, knowledge).circuit
    return to_html(diagnose(sheet, knowledge), Words(knowledge, sheet.machine), circuit)


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_a_page_asks_for_nothing_and_is_small(path: Path) -> None:
    text = page(path)
    assert len(text.encode()) <= 250_000
    read = Read(text)
    assert read.wrong == read.open == []
    names = {tag for tag, _ in read.elements}
    assert not names & {"script", "link", "img", "iframe", "object", "embed", "form", "base", "audio", "video"}
    for _, attributes in read.elements:
        for name, value in attributes.items():
            assert name not in ("src", "href", "srcset", "action", "data", "style")
            assert not name.startswith("on")
            assert name == "xmlns" or "//" not in (value or "")
    assert not re.search(r"@import|url\((?!#)|javascript:", text)


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_a_page_can_be_read_by_everybody(path: Path) -> None:
    """After WCAG 2.2: language, title, headings in order, scope of header cells, names of pictures, unique ids."""
    read = Read(page(path))
    elements = dict(read.elements)
    assert elements["html"]["lang"] == "en"
    assert sum(tag == "h1" for tag, _ in read.elements) == 1
    levels = [int(tag[1]) for tag, _ in read.elements if re.fullmatch("h[1-6]", tag)]
    assert all(lower - upper <= 1 for upper, lower in pairwise(levels))
    assert all("scope" in attributes for tag, attributes in read.elements if tag == "th")
    ids = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    for tag, attributes in read.elements:
        if tag == "svg":
            named = (attributes.get("aria-labelledby") or "").split()
            assert attributes.get("aria-hidden") == "true" or (named and set(named) <= set(ids))
        if "overflow" in (attributes.get("class") or "") or attributes.get("class") == "scroll picture":
            assert attributes["tabindex"] == "0"


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    if len(colour) == 4:
        colour = "#" + "".join(2 * digit for digit in colour[1:])
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_text_stands_out_from_the_page_light_dark_and_on_paper() -> None:
    """WCAG 2.2, 1.4.3: a contrast of at least 4.5 to 1."""
    themes = re.findall(r":root \{ color-scheme: [a-z ]+; ([^}]*)\}|:root \{ (--ink[^}]*)\}", page(SHEETS[0]))
    assert len(themes) == 3
    for theme in themes:
        colours = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{3,6})", "".join(theme)))
        for text in ("ink", "soft", "stop", "care", "good", "link"):
            for ground in ("page", "shade"):
                light, dark = sorted((luminance(colours[text]), luminance(colours[ground])), reverse=True)
                assert (light + 0.05) / (dark + 0.05) >= 4.5, (text, ground, colours)


@settings(max_examples=25, deadline=None)
@given(st.text(max_size=100), st.sampled_from(["<script>alert(1)</script>", '" onload="x', "</style><img src=x>", ""]))
def test_text_of_other_people_is_shown_as_it_is(text: str, attack: str) -> None:
    made = to_html(
        replace(DIAGNOSIS, complaint=text + attack, machine=attack or "-", history=(attack,)), WORDS, CIRCUIT
    )
    read = Read(made)
    assert read.wrong == read.open == []
    assert not {tag for tag, _ in read.elements} & {"script", "img"}
    assert all(not name.startswith("on") for _, attributes in read.elements for name in attributes)


def test_the_page_holds_what_the_answer_holds() -> None:
    text = " ".join(" ".join(Read(page(data_folder("cases") / "demo/two-causes.yaml")).text).split())
    for what in (
        "STOP USE", "More than one fault at once", "Findings", "Causes", "The oil's path for", "Troubleshooting tree",
        "Plan", "Not measured", "Cautions", "knowledge sha256:", "in order, almost certain",
    ):  # fmt: skip
        assert what in text


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_nothing_is_cut_to_the_size_of_a_screen(path: Path) -> None:
    assert "…" not in page(path)


def test_the_same_page_each_time() -> None:
    path = SHEETS[0]
    first = page(path)
    page.cache_clear()
    assert page(path) == first


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("chromium") is None, reason="needs chromium: apt-get install chromium")
def test_a_browser_shows_it_and_prints_it(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text(page(data_folder("cases") / "demo/two-causes.yaml"), encoding="utf-8")
    common = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path}/profile"]
    address = (tmp_path / "page.html").as_uri()
    wide = subprocess.run(
        [*common, "--window-size=500,900", "--dump-dom", address], capture_output=True, timeout=120, check=True
    )
    assert b"STOP USE" in wide.stdout
    subprocess.run(
        [*common, f"--print-to-pdf={tmp_path}/page.pdf", address], capture_output=True, timeout=120, check=True
    )
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")
