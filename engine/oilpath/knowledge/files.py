"""The files of a knowledge base, or of a layer over one: which there are, and every entry with its file and line."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import BaseModel

from oilpath.documents.files import file_bytes
from oilpath.documents.nodes import read_file
from oilpath.documents.validate import data_of, line_of, model_from_data
from oilpath.knowledge.base import CautionFile, Priors, ScatterFile, SourceFile
from oilpath.knowledge.cause import CauseFile
from oilpath.knowledge.check import CheckFile, SignFile
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.closed import Closed
from oilpath.knowledge.excused import ExcusedFile
from oilpath.knowledge.rule import Rule
from oilpath.knowledge.testkind import TestFile
from oilpath.knowledge.words import WordFile
from oilpath.problems import Problem, Problems, UnusableInput, nearest
from oilpath.records import dataclass

M = TypeVar("M", bound=BaseModel)

SINGLE: Final[Mapping[str, type[BaseModel]]] = {
    "tests.yaml": TestFile,
    "signs.yaml": SignFile,
    "words.yaml": WordFile,
    "cautions.yaml": CautionFile,
    "sources.yaml": SourceFile,
    "priors.yaml": Priors,
    "scatter.yaml": ScatterFile,
    "excused.yaml": ExcusedFile,
}
"""files that stand in the folder itself"""
OPTIONAL: Final = ("words.yaml", "excused.yaml")
"""those of them that a whole knowledge base can do without"""
FOLDERS: Final[Mapping[str, type[BaseModel]]] = {
    "causes": CauseFile,
    "checks": CheckFile,
    "rules": Rule,
    "circuits": Circuit,
    "closed": Closed,
}
"""folders with any number of files of one kind"""
MACHINES: Final = "machines"
"""folder of a layer with machine files, which can then be named by the file's name alone"""
TEMPLATES: Final = "templates"
"""folder of a layer with a workshop's own templates (jinja2)"""
SECTIONS: Final[Mapping[type[BaseModel], tuple[tuple[str, str], ...]]] = {
    TestFile: (
        ("tests", "test"), ("day.phases", "phase"), ("variants", "variant"), ("asked-of", "condition"),
        ("poses", "pose"), ("slips", "slip"), ("day.everyday", "everyday"),
    ),
    SignFile: (("signs", "sign"),),
    WordFile: (
        ("words", "word"), ("names", "name"), ("fillers", "filler"), ("negations", "negation"), ("breaks", "break"),
    ),
    CautionFile: (("cautions", "caution"),),
    SourceFile: (("sources", "source"),),
    ScatterFile: (("shared", "scatter"),),
    CauseFile: (("causes", "cause"),),
    CheckFile: (("checks", "check"),),
    ExcusedFile: (("excused", "excused"),),
}  # fmt: skip
"""where the entries of a file stand, and what they are; a file that is not here is one entry"""
WHOLE: Final[Mapping[type[BaseModel], str]] = {
    Rule: "rule", Circuit: "circuit", Priors: "priors", Closed: "closed",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a file: where it is, its id, what it is."""

    file: str
    line: int
    key: str
    value: Any
    kind: str = ""
    layer: str = ""
    """the layer that it belongs to, as given; empty for what ships"""


@dataclass(frozen=True, slots=True)
class FolderContent:
    """What the files of one folder hold; `files` are their models by name within the folder."""

    folder: Path
    shown: str
    files: Mapping[str, BaseModel]
    entries: tuple[Entry, ...]

    def shown_name(self, name: str) -> str:
        """A file of the folder as problems name it."""
        return _shown(self.shown, name)


def file_names(folder: Path) -> Iterator[tuple[str, type[BaseModel]]]:
    """The files that are there, named within the folder, with their models; in a fixed order."""
    if not os.path.isdir(folder):  # also where the path is none that can be
        return
    for name, model in SINGLE.items():
        if (folder / name).exists():
            yield name, model
    for inside, model in FOLDERS.items():
        for path in sorted((folder / inside).glob("*.yaml")):
            yield f"{inside}/{path.name}", model


def read_folder(folder: Path, problems: Problems, shown: str = "") -> FolderContent:
    """Every file with every entry; what is wrong is added to `problems`.

    Files are named in problems by `shown` and their name within the folder.
    """
    files: dict[str, BaseModel] = {}
    entries: list[Entry] = []
    for name, model in file_names(folder):
        try:
            data, where = data_of(read_file(folder / name, _shown(shown, name)))
        except UnusableInput as error:
            problems.extend(error.problems)
            continue
        read = model_from_data(data, where, model, _shown(shown, name), problems)
        if read is not None:
            files[name] = read
            entries += entries_of(read, where, _shown(shown, name), shown)
    return FolderContent(folder, shown, files, tuple(entries))


def _shown(prefix: str, name: str) -> str:
    return f"{prefix}/{name}" if prefix else name


def entries_of(read: BaseModel, where: Mapping[Any, tuple[int, int]], file: str, layer: str = "") -> Iterator[Entry]:
    """The entries of a file that was read."""
    if whole := WHOLE.get(type(read)):
        yield Entry(file, 1, str(getattr(read, "id", whole)), read, whole, layer)
    for key, kind in SECTIONS.get(type(read), ()):
        inside: Any = read
        for name in key.split("."):
            inside = getattr(inside, name.replace("-", "_"))
        steps: Iterable[tuple[str | int, Any]] = inside.items() if isinstance(inside, Mapping) else enumerate(inside)
        for step, value in steps:
            own = (getattr(value, word, None) for word in ("cause", "check", "phase", "id"))
            word_for = step if isinstance(step, str) or not isinstance(value, str) else value
            named = word_for if isinstance(word_for, str) else next((word for word in own if word), str(step))
            yield Entry(file, line_of(where, (*key.split("."), step)), named, value, kind, layer)


def stray_files(folder: Path, shown: str) -> Iterator[Problem]:
    """Files that nothing reads, though they look as if something should: a misnamed one adds nothing without a word."""
    wanted = (
        "causes/, checks/, rules/, circuits/, closed/, machines/, signs.yaml, words.yaml, cautions.yaml, sources.yaml,"
        " tests.yaml"
    )
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.suffix not in (".yaml", ".yml", ".json") or not path.is_file() or name.startswith("schemas/"):
            continue
        place, _, inside = name.rpartition("/")
        if name in SINGLE or (place in (*FOLDERS, MACHINES) and path.suffix == ".yaml"):
            continue
        if name == "parameters.yaml":
            accepted = "nothing: what a parameter is belongs to the program"
        elif path.suffix == ".yml":
            accepted = f"a name that ends in .yaml: {name[:-4]}.yaml"
        else:
            like = nearest(place or inside, [*FOLDERS, MACHINES] if place else list(SINGLE))
            accepted = f"did you mean {like}{'/' if place else ''}?" if like else wanted
        yield Problem(_shown(shown, name), 1, "-", "does not belong here in a knowledge base", accepted)


def content_hash(folder: Path) -> str:
    """SHA-256 over names and contents of all YAML files but machines, in order of their names.

    A file that cannot be read counts by its name alone: whoever reads it says what is wrong.
    """
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*.yaml"), key=lambda p: p.relative_to(folder).as_posix()):
        name = path.relative_to(folder).as_posix()
        if not name.startswith(f"{MACHINES}/"):
            digest.update(name.encode() + b"\0")
            with suppress(UnusableInput):
                digest.update(file_bytes(path, name) + b"\0")
    return digest.hexdigest()
