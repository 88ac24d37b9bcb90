"""Where to find the files that a document names: on disk, or in another store.

A file is found by the path that the document's folder and the name give together. What stands in a shelf can name
only what stands in the same one; a machine of a layer of knowledge is on the disk whoever names it.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Hashable
from pathlib import Path
from typing import Final, Protocol

from oilpath.documents.files import file_bytes


class Shelf(Protocol):
    """Where files stand."""

    def lacking(self, path: Path) -> str | None:
        """Why there is no regular file at `path`, as the end of a sentence; None if there is one."""

    def content(self, path: Path, shown: str) -> bytes:
        """The bytes of a file; problems call it `shown`. Raises UnusableInput."""

    def same(self, one: Path, two: Path) -> bool:
        """Whether two paths lead to one file."""

    def key(self, path: Path) -> Hashable:
        """A key that is equal for all paths to the same file."""


class OnDisk:
    """Files of the disk."""

    def lacking(self, path: Path) -> str | None:
        try:
            mode = os.stat(path).st_mode
        except (FileNotFoundError, NotADirectoryError):
            return "is not a file that exists"
        except PermissionError:
            return "cannot be read: no permission"
        except (OSError, ValueError):  # too long, a loop of links, NUL or half a character in the name
            return "is not a possible name of a file"
        if stat.S_ISDIR(mode):
            return "is a folder"
        return None if stat.S_ISREG(mode) else "is not a regular file"

    def content(self, path: Path, shown: str) -> bytes:
        return file_bytes(path, shown)

    def same(self, one: Path, two: Path) -> bool:
        try:
            return os.path.samefile(one, two)
        except (OSError, ValueError):
            return False

    def key(self, path: Path) -> Hashable:
        return path.resolve()


DISK: Final = OnDisk()
