"""Read a machine file or a test sheet, with all that they name: the ends of the flow where files come in."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from oilpath.documents.characters import decoded
from oilpath.documents.commas import explain_commas
from oilpath.documents.files import file_bytes
from oilpath.documents.grid import data_of_grid
from oilpath.documents.grid_files import MAX_BYTES as MAX_TABLE
from oilpath.documents.grid_files import grid_from
from oilpath.documents.location import Location, SourceFile, TablePlaces
from oilpath.documents.machine import Machine
from oilpath.documents.machine_reader import read_circuit, read_machine
from oilpath.documents.nodes import read_file, read_nodes
from oilpath.documents.paths import named_sheets
from oilpath.documents.sheet import Sheet
from oilpath.documents.sheet_reader import read_sheet
from oilpath.documents.shelves import DISK, Shelf
from oilpath.documents.yaml_data import top_of
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.layers import machine_file
from oilpath.problems import Problem, Problems, UnusableInput

STANDARD_INPUT = "-"

_MACHINE = re.compile(r"(?m)^oilpath:\s*machine/")
_Read = Callable[[str | Path, Knowledge, str | bytes | None, Shelf], Any]


def load_sheet(
    path: str | Path, knowledge: Knowledge | None = None, *, text: str | bytes | None = None, shelf: Shelf = DISK
) -> Sheet:
    """Read a filled-in test sheet and its machine.

    Parameters
    ----------
    path : str or Path, the sheet as typed; with `text` only its name and the folder of the files that it names
    knowledge : Knowledge, optional, the one that ships with oilpath where left out
    text : str or bytes, optional, the sheet itself (from standard input: `path` is ``-``, files are sought from
        the working folder)
    shelf : Shelf, optional, with `text`: where the files stand that it names

    Returns
    -------
    Sheet : readings with their test kinds, SI inside

    Raises
    ------
    UnusableInput : with every problem of the sheet and of the files that it names
    """
    known = _known(knowledge)
    try:
        return _sheet(path, known, text, shelf)
    except UnusableInput as error:
        raise UnusableInput(_explained(error.problems, path, known, text, shelf, _sheet)) from None


def _sheet(path: str | Path, knowledge: Knowledge, text: str | bytes | None, shelf: Shelf) -> Sheet:
    location = _top(path, text, shelf)
    sheet = read_sheet(location, str(path), knowledge)
    location.file.problems.raise_if_any()
    assert sheet is not None
    return sheet


def load_machine(
    path: str | Path, knowledge: Knowledge | None = None, *, text: str | bytes | None = None, shelf: Shelf = DISK
) -> Machine:
    """Read a machine file and its circuit.

    Parameters as in `load_sheet`; if there is no such file, the name may be that of a machine of a layer of the
    knowledge. Raises UnusableInput with every problem.
    """
    known = _known(knowledge)
    try:
        return _machine(path, known, text, shelf)
    except UnusableInput as error:
        raise UnusableInput(_explained(error.problems, path, known, text, shelf, _machine)) from None


def _machine(path: str | Path, knowledge: Knowledge, text: str | bytes | None, shelf: Shelf) -> Machine:
    named = machine_file(str(path), knowledge) if text is None and not os.path.exists(path) else None
    location = _top(path, text, shelf) if named is None else _file(*named)
    read = read_machine(location, knowledge)
    named_sheets(read.baseline)
    machine = read.machine
    location.file.problems.raise_if_any()
    assert machine is not None
    return machine


def load_grid(
    path: str | Path, knowledge: Knowledge | None = None, *, content: bytes | None = None, machine: str | None = None
) -> tuple[Sheet, dict[str, Any], int]:
    """A sheet from a CSV file or a workbook; their first bytes say which.

    Parameters
    ----------
    path : str or Path, the table as typed; with `content` only its name and the folder of the files that it names
    knowledge : Knowledge, optional, the one that ships with oilpath where left out
    content : bytes, optional, the table itself
    machine : str, optional, the machine file where the table names none, relative to the table

    Returns
    -------
    Sheet, its plain data (what `sheet_text` takes), and how many rows hold no reading

    Raises
    ------
    UnusableInput : with every problem, by row and column
    """
    known, shown, problems = _known(knowledge), str(path), Problems()
    own = None if shown == STANDARD_INPUT else Path(path)
    given = file_bytes(Path(path), shown, MAX_TABLE) if content is None else content
    found = data_of_grid(grid_from(given, shown), known, shown, problems)
    if machine is not None:
        found.data.setdefault("machine", machine)
    places = TablePlaces(found.rows, found.names)
    folder = Path() if own is None else own.parent
    sheet = read_sheet(Location(SourceFile(shown, folder, problems, places, own), found.data), shown, known)
    problems.raise_if_any()
    assert sheet is not None
    return sheet, found.data, found.empty


def load_circuit(ref: str, base: Path, problems: Problems, knowledge: Knowledge | None = None) -> Circuit | None:
    """The circuit `ref`: an id of the knowledge base, or a path relative to the folder `base`.

    Problems are added to `problems`; then the circuit is None.
    """
    location = Location(SourceFile(STANDARD_INPUT, base, problems, TablePlaces({}, {})), ref, ("circuit",))
    return read_circuit(location, _known(knowledge))


def _explained(
    problems: Sequence[Problem],
    path: str | Path,
    knowledge: Knowledge,
    text: str | bytes | None,
    shelf: Shelf,
    read: _Read,
) -> tuple[Problem, ...]:
    """The problems, decimal commas said as what they are: those of the file itself and of a machine file it names."""
    found = tuple(problems)
    for file in dict.fromkeys(problem.file for problem in problems):
        try:
            own = text is not None and file == str(path)
            written = decoded(text if own and text is not None else shelf.content(Path(file), file), file)
        except UnusableInput:
            continue
        again = read if file == str(path) else _machine if _MACHINE.search(written) else _sheet
        found = explain_commas(found, file, written, partial(_problems, again, file, knowledge, shelf))
    return found


def _problems(read: _Read, path: str, knowledge: Knowledge, shelf: Shelf, text: str) -> tuple[Problem, ...]:
    try:
        read(path, knowledge, text, shelf)
    except UnusableInput as error:
        return error.problems
    return ()


def _top(path: str | Path, text: str | bytes | None, shelf: Shelf) -> Location:
    """The top of a file; raises UnusableInput if it is not readable YAML."""
    shown, problems = str(path), Problems()
    if text is not None:
        folder = Path() if shown == STANDARD_INPUT else Path(path).parent
        own = None if shown == STANDARD_INPUT else Path(path)
        return top_of(read_nodes(text, shown), shown, folder, problems, own, shelf)
    return _file(Path(path), shown)


def _file(path: Path, shown: str) -> Location:
    return top_of(read_file(path, shown), shown, path.parent, Problems(), path)


def _known(knowledge: Knowledge | None) -> Knowledge:
    if knowledge is not None:
        return knowledge
    from oilpath.knowledge.compile import load_knowledge

    return load_knowledge()
