"""A machine type from files alone: docs/add-a-machine-type.md in a copy of `kb/`, through the whole flow.

The tipping table is our own invention; nothing in the program knows of it.
"""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from oilpath import diagnose, load_knowledge, load_machine, load_sheet
from oilpath.documents.sheet import Sheet
from oilpath.flow import Diagnosis
from oilpath.kbcheck import check_knowledge, simulated
from oilpath.kbcheck.cases import try_rules
from oilpath.kbcheck.entries import read_entries
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import read_knowledge
from oilpath.reports.json_ import to_data, to_json
from oilpath.reports.markdown import blocks_to_markdown, to_markdown
from oilpath.reports.order_page import to_order
from oilpath.reports.prepare import lay_out_day
from oilpath.reports.text import to_text
from oilpath.reports.words import Words
from oilpath.session.day import prepare

ROOT = Path(__file__).resolve().parents[1]
GUIDE = ROOT / "docs/add-a-machine-type.md"
CAUSE, PART, CHECK, RULE = "lowering-throttle.clogged", "throttle", "throttle-opened", "loaded-table-down-slowly"
CIRCUIT = "tipping-table"

pytestmark = pytest.mark.skipif(not GUIDE.is_file(), reason="the guide is that of a checkout")


def blocks() -> dict[str, str]:
    """The files of the guide: each block begins with its path."""
    text = GUIDE.read_text(encoding="utf-8")
    found = re.findall(r"(?ms)^```yaml\n# ((?:kb|cases)/\S+?\.yaml)(?::[^\n]*)?\n(.*?)^```$", text)
    return dict(found)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of `kb/` with the files of the guide; what a file has already is kept, the block stands behind it."""
    made = tmp_path_factory.mktemp("new-type")
    shutil.copytree(ROOT / "kb", made / "kb")
    for name, text in blocks().items():
        path = made / name
        path.parent.mkdir(parents=True, exist_ok=True)
        kept = path.read_text(encoding="utf-8") if path.exists() else ""
        path.write_text(kept + text, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def known(folder: Path) -> Knowledge:
    return load_knowledge(base=folder / "kb")


@pytest.fixture(scope="module")
def faulty(folder: Path, known: Knowledge) -> Sheet:
    return load_sheet(folder / "cases/demo/tipping-table-slow.yaml", known)


@pytest.fixture(scope="module")
def answer(faulty: Sheet, known: Knowledge) -> Diagnosis:
    return diagnose(faulty, known)


def test_the_guide_holds_a_file_of_each_kind() -> None:
    kinds = {name.split("/")[1].removesuffix(".yaml") for name in blocks()}
    assert kinds == {"circuits", "causes", "tests", "rules", "checks", "machines", "sound", "demo"}


def test_the_knowledge_base_is_in_order_with_the_new_type(folder: Path) -> None:
    """Its files, all rules on their cases, every cause on the new circuit; the others are tried in another test."""
    assert check_knowledge(folder / "kb") == []
    known, placed = read_knowledge(folder / "kb"), list(read_entries(folder / "kb"))
    wrong, brought = try_rules(known, placed)
    assert wrong == []
    alone = known.model_copy(update={"circuits": {CIRCUIT: known.circuits[CIRCUIT]}})
    assert simulated.try_causes(alone, placed, brought)[0] == []


def test_the_fault_is_out_suspected_and_first(answer: Diagnosis) -> None:
    failed = {result.id for result in answer.results if result.verdict == "fail"}
    assert failed == {"lowering-time/table-down", "cycle-time/table-down"}
    assert (CAUSE, PART) in {(one.cause, one.part) for one in answer.suspicions if one.rule == RULE}
    first = answer.causes[0]
    assert (first.cause, first.part) == (CAUSE, PART)
    assert first.present > 0.5


def test_the_check_of_the_new_type_is_next_and_in_the_plan(answer: Diagnosis) -> None:
    assert CHECK in {check.check for check in answer.checks}
    assert f"'{CHECK}'" in repr(answer.plan)


def test_the_sound_table_blames_nobody(folder: Path, known: Knowledge) -> None:
    told = diagnose(load_sheet(folder / "cases/sound/tipping-table.yaml", known), known)
    assert {result.verdict for result in told.results} == {"pass"}
    assert told.causes[0].cause == "none"
    assert not any(cause.present > 0.5 for cause in told.causes[1:])


def test_every_report_tells_of_it(answer: Diagnosis, faulty: Sheet, known: Knowledge) -> None:
    words = Words(known, faulty.machine)
    for show in (to_text, to_markdown, to_order):
        text = " ".join(show(answer, words).split())
        assert "owering throttle" in text
        assert "owering time" in text
    data = json.loads(to_json(to_data(answer, words)))
    assert data["causes"][0]["cause"] == CAUSE
    assert "lowering-time/table-down" in {result["id"] for result in data["results"]}


def test_the_day_of_testing_knows_the_new_test(folder: Path, known: Knowledge) -> None:
    machine = load_machine(folder / "cases/machines/tipping-table.yaml", known)
    day = prepare(machine, known)
    tests = {test.test for test in day.tests}
    assert {"lowering-time", "cycle-time", "drift", "stall-pressure"} <= tests
    assert not tests & {"track-time", "travel-time", "swing-time"}
    assert "Lowering time" in blocks_to_markdown(lay_out_day(day, Words(known, machine)))


def test_no_other_machine_is_put_to_the_new_test(known: Knowledge) -> None:
    machine = load_machine(ROOT / "cases/machines/trainer-22t.yaml", known)
    assert "lowering-time" not in {test.test for test in prepare(machine, known).tests}


def test_nothing_in_the_program_names_it(known: Knowledge) -> None:
    own = {*known.circuits[CIRCUIT].functions, CIRCUIT, CAUSE, CHECK, RULE, "lowering-throttle", "lowering-time"}
    code = {path: path.read_text(encoding="utf-8") for path in sorted((ROOT / "engine").rglob("*.py"))}
    assert [(path.name, word) for path, text in code.items() for word in sorted(own) if word in text] == []
