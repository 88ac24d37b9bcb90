"""Standard output and error that are closed, full or no longer read: a plain line, the documented status.

Redirections are those of the POSIX shell (IEEE 1003.1, 2.7); /dev/full is Linux's device that is always full.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from oilpath.commands import streams
from tests.running import ENGINE, as_process, command_line

pytestmark = pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a shell and /dev/full")

QUICK = [
    ("--version",),
    ("--help",),
    (),
    ("diagnose", "--help"),
    ("kb",),
    ("kb", "check", "--help"),
    ("demo", "--list"),
]
WHOLE = [
    ("demo",),
    ("prepare", "machine.yaml"),
    ("diagnose", "sheet.yaml"),
    ("diagnose", "sheet.yaml", "-f", "json"),
    ("why", "sheet.yaml", "pump.worn"),
    ("order", "sheet.yaml"),
    ("trend", "early.yaml", "sheet.yaml"),
]
CLOSED = "oilpath: the answer cannot be written: standard output is closed\n"
FULL = "oilpath: the answer cannot be written: no space left on device\n"

names = " ".join


@pytest.mark.parametrize("arguments", QUICK + WHOLE, ids=names)
def test_closed_standard_output_is_said(folder: Path, arguments: tuple[str, ...]) -> None:
    ran = as_process(*arguments, streams=">&-", cwd=folder)
    assert (ran.status, ran.err) == (2, CLOSED)


@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("arguments", [*QUICK[:3], WHOLE[1], WHOLE[3]], ids=names)
def test_full_standard_output_is_said(folder: Path, arguments: tuple[str, ...], unbuffered: str) -> None:
    ran = as_process(*arguments, streams=">/dev/full", cwd=folder, environment={"PYTHONUNBUFFERED": unbuffered})
    assert (ran.status, ran.err) == (2, FULL)


@pytest.mark.parametrize("redirected", ["2>&-", "2>/dev/full"])
@pytest.mark.parametrize("arguments", [QUICK[0], WHOLE[3]], ids=names)
def test_an_answer_needs_no_standard_error(folder: Path, arguments: tuple[str, ...], redirected: str) -> None:
    ran = as_process(*arguments, streams=redirected, cwd=folder)
    assert (ran.status, ran.out) == (0, as_process(*arguments, cwd=folder).out)


@pytest.mark.parametrize("redirected", ["2>&-", "2>/dev/full", ">&- 2>&-", ">/dev/full 2>/dev/full", "<&- >&- 2>&-"])
@pytest.mark.parametrize("arguments", [("diagnose", "nowhere.yaml"), ("diagnose", "--no-such")], ids=names)
def test_a_problem_that_nobody_can_hear_is_a_status(folder: Path, arguments: tuple[str, ...], redirected: str) -> None:
    ran = as_process(*arguments, streams=redirected, cwd=folder)
    assert (ran.status, ran.out, ran.err) == (2, "", "")


@pytest.mark.parametrize("redirected", [">&- 2>&-", ">/dev/full 2>/dev/full"])
def test_an_answer_that_nobody_gets_is_a_status(folder: Path, redirected: str) -> None:
    assert as_process("diagnose", "sheet.yaml", streams=redirected, cwd=folder).status == 2


def test_closed_descriptors_are_not_given_to_files(own_folder: Path) -> None:
    """With 0 to 2 closed, the next file opened gets such a number, and messages would land in it."""
    before = {file.name: file.read_bytes() for file in own_folder.iterdir()}
    ran = as_process(
        "diagnose", "sheet.yaml", "nowhere.yaml", "-o", "answer.txt", streams="<&- >&- 2>&-", cwd=own_folder
    )
    assert ran.status == 2
    (own_folder / "answer.txt").unlink()
    assert {file.name: file.read_bytes() for file in own_folder.iterdir()} == before


def test_closed_standard_input_is_a_problem(folder: Path) -> None:
    ran = as_process("diagnose", "-", streams="<&-", cwd=folder)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == "-:1: -: standard input cannot be read: it is closed; a sheet or machine file on standard input\n"


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_reader_that_goes_away_is_no_error(folder: Path, unbuffered: str) -> None:
    """The answer is longer than a pipe holds (65,536 bytes on Linux), so the writer notices."""
    read, write = os.pipe()
    process = subprocess.Popen(
        command_line("diagnose", *["sheet.yaml"] * 4, "-f", "jsonl"),
        cwd=folder,
        stdout=write,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONUNBUFFERED": unbuffered},
    )
    os.close(write)
    assert os.read(read, 1) == b"{"
    os.close(read)
    _, said = process.communicate(timeout=120)
    assert (process.returncode, said) == (0, b"")


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_file_that_takes_only_a_part_is_said(folder: Path, tmp_path: Path, unbuffered: str) -> None:
    """Unbuffered, Python's own stream drops what one call did not write, and says nothing."""
    with (tmp_path / "answer.json").open("wb") as file:
        done = subprocess.run(
            command_line("diagnose", "sheet.yaml", "-f", "json"),
            cwd=folder,
            stdout=file,
            stderr=subprocess.PIPE,
            env={**os.environ, "PYTHONUNBUFFERED": unbuffered},
            preexec_fn=_small_files,
            timeout=120,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr.decode() == "oilpath: the answer cannot be written: file too large\n"


def _small_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))


def test_a_slow_reader_of_a_pipe_that_does_not_block_gets_all(folder: Path) -> None:
    read, write = os.pipe()
    os.set_blocking(write, False)
    process = subprocess.Popen(
        command_line("diagnose", *["sheet.yaml"] * 4, "-f", "jsonl"),
        cwd=folder,
        stdout=write,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    os.close(write)
    with open(read, "rb") as stream:
        answers = [json.loads(line) for line in stream]
    assert process.wait(timeout=120) == 0
    assert [answer["sheet"] for answer in answers] == ["sheet.yaml"] * 4


@pytest.mark.parametrize("turn", [1, 7, 4096])
def test_all_is_written_however_little_each_call_takes(monkeypatch: pytest.MonkeyPatch, turn: int) -> None:
    taken = bytearray()

    def little(handle: int, data: memoryview) -> int:
        taken.extend(data[:turn])
        return min(turn, len(data))

    monkeypatch.setattr(os, "write", little)
    streams.write_all(-1, b"0123456789" * 500)
    assert bytes(taken) == b"0123456789" * 500


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1", "ascii"])
def test_several_answers_in_other_encodings(folder: Path, encoding: str) -> None:
    done = subprocess.run(
        command_line("diagnose", "sheet.yaml", "sheet.yaml", "-f", "jsonl"),
        cwd=folder,
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        timeout=120,
        check=False,
    )
    answers = [json.loads(line) for line in done.stdout.decode(encoding).splitlines()]
    assert [answer["oilpath"] for answer in answers] == ["diagnosis/1"] * 2
    assert answers[0] == answers[1]


def test_a_terminal_that_is_gone_is_said(folder: Path) -> None:
    """Standard output opened for reading only: the system refuses with EBADF."""
    ran = as_process("--version", streams="1</dev/null", cwd=folder)
    assert (ran.status, ran.err) == (2, "oilpath: the answer cannot be written: bad file descriptor\n")


@pytest.fixture
def quiet(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    return lambda name: monkeypatch.setattr(sys, name, None)


def test_without_standard_error_nothing_is_shown(quiet: Callable[[str], None]) -> None:
    quiet("stderr")
    streams.say("nobody hears it")
    streams.progress(1, "a.yaml", 2)


def test_without_standard_output_there_is_no_terminal(quiet: Callable[[str], None]) -> None:
    quiet("stdout")
    assert not streams.is_terminal()
    with pytest.raises(streams.NoOutput, match="closed"):
        streams.write("text")


@pytest.mark.parametrize("environment", [{"PATH": ""}, {}], ids=["empty PATH", "no environment"])
def test_the_command_needs_nothing_of_the_environment(folder: Path, environment: dict[str, str]) -> None:
    """Neither other programs nor a home; the knowledge base is compiled anew where there is no place to keep it."""
    installed = Path(sys.executable).with_name("oilpath")
    module = [sys.executable, "-c", "import runpy; runpy.run_module('oilpath', run_name='__main__')"]
    for start in ([str(installed)] if installed.exists() else None, module):
        if start is not None:
            done = subprocess.run(
                [*start, "diagnose", "sheet.yaml"],
                cwd=folder,
                env={**environment, "PYTHONPATH": str(ENGINE), "PYTHONUTF8": "1"},
                capture_output=True,
                timeout=120,
                check=False,
            )
            assert (done.returncode, done.stderr) == (0, b"")
            assert done.stdout.decode() == as_process("diagnose", "sheet.yaml", cwd=folder).out
