"""The sheet to print: every reading beside its limit, cautions before each test, nothing asked of any address."""

from __future__ import annotations

import re
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

from oilpath.documents.load import load_machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.reports.form import form_of, to_html
from oilpath.reports.words import Words
from oilpath.session.day import prepare
from oilpath.session.slots import slots
from tests.running import Run, in_process

ROOT = Path(__file__).parents[2]
MACHINES = sorted((ROOT / "cases/machines").glob("*.yaml"))
TRAINER = ROOT / "cases/machines/trainer-22t.yaml"
VOID = {"meta", "link", "br", "img", "hr", "input"}


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return in_process(monkeypatch, capsys)


class Reader(HTMLParser):
    """Tags in balance, attributes, and the cells of tables."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.rows: list[list[str]] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.headings: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("th", "td"):
            self.rows[-1].append("")
        if tag in ("h1", "h2", "h3"):
            self.headings.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] in ("th", "td"):
            self.rows[-1][-1] += data


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    assert reader.open == []
    return reader


@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("path", MACHINES, ids=lambda path: path.stem)
def test_every_reading_has_a_row_with_its_limit_and_three_repeats(path: Path, units: str, knowledge: Knowledge) -> None:
    machine = load_machine(path, knowledge)
    words = Words(knowledge, machine, "us" if units == "us" else "si")
    plan = prepare(machine, knowledge)
    page = read(to_html(form_of(plan, machine, words)))
    heads = [row for row in page.rows if row[:2] == ["Reading", "Limit"]]
    assert all([cell.partition(":")[0] for cell in row[2:5]] == ["1", "2", "3"] for row in heads)
    room = slots(plan, machine, knowledge)
    rows = [
        row for row in page.rows if len(row) > 4 and row not in heads and not row[0].isdecimal() and row[0] != "Code"
    ]
    assert len(rows) == len(room)
    assert [bool(row[1]) for row in rows] == [slot.limit is not None for slot in room]


def test_the_page_is_whole_and_asks_nothing_of_any_address(knowledge: Knowledge) -> None:
    machine = load_machine(TRAINER, knowledge)
    html = to_html(form_of(prepare(machine, knowledge), machine, Words(knowledge, machine)))
    assert not re.search(r"https?:|//\w|url\(|@import|<script|<link|<img", html)
    assert len(html.encode()) < 250_000
    page = read(html)
    assert ("lang", "en") in page.attributes
    assert page.headings[0] == "h1"
    assert page.headings.count("h1") == 1
    assert all(int(two[1]) <= int(one[1]) + 1 for one, two in zip(page.headings, page.headings[1:], strict=False))
    for sign in knowledge.signs.values():
        assert sign.title.replace("'", "&#39;") in html
    assert html.index("Nobody under raised parts") < html.index("Boom cylinders, hold 5 min")


def test_everything_put_in_is_escaped(knowledge: Knowledge) -> None:
    text = 'oilpath: machine/1\nname: "<script>alert(1)</script> & {{ 7 * 7 }}"\ncircuit: two-pump-excavator\n'
    machine = load_machine("-", knowledge, text=text)
    html = to_html(form_of(prepare(machine, knowledge), machine, Words(knowledge, machine)))
    assert "<script" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; {{ 7 * 7 }}" in html


@pytest.mark.parametrize(("paper", "size"), [("a4", "size: A4"), ("letter", "size: letter")])
def test_the_paper_is_chosen(paper: str, size: str, run: Run) -> None:
    done = run("sheet", "form", str(TRAINER), "--paper", paper)
    assert (done.status, done.err) == (0, "")
    assert size in done.out


def test_the_same_machine_gives_the_same_page(run: Run) -> None:
    assert run("sheet", "form", str(TRAINER)) == run("sheet", "form", str(TRAINER))


def test_a_pdf_needs_a_file_and_its_extra(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "goes to a file" in run("sheet", "form", str(TRAINER), "--format", "pdf").err
    monkeypatch.setitem(sys.modules, "weasyprint", None)  # as where it is not installed
    done = run("sheet", "form", str(TRAINER), "-o", str(tmp_path / "form.pdf"))
    assert done.status == 2
    assert "pip install 'oilpath[pdf]'" in done.err
    assert not (tmp_path / "form.pdf").exists()


def test_a_pdf_is_made_where_the_extra_is_there(tmp_path: Path, run: Run) -> None:
    pytest.importorskip("weasyprint")
    assert run("sheet", "form", str(TRAINER), "-o", str(tmp_path / "form.pdf")).status == 0
    assert (tmp_path / "form.pdf").read_bytes().startswith(b"%PDF-")
