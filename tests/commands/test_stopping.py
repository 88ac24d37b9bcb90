"""Ctrl-C and termination: no traceback, status 130, 143 or 129 (128 and the signal's number, as shells count).

A signal is sent while a certain module is imported, so nothing here depends on the clock.
"""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.running import Ran, as_process, command_line

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")

AT_IMPORT = """
import os
class Stop:
    @staticmethod
    def find_spec(name, path=None, target=None):
        if name == {module!r}:
            {times}
sys.meta_path.insert(0, Stop)
"""
SENT = "os.kill(os.getpid(), {})"


@pytest.fixture(autouse=True)
def signals_act() -> Iterator[None]:
    """Whoever runs the tests in the background may have them ignored, and a process inherits that."""
    before = {number: signal.signal(number, signal.SIG_DFL) for number in (signal.SIGTERM, signal.SIGHUP)}
    before[signal.SIGINT] = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


def at_import(module: str, *numbers: int) -> str:
    return AT_IMPORT.format(module=module, times="; ".join(SENT.format(int(number)) for number in numbers))


@pytest.mark.parametrize("module", ["click", "oilpath.commands.diagnose", "numpy", "networkx", "durable", "pydantic"])
def test_an_interruption_while_a_library_loads_is_quiet(folder: Path, module: str) -> None:
    ran = as_process("diagnose", "sheet.yaml", before=at_import(module, signal.SIGINT), cwd=folder)
    assert ran == Ran(130, "", "")


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_termination_is_as_quiet(folder: Path, number: int) -> None:
    ran = as_process("diagnose", "sheet.yaml", before=at_import("numpy", number), cwd=folder)
    assert ran == Ran(128 + number, "", "")


def test_the_status_is_that_of_the_signal_whatever_a_library_makes_of_it(folder: Path) -> None:
    """Some libraries turn an exception during their import into one of their own."""
    before = "import oilpath.diagnosis\ndef swallow(*_, **__):\n    import os\n    try:\n"
    before += f"        {SENT.format(int(signal.SIGINT))}\n        sum(range(1000))\n"
    before += "    except KeyboardInterrupt:\n        raise ImportError('something else') from None\n"
    before += "oilpath.diagnosis.diagnose = swallow"
    assert as_process("diagnose", "sheet.yaml", before=before, cwd=folder) == Ran(130, "", "")


def test_a_second_interruption_ends_the_program_at_once(folder: Path) -> None:
    """By the signal itself, which a process sees as a negative status and a shell as 130."""
    done = subprocess.run(
        command_line("diagnose", "sheet.yaml", before=at_import("numpy", signal.SIGINT, signal.SIGINT)),
        cwd=folder,
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert done.returncode in (-signal.SIGINT, 130)
    assert (done.stdout, done.stderr) == (b"", b"")


def test_an_ignored_interruption_stays_ignored(folder: Path) -> None:
    """As for a command in the background of a script."""
    before = "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN)\n" + at_import("numpy", signal.SIGINT)
    ran = as_process("diagnose", "sheet.yaml", before=before, cwd=folder)
    assert ran == as_process("diagnose", "sheet.yaml", cwd=folder)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_answer_half_written_is_taken_away(own_folder: Path, number: int) -> None:
    (own_folder / "answer.txt").write_text("old", encoding="utf-8")
    names = sorted(path.name for path in own_folder.iterdir())
    before = f"import os\ndef stop(_): {SENT.format(int(number))}\nos.fsync = stop"
    ran = as_process("diagnose", "sheet.yaml", "-o", "answer.txt", before=before, cwd=own_folder)
    assert ran == Ran(128 + number, "", "")
    assert (own_folder / "answer.txt").read_text(encoding="utf-8") == "old"
    assert sorted(path.name for path in own_folder.iterdir()) == names
