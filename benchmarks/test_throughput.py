"""Full sheets one after the other, beside a version from before the bench, in the same run and turn about.

Each time is processor time for reading a sheet and diagnosing it. Of one diagnosis by the earlier version, 0.4 is
asked for with sheets of one machine, 0.6 with sheets of 40 machines in turn and 1.2 with a machine never seen; of the
slowest twentieth of sheets with 35 readings, sets of causes included, 0.6 of the earlier version's. What is not reached
yet is an expected failure; each bound of what was reached has room for a busy machine. The earlier version comes out of
the history (`git archive`); without one there is nothing to compare with.
"""

import copy
import io
import json
import math
import os
import subprocess
import sys
import tarfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import mean, median, quantiles
from typing import Any

import pytest
import yaml

from oilpath import load_knowledge, load_machine
from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.lab.simulation import simulate

from .answering import Answering
from .conftest import LINES

ROOT = Path(__file__).parents[1]
BEFORE = "cb42f20"
SHEETS = int(os.environ.get("OILPATH_BENCH_SHEETS", "1000"))
MACHINES = 40
REACHED = {"one": 1.25, "in turn": 1.6, "never seen": 2.1, "slowest": 1.4}
"""times that of the earlier version, above which something has become slower"""


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The engine of the version from before."""
    folder = tmp_path_factory.mktemp("before")
    try:
        archive = subprocess.run(
            ["git", "archive", BEFORE, "engine", "kb"], cwd=ROOT, capture_output=True, check=True
        ).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip(f"the history that holds {BEFORE} is not here")
    with tarfile.open(fileobj=io.BytesIO(archive)) as files:
        files.extractall(folder, filter="data")
    return folder / "engine"


@pytest.fixture
def both(before: Path) -> Iterator[tuple[Answering, Answering]]:
    """This version and the one from before, each in a process of its own."""
    pair = Answering(ROOT / "engine"), Answering(before)
    yield pair
    for one in pair:
        one.close()


def unlike(data: dict[str, Any], number: int) -> dict[str, Any]:
    """A machine of the same type. All differ in their names. Of four, one differs in nothing else, two in their limits
    (by up to 3 %) and in figures that the circuit model does not look at (pump displacement, engine speed, length), and
    one in bores as well, so that it needs a model of its own."""
    other: dict[str, Any] = {**copy.deepcopy(data), "name": f"Invented machine {number}"}
    if number % 4 == 0:
        return other
    share = 1 + 0.03 * math.sin(number)
    for limit in other["limits"]:
        limit.update({key: scaled(limit[key], share) for key in ("new", "min", "max") if key in limit})
    for pump in ("pump-1", "pump-2"):
        other["parts"][pump]["displacement"] = scaled(data["parts"][pump]["displacement"], share)
    other["engine-speed"] = scaled(data["engine-speed"], 2 - share)
    other["dimensions"]["length"] = scaled(data["dimensions"]["length"], share)
    if number % 4 == 3:
        for name in ("boom-cylinder", "arm-cylinder", "bucket-cylinder"):
            other["parts"][name]["bore"] = scaled(data["parts"][name]["bore"], 1 + number / 5000)
    return other


def scaled(quantity: str, factor: float) -> str:
    """`112 cm3/rev` times a factor."""
    value, unit = quantity.split(" ", 1)
    return f"{float(value) * factor:.6g} {unit}"


def written(folder: Path, sheets: int, machines: int, *, causes: int = 1) -> list[Path]:
    """Full sheets, by turns sound and faulty with so many causes, of machines in turn that are `unlike`."""
    knowledge = load_knowledge()
    file = data_folder("cases") / "machines" / "trainer-22t.yaml"
    data, machine = yaml.safe_load(file.read_text(encoding="utf-8")), load_machine(file, knowledge)
    many = len(bench_for(machine, knowledge).hypotheses)
    drawn = [
        simulate(
            machine,
            knowledge,
            [((7 * number + 31 * more) % many, 0.6) for more in range(causes)] if number % 2 else [],
            number,
        )
        for number in range(min(sheets, 60))
    ]
    for number in range(machines):
        (folder / f"machine-{number}.yaml").write_text(json.dumps(unlike(data, number)), encoding="utf-8")
    found = []
    for number in range(sheets):
        sheet = {**drawn[number % len(drawn)], "machine": f"machine-{number % machines}.yaml"}
        found.append(folder / f"sheet-{number}.json")
        found[-1].write_text(json.dumps(sheet), encoding="utf-8")
    return found


def told(what: str, ours: float, peer: float, allowed: float) -> float:
    """Note a comparison; returns the ratio."""
    LINES.append(
        f"{what}: {ours * 1e3:.1f} ms of the processor; by the version before: {peer * 1e3:.1f} ms;"
        f" {ours / peer:.2f} times, {allowed} asked for"
    )
    return ours / peer


def check(ratio: float, allowed: float, reached: float) -> None:
    """Fails where it is worse than what was reached; what is asked for and not reached yet is shown as such."""
    assert ratio <= reached
    if ratio > allowed:
        pytest.xfail(f"{ratio:.2f} times; {allowed} is asked for and not reached yet")


def turn_about(
    ours: Answering, peer: Answering, sheets: list[Path], reference: list[Path]
) -> tuple[list[float], float]:
    """Seconds for each of our sheets, and of one reference sheet by the version before (median), asked in between."""
    peer.seconds(reference[0])
    times: list[float] = []
    peers: list[float] = []
    for number, sheet in enumerate(sheets):
        times.append(ours.seconds(sheet))
        if number % max(1, len(sheets) // 50) == 0:
            peers.append(peer.seconds(reference[number % len(reference)]))
    return times, median(peers)


@pytest.fixture
def reference(tmp_path: Path) -> list[Path]:
    """Sheets of one machine, as the version before is asked them."""
    (tmp_path / "reference").mkdir()
    return written(tmp_path / "reference", 12, 1)


Both = tuple[Answering, Answering]


def test_sheets_of_one_machine(both: Both, reference: list[Path], tmp_path: Path) -> None:
    times, before = turn_about(*both, written(tmp_path, SHEETS, 1), reference)
    check(told(f"{SHEETS} full sheets of one machine, each", mean(times), before, 0.4), 0.4, REACHED["one"])


def test_sheets_of_many_machines_in_turn(both: Both, reference: list[Path], tmp_path: Path) -> None:
    times, before = turn_about(*both, written(tmp_path, SHEETS, MACHINES), reference)
    check(told(f"{SHEETS} of {MACHINES} machines in turn, each", mean(times), before, 0.6), 0.6, REACHED["in turn"])


def test_a_machine_never_seen(both: Both, reference: list[Path], tmp_path: Path) -> None:
    times, before = turn_about(*both, written(tmp_path, 41, 41), reference)
    kinds = {"its name": 0, "limits and figures": 1, "bores too": 3}
    LINES.append(
        "a machine never seen, by what it differs in: "
        + ", ".join(f"{name} {median(times[4 + first :: 4]) * 1e3:.1f} ms" for name, first in kinds.items())
    )
    check(told("a machine never seen, mean of 40", mean(times[1:]), before, 1.2), 1.2, REACHED["never seen"])


def test_the_slowest_of_sheets_with_many_readings(both: Both, tmp_path: Path) -> None:
    """Half of the sheets are of machines with two causes, where sets are tried."""
    sheets = [sheet for sheet in written(tmp_path, 120, 1, causes=2) if readings_of(sheet) >= 35]
    assert len(sheets) >= 60
    for one in both:
        one.seconds(sheets[0])
    times = [(both[0].seconds(sheet), both[1].seconds(sheet)) for sheet in sheets]
    ours, before = (quantiles(of, n=20)[-1] for of in zip(*times, strict=True))
    check(told("sheets with 35 readings, 95th percentile", ours, before, 0.6), 0.6, REACHED["slowest"])


def readings_of(sheet: Path) -> int:
    """How many readings a sheet holds."""
    return len(json.loads(sheet.read_text(encoding="utf-8"))["readings"])


def test_memory_does_not_grow_with_machines(both: tuple[Answering, Answering], tmp_path: Path) -> None:
    ours, _ = both
    sheets = written(tmp_path, 500, 500)
    for sheet in sheets[:100]:
        ours.seconds(sheet)
    held = ours.resident()
    for sheet in sheets[100:]:
        ours.seconds(sheet)
    grown = ours.resident() - held
    LINES.append(f"memory from the 100th machine to the 500th: {grown:+.1f} MiB (at the 100th {held:.0f}); 50 allowed")
    assert grown < 50


def test_jobs(tmp_path: Path) -> None:
    """On an idle machine the clock counts; on a busy one, what the processes take in all is a floor under it."""
    sheets = written(tmp_path, min(SHEETS, 200), 1)
    resource = pytest.importorskip("resource")

    def run(jobs: int) -> tuple[float, float, bytes]:
        used, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        code = f"import sys; sys.path[:0] = [{str(ROOT / 'engine')!r}]; from oilpath.cli import main; main()"
        done = subprocess.run(
            [sys.executable, "-c", code, "diagnose", "--format", "jsonl", "--jobs", str(jobs), *map(str, sheets)],
            capture_output=True,
            check=True,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        took = after.ru_utime + after.ru_stime - used.ru_utime - used.ru_stime
        return time.perf_counter() - begun, took, done.stdout

    runs = [(run(1), run(2)) for _ in range(3)]
    assert all(one[2] == two[2] for one, two in runs)
    faster = median(one[0] / two[0] for one, two in runs)
    more = median(two[1] / one[1] for one, two in runs)
    busy = len(os.sched_getaffinity(0)) < 2 or os.getloadavg()[0] > 2.5
    LINES.append(
        f"--jobs 2: {faster:.2f} times as fast, {more:.2f} times the processor time; 1.7 times as fast asked for"
    )
    if busy:
        pytest.skip(f"the machine is busy or has one core: {faster:.2f} times as fast, processor time {more:.2f} times")
    assert faster >= 1.7
