"""`oilpath practice` from the shell: a script of answers, the log and its replay, an interrupted session."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.running import Run, in_process

MACHINE = str(Path(__file__).parents[2] / "cases/machines/trainer-22t.yaml")
ANSWERS = ["-", "pilot-pressure", "ok", "", "stall pump 1 boom", "3.4 MPa", "n", "worn pump 1", "1"]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return in_process(monkeypatch, capsys)


def script(lines: list[str]) -> str:
    return "".join(f"{line}\n" for line in lines)


def test_a_script_plays_a_session_and_its_log_replays_to_the_same_bytes(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "log.jsonl"
    played = run("practice", "--seed", "5", "--machine", MACHINE, "--log", str(log), text=script(ANSWERS))
    assert played.status == 0, played.err
    for said in ("simulated", "The customer says", "WHAT IT WAS", "BOTH BILLS", "THE CHAIN OF REASONS"):
        assert said in played.out
    assert all(len(line) <= 90 for line in played.out.splitlines())
    entries = [json.loads(line) for line in log.read_text("utf-8").splitlines()]
    assert [one["typed"] for one in entries[1:-1]] == ANSWERS
    assert entries[-1]["named"] == [["pump.worn", "pump-1", "exchanged"]]
    assert entries[-1]["hidden"]
    assert run("practice", "--replay", str(log)).out == played.out


def test_a_session_that_ends_early_goes_on_from_its_log(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "log.jsonl"
    first = run("practice", "--seed", "5", "--machine", MACHINE, "--log", str(log), text=script(ANSWERS[:4]))
    assert first.status == 0
    assert f"oilpath practice --log {log}" in first.out
    assert "WHAT IT WAS" not in first.out, "nothing is given away"
    with log.open("a", encoding="utf-8") as file:
        file.write('{"asked": "step", "typ')  # cut off while it was written
    again = run("practice", "--log", str(log), text=script(ANSWERS[4:]))
    assert again.status == 0
    whole = run("practice", "--seed", "5", "--machine", MACHINE, text=script(ANSWERS))
    assert again.out == whole.out


@pytest.mark.parametrize(
    "text",
    ["", "[1]\n", '{"oilpath": "sheet/1"}\n', '{"oilpath": "practice/1", "seed": 1, "level": 9, "machine": {}}\n'],
)
def test_what_is_no_log_is_refused(run: Run, tmp_path: Path, text: str) -> None:
    log = tmp_path / "log.jsonl"
    log.write_text(text, "utf-8")
    ran = run("practice", "--replay", str(log))
    assert (ran.status, ran.out) == (2, "")
    assert str(log) in ran.err


def test_a_machine_that_cannot_be_posed_is_refused(run: Run) -> None:
    ran = run("practice", "--machine", MACHINE.replace("trainer-22t", "training-rig"))
    assert ran.status == 2
    assert "two-pump-excavator" in ran.err


def test_level_and_seed_are_numbers_in_range(run: Run) -> None:
    for arguments in (["--level", "6"], ["--seed", "x"]):
        assert run("practice", *arguments).status == 2


@pytest.mark.parametrize("kind", ["lookalikes", "bad-measurements", "closed-jobs"])
def test_a_drill_asks_and_counts(run: Run, kind: str) -> None:
    first = run("practice", "--drill", kind, "--seed", "5", "--machine", MACHINE, text="1\n2\n")
    assert first.status == 0, first.err
    assert re.search(r"\b[0-2] of 2 right\.", first.out)
    assert run("practice", "--drill", kind, "--seed", "5", "--machine", MACHINE, text="1\n2\n").out == first.out
