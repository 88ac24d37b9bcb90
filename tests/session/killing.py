"""`oilpath sheet fill` on a terminal of its own, killed at a moment drawn by lot, for tests and `make bench`."""

from __future__ import annotations

import os
import pty
import random
import shutil
import signal
import subprocess
from pathlib import Path

from oilpath.documents.load import load_sheet
from oilpath.knowledge.base import Knowledge
from tests.running import command_line

MACHINE = Path(__file__).parents[2] / "cases/machines/trainer-22t.yaml"
DONE = (
    "{test: drift, cylinder: bucket-cylinder, hold: 5 min, moved: 9 mm, oil-start: 57 °C, oil-end: 55 °C,"
    " extension: 650 mm}"
)
"""the last reading before sixteen that ask for nothing beside their times"""
ROOM = 16
PROMPT = b"\n> "
DOUBT = b"Is this meant?"


def begin(folder: Path) -> None:
    """A sheet on which times come next."""
    shutil.copy(MACHINE, folder / "m.yaml")
    text = f"# by hand\noilpath: sheet/1\nmachine: m.yaml\nreadings:\n  - {DONE}\n"
    (folder / "s.yaml").write_text(text, encoding="utf-8")


def survive(folder: Path, kills: int, seed: int, knowledge: Knowledge) -> tuple[int, int]:
    """Kill so many sessions. Returns the answers that were asked on after, and those of them that were lost."""
    rng = random.Random(seed)
    begin(folder)
    shown = lost = 0
    for _ in range(kills):
        before = len(load_sheet(folder / "s.yaml", knowledge).readings)
        if before > ROOM - 4:
            begin(folder)
            before = 1
        answered = one_session(folder, rng.randint(0, 3), rng.random(), rng.randint(0, 60))
        now = load_sheet(folder / "s.yaml", knowledge).readings  # never half a file
        shown += answered
        lost += max(0, before + answered - len(now))
        assert len(now) <= before + answered + 1
        assert (folder / "s.yaml").read_text(encoding="utf-8").startswith("# by hand\n")
    return shown, lost


def one_session(folder: Path, answers: int, chance: float, more: int) -> int:
    """Give some answers, one of them more or half of one, and kill; how many were followed by another question."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        command_line("sheet", "fill", "s.yaml"), stdin=theirs, stdout=theirs, stderr=theirs, cwd=folder,
        env={**os.environ, "PYTHONUTF8": "1", "COLUMNS": "80"},
    )  # fmt: skip
    os.close(theirs)
    seen = b""
    try:
        seen = _until_prompt(ours, seen)
        for number in range(answers):
            os.write(ours, b"%d.%d .1 .2\n" % (3 + number, number))
            seen = _until_prompt(ours, b"")
        if chance < 0.4:
            os.write(ours, b"4.4 .5")  # half an answer
        elif chance < 0.9:
            os.write(ours, b"4.4 .5\n")
            for _ in range(more if chance < 0.7 else 0):
                os.read(ours, 1)
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
        os.close(ours)
    return answers


def _until_prompt(ours: int, seen: bytes) -> bytes:
    """What comes up to the next question; what is doubted is kept."""
    while True:
        while not seen.replace(b"\r", b"").endswith(PROMPT):
            seen += os.read(ours, 1024)
        if DOUBT not in seen:
            return seen
        os.write(ours, b"\n")
        seen = b""
