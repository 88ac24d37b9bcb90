"""The rules for which files may be read, and the check of a file's kind in its key `oilpath`.

Only files named by `machine`, `circuit`, `baseline` and `after` are opened. One that turns out to be something
else is a problem of the line that names it, and nothing of it is shown.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from oilpath.documents.location import Location, SourceFile
from oilpath.documents.nodes import read_nodes
from oilpath.documents.shelves import DISK, Shelf
from oilpath.documents.yaml_data import top_of
from oilpath.problems import UnusableInput, shorten
from oilpath.records import dataclass

KINDS: Final = {
    "sheet": "a test sheet",
    "machine": "a machine file",
    "circuit": "a circuit file",
    "closed": "a closed job",
    "have": "a list of what is there",
    "diagnosis": "an answer",
    "error": "an answer",
    "tests": "a file of test kinds",
    "causes": "a file of causes",
    "checks": "a file of checks",
    "rule": "a rule",
    "signs": "a file of signs",
    "words": "a file of words",
}
_VERSION: Final = 1
MAX_SHEETS: Final = 24  # under one key
_KIND: Final = re.compile(r"([a-z-]+)/([0-9]{1,9})")
_ADDRESS: Final = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+:|//|\\\\")
_BY_NAME: Final = ", or the name of one in machines/ of a folder named by --kb"


def kind_problem(stated: object, wanted: str) -> tuple[str, str] | None:
    """What is wrong with the value of the key `oilpath` (message, accepted); None if it is `wanted/1`."""
    accepted = f"{wanted}/{_VERSION}"
    if stated is None:
        return "is missing, so this is not known to be " + KINDS[wanted], f"oilpath: {accepted}"
    found = _KIND.fullmatch(stated) if isinstance(stated, str) else None
    if found is None:
        return "names no kind and version", accepted
    kind, version = found.group(1), int(found.group(2))
    if kind != wanted:
        what = f"this is {KINDS[kind]}" if kind in KINDS else "this kind of file is not known"
        return f"{what}; {KINDS[wanted]} is expected", accepted
    if version > _VERSION:
        return f"version {version} needs a newer oilpath", f"{accepted}, or a newer oilpath"
    if found.group(2) != str(_VERSION):
        return "there is no such version", accepted
    return None


def is_kind(location: Location, wanted: str) -> bool:
    """Whether the file is of the wanted kind; adds a problem if it is not."""
    stated = location.below("oilpath")
    wrong = kind_problem(stated.value, wanted)
    if wrong is None:
        return True
    line = stated.line if stated.value is not None else 1
    location.file.problems.add(location.file.shown, line, "oilpath", *wrong)
    return False


def open_named(
    location: Location, wanted: str, instead: Callable[[str], tuple[Path, str] | None] = lambda name: None
) -> Location | None:
    """The file that a value names, as the top of a new file; problems stand at the value where it is none such.

    Where no such file exists, `instead` may give another one for the name, with how to call it.
    """
    found = find_named(location, wanted, instead)
    return top_of_named(location, wanted, found) if found is not None else None


@dataclass(frozen=True, slots=True)
class NamedFile:
    """A file that a value names: where it is, how problems call it, and its bytes."""

    path: Path
    shown: str
    content: bytes
    shelf: Shelf


def find_named(
    location: Location, wanted: str, instead: Callable[[str], tuple[Path, str] | None] = lambda name: None
) -> NamedFile | None:
    """The file as it is, before anything in it is looked at; otherwise as `open_named`."""
    name, what = location.value, KINDS[wanted]
    accepted = _accepted(wanted)
    if not isinstance(name, str) or not name.strip():
        location.wrong(f"names no file where {what} is expected", accepted)
        return None
    label = f"`{shorten(name)}`"
    if _ADDRESS.match(name):
        location.wrong(f"{label} is an address, not a path", f"{accepted}; nothing is fetched from elsewhere")
        return None
    shelf, path = location.file.shelf, location.file.folder / name
    reason, shown = shelf.lacking(path), shown_path(location.file, name)
    if reason is not None and (other := instead(name)) is not None:
        shelf, (path, shown) = DISK, other
    elif reason is not None:
        known_by_name = wanted == "machine" and Path(name).name == name and not Path(name).suffix
        location.wrong(f"{label} {reason}", accepted + (_BY_NAME if known_by_name else ""))
        return None
    try:
        return NamedFile(path, shown, shelf.content(path, shown), shelf)
    except UnusableInput:
        location.wrong(f"{label} is not {what}", accepted)
        return None


def top_of_named(location: Location, wanted: str, found: NamedFile) -> Location | None:
    """The top of a file that was found; otherwise as `open_named`."""
    what, accepted = KINDS[wanted], _accepted(wanted)
    label = f"`{shorten(location.value)}`"
    try:
        node = read_nodes(found.content, found.shown)
    except UnusableInput as error:
        if _says_it_is(found.content, wanted):  # one of ours with a mistake: its own lines help
            location.file.problems.extend(error.problems)
        else:
            location.wrong(f"{label} is not {what}", accepted)
        return None
    top = top_of(node, found.shown, found.path.parent, location.file.problems, found.path, found.shelf)
    stated = top.below("oilpath")
    wrong = kind_problem(stated.value, wanted)
    if wrong is None:
        return top
    if "newer" in wrong[0]:
        stated.wrong(*wrong)
    else:
        location.wrong(f"{label} is not {what}: {_other(stated.value, wanted)}", accepted)
    return None


def _accepted(wanted: str) -> str:
    return f"the path of {KINDS[wanted]}, relative to this file"


def _other(stated: object, wanted: str) -> str:
    """In own words, never the file's: what is in the key `oilpath` of a file of another kind."""
    found = _KIND.fullmatch(stated) if isinstance(stated, str) else None
    if found is not None and found.group(1) in KINDS and found.group(1) != wanted:
        return f"it is {KINDS[found.group(1)]}"
    return f"it does not say `oilpath: {wanted}/{_VERSION}`"


def shown_path(file: SourceFile, name: str) -> str:
    """The name under which problems show a file that this file names."""
    folder = "" if file.shown == "-" else os.path.dirname(file.shown)
    return os.path.normpath(os.path.join(folder, name))


def _says_it_is(content: bytes, wanted: str) -> bool:
    return (
        re.search(rb"(?m)^[ \t{]*[\"']?oilpath[\"']?[ \t]*:[ \t]*[\"']?" + wanted.encode() + b"/", content) is not None
    )


def same_file(file: SourceFile, path: Path | None) -> bool:
    """Whether a path leads to the document itself."""
    return file.path is not None and path is not None and file.shelf.same(file.path, path)


def sheet_names(location: Location | None) -> tuple[Location, ...]:
    """The locations of sheet names under one key (a list or a single name). No file is opened."""
    places = (location.one_or_many("a list of sheets") or []) if location is not None else []
    if location is not None and len(places) > MAX_SHEETS:
        location.wrong(f"{len(places)} sheets are too many", f"at most {MAX_SHEETS}")
        return ()
    return tuple(places)


def named_sheets(locations: Sequence[Location]) -> tuple[str, ...]:
    """Other sheets named on this one: each must be there and be a sheet; they are not read further here."""
    names: list[str] = []
    for location in locations:
        found = open_named(location, "sheet")
        if found is None:
            continue
        if same_file(location.file, found.file.path):
            location.wrong("the sheet names itself", "another sheet of this machine")
        elif isinstance(location.value, str):
            names.append(location.value)
    return tuple(names)
