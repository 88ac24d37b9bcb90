"""`--output`: what may be written to, what is refused and left as it was; each refusal is a plain line and status 2."""

from __future__ import annotations

import os
import resource
import stat
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.running import Ran, Run, command_line, in_process

pytestmark = pytest.mark.skipif(os.name != "posix", reason="links, pipes and devices of POSIX")

Files = dict[str, bytes]
Refused = Callable[..., str]


def files(folder: Path) -> Files:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


@pytest.fixture
def run(own_folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """run(*arguments) in a folder of this test's own."""
    monkeypatch.chdir(own_folder)
    return in_process(monkeypatch, capsys)


@pytest.fixture
def refused(run: Run, own_folder: Path) -> Refused:
    """refused(*arguments): what the command says when it refuses; nothing in the folder changes."""

    def refuse(*arguments: str) -> str:
        before = files(own_folder)
        ran = run(*arguments)
        assert (ran.status, ran.out) == (2, "")
        assert "internal error" not in ran.err
        assert files(own_folder) == before
        return ran.err

    return refuse


# --- files that the answer is made from -----------------------------------------------


@pytest.mark.parametrize("name", ["sheet.yaml", "machine.yaml", "circuit.yaml", "early.yaml"])
@pytest.mark.parametrize("link", ["", "hard", "symbolic"])
def test_no_file_that_was_read_is_written_over(refused: Refused, own_folder: Path, name: str, link: str) -> None:
    """The sheet, and what it names: its machine, the machine's circuit, the sheet it compares with."""
    output = name if not link else "answer.txt"
    if link == "hard":
        os.link(own_folder / name, own_folder / output)
    elif link:
        (own_folder / output).symlink_to(name)
    said = refused("diagnose", "sheet.yaml", "-o", output)
    assert said.startswith(f"{output}:1: --output: cannot be written: ") or "is the file that is read" in said
    assert len(said.splitlines()) <= 2


@pytest.mark.parametrize(
    "arguments",
    [
        ("prepare", "machine.yaml", "-o", "circuit.yaml"),
        ("trend", "early.yaml", "sheet.yaml", "-o", "machine.yaml"),
        ("diagnose", "-f", "json", "nowhere.yaml", "sheet.yaml", "-o", "machine.yaml"),
        ("diagnose", "./sheet.yaml", "-o", "sheet.yaml"),
    ],
    ids=" ".join,
)
def test_with_every_command_and_name(refused: Refused, arguments: tuple[str, ...]) -> None:
    refused(*arguments)


def test_a_layer_of_knowledge_is_not_written_over(run: Run, own_folder: Path) -> None:
    layer = own_folder / "own"
    layer.mkdir()
    signs = layer / "signs.yaml"
    signs.write_text("oilpath: signs/1\nsigns: {}\n", encoding="utf-8")
    before = signs.read_bytes()
    assert run("diagnose", "sheet.yaml", "--kb", "own", "-o", "own/signs.yaml").status == 2
    assert signs.read_bytes() == before


# --- places that are no file ----------------------------------------------------------


def test_a_folder(refused: Refused) -> None:
    assert "is a folder; a file is expected" in refused("diagnose", "sheet.yaml", "-o", ".")
    assert "is a folder" in refused("diagnose", "sheet.yaml", "-o", "")


@pytest.mark.parametrize(
    ("output", "reason"),
    [
        ("nowhere/answer.txt", "there is no such folder"),
        ("sheet.yaml/answer.txt", "not a directory"),
        ("a" * 300, "file name too long"),
        ("a/" * 3000 + "a", "file name too long"),
        ("loop", "too many levels of symbolic links"),
    ],
    ids=["no folder", "a file as folder", "long name", "long path", "loop"],
)
def test_a_place_where_nothing_can_be(refused: Refused, own_folder: Path, output: str, reason: str) -> None:
    (own_folder / "loop").symlink_to("loop")
    for command in (("diagnose", "sheet.yaml"), ("prepare", "machine.yaml"), ("trend", "sheet.yaml", "early.yaml")):
        said = refused(*command, "--output", output)
        assert said == f"{output}:1: --output: cannot be written: {reason}; a file in a folder for writing\n"


def test_a_folder_that_nothing_can_be_written_to(refused: Refused, own_folder: Path) -> None:
    locked = own_folder / "locked"
    locked.mkdir(mode=0o555)
    if os.access(locked, os.W_OK):  # the superuser may write anywhere but here
        locked = Path("/sys/kernel")
    if not locked.is_dir():
        pytest.skip("no folder that refuses this user")
    said = refused("diagnose", "sheet.yaml", "-o", str(locked / "answer.txt"))
    reasons = ("permission denied", "read-only file system", "operation not permitted")
    assert any(f"cannot be written: {reason}; " in said for reason in reasons)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device")
def test_a_device_that_is_full(refused: Refused) -> None:
    said = refused("diagnose", "sheet.yaml", "-o", "/dev/full")
    assert "/dev/full:1: --output: cannot be written: no space left on device; " in said
    assert Path("/dev/full").is_char_device()


def test_the_null_device_takes_all(run: Run) -> None:
    assert run("diagnose", "sheet.yaml", "-o", os.devnull) == Ran(0, "", "")
    assert Path(os.devnull).is_char_device()


def test_a_pipe_that_nobody_reads(refused: Refused, own_folder: Path) -> None:
    os.mkfifo(own_folder / "pipe")
    said = refused("diagnose", "sheet.yaml", "-o", "pipe")
    assert said == "pipe:1: --output: cannot be written: nobody reads this pipe; a file in a folder for writing\n"


def test_a_pipe_that_somebody_reads(run: Run, own_folder: Path) -> None:
    """More than a pipe holds at once."""
    pipe = own_folder / "pipe"
    os.mkfifo(pipe)
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()), daemon=True)
    reader.start()
    sheets = ["sheet.yaml"] * 4
    assert run("diagnose", *sheets, "-f", "jsonl", "-o", "pipe") == Ran(0, "", "")
    reader.join(timeout=60)
    assert read[0].decode() == run("diagnose", *sheets, "-f", "jsonl").out
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_hyphen_is_standard_output(run: Run, own_folder: Path) -> None:
    ran = run("diagnose", "sheet.yaml", "-o", "-")
    assert ran == run("diagnose", "sheet.yaml")
    assert not (own_folder / "-").exists()


# --- whole or not at all --------------------------------------------------------------


def _small_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))


@pytest.mark.parametrize("old", [True, False])
def test_a_disk_that_takes_only_a_part_leaves_the_old_file(run: Run, own_folder: Path, old: bool) -> None:
    if old:
        (own_folder / "answer.json").write_text("old", encoding="utf-8")
    before = files(own_folder)
    done = subprocess.run(
        command_line("diagnose", "sheet.yaml", "-f", "json", "-o", "answer.json"),
        cwd=own_folder,
        capture_output=True,
        preexec_fn=_small_files,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stdout) == (2, b"")
    assert done.stderr.startswith(b"answer.json:1: --output: cannot be written: file too large; ")
    assert files(own_folder) == before


@pytest.mark.parametrize(
    "name", ["a b'c $x", "-rf", "näme", "\N{RIGHT-TO-LEFT OVERRIDE}x", "new\nline", "*", "\udcff"], ids=ascii
)
def test_odd_names(run: Run, own_folder: Path, name: str) -> None:
    """A folder and files of this name; the last one is no UTF-8."""
    folder = own_folder / name
    folder.mkdir()
    for file in ("sheet", "machine", "circuit", "early"):
        (own_folder / f"{file}.yaml").rename(folder / f"{file}.yaml")
    sheet, answer = folder / "sheet.yaml", folder / f"{name}.json"
    ran = run("diagnose", str(sheet), "-f", "json", "-o", str(answer))
    assert ran == Ran(0, "", "")
    assert answer.read_text(encoding="utf-8") == run("diagnose", str(sheet), "-f", "json").out
