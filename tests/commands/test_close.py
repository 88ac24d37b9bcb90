"""Closing a job from the shell: what is kept, what the sheet says then, what is refused. Work, put back."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from oilpath.documents.closed import load_closed
from oilpath.knowledge.base import Knowledge
from tests.running import Run, in_process

CASES = Path(__file__).parents[2] / "cases"
CLOSE = ("--cause", "pump.worn", "--part", "pump-1", "--how", "Pump exchanged", "--grade", "torn-down")


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return in_process(monkeypatch, capsys)


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A demo sheet and one made after the repair, in the working folder."""
    shutil.copytree(CASES / "machines", tmp_path / "machines")
    (tmp_path / "pit").mkdir()
    text = (CASES / "sound/gravel-pit-1.yaml").read_text(encoding="utf-8")
    lines = ["unit-number: PIT-07" if line.startswith("unit-number") else line for line in text.splitlines()]
    (tmp_path / "pit/after.yaml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    shutil.copy(CASES / "demo/pump-1-slow.yaml", tmp_path / "pit/sheet.yaml")
    monkeypatch.chdir(tmp_path / "pit")
    monkeypatch.delenv("OILPATH_KB", raising=False)
    return tmp_path / "pit/sheet.yaml"


def test_a_closed_job_is_kept_counts_and_the_order_says_found_and_corrected(run: Run, job: Path) -> None:
    done = run("close", "sheet.yaml", *CLOSE, "--after", "after.yaml", "--minutes", "410")
    assert done.status == 0, done.err
    assert "Cycle time, bucket curl: 4.07 s before, 3.48 s after" in done.out
    (path,) = Path("my-kb/closed").glob("*.yaml")
    kept = load_closed(path, load())
    assert kept.job.grade == "torn-down"
    assert kept.after is not None
    shutil.rmtree(job.parents[1] / "machines")  # the machine is kept with the job
    assert load_closed(path, load()).sheet.machine.name == kept.sheet.machine.name


def load() -> Knowledge:
    from oilpath.knowledge.compile import load_knowledge

    return load_knowledge()


def test_the_order_after_closing(run: Run, job: Path) -> None:
    run("close", "sheet.yaml", *CLOSE, "--after", "after.yaml", "--minutes", "410")
    order = run("order", "sheet.yaml", "--kb", "my-kb").out
    assert "FOUND AND CORRECTED" in order
    assert "seen in the opened part" in order
    assert "Time spent: 6.8 h" in order
    answer = json.loads(run("diagnose", "sheet.yaml", "--kb", "my-kb", "--format", "json").out)
    assert (answer["closed-jobs"], answer["similar"], answer["comeback"]) == (0, [], None)  # never for itself
    other = json.loads(
        run("diagnose", str(CASES / "demo/one-track-slow.yaml"), "--kb", "my-kb", "--format", "json").out
    )
    assert other["closed-jobs"] == 1
    why = run("why", str(CASES / "demo/one-track-slow.yaml"), "pump.worn@pump-1", "--kb", "my-kb").out
    assert "Closed jobs: found 1 times by weight in 1 closed job; its odds before" in " ".join(why.split())


def test_comments_of_the_sheet_stay_and_closing_again_must_be_meant(run: Run, job: Path) -> None:
    before = job.read_text(encoding="utf-8")
    assert run("close", "sheet.yaml", *CLOSE).status == 0
    assert job.read_text(encoding="utf-8").startswith(before.rstrip("\n"))
    refused = run("close", "sheet.yaml", *CLOSE)
    assert refused.status == 2
    assert "--again" in refused.err
    again = ("--cause", "regulator.stuck-low", "--part", "pump-1-regulator", "--how", "Freed", "--grade", "torn-down")
    assert run("close", "sheet.yaml", *again, "--again").status == 0
    (path,) = Path("my-kb/closed").glob("*.yaml")
    assert load_closed(path, load()).job.found[0].cause == "regulator.stuck-low"
    assert job.read_text(encoding="utf-8").count("cause:") == 1


def test_two_faults_by_their_titles(run: Run, job: Path) -> None:
    two = ("--cause", "Worn main pump 1", "--part", "main pump 1", "--how", "Exchanged", "--cause", "main-relief.low",
           "--part", "main-relief", "--how", "Set anew", "--grade", "symptom-gone")  # fmt: skip
    assert run("close", "sheet.yaml", *two).status == 0
    (path,) = Path("my-kb/closed").glob("*.yaml")
    assert [one.cause for one in load_closed(path, load()).job.found] == ["pump.worn", "main-relief.low"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--cause", "pump.wron", "--how", "x", "--grade", "torn-down"), "pump.worn"),
        (("--cause", "pump.worn", "--how", "x", "--grade", "torn-down"), "pump-1, pump-2"),
        (("--cause", "pump.worn", "--part", "swing-motor", "--how", "x", "--grade", "torn-down"), "pump-1, pump-2"),
        (("--cause", "pump.worn", "--part", "pump-1", "--how", "x", "--grade", "sure"), "torn-down"),
        (("--cause", "pump.worn", "--part", "pump-1", "--how", "x", "--grade", "retested"), "--after"),
        ((*CLOSE, "--after", "sheet.yaml"), "the sheet itself"),
        ((*CLOSE, "--kb", str(CASES.parent / "kb")), "ships with oilpath"),
    ],
)
def test_what_is_refused_writes_nothing(run: Run, job: Path, arguments: tuple[str, ...], said: str) -> None:
    before = job.read_bytes()
    refused = run("close", "sheet.yaml", *arguments)
    assert refused.status == 2
    assert said in refused.err
    assert job.read_bytes() == before
    assert not Path("my-kb").exists()
    assert not (CASES.parent / "kb/closed").exists()


def test_a_machine_that_comes_back_is_asked_about_what_was_touched(run: Run, job: Path) -> None:
    assert run("close", "sheet.yaml", *CLOSE, "--after", "after.yaml").status == 0
    text = job.read_text(encoding="utf-8").partition("confirmed:")[0]
    text = text.replace("hours: 8450", "hours: 8690").replace("date: 2026-05-14", "date: 2026-07-01")
    Path("back.yaml").write_text(
        text.replace("times: [4.1 s, 4.0 s, 4.1 s]", "times: [4.2 s, 4.2 s]"), encoding="utf-8"
    )
    answer = json.loads(run("diagnose", "back.yaml", "--kb", "my-kb", "--format", "json").out)
    back = answer["comeback"]
    assert (back["hours-since"], back["touched"]) == (240, ["pump-1"])
    assert "travel-time/forward/high" in {one["result"] for one in back["compared"]}
    page = run("next", "back.yaml", "--kb", "my-kb")
    assert "Came back: Repaired 240 h ago: Worn main pump 1 (Pump exchanged)" in " ".join(page.out.split())
    step = json.loads(run("next", "back.yaml", "--kb", "my-kb", "--format", "json").out)["step"]
    assert step["part"] == "pump-1"


def test_a_remedy_is_named_in_words_and_suggested_as_its_cause_wants_it(run: Run, job: Path) -> None:
    shutil.copy(CASES / "demo/relief-low.yaml", "low.yaml")
    with Path("low.yaml").open("a", encoding="utf-8") as file:
        file.write("  - {test: check, check: relief-response, part: main-relief, outcome: follows}\n")
        file.write("  - {test: check, check: second-gauge, part: pressure-sensor-1, outcome: agree}\n")
    assert "{action: adjusted, part: main-relief" in run("next", "low.yaml").out
    with Path("low.yaml").open("a", encoding="utf-8") as file:
        file.write("remedies: [{action: adjusted, part: main-relief, helped: false}]\n")
    why = run("why", "low.yaml", "main-relief.low").out
    assert "Main relief valve adjusted, it did not help" in why
    assert "remedy/" not in why + run("diagnose", "low.yaml").out


# --- work ---------------------------------------------------------------------------------


def test_a_step_that_plugs_a_line_is_noted_asked_for_and_put_back(run: Run, job: Path) -> None:
    done = run("next", "sheet.yaml", "--outcome", "plug-loaded-line@boom-cylinder=still")
    assert "Before the machine starts" in done.out
    assert "check: plug-loaded-line" in job.read_text(encoding="utf-8").splitlines()[-1]
    assert "PUT BACK BEFORE THE MACHINE STARTS" in run("order", "sheet.yaml").out
    assert "PUT BACK FIRST" in run("order", "sheet.yaml", "--short").out
    (work,) = json.loads(run("diagnose", "sheet.yaml", "--format", "json").out)["work"]
    assert (work["what"], work["part"], work["open"]) == ("plugged", "boom-cylinder", True)
    assert run("next", "sheet.yaml", "--put-back", "bucket-cylinder").status == 2
    back = run("next", "sheet.yaml", "--put-back", "boom-cylinder")
    assert "Before the machine starts" not in back.out
    assert "undo: false" in job.read_text(encoding="utf-8")


def test_what_is_taken_back_takes_its_work_with_it(run: Run, job: Path) -> None:
    before = job.read_text(encoding="utf-8")
    run("next", "sheet.yaml", "--outcome", "plug-loaded-line@boom-cylinder=still")
    run("next", "sheet.yaml", "--undo")
    after = job.read_text(encoding="utf-8")
    assert "plugged" not in after
    assert after.startswith(before.rstrip("\n"))


def test_a_moved_setting_is_warned_about_and_metal_ends_the_exchanging(run: Run, job: Path) -> None:
    with job.open("a", encoding="utf-8") as file:
        file.write("work: [{what: setting, part: main-relief, turns: -0.5}]\n")
    answer = json.loads(run("diagnose", "sheet.yaml", "--format", "json").out)
    assert any("turned 0.5 turn out" in text and "readings depend on it" in text for text in answer["warnings"])
    offered = {one["check"] for one in answer["checks"]}
    text = job.read_text(encoding="utf-8")
    metal = "  - {test: sign, sign: metal-in-drain-filter, seen: true}\nwork:"
    job.write_text(text.replace("work:", metal), encoding="utf-8")
    after = json.loads(run("diagnose", "sheet.yaml", "--format", "json").out)
    assert "swap-pump-outlets" in offered
    assert "swap-pump-outlets" not in {one["check"] for one in after["checks"]}


def test_what_is_wrong_in_the_work_is_said_by_line(run: Run, job: Path) -> None:
    lines = len(job.read_text(encoding="utf-8").splitlines())
    with job.open("a", encoding="utf-8") as file:
        file.write("work:\n  - {what: pluged, part: boom-cylinder}\n")
        file.write("  - {what: plugged, part: boom, turns: 1}\n  - {part: swing-motor}\n")
    said = run("diagnose", "sheet.yaml").err
    for number, words in ((2, "did you mean plugged?"), (3, "belongs to a setting alone"), (3, "part"), (4, "what")):
        assert any(line.startswith(f"sheet.yaml:{lines + number}:") and words in line for line in said.splitlines())
