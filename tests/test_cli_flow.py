"""The command with the whole flow behind it, as a process of its own: a sheet in, an answer out."""

import json
import os
import pty
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from oilpath import cli
from tests.running import Ran

ENGINE = Path(cli.__file__).parents[1]
START = f"import sys; sys.path[:0] = [{str(ENGINE)!r}]; sys.argv[0] = 'oilpath'; from oilpath.cli import main; main()"

MACHINE = """
oilpath: machine/1
name: Invented machine of the tests
circuit: two-pump-excavator
engine-speed: 1900 rpm
parts: {pump-1: {displacement: 112 cm3/rev}, pump-2: {displacement: 112 cm3/rev}}
limits:
  - {test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}
  - {test: cycle-time, function: bucket-curl, new: 3.4 s, max: 4.0 s}
  - {test: cycle-time, function: bucket-dump, new: 2.2 s, max: 2.6 s}
  - {test: cycle-time, function: arm-in, new: 3.2 s, max: 3.8 s}
  - {test: stall-pressure, new: 34.3 MPa, min: 33.3 MPa, max: 35.3 MPa}
"""

# Everything on main pump 1 is slow, the stall pressure is in order; written by hand.
SHEET = """
oilpath: sheet/1
machine: machine.yaml
unit-number: T-01
complaint: "Slow [b]bucket[/b]"
conditions: {oil-temperature: 55 °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off, working-setting: full}
readings:
  - {test: cycle-time, function: bucket-curl, times: [4.9 s, 5.0 s, 4.9 s]}
  - {test: cycle-time, function: bucket-dump, times: [3.2 s, 3.2 s, 3.1 s]}
  - {test: cycle-time, function: arm-in, times: [3.3 s, 3.2 s, 3.2 s]}
  - {test: stall-pressure, pump: pump-1, function: bucket-curl, pressure: 34.0 MPa}
"""


def oilpath(*arguments: str, folder: Path, text: str = "", **environment: str) -> Ran:
    """A warning is an error, also one of a library."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", START, *arguments],
        cwd=folder,
        input=text.encode(),
        capture_output=True,
        timeout=120,
        check=False,
        env={**os.environ, "PYTHONUTF8": "1", **environment},
    )
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sheets")
    (folder / "machine.yaml").write_text(MACHINE, encoding="utf-8")
    (folder / "slow.yaml").write_text(SHEET, encoding="utf-8")
    (folder / "bad.yaml").write_text(SHEET.replace("4.9 s, 5.0 s", "4.9, 5.0 s"), encoding="utf-8")
    (folder / "nowhere.yaml").write_text(SHEET.replace("machine.yaml", "nothing.yaml"), encoding="utf-8")
    return folder


def test_text(folder: Path) -> None:
    ran = oilpath("diagnose", "slow.yaml", folder=folder)
    assert (ran.status, ran.err) == (0, "")
    assert "Complaint    Slow [b]bucket[/b]\n" in ran.out
    assert "Cycle time, bucket curl" in ran.out
    assert "\x1b" not in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80


def test_the_same_answer_whatever_the_hash_seed(folder: Path) -> None:
    answers = {
        oilpath("diagnose", "slow.yaml", "-f", "json", folder=folder, PYTHONHASHSEED=seed).out for seed in ("1", "2")
    }
    assert len(answers) == 1
    assert json.loads(answers.pop())["causes"]


def test_standard_input_gives_the_same_as_the_file(folder: Path) -> None:
    typed: Any = json.loads(oilpath("diagnose", "-", "-f", "json", folder=folder, text=SHEET).out)
    named: Any = json.loads(oilpath("diagnose", "slow.yaml", "-f", "json", folder=folder).out)
    assert typed.pop("sheet") == "-"
    assert named.pop("sheet") == "slow.yaml"
    assert typed == named


def test_several_sheets_a_bad_one_among_them(folder: Path) -> None:
    ran = oilpath("diagnose", "slow.yaml", "bad.yaml", "nowhere.yaml", "none.yaml", "-f", "jsonl", folder=folder)
    assert ran.status == 2
    answers = [json.loads(line) for line in ran.out.splitlines()]
    assert [entry["oilpath"] for entry in answers] == ["diagnosis/1", "error/1", "error/1", "error/1"]
    first, machine, missing = ran.err.splitlines()
    assert first.startswith("bad.yaml:8: readings[0].times[0]: ")
    assert machine.startswith("nowhere.yaml:3: machine: ")
    assert missing.startswith("none.yaml:1: -: ")


def test_too_much_on_standard_input_is_a_problem(folder: Path) -> None:
    ran = oilpath("order", "-", folder=folder, text="# " + "x" * (1 << 20) + "\n" + SHEET)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("-:1: -: ")


def test_order_and_why(folder: Path) -> None:
    order = oilpath("order", "slow.yaml", folder=folder)
    assert order.status == 0
    assert "UNIT:    T-01\n" in order.out
    assert max(map(len, order.out.splitlines())) <= 78
    why = oilpath("why", "slow.yaml", "cycle-time/bucket-curl", folder=folder)
    assert why.status == 0
    assert why.out.startswith("Cycle time, bucket curl\n")
    assert "pump.worn" in why.out
    unknown = oilpath("why", "slow.yaml", "cycle-time/bucket-crul", folder=folder)
    assert unknown.status == 2
    assert unknown.err.rstrip().endswith("did you mean cycle-time/bucket-curl?")


def on_terminal(folder: Path, **environment: str) -> str:
    """What the command shows where standard output is a terminal of 80 columns."""
    master, slave = pty.openpty()
    env = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "COLUMNS", "FORCE_COLOR")}
    done = subprocess.Popen(
        [sys.executable, "-c", START, "diagnose", "slow.yaml"],
        cwd=folder,
        stdout=slave,
        stderr=subprocess.DEVNULL,
        stdin=subprocess.DEVNULL,
        env={**env, "TERM": "xterm-256color", "PYTHONUTF8": "1", **environment},
    )
    os.close(slave)
    shown = b""
    stuck = threading.Timer(120, done.kill)
    stuck.start()
    while True:
        try:
            part = os.read(master, 65536)
        except OSError:  # the other end is closed
            break
        if not part:
            break
        shown += part
    stuck.cancel()
    os.close(master)
    assert done.wait(timeout=60) == 0
    return shown.decode()


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_colours_on_a_terminal_and_none_with_no_color(folder: Path) -> None:
    import re

    assert re.search(r"\x1b\[[0-9;]*3[0-9]", on_terminal(folder))
    assert not re.search(r"\x1b\[[0-9;]*3[0-9]", on_terminal(folder, NO_COLOR="1"))


def test_a_person_at_a_terminal_gets_it_through_the_pager(folder: Path) -> None:
    """A pager of the test's own writes down what it is given; the short answer needs none."""
    if os.name != "posix":
        pytest.skip("needs a pseudo-terminal")
    for more, paged in (((), True), (("--short",), False)):
        kept = folder / f"paged{len(more)}.txt"
        master, slave = pty.openpty()
        env = {**os.environ, "PAGER": f"tee {kept}", "TERM": "xterm-256color", "PYTHONUTF8": "1"}
        done = subprocess.Popen(
            [sys.executable, "-c", START, "diagnose", "slow.yaml", *more],
            cwd=folder, stdin=slave, stdout=slave, stderr=slave, env=env,
        )  # fmt: skip
        os.close(slave)
        stuck = threading.Timer(120, done.kill)
        stuck.start()
        with suppress(OSError):  # the other end is closed
            while os.read(master, 65536):
                pass
        assert done.wait() == 0
        stuck.cancel()
        os.close(master)
        assert kept.is_file() == paged
        if paged:
            assert "Next" in kept.read_text(encoding="utf-8")


def test_the_demo_and_its_list(folder: Path) -> None:
    lines = oilpath("demo", "--list", folder=folder).out.splitlines()
    names = [line.split()[0] for line in lines]
    assert len(names) >= 6
    assert all(len(line.split()) > 1 for line in lines), "each with what is complained of"
    assert "pump-1-slow" in names
    first = oilpath("demo", folder=folder)
    assert first.status == 0
    assert "demo case pump-1-slow" in " ".join(first.out.split())
    assert "\nCause        Worn main pump 1 (" in first.out


def test_the_knowledge_base_that_ships_is_in_order(folder: Path) -> None:
    ran = oilpath("kb", "check", folder=folder)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.splitlines()[-1].startswith("The knowledge base is in order; ")
    assert all(len(line) <= 80 for line in ran.out.splitlines())


def test_figures_in_us_customary_units(tmp_path: Path) -> None:
    (tmp_path / "machine.yaml").write_text(MACHINE, encoding="utf-8")
    (tmp_path / "sheet.yaml").write_text(SHEET, encoding="utf-8")
    us = ("--units", "us")
    shown, shown_us = (oilpath("diagnose", "sheet.yaml", "--all", *more, folder=tmp_path) for more in ((), us))
    assert (shown.status, shown_us.status) == (0, 0)
    # 34.0 MPa are 4931 psi (1 psi = 6894.757 Pa, NIST SP 811, B.8)
    assert "34 MPa" in shown.out
    assert "4931 psi" in shown_us.out
    assert "4931 psi" in oilpath("why", "sheet.yaml", "stall-pressure/pump-1/bucket-curl", *us, folder=tmp_path).out
    told, told_us = (oilpath("diagnose", "sheet.yaml", "--format", "json", *more, folder=tmp_path) for more in ((), us))
    assert told.out == told_us.out
    wrong = oilpath("diagnose", "sheet.yaml", "--units", "imperial", folder=tmp_path)
    assert wrong.status == 2
    assert "si" in wrong.err
