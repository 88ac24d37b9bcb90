"""Answers that are kept while what they were made of is there, and all sheets ranked anew, whatever is killed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sql

from oilpath.data import data_folder
from oilpath.knowledge.base import Knowledge
from oilpath.store import answers, jobs, tables, work
from oilpath.store.jobs import rerank
from oilpath.store.opening import Store, open_store
from tests.running import command_line

MACHINE = (data_folder("cases") / "machines/trainer-22t.yaml").read_bytes()
SHEET = (
    "oilpath: sheet/1\nmachine: m.yaml\nhours: 10\nreadings:\n"
    "  - {test: cycle-time, function: boom-raise, times: [%s s]}\n"
)
SLOW = SHEET % 6.1


@pytest.fixture
def other(knowledge: Knowledge) -> Knowledge:
    """Another knowledge base, as far as answers are concerned."""
    return knowledge.model_copy(update={"version": "sha256:another"})


@pytest.fixture
def filled(store: Store) -> Store:
    fill(store, 3)
    return store


def fill(store: Store, number: int) -> None:
    store.documents.save("m.yaml", MACHINE, base=None, author="Ann")
    for one in range(number):
        store.documents.save(f"s{one}.yaml", SHEET % (4.2 + one), base=None, author="Ann")


@pytest.fixture
def diagnosed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The sheets that were worked out, one after the other."""
    done: list[str] = []
    usual = answers.worked_out

    def worked_out(material: answers.Material, knowledge: Knowledge) -> tuple[answers.Material, answers.Answer]:
        done.append(material.name)
        return usual(material, knowledge)

    monkeypatch.setattr(answers, "worked_out", worked_out)
    return done


def stale(store: Store) -> dict[str, bool]:
    return {row.name: row.stale for row in store.search.sheets(order="name").rows}


# --- answers --------------------------------------------------------------------------


def test_an_answer_is_that_of_the_shell_and_on_the_list(filled: Store, knowledge: Knowledge) -> None:
    from oilpath import diagnose
    from oilpath.reports.json_ import to_data, to_json
    from oilpath.reports.words import Words

    found = filled.answers.answer("s2.yaml", knowledge)
    material = filled.answers.read("s2.yaml", knowledge)
    assert material.sheet is not None
    data = to_data(diagnose(material.sheet, knowledge), Words(knowledge, material.sheet.machine, "si"))
    assert found.data == json.loads(to_json(data))
    assert filled.answers.kept("s2.yaml", knowledge) == found
    row = next(one for one in filled.search.sheets(order="share").rows if one.name == "s2.yaml")
    cause = found.data["causes"][0]
    assert (row.cause, row.part, row.share, row.usable, row.stale) == (
        cause["cause"], cause["part"], cause["probability"], True, False,
    )  # fmt: skip


def test_an_answer_is_worked_out_once_until_something_it_read_changes(
    filled: Store, knowledge: Knowledge, diagnosed: list[str]
) -> None:
    first = filled.answers.answer("s0.yaml", knowledge)
    filled.answers.answer("s1.yaml", knowledge)
    assert filled.answers.answer("s0.yaml", knowledge) == first
    assert diagnosed == ["s0.yaml", "s1.yaml"]
    filled.documents.save("s0.yaml", SLOW, base=1, author="Ann")
    assert stale(filled) == {"s0.yaml": True, "s1.yaml": False, "s2.yaml": False}
    assert filled.answers.kept("s0.yaml", knowledge) is None
    filled.documents.save("m.yaml", MACHINE + b"# more\n", base=1, author="Ann")
    assert stale(filled) == {"s0.yaml": True, "s1.yaml": True, "s2.yaml": False}
    filled.answers.answer("s0.yaml", knowledge)
    assert diagnosed == ["s0.yaml", "s1.yaml", "s0.yaml"]


def test_an_answer_holds_again_when_its_content_is_there_again(
    filled: Store, knowledge: Knowledge, diagnosed: list[str]
) -> None:
    first = filled.answers.answer("s0.yaml", knowledge)
    filled.documents.save("m.yaml", MACHINE + b"# more\n", base=1, author="Ann")
    filled.documents.save("m.yaml", MACHINE, base=2, author="Ann")  # taken back
    filled.documents.save("s0.yaml", SLOW, base=1, author="Ann")
    filled.documents.save("s0.yaml", SHEET % 4.2, base=2, author="Ann")
    again = filled.answers.answer("s0.yaml", knowledge)
    assert (again.data, diagnosed) == (first.data, ["s0.yaml"])
    assert stale(filled)["s0.yaml"] is False
    filled.documents.save("m.yaml", MACHINE + b"# other\n", base=3, author="Ann")
    assert stale(filled)["s0.yaml"] is True  # it is known what the answer holds for now


def test_an_answer_of_another_knowledge_base_does_not_count(
    filled: Store, knowledge: Knowledge, other: Knowledge, diagnosed: list[str]
) -> None:
    filled.answers.answer("s0.yaml", knowledge)
    assert filled.answers.kept("s0.yaml", other) is None
    filled.answers.answer("s0.yaml", other)
    assert diagnosed == ["s0.yaml", "s0.yaml"]
    assert filled.jobs.left(other).keys() == {"s1.yaml", "s2.yaml"}
    assert filled.jobs.count_left(knowledge) == 3


def test_a_change_while_an_answer_is_worked_out_leaves_it_stale(filled: Store, knowledge: Knowledge) -> None:
    made = answers.worked_out(filled.answers.read("s0.yaml", knowledge), knowledge)
    filled.documents.save("m.yaml", MACHINE + b"# meanwhile\n", base=1, author="Ann")
    filled.answers.keep(*made)
    assert stale(filled)["s0.yaml"] is True
    filled.documents.remove("s0.yaml", base=1, author="Ann")
    filled.answers.keep(*made)
    assert "s0.yaml" not in stale(filled)


def test_a_sheet_that_cannot_be_used_is_answered_by_its_problems(filled: Store, knowledge: Knowledge) -> None:
    filled.documents.save("s0.yaml", "oilpath: sheet/1\nmachine: none.yaml\nreadings: []\n", base=1, author="Ann")
    found = filled.answers.answer("s0.yaml", knowledge)
    assert found.usable is False
    assert found.data["oilpath"] == "error/1"
    assert "none.yaml` is not a document that is there" in found.data["problems"][0]["message"]
    filled.documents.save("none.yaml", MACHINE, base=None, author="Ann")  # what was missing has come
    assert stale(filled)["s0.yaml"] is True
    assert filled.answers.answer("s0.yaml", knowledge).usable is True


# --- all sheets -----------------------------------------------------------------------


def test_all_are_ranked_anew_after_a_change_of_knowledge(
    filled: Store, knowledge: Knowledge, other: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "_NOTED", 1)
    filled.documents.save("s0.yaml", "oilpath: sheet/1\nmachine: none.yaml\nreadings: []\n", base=1, author="Ann")
    steps = list(work.rank_all(filled, knowledge))
    assert [job.done for job in steps] == [0, 1, 2, 3, 3]
    assert {(job.total, job.state) for job in steps[:-1]} == {(3, "running")}
    assert (steps[-1].unusable, steps[-1].state) == (1, "done")
    assert filled.jobs.count_left(knowledge) == 0
    *_, last = work.rank_all(filled, other)
    assert (last.done, last.state) == (3, "done")
    assert filled.jobs.latest() == last
    assert {row.name: row.stale for row in filled.search.sheets(answered_by=answers.answered_by(other)).rows} == {
        "s0.yaml": False, "s1.yaml": False, "s2.yaml": False,
    }  # fmt: skip


def test_a_job_that_was_stopped_goes_on(filled: Store, knowledge: Knowledge, diagnosed: list[str]) -> None:
    def breaks(names: tuple[str, ...]) -> Iterator[tuple[str, bool]]:
        yield names[0], filled.answers.answer(names[0], knowledge).usable
        raise InterruptedError

    with pytest.raises(InterruptedError):
        list(rerank(filled.jobs, knowledge, breaks))
    stopped = filled.jobs.latest()
    assert stopped is not None
    assert (stopped.done, stopped.total, stopped.state) == (1, 3, "stopped")
    fill_more = SHEET % 9.9
    filled.documents.save("s9.yaml", fill_more, base=None, author="Ann")
    *_, last = work.rank_all(filled, knowledge)
    assert (last.id, last.done, last.total, last.state) == (stopped.id, 4, 4, "done")
    assert sorted(diagnosed) == ["s0.yaml", "s1.yaml", "s2.yaml", "s9.yaml"]


def test_a_fault_at_one_sheet_holds_no_other_up(
    filled: Store, knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    usual = answers.worked_out

    def breaks(material: answers.Material, knowledge: Knowledge) -> tuple[answers.Material, answers.Answer]:
        if material.name == "s1.yaml":
            raise ZeroDivisionError
        return usual(material, knowledge)

    monkeypatch.setattr(answers, "worked_out", breaks)
    *_, last = work.rank_all(filled, knowledge)
    assert (last.done, last.unusable, last.state) == (3, 1, "done")
    assert filled.jobs.left(knowledge).keys() == {"s1.yaml"}
    assert "s1.yaml cannot be ranked: ZeroDivisionError" in caplog.text
    assert "Traceback" not in caplog.text


@pytest.mark.slow
def test_several_processes_in_the_background_rank_the_same(
    kind: str, address: str, knowledge: Knowledge, tmp_path: Path
) -> None:
    def contents(store: Store) -> list[bytes]:
        with store.database.reading() as connection:
            return list(
                connection.execute(sql.select(tables.answer.c.content).order_by(tables.answer.c.document)).scalars()
            )

    one, two = open_store(tmp_path / "one.db"), open_store(address)
    for store in (one, two):
        fill(store, 4)
    *_, alone = work.rank_all(one, knowledge)
    ranker = work.Ranker(two, knowledge, jobs=2 if kind == "sqlite" else 1)
    assert ranker.start()
    assert not ranker.start()
    while ranker.running:
        time.sleep(0.05)
    spread = two.jobs.latest()
    assert spread is not None
    assert (spread.done, spread.state, alone.done) == (4, "done", 4)
    assert contents(one) == contents(two)
    for store in (one, two):
        store.close()


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="killed as POSIX systems kill")
def test_a_job_that_was_killed_goes_on(file_store: Store, knowledge: Knowledge) -> None:
    fill(file_store, 16)
    process = subprocess.Popen(
        command_line("store", "rank", "--database", file_store.database.shown), stdout=subprocess.DEVNULL
    )
    while file_store.jobs.count_left(knowledge) > 14:
        assert process.poll() is None
        time.sleep(0.02)
    process.send_signal(signal.SIGKILL)
    process.wait()
    left = file_store.jobs.count_left(knowledge)
    killed = file_store.jobs.latest()
    assert killed is not None
    assert killed.state == "running"
    assert 0 < left <= 14
    *_, last = work.rank_all(file_store, knowledge)
    assert (last.id, last.state) == (killed.id, "done")
    assert last.total == last.done == killed.done + left
    assert file_store.jobs.count_left(knowledge) == 0


def test_two_jobs_at_once_share_the_work(file_store: Store, knowledge: Knowledge, diagnosed: list[str]) -> None:
    fill(file_store, 6)
    one, two = (work.rank_all(file_store, knowledge) for _ in range(2))
    assert next(one).id == next(two).id
    *_, first = one
    *_, second = two
    assert (first.state, second.state, second.done, second.total) == ("done", "done", 6, 6)
    assert sorted(diagnosed) == [f"s{number}.yaml" for number in range(6)]
