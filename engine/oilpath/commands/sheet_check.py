"""`oilpath sheet check SHEET…`: all that a diagnosis would complain of, without one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from oilpath.commands import console, options, streams
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.check import Looked
    from oilpath.reports.words import Units


@options.command("check", examples=("oilpath sheet check sheet.yaml",))
@options.sheets
@options.format_of("text", "json")
@options.units
def command(sheet_names: tuple[str, ...], format_: str, units: Units) -> None:
    """Look a sheet over: everything that a diagnosis would complain of, without a diagnosis.

    SHEET is a filled-in test sheet; - reads standard input. What cannot be used is an error, the rest a remark.
    """
    console.check_names(sheet_names)
    done = console.Worked(sheet_names, Looking(console.read_knowledge(), units))
    show(done, format_)


def show(done: console.Worked[Looked], format_: str) -> None:
    """Show what was found in each file, as text or JSON. The exit status is 2 if any file cannot be used."""
    from oilpath.problems import UnusableInput
    from oilpath.reports.check import lay_out_looked, looked_data
    from oilpath.reports.json_ import error_data, to_json

    data: list[dict[str, Any]] = []
    for name, found in done:
        if isinstance(found, UnusableInput):
            data.append({**error_data(name, found.problems), "oilpath": "check/1", "warnings": []})
        elif format_ == "json":
            data.append(looked_data(name, found))
        else:
            streams.write(console.page(lay_out_looked(console.shown(name), found), "text"))
    if format_ == "json":
        streams.write(to_json(data if len(done) > 1 else data[0]))
    if done.failed:
        raise click.exceptions.Exit(console.UNUSABLE)


@dataclass(frozen=True)
class Looking:
    """How each sheet is looked over."""

    knowledge: Knowledge
    units: Units

    def __call__(self, name: str, text: bytes | None) -> Looked:
        """What was found. Raises UnusableInput."""
        from oilpath.bench import bench_for
        from oilpath.judging import baseline_warnings, judge
        from oilpath.reports.check import look_over
        from oilpath.reports.words import Words

        sheet = console.read_sheet(name, self.knowledge, text)
        results = judge(sheet, bench_for(sheet.machine, self.knowledge))
        return look_over(sheet, results, baseline_warnings(sheet), Words(self.knowledge, sheet.machine, self.units))
