"""Compares two things in one run, turn about, so that a busy machine slows both alike."""

import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import pytest

from oilpath.data import data_folder

LINES: list[str] = []


def sheet_files() -> list[Path]:
    """All sheets that ship, in order."""
    files = sorted(data_folder("cases").rglob("*.yaml"))
    return [file for file in files if "\noilpath: sheet/" in f"\n{file.read_text(encoding='utf-8')}"]


@pytest.fixture
def compare(benchmark: Any) -> Callable[..., tuple[float, float]]:
    """compare(name, ours, peer_name, peer, rounds) → median seconds of both; ours is in the table too."""

    def timed(
        name: str, ours: Callable[[], object], peer_name: str, peer: Callable[[], object], rounds: int = 15
    ) -> tuple[float, float]:
        peer_times: list[float] = []

        def time_peer() -> None:  # not part of the benchmark's own time
            begun = time.perf_counter()
            peer()
            peer_times.append(time.perf_counter() - begun)

        benchmark.pedantic(ours, setup=time_peer, rounds=rounds, warmup_rounds=1)
        our_median, peer_median = benchmark.stats.stats.median, median(peer_times[1:])
        benchmark.extra_info[peer_name] = peer_median
        LINES.append(
            f"{name}: {our_median * 1e3:.1f} ms; {peer_name}: {peer_median * 1e3:.1f} ms (medians of {rounds})"
        )
        return our_median, peer_median

    return timed


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show each pair on one line, under the table."""
    if LINES:
        terminalreporter.section("compared in this run")
        for line in LINES:
            terminalreporter.write_line(line)
