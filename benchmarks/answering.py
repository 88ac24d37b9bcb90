"""A process that diagnoses sheets when asked, and how much memory a process holds."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Literal

import pytest

_ANSWERING = """
import sys, time
sys.path[:0] = [sys.argv[1]]
from oilpath import diagnose, load_knowledge, load_sheet
knowledge, clock = load_knowledge(), getattr(time, sys.argv[2])
for line in sys.stdin:
    begun = clock()
    diagnose(load_sheet(line.rstrip("\\n"), knowledge), knowledge)
    print(clock() - begun, flush=True)
"""


class Answering:
    """A process of one version; clock: the function of `time` that its seconds are of."""

    def __init__(self, engine: Path, clock: Literal["process_time", "perf_counter"] = "process_time") -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", _ANSWERING, str(engine), clock],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    def seconds(self, sheet: Path) -> float:
        """Time for one sheet, read and diagnosed."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(f"{sheet}\n")
        self._process.stdin.flush()
        return float(self._process.stdout.readline())

    def resident(self) -> float:
        """Memory in MiB; skips where the system does not say."""
        return resident(self._process.pid)

    def close(self) -> None:
        """End the process."""
        self._process.communicate()


def resident(process: int) -> float:
    """Memory of a process in MiB; skips where the system does not say."""
    try:
        pages = int(Path(f"/proc/{process}/statm").read_text(encoding="ascii").split()[1])
    except OSError:
        pytest.skip("memory is read from /proc, which this system does not have")
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20
