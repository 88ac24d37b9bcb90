"""Where an answer goes: standard output, or the file of `--output`."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from oilpath.commands.console import STANDARD_INPUT, shown
from oilpath.commands.streams import write, write_all

if TYPE_CHECKING:
    from oilpath.documents.files import FileId

Send = Callable[[Iterable[str | bytes]], None]

_WANTED: Final = "a file in a folder for writing"
_OTHER_ENDINGS: Final = frozenset(
    (
        ".csv", ".doc", ".docx", ".dot", ".gif", ".gv", ".htm", ".html", ".jpeg", ".jpg", ".json", ".jsonl", ".ods",
        ".odt", ".pdf", ".png", ".rtf", ".svg", ".xls", ".xlsx",
    )
)  # fmt: skip
"""endings that promise a form, which some command may not write"""


@contextmanager
def answer_to(output: Path | None, inputs: Sequence[str]) -> Iterator[Send]:
    """A function that takes the parts of an answer: to standard output as they come, or all together to the file.

    What can be seen at once to be no place for the answer is refused before the work. So is, after it, every file
    that was read within the block: a sheet, what it names, the knowledge base. No part, no file.
    Raises click.UsageError, UnusableInput and, for standard output, NoOutput.
    """
    if output is None:
        yield _to_standard_output
        return
    _check(output, inputs)
    from oilpath.documents.files import noting

    with noting() as read:
        yield lambda texts: _to_file(output, list(texts), read)


@contextmanager
def to_folder(folder: Path) -> Iterator[Callable[[Iterable[tuple[str, str]], str], None]]:
    """A function that writes texts, each under the name of its sheet with an ending, into a folder.

    The folder is made where there is none. Nothing that was read within the block is written over.
    Raises click.UsageError, UnusableInput.
    """
    if folder.exists() and not folder.is_dir():
        raise click.UsageError(f"--output {shown(str(folder))} is a file; with several sheets a folder is wanted")
    from oilpath.documents.files import noting

    with noting() as read:

        def send(texts: Iterable[tuple[str, str]], ending: str) -> None:
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise _problem(folder, _reason(error), "a folder for writing") from None
            taken: set[str] = set()
            for name, text in texts:
                stem = "sheet" if name == STANDARD_INPUT else Path(name).stem
                wanted, number = f"{stem}{ending}", 2
                while wanted in taken:
                    wanted, number = f"{stem}-{number}{ending}", number + 1
                taken.add(wanted)
                _to_file(folder / wanted, [text], read)

        yield send


def form_of(stated: str | None, output: Path | None, endings: Mapping[str, str], usual: str) -> str:
    """The form of an answer: the stated one, else the one of the output file's ending, else the usual one.

    Raises click.UsageError for the ending of a form that there is not: text under such a name could not be opened.
    """
    if stated is not None:
        return stated
    ending = output.suffix.lower() if output is not None else ""
    if ending in _OTHER_ENDINGS and ending not in endings:
        raise click.UsageError(
            f"--output {shown(str(output))}: no answer is written as {ending}; {', '.join(endings)}, or say --format"
        )
    return endings.get(ending, usual)


def _to_standard_output(texts: Iterable[str | bytes]) -> None:
    for text in texts:
        write(text if isinstance(text, str) else text.decode("utf-8"))


def _check(output: Path, inputs: Sequence[str]) -> None:
    named = f"--output {shown(str(output))}"
    found = _status(output)
    if found is None:
        if not output.parent.is_dir():
            raise _problem(output, "there is no such folder")
        return
    if stat.S_ISDIR(found.st_mode):
        raise click.UsageError(f"{named} is a folder; a file is expected")
    if stat.S_ISBLK(found.st_mode) or stat.S_ISSOCK(found.st_mode):
        raise click.UsageError(f"{named} is a disk or a socket; a file is expected")
    for name in inputs:
        if name != STANDARD_INPUT and os.path.exists(name) and os.path.samefile(name, output):
            raise click.UsageError(f"{named} is the file that is read")


def _status(output: Path) -> os.stat_result | None:
    """What the name leads to, None if there is nothing yet."""
    try:
        return os.stat(output)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise _problem(output, _reason(error)) from None


def _to_file(output: Path, texts: list[str | bytes], read: set[FileId]) -> None:
    if not texts:
        return
    content = b"".join(text if isinstance(text, bytes) else text.encode("utf-8", "replace") for text in texts)
    found = _status(output)
    if found is not None and (found.st_dev, found.st_ino) in read:
        raise _problem(output, "this is a file that the answer was made from; it is left as it was", "another file")
    try:
        if found is not None and (stat.S_ISCHR(found.st_mode) or stat.S_ISFIFO(found.st_mode)):
            _to_device(output, content)
        else:
            from oilpath.documents.writing import write_whole

            write_whole(output, content)
    except OSError as error:
        raise _problem(output, _reason(error)) from None


def _to_device(output: Path, content: bytes) -> None:
    """Write to a device or pipe as it is. O_NONBLOCK: a pipe that nobody reads would keep us waiting for ever."""
    handle = os.open(output, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0))
    try:
        write_all(handle, content)
    finally:
        os.close(handle)


def _reason(error: OSError) -> str:
    if error.errno == errno.ENXIO:
        return "nobody reads this pipe"
    return (error.strerror or "an error").lower()


def _problem(output: Path, reason: str, accepted: str = _WANTED) -> Exception:
    from oilpath.problems import Problem, UnusableInput

    return UnusableInput([Problem(str(output), 1, "--output", f"cannot be written: {reason}", accepted)])
