"""A file written whole or not at all: bytes to a temporary neighbour, to the disk, then by rename into place.

The order of the calls is what makes it safe. The bytes reach the disk (`fsync`) before the new name does, so a
power cut leaves the old file or the new one; the folder follows, so the rename itself is kept.
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, Final

from oilpath.problems import Problem, UnusableInput

_FOLDER: Final = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0)
_NEW: Final = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)


class Disk:
    """The calls that bring bytes to a disk, one by one, so that a test can record them and let any of them fail."""

    def create(self, path: str, mode: int) -> BinaryIO:
        """A new file for writing; the user's mask takes its rights from `mode`."""
        return open(os.open(path, _NEW, mode), "wb")

    def write(self, file: BinaryIO, content: bytes) -> None:
        file.write(content)

    def flush(self, file: BinaryIO) -> None:
        file.flush()

    def sync(self, file: BinaryIO) -> None:
        os.fsync(file.fileno())

    def set_mode(self, path: str, mode: int) -> None:
        os.chmod(path, mode)

    def rename(self, old: str, new: str) -> None:
        os.replace(old, new)

    def remove(self, path: str) -> None:
        os.unlink(path)

    def sync_folder(self, path: str) -> None:
        """Bring the names in a folder to the disk, where the system can do so."""
        if os.name == "nt":  # a folder cannot be opened there; the rename is kept by the file system's journal
            return
        handle = os.open(path, _FOLDER)
        try:
            os.fsync(handle)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network file systems know no such thing
                raise
        finally:
            os.close(handle)


def digest(content: bytes) -> str:
    """The hash by which a file is known again: SHA-256 of its bytes."""
    return hashlib.sha256(content).hexdigest()


def write_whole(path: str | Path, content: bytes, *, read: str | None = None, disk: Disk | None = None) -> None:
    """Write `content` to `path`, so that the old file or the new one is there at every moment.

    A link stays; what it leads to is replaced. A file that exists keeps its mode, a new one gets the user's usual one.

    Parameters
    ----------
    path : str or Path, where the bytes go; its folder must exist
    content : bytes, the whole file
    read : str, optional, `digest` of the file as it was read: one that has changed since is not overwritten
    disk : Disk, optional, the calls to make

    Raises
    ------
    UnusableInput : the file is not what was read, with `read` given; or it is a folder, device, pipe or socket
    OSError : it cannot be written; nothing is changed, unless the folder alone could not be brought to the disk
    """
    disk = disk or Disk()
    target = os.path.realpath(path)
    mode = _mode(path, target)
    _refuse_changed(path, target, read)
    folder = os.path.dirname(target)
    # A short name of its own: the target's may already be as long as the system allows.
    partial = os.path.join(folder, f".oilpath-{os.urandom(8).hex()}.tmp")
    # What was private is private from the first byte on.
    file = disk.create(partial, 0o666 if mode is None else 0o600)
    try:
        with file:
            disk.write(file, content)
            disk.flush(file)
            disk.sync(file)
        if mode is not None:
            disk.set_mode(partial, mode)
        _refuse_changed(path, target, read)
        disk.rename(partial, target)
    except BaseException:
        with suppress(OSError):
            disk.remove(partial)
        raise
    disk.sync_folder(folder)


def _mode(path: str | Path, target: str) -> int | None:
    """The mode of the file that is there, None if there is none."""
    try:
        found = os.stat(target).st_mode
    except FileNotFoundError:
        return None
    if stat.S_ISREG(found):
        return stat.S_IMODE(found)
    what = "this is a folder" if stat.S_ISDIR(found) else "this is a device, pipe or socket"
    raise UnusableInput([Problem(str(path), 1, "-", what, "a regular file")])


def _refuse_changed(path: str | Path, target: str, read: str | None) -> None:
    if read is None:
        return
    try:
        with open(target, "rb") as file:
            now = digest(file.read())
    except FileNotFoundError:
        now = ""
    if now != read:
        message = "the file was changed by somebody else since it was read" if now else "the file is gone"
        raise UnusableInput([Problem(str(path), 1, "-", f"{message}; nothing was written", "read it again first")])
