"""Standard output and standard error, also where they are closed, full, or a pipe that nobody reads any more.

Text goes straight to the descriptor until all of it is taken: Python's own streams lose what a full disk or a pipe
did not take when they are unbuffered, and try again at the end of the program when they are buffered.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import Any


class NoOutput(Exception):
    """Standard output takes no more: the reader has gone (no reason given), or for this reason."""


def reserve_descriptors() -> None:
    """Open the null device on each of the first three descriptors that is closed.

    Otherwise the next file opened would get that number, and what is meant for a stream would land in it.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number


def write(text: str) -> None:
    """An answer to standard output. Raises NoOutput if that takes no more."""
    if sys.stdout is None:  # it was closed when the program started
        raise NoOutput("standard output is closed")
    try:
        put(sys.stdout, text)
    except BrokenPipeError:
        raise NoOutput from None
    except OSError as error:
        raise NoOutput((error.strerror or str(error)).lower()) from None


def page(text: str) -> None:
    """A long answer: through the pager (PAGER, else less or more) where a person sits at a terminal, else as it is.

    Raises NoOutput.
    """
    if not is_terminal() or sys.stdin is None or not sys.stdin.isatty():
        write(text)
        return
    import click

    os.environ.setdefault("LESS", "-FRX")  # no pager for what fits the screen, colours as they are, no cleared screen
    click.echo_via_pager(text, color=True)


def say(text: str) -> None:
    """Write one or more lines to standard error; errors are ignored."""
    show(f"{text}\n")


def progress(number: int, name: str, total: int) -> None:
    """One line on a terminal while several sheets are worked on; number 0 wipes it."""
    if total < 2 or sys.stderr is None or not sys.stderr.isatty():
        return
    from oilpath.problems import shorten

    show("\r\x1b[K" + (f"{number} of {total}: {shorten(name)}" if number else ""))


def is_terminal() -> bool:
    """Whether answers go to a person's terminal."""
    return sys.stdout is not None and sys.stdout.isatty()


def width() -> int:
    """Columns for plain text: those of the terminal, 40 to 100; 80 where standard output is none."""
    from shutil import get_terminal_size

    return max(40, min(get_terminal_size((80, 24)).columns, 100)) if is_terminal() else 80


def show(text: str) -> None:
    """Text to standard error as it is."""
    if sys.stderr is None:
        return
    with suppress(OSError):
        put(sys.stderr, text)


def put(stream: Any, text: str) -> None:
    """Write in the stream's encoding; where it lacks some signs, ours become ASCII and JSON's are escaped."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    errors = getattr(stream, "errors", None) or "strict"
    try:
        data = text.encode(encoding, errors)
    except UnicodeError:
        if text.startswith(("{", "[")):  # JSON holds other signs within its strings only
            from json import dumps

            text = "".join(char if char.isascii() else dumps(char)[1:-1] for char in text)
        else:
            from oilpath.reports.plain import ascii_text

            text = ascii_text(text).encode(encoding, "replace").decode(encoding)
        data = text.encode(encoding, "replace")
    handle = _descriptor(stream)
    if handle is None:
        stream.write(text)
        stream.flush()
    else:
        stream.flush()
        write_all(handle, data)


def write_all(handle: int, data: bytes) -> None:
    """Write all of it, in several calls if needed. Raises OSError."""
    left = memoryview(data)
    while left:
        try:
            left = left[os.write(handle, left) :]
        except BlockingIOError:  # somebody made the pipe non-blocking: wait until it takes more
            from select import select

            select([], [handle], [])


def _descriptor(stream: Any) -> int | None:
    if os.name != "posix":  # there the stream translates line ends, and its terminal takes no bytes
        return None
    if (
        str(getattr(stream, "encoding", "")).lower().startswith(("utf-8-sig", "utf-16", "utf-32"))
    ):  # it writes a mark once
        return None
    try:
        number: int = stream.fileno()
    except (AttributeError, OSError, ValueError):
        return None
    return number
