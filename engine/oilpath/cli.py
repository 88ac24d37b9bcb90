"""The command `oilpath`: its entry point. Answers go to standard output, problems and progress to standard error.

Exit status: 0 the answer was made, 1 `kb check` with findings, 2 unusable input or usage, or an answer that could not
be written, 130 interrupted (Ctrl-C), 143 terminated, 129 hung up. A reader that stops early (`| head`) is no error: 0.
Libraries are imported inside the functions, so that `oilpath --version` and `--help` start at once, and so that an
interruption finds a handler.
"""

from __future__ import annotations

import gc
import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import NoReturn

    import click

COMMANDS = {
    name: f"oilpath.commands.{name}"
    for name in (
        "demo",
        "machine",
        "prepare",
        "sheet",
        "diagnose",
        "next",
        "why",
        "explore",
        "order",
        "close",
        "trend",
        "practice",
        "serve",
        "store",
        "kb",
        "completion",
    )
}
"""Each command, in the order of the help, with the module that holds it; a module is imported when it is needed."""

_FIRST_STEPS = """\
oilpath finds the probable causes of a hydraulic fault from measured tests.
  oilpath demo                             the answer for an invented machine
  oilpath machine new CIRCUIT -o my.yaml   a file for your machine, to fill in
  oilpath prepare my.yaml                  plan the tests: order, tools, dangers
  oilpath sheet fill my.yaml -o test.yaml  fill in a sheet, question by question
  oilpath sheet check test.yaml            what is wrong or missing on the sheet
  oilpath diagnose test.yaml               what is out, why, what to check next
  oilpath order test.yaml                  text for the repair order
CIRCUIT: two-pump-excavator, … Help for a command: oilpath COMMAND --help
The machine's own manual, local rules and qualified people come first."""

_INTERRUPTED = 130
_signals: list[int] = []  # what has stopped the program, for a library may turn the exception into one of its own


def main() -> NoReturn:
    """The entry point of the installed program: the process, its signals and descriptors, and the command."""
    try:
        _begin()
        if os.environ.get("_OILPATH_COMPLETE"):
            from oilpath.commands.completion import answer

            status = answer(app())
        else:
            status = run(_expanded(sys.argv[1:]))
    except KeyboardInterrupt:
        status = _stopped()
    _end(status)


def run(arguments: list[str]) -> int:
    """Run the command with these arguments.

    Returns the exit status. Never a traceback (but with OILPATH_TRACEBACK=1), never a broken pipe's noise.
    """
    try:
        return _run(arguments)
    except KeyboardInterrupt:
        return _stopped()
    except Exception as error:
        if _signals:
            return _stopped()
        return _failed(error)


# --- the process ----------------------------------------------------------------------


def _begin() -> None:
    import signal

    from oilpath.commands import streams

    for number in (signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if os.name == "posix" else [])):
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _stop)
    streams.reserve_descriptors()
    gc.set_threshold(300_000, 50, 50)  # a short run makes much and throws away little: one search costs 30 ms
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small systems: threads cost more than they give


def _expanded(arguments: list[str]) -> list[str]:
    """The arguments, with the patterns in them replaced by the files they fit where the shell does not do that."""
    if os.name != "nt":
        return arguments
    from glob import glob

    return [name for argument in arguments for name in (sorted(glob(argument)) or [argument])]


def _stop(number: int, _frame: object) -> None:
    """Stop by exception, so that a file half written is removed; a second signal ends the program as usual."""
    import signal

    _signals.append(number)
    signal.signal(number, signal.SIG_DFL)
    raise KeyboardInterrupt


def _stopped() -> int:
    return 128 + _signals[0] if _signals else _INTERRUPTED


def _end(status: int) -> NoReturn:
    """Leave at once. To take the interpreter apart costs 20 ms, and an interruption then would show a traceback."""
    from contextlib import suppress

    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError, OSError, ValueError):  # closed or full: said already, where it could be said
            stream.flush()
    os._exit(status)


# --- the command ----------------------------------------------------------------------


def app() -> click.Group:
    """The whole command line."""
    import click

    from oilpath.commands import options

    group = options.Group(
        "oilpath",
        help="Finds the probable causes of hydraulic faults in excavators and other machines from measured tests.",
        homes=COMMANDS,
        examples=("oilpath demo", "oilpath diagnose sheet.yaml"),
        alone=lambda _context: _FIRST_STEPS,
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
        from oilpath.commands import streams

        streams.write(f"oilpath {__version__}\n")
        context.exit()


def _run(arguments: list[str]) -> int:
    import click

    try:
        with app().make_context("oilpath", arguments) as context:
            context.command.invoke(context)
    except click.exceptions.Exit as stop:
        return stop.exit_code
    return 0


def _failed(error: Exception) -> int:
    """Say what went wrong, and return the exit status."""
    import click

    from oilpath.commands import console, streams
    from oilpath.problems import UnusableInput

    match error:
        case UnusableInput():
            streams.say(str(error))
        case click.UsageError():
            from oilpath.commands.usage import mistake

            streams.say(mistake(error))
        case streams.NoOutput(args=()):
            return 0
        case streams.NoOutput():
            streams.say(f"oilpath: the answer cannot be written: {error}")
        case _ if os.environ.get("OILPATH_TRACEBACK") == "1":
            raise error
        case _:
            streams.say(_internal(error))
    return console.UNUSABLE


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
