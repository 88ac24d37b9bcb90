"""Names of documents: paths in the workshop's own folder, which is no folder of the disk."""

from __future__ import annotations

import posixpath
import re
from typing import Final

from oilpath.problems import Problem, UnusableInput, shorten

ENDINGS: Final = (".yaml", ".yml", ".json")
_MOST: Final = 200  # characters
_ODD: Final = re.compile(r'[\x00-\x1f\x7f<>:"|?*\\]')  # what some system allows in no file name
_ACCEPTED: Final = 'a path such as sheets/pit-07.yaml: no .. and none of < > : " | ? * \\'


def document_name(name: str) -> str:
    """The name as it is kept. Raises UnusableInput for one that could not be a file in the folder of an export."""
    message = _wrong(name)
    if message is not None:
        raise UnusableInput([Problem(shorten(name), 1, "name", message, _ACCEPTED)])
    return name


def is_file(named: str) -> bool:
    """Whether what a document names is a file by its ending, and no id of the knowledge base."""
    return named.lower().endswith(ENDINGS)


def _wrong(name: str) -> str | None:
    parts = name.split("/")
    if len(name) > _MOST or len(name.encode("utf-8", "replace")) > 4 * _MOST:
        return f"is longer than {_MOST} characters"
    if not name or any(
        part != part.strip() or not part or part.startswith(".") or part.endswith(".") for part in parts
    ):
        return "is no path in the workshop's folder"
    if _ODD.search(name) or not name.isprintable():
        return "holds a sign that file names cannot hold everywhere"
    if not is_file(name):
        return f"ends in none of {', '.join(ENDINGS)}"
    return None


def resolved(name: str, named: str) -> str | None:
    """The document that the document `name` calls `named`, a path relative to it; None: it leads out of the folder."""
    if named.startswith("/") or "\\" in named or "\0" in named:
        return None
    path = posixpath.normpath(posixpath.join(posixpath.dirname(name), named))
    return None if path == ".." or path.startswith("../") or path == "." else path
