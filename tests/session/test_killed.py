"""Guided entry that is killed, hung up or interrupted: no answer that was followed by a question is lost."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from oilpath.documents.load import load_sheet
from oilpath.knowledge.compile import load_knowledge
from tests.running import command_line
from tests.session.killing import _until_prompt, begin, survive

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="terminals and signals of POSIX")


@pytest.mark.slow
def test_killed_at_twenty_moments_nothing_is_lost(tmp_path: Path) -> None:
    shown, lost = survive(tmp_path, 20, 7, load_knowledge())
    assert shown >= 20
    assert lost == 0


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_interrupted_it_says_how_to_go_on(number: signal.Signals, status: int, tmp_path: Path) -> None:
    begin(tmp_path)
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        command_line("sheet", "fill", "s.yaml"), stdin=theirs, stdout=theirs, stderr=theirs, cwd=tmp_path,
        env={**os.environ, "PYTHONUTF8": "1", "COLUMNS": "80"}, start_new_session=True,
        preexec_fn=lambda: signal.signal(number, signal.SIG_DFL),
    )  # fmt: skip
    os.close(theirs)
    _until_prompt(ours, b"")
    os.write(ours, b"4.8 .7 .8\n")
    _until_prompt(ours, b"")
    process.send_signal(number)
    said = b""
    while b"To go on" not in said:
        said += os.read(ours, 1024)
    assert process.wait() == status
    os.close(ours)
    assert b"oilpath sheet fill s.yaml" in said
    assert len(load_sheet(tmp_path / "s.yaml").readings) == 2
