"""The command `oilpath`: its entry point. Answers go to standard output, problems and progress to standard error.

Exit status: 0 the answer was made, 2 unusable input or usage, 1 `kb check` with findings, 130 interrupted.
Libraries are imported inside the functions, so that `oilpath --version` and `--help` start at once.
"""

from __future__ import annotations

import gc
import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import click

COMMANDS = {name: f"oilpath.commands.{name}" for name in ("demo", "prepare", "diagnose", "why", "order", "trend", "kb")}
"""Each command, in the order of the help, with the module that holds it; a module is imported when it is needed."""

INTERRUPTED = 130


def main() -> None:
    """The entry point: never a traceback (but with OILPATH_TRACEBACK=1), never a broken pipe's noise."""
    gc.set_threshold(300_000, 50, 50)  # a short run makes much and throws away little: one search costs 30 ms
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small systems: threads cost more than they give
    try:
        status = _run(sys.argv[1:])
    except KeyboardInterrupt:
        status = INTERRUPTED
    gc.freeze()  # or the interpreter searches all that is left for cycles at its end, for 80 ms
    sys.exit(status)


def app() -> click.Group:
    """The whole command line."""
    import click

    from oilpath.commands import options

    group = options.Group(
        "oilpath",
        help="Diagnoses hydraulic systems of excavators and other machines from measured performance tests.",
        homes=COMMANDS,
    )
    group.params.insert(
        0,
        click.Option(
            ["--version"],
            is_flag=True,
            is_eager=True,
            expose_value=False,
            callback=_show_version,
            help="Show the version and stop.",
        ),
    )
    return group


def _show_version(context: click.Context, _parameter: click.Parameter, wanted: bool) -> None:
    if wanted:
        from oilpath._version import __version__
        from oilpath.commands import console

        console.write(f"oilpath {__version__}\n")
        context.exit()


def _run(arguments: list[str]) -> int:
    """The exit status of the command with these arguments."""
    import click

    from oilpath.commands import console

    try:
        with app().make_context("oilpath", arguments) as context:
            context.command.invoke(context)
        return 0
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.UsageError as error:
        from oilpath.commands.usage import mistake

        console.say(mistake(error))
        return console.UNUSABLE
    except console.NoOutput as lost:
        return _lost(lost)
    except Exception as error:
        if os.environ.get("OILPATH_TRACEBACK") == "1":
            raise
        console.say(_internal(error))
        return console.UNUSABLE


def _lost(lost: Exception) -> int:
    from oilpath.commands import console

    # let nothing more be written, not even by the interpreter at its end
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if lost.args:
        console.say(f"oilpath: the answer cannot be written: {lost.args[0]}")
        return console.UNUSABLE
    return 0


def _internal(error: Exception) -> str:
    import traceback
    from pathlib import Path

    from oilpath.data import DataNotFound
    from oilpath.problems import shorten

    if isinstance(error, DataNotFound):
        return f"oilpath: {error}"
    frame = traceback.extract_tb(error.__traceback__)[-1]
    what = shorten(f"{type(error).__name__}: {error}", 200)
    return (
        f"oilpath: internal error: {what} ({Path(frame.filename).name}:{frame.lineno}). Sorry, this is a mistake in"
        " oilpath: please report this line together with the sheet and its machine file."
    )


if __name__ == "__main__":
    main()
