"""Test sheets from the open measurements of a hydraulic test rig, to try oilpath on something that nobody here made.

    python cases/rig/convert.py cycles.csv --output /tmp/rig                           every row of the table
    python cases/rig/convert.py cycles.csv --output /tmp/rig --cycles 250,300-310      some of them
    python cases/rig/convert.py other.csv --baseline cycles.csv --output /tmp/rig      sound cycles of another table
    oilpath diagnose /tmp/rig/sheets/cycle-0250.yaml
    oilpath diagnose /tmp/rig/sheets/cycle-0250.yaml --format json

The data: Helwig, N., Pignanelli, E., Schütze, A. (2015), Condition monitoring of hydraulic systems, CC BY 4.0,
DOI 10.24432/C5CW21; described in I2MTC 2015, DOI 10.1109/I2MTC.2015.7151267. One row of the table is one load cycle of
60 seconds: PS pressures [bar], FS flows [L/min], TS temperatures [°C], CE efficiency of the cooler [%]; `_mean` over
the cycle, `_A` seconds 2 to 7, `_B` 13 to 17, `_C` 23 to 27, `_G` 53 to 58, `_t09` second 9, `dV_dn39_ml` oil given
back at the pressure step down at second 39, `dV_up29_ml` oil taken up (negative) at the step up at second 29. Nothing
of it ships with oilpath.

Written are a machine file, earlier sheets (`baseline/`) made of cycles in which every part was sound, and one sheet for
each row asked for (`sheets/`, named by its cycle). Labels serve to find the sound cycles and go into no sheet; a table
for which `--baseline` names another needs none. A figure that a row lacks makes no reading. Needs Python alone.
"""

from __future__ import annotations

import argparse
import csv
import math
import os
import statistics
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

Row = Mapping[str, str]

SOUND = {"cooler": 100.0, "valve": 100.0, "pump_leak": 0.0, "accumulator": 130.0}
"""labels of the one combination in which every part was sound"""
BASELINE = 8
"""earlier sheets that are written, spread over the sound cycles"""
MOST_CYCLES = 10**9
LOAD = 0.02
"""share by which the mean pressure of a sound cycle may differ from the middle of all, or it ran another load"""
DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "hydraulic-rig"
"""where the table is looked for beside a checkout (../shared/data/hydraulic-rig/)"""
TABLE = "cycles.csv"
SOURCE = "the data are free to have: DOI 10.24432/C5CW21"

MACHINE = """\
# Made by cases/rig/convert.py from open measurements (DOI 10.24432/C5CW21, CC BY 4.0).
oilpath: machine/1
name: Hydraulic test rig
circuit: hydraulic-test-rig
oil: {grade: ISO VG 46}
baseline: [%s]
"""


class Unusable(Exception):
    """The table cannot be used; the text says why."""


def data_file() -> Path | None:
    """The table in the folder that OILPATH_RIG_DATA names, else beside the checkout; None where neither is there."""
    named = os.environ.get("OILPATH_RIG_DATA")
    path = (Path(named) if named else DATA) / TABLE
    return path if path.is_file() else None


def read_rows(path: Path) -> list[Row]:
    """All rows of a table. Raises Unusable where it is none."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as table:
            rows: list[Row] = list(csv.DictReader(table))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise Unusable(f"{path}: cannot be read: {error}") from None
    if not rows or "cycle" not in rows[0]:
        raise Unusable(f"{path}: has no rows with a column `cycle`")
    return rows


def number(row: Row, column: str) -> float:
    """A figure of a row. Raises Unusable where it is missing."""
    found = figure(row, column)
    if found is None:
        raise Unusable(f"cycle {row.get('cycle')}: no figure in the column `{column}`")
    return found


def figure(row: Row, column: str) -> float | None:
    """A figure of a row; None where it is missing or none."""
    try:
        value = float(row[column])
    except (KeyError, TypeError, ValueError):
        return None
    return value if math.isfinite(value) else None


def is_sound(row: Row) -> bool:
    """Whether the labels say that every part was sound; a row without labels is not known to be."""
    return all(figure(row, column) == value for column, value in SOUND.items())


def baseline_rows(rows: Iterable[Row], count: int = BASELINE) -> list[Row]:
    """Sound cycles under the usual load, evenly spread; those marked as stationary before the others.

    Raises Unusable: there is none.
    """
    sound = [row for row in rows if is_sound(row)]
    if not sound:
        raise Unusable("no cycle of the sound combination: name a table that has some (--baseline)")
    usual = statistics.median(number(row, "PS1_mean") for row in sound)
    sound = [row for row in sound if abs(number(row, "PS1_mean") - usual) <= LOAD * abs(usual)]
    stable = [row for row in sound if figure(row, "stable_flag") == 0] or sound
    step = max(1.0, len(stable) / count)
    return [stable[int(place * step)] for place in range(min(count, len(stable)))]


def cycle_of(row: Row) -> int:
    """The cycle's number. Raises Unusable where it is none."""
    cycle = number(row, "cycle")
    if cycle != int(cycle) or not 0 <= cycle < MOST_CYCLES:
        raise Unusable(f"cycle {row['cycle']}: is not the number of a cycle")
    return int(cycle)


def name_of(row: Row) -> str:
    """Four digits of the cycle's number."""
    return f"{cycle_of(row):04d}"


def readings(row: Row, *, means_only: bool = False, both: bool = False) -> list[str]:
    """The readings of one cycle as lines of a sheet; none for a figure that the row lacks.

    means_only: what the means over the cycle give; both: these and what single seconds give (for the earlier sheets).
    """
    load = f"load: {number(row, 'PS1_mean'):.3f} bar"
    lines: list[str] = []

    def add(words: str, **figures: tuple[float | None, str]) -> None:
        if all(value is not None for value, _ in figures.values()):
            shown = ", ".join(f"{key}: {value:.7g} {unit}" for key, (value, unit) in figures.items())
            lines.append(f"{{{words}, {shown}, {load}}}")

    add("test: cooler-efficiency, part: cooler", efficiency=(figure(row, "CE_mean"), "%"))
    if means_only or both:
        add("test: mean-flow, at: pump-outlet", flow=(figure(row, "FS1_mean"), "L/min"))
    if means_only:
        return lines
    for step, column in (("middle", "FS1_C"), ("end", "FS1_G")):
        add(f"test: flow-at-load, at: pump-outlet, step: {step}", flow=(figure(row, column), "L/min"))
    opening, settled = figure(row, "PS2_t09"), figure(row, "PS2_B")
    add("test: opening-pressure, part: switching-valve", pressure=(opening, "bar"), settled=(settled, "bar"))
    high, low = figure(row, "PS1_A"), figure(row, "PS1_G")
    step_size = round(high - low, 3) if high is not None and low is not None and high > low else None
    for way, column, sign in (("down", "dV_dn39_ml", 1), ("up", "dV_up29_ml", -1)):
        volume = figure(row, column)
        given = None if volume is None else max(0.0, sign * volume)
        add(f"test: oil-given-back, part: accumulator, way: {way}", volume=(given, "mL"), step=(step_size, "bar"))
    return lines


def sheet(row: Row, *, means_only: bool = False, both: bool = False) -> str:
    """The text of the sheet of one cycle, for a folder beside the machine file."""
    head = [
        "# Made by cases/rig/convert.py from open measurements (DOI 10.24432/C5CW21, CC BY 4.0).",
        "oilpath: sheet/1",
        "machine: ../machine.yaml",
        f"order-number: cycle {cycle_of(row)}",
        f"conditions: {{oil-temperature: {number(row, 'TS1_mean')} °C}}",
    ]
    lines = readings(row, means_only=means_only, both=both)
    return "\n".join([*head, "readings:" if lines else "readings: []", *(f"  - {line}" for line in lines)]) + "\n"


def write(rows: Sequence[Row], sound: Sequence[Row], folder: Path, *, means_only: bool = False) -> list[Path]:
    """Write machine file, earlier sheets and one sheet for each row; the paths of the latter, in the order given.

    Raises Unusable where two rows are of the same cycle, or the folder cannot be written to.
    """
    texts: dict[Path, str] = {}
    earlier = [folder / "baseline" / f"sound-{name_of(row)}.yaml" for row in sound]
    texts[folder / "machine.yaml"] = MACHINE % ", ".join(path.relative_to(folder).as_posix() for path in earlier)
    for path, row in zip(earlier, sound, strict=True):
        texts[path] = sheet(row, both=True)
    made = [folder / "sheets" / f"cycle-{name_of(row)}.yaml" for row in rows]
    for path, row in zip(made, rows, strict=True):
        if path in texts:
            raise Unusable(f"cycle {row['cycle']} stands in the table twice")
        texts[path] = sheet(row, means_only=means_only)
    try:
        for path, text in texts.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise Unusable(f"{folder}: cannot be written to: {error.strerror}") from None
    return made


def chosen(rows: Sequence[Row], cycles: str | None) -> list[Row]:
    """The rows of the cycles asked for (`212,215-220`), all where none are named. Raises Unusable."""
    if cycles is None:
        return list(rows)
    wanted: list[range] = []
    for piece in cycles.split(","):
        first, _, last = piece.partition("-")
        try:
            wanted.append(range(int(first), int(last or first) + 1))
        except ValueError:
            raise Unusable(f"--cycles {piece}: neither a number nor a range such as 215-220") from None
    found = [row for row in rows if any(cycle_of(row) in piece for piece in wanted)]
    if not found:
        raise Unusable(f"--cycles {cycles}: none of them is in the table")
    return found


def main(arguments: Sequence[str]) -> int:
    """Read the arguments, write the files, print the paths of the sheets."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("table", type=Path, nargs="?", help=f"table of cycles (CSV); else {TABLE} in OILPATH_RIG_DATA")
    parser.add_argument("--output", type=Path, required=True, help="folder to write to")
    parser.add_argument("--cycles", help="cycles to write, such as 212,215-220; all where left out")
    parser.add_argument("--baseline", type=Path, help="table with sound cycles, where the first one has none")
    parser.add_argument("--means-only", action="store_true", help="what means over the cycle give, no single seconds")
    given = parser.parse_args(arguments)
    try:
        table = given.table or data_file()
        if table is None:
            raise Unusable(
                f"no table: name one, or set OILPATH_RIG_DATA to the folder of {TABLE} (DOI 10.24432/C5CW21)"
            )
        rows = read_rows(table)
        source = rows
        if given.baseline is not None:
            source = read_rows(given.baseline)
        elif not any(is_sound(row) for row in rows) and (other := data_file()) is not None:
            source = read_rows(other)
        made = write(chosen(rows, given.cycles), baseline_rows(source), given.output, means_only=given.means_only)
    except Unusable as error:
        print(error, file=sys.stderr)
        return 2
    for path in made:
        print(path)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
