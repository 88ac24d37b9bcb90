"""What the commands share: reading and writing, problems to standard error, progress.

Libraries are imported inside the functions, so that the command starts at once.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Generic, TypeVar

import click

if TYPE_CHECKING:
    from oilpath.documents.machine import Machine
    from oilpath.documents.sheet import Sheet
    from oilpath.knowledge.base import Knowledge
    from oilpath.problems import UnusableInput
    from oilpath.reports.page import Block

T = TypeVar("T")

STANDARD_INPUT: Final = "-"
FINDINGS: Final = 1
UNUSABLE: Final = 2

LAYERS: Final = "oilpath.layers"
"""where the context keeps the folders that `--kb` named"""

_SHEET_BYTES: Final = 1 << 20  # what the reader takes at most; one byte more is read, so that it says so


class NoOutput(Exception):
    """Standard output takes no more: the reader has gone (no reason given), or for this reason."""


# --- reading --------------------------------------------------------------------------


def layers() -> tuple[str, ...]:
    """The folders that OILPATH_KB and `--kb` lay over the knowledge base, from the lowest to the highest."""
    from oilpath.knowledge.layers import layer_folders

    return layer_folders(click.get_current_context().meta.get(LAYERS, ()))


def read_knowledge() -> Knowledge:
    """The knowledge base that ships with oilpath, with the user's own layers over it. Raises UnusableInput."""
    from oilpath.knowledge.compile import load_knowledge

    return load_knowledge(*layers())


def read_sheet(name: str, knowledge: Knowledge) -> Sheet:
    """A sheet as typed, `-` from standard input. Raises UnusableInput."""
    from oilpath.documents.load import load_sheet

    if name == STANDARD_INPUT:
        return load_sheet(name, knowledge, text=sys.stdin.buffer.read(_SHEET_BYTES + 1))
    return load_sheet(name, knowledge)


def read_machine(name: str, knowledge: Knowledge) -> Machine:
    """A machine file as typed, `-` from standard input. Raises UnusableInput."""
    from oilpath.documents.load import load_machine

    if name == STANDARD_INPUT:
        return load_machine(name, knowledge, text=sys.stdin.buffer.read(_SHEET_BYTES + 1))
    return load_machine(name, knowledge)


def page(blocks: Iterable[Block], format_: str, *, to_file: bool = False) -> str:
    """Blocks of a page as `text` (in the terminal's colours where standard output is one) or `markdown`."""
    if format_ == "markdown":
        from oilpath.reports.markdown import blocks_to_markdown

        return blocks_to_markdown(blocks)
    from oilpath.reports.text import blocks_to_terminal, blocks_to_text

    return blocks_to_text(blocks) if to_file or not sys.stdout.isatty() else blocks_to_terminal(blocks)


# --- problems and progress ------------------------------------------------------------


@contextmanager
def problems() -> Iterator[None]:
    """Unusable input: its problems to standard error, status 2."""
    from oilpath.problems import UnusableInput

    try:
        yield
    except UnusableInput as error:
        say(str(error))
        raise click.exceptions.Exit(UNUSABLE) from None


class Worked(Generic[T]):
    """Sheets worked on one after the other, in the order given, with progress on the terminal.

    Gives each name with what `work` returned for it, or with the UnusableInput that it raised. Its problems are then
    said already, and `failed` is true.
    """

    def __init__(self, names: Sequence[str], work: Callable[[str], T]) -> None:
        self._names, self._work = names, work
        self.failed = False

    def __len__(self) -> int:
        return len(self._names)

    def __iter__(self) -> Iterator[tuple[str, T | UnusableInput]]:
        from oilpath.problems import UnusableInput

        for number, name in enumerate(self._names, 1):
            progress(number, name, len(self))
            done: T | UnusableInput
            try:
                done = self._work(name)
            except UnusableInput as error:
                done, self.failed = error, True
            progress(0, "", len(self))
            if isinstance(done, UnusableInput):
                say(str(done))
            yield name, done


def say(text: str) -> None:
    """One line, or several, to standard error."""
    put(sys.stderr, f"{text}\n")


def progress(number: int, name: str, total: int) -> None:
    """One line on a terminal while several sheets are worked on; number 0 wipes it."""
    if total < 2 or not sys.stderr.isatty():
        return
    line = f"{number} of {total}: {shown(name)}" if number else ""
    sys.stderr.write(f"\r\x1b[K{line}")
    sys.stderr.flush()


def shown(name: str) -> str:
    """A name as typed, safe to show on one line."""
    from oilpath.problems import shorten

    return shorten(name)


# --- writing --------------------------------------------------------------------------


def write(text: str) -> None:
    """An answer to standard output. Raises NoOutput where that takes no more."""
    try:
        put(sys.stdout, text)
    except BrokenPipeError:
        raise NoOutput from None
    except OSError as error:
        raise NoOutput(error.strerror) from None


def put(stream: Any, text: str) -> None:
    """Write in the stream's encoding; where it lacks some signs, ours become ASCII and JSON's are escaped."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        text.encode(encoding, getattr(stream, "errors", None) or "strict")
    except UnicodeError:
        if text.startswith(("{", "[")):  # JSON holds other signs within its strings only
            from json import dumps

            text = "".join(char if char.isascii() else dumps(char)[1:-1] for char in text)
        else:
            from oilpath.reports.plain import ascii_text

            text = ascii_text(text).encode(encoding, "replace").decode(encoding)
    stream.write(text)
    stream.flush()


def send(texts: Iterable[str], output: Path | None) -> None:
    """Parts of an answer to standard output as they come, else all together to the file; none, no file."""
    if output is not None:
        if kept := list(texts):
            write_file(output, "".join(kept))
        return
    for text in texts:
        write(text)


def check_names(names: Sequence[str]) -> None:
    """Refuse standard input named twice."""
    if names.count(STANDARD_INPUT) > 1:
        raise click.UsageError("- (standard input) can be read once only")


def check_output(output: Path, inputs: Sequence[str]) -> None:
    """Refuse, before the work, what can be seen at once to be no place for the answer."""
    if output.is_dir():
        raise click.UsageError(f"--output {shown(str(output))} is a folder; a file is wanted")
    for name in inputs:
        if name != STANDARD_INPUT and output.exists() and Path(name).exists() and output.samefile(name):
            raise click.UsageError(f"--output {shown(str(output))} is the file that is read")


def write_file(output: Path, text: str) -> None:
    """Write the file whole or not at all. What is no regular file (a pipe) is written to."""
    try:
        if output.exists() and not output.is_file():
            output.write_text(text, encoding="utf-8", errors="replace")
            return
        from oilpath.documents.writing import write_whole

        write_whole(output, text.encode("utf-8", "replace"))
    except OSError as error:
        from oilpath.problems import Problem

        reason = (error.strerror or "an error").lower()
        say(str(Problem(str(output), 1, "--output", f"cannot be written: {reason}", "a file in a folder for writing")))
        raise click.exceptions.Exit(UNUSABLE) from None
