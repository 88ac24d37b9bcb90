"""A file's bytes, from a regular file of bounded size and nothing else: no pipe can hang the reader, no device feed it.

What is due is looked at before opening, for opening a device may do something, and again on the opened descriptor,
for the name may lead elsewhere by then.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from oilpath.documents.characters import MAX_BYTES
from oilpath.problems import Problem, UnusableInput

_WANTED = "a readable YAML or JSON file"
# O_NONBLOCK: the file may have been swapped for a pipe since the first look.
_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOCTTY", 0)

FileId = tuple[int, int]
"""A file under any of its names: device and number."""

_noted: ContextVar[set[FileId] | None] = ContextVar("noted", default=None)


@contextmanager
def noting() -> Iterator[set[FileId]]:
    """Note which files are read within the block, so that an answer is not written over one of them."""
    read: set[FileId] = set()
    token = _noted.set(read)
    try:
        yield read
    finally:
        _noted.reset(token)


def file_bytes(path: Path, shown: str, most: int = MAX_BYTES) -> bytes:
    """The content of the regular file at `path`, of at most `most` bytes; problems call it `shown`.

    Raises UnusableInput: there is none such, it is a folder, device, pipe or socket, unreadable or too large.
    """
    try:
        message = _unfit(os.stat(path).st_mode)
        if message is None:
            with open(os.open(path, _FLAGS), "rb") as stream:
                state = os.fstat(stream.fileno())
                if (noted := _noted.get()) is not None:
                    noted.add((state.st_dev, state.st_ino))
                message = _unfit(state.st_mode)
                if message is None:
                    content = b"" if state.st_size > most else stream.read(most + 1)
    except OSError as error:
        raise UnusableInput([Problem(shown, 1, "-", why_not(error), _WANTED)]) from None
    except ValueError:  # NUL or half a character in the path
        message = "the file cannot be read: no possible name of a file"
        raise UnusableInput([Problem(shown, 1, "-", message, _WANTED)]) from None
    if message is not None:
        raise UnusableInput([Problem(shown, 1, "-", message, "a file" if "folder" in message else "a regular file")])
    if state.st_size > most or len(content) > most:
        size = f"{most / (1024 * 1024):g} MiB"
        raise UnusableInput([Problem(shown, 1, "-", f"the file is larger than {size}", f"at most {size}")])
    return content


def check_folder(path: Path, shown: str) -> None:
    """Raises UnusableInput if `path` is not a folder that can be entered."""
    wanted = "a readable folder"
    try:
        mode = os.stat(path).st_mode
        os.stat(path / ".")
    except NotADirectoryError:
        raise UnusableInput([Problem(shown, 1, "-", "this is not a folder", wanted)]) from None
    except OSError as error:
        raise UnusableInput([Problem(shown, 1, "-", why_not(error, "folder"), wanted)]) from None
    except ValueError:
        message = "the folder cannot be read: no possible name of a folder"
        raise UnusableInput([Problem(shown, 1, "-", message, wanted)]) from None
    if not stat.S_ISDIR(mode):
        raise UnusableInput([Problem(shown, 1, "-", "this is not a folder", wanted)])


def why_not(error: OSError, what: str = "file") -> str:
    """Why the system gives no such file or folder, in plain words."""
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return f"there is no such {what}"
    if isinstance(error, PermissionError):
        return f"no permission to read the {what}"
    return f"the {what} cannot be read: {(error.strerror or 'an error').lower()}"


def _unfit(mode: int) -> str | None:
    if stat.S_ISDIR(mode):
        return "this is a folder"
    return None if stat.S_ISREG(mode) else "this is a device, pipe or socket"
