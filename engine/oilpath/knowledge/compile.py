"""The knowledge base from its YAML files: checked, put together, compiled to one file and kept in the user's cache."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import TypeVar, cast

from pydantic import BaseModel

from oilpath._version import __version__
from oilpath.documents.files import check_folder, file_bytes
from oilpath.documents.nodes import read_file
from oilpath.documents.validate import model_from
from oilpath.documents.writing import digest, write_whole
from oilpath.knowledge.base import CautionFile, Knowledge
from oilpath.knowledge.files import OPTIONAL, SINGLE, FolderContent, content_hash, read_folder
from oilpath.knowledge.layers import State, known_from, lay_over, read_layer
from oilpath.knowledge.wiring import wiring_data, wiring_from
from oilpath.problems import Problem, Problems, UnusableInput

M = TypeVar("M", bound=BaseModel)
COMPILED = "compiled.json"
_MAX_COMPILED = 64 * 1024 * 1024


def load_knowledge(*layers: str | Path, base: Path | None = None) -> Knowledge:
    """The knowledge base that ships with oilpath, with these folders of one's own knowledge over it.

    Parameters
    ----------
    layers : str or Path, from the lowest to the highest: new ids are added, the same ids replace those below
    base : Path, optional, another folder in place of the knowledge base that ships

    Raises
    ------
    UnusableInput : with every problem of all layers, or of the base
    """
    below = base_knowledge(base)
    if not layers:
        return below
    problems = Problems()
    contents = [read_layer(folder, problems) for folder in layers]
    problems.raise_if_any()
    return _over(below, contents)


def _over(below: Knowledge, contents: list[FolderContent]) -> Knowledge:
    """The layers over the base; the same object as before where nothing has changed."""
    known, problems = below, Problems()
    key: tuple[object, ...] = (below.version, *((one.shown, content_hash(one.folder)) for one in contents))
    if key not in _LAYERED:
        for content in contents:
            known = lay_over(known, content)
        from oilpath.kbcheck.names import check_layer

        for content in contents:  # a misspelt name would count for nothing without a word
            problems.extend(check_layer(known, content))
        problems.raise_if_any()
        while len(_LAYERED) >= KEPT:
            del _LAYERED[next(iter(_LAYERED))]
        _LAYERED[key] = known.as_read()
    return _LAYERED[key]


KEPT = 4
_LAYERED: dict[tuple[object, ...], Knowledge] = {}


@lru_cache(maxsize=4)
def base_knowledge(kb_dir: Path | None = None) -> Knowledge:
    """A knowledge base without layers: the one that ships with oilpath, or that of another folder.

    Taken from `compiled.json` in the folder, else from the user's cache (see `cache_name`), else read from the YAML
    files (and put into the cache where that can be written). Raises UnusableInput with every problem.
    """
    if kb_dir is None:
        from oilpath.data import data_folder

        kb_dir = data_folder("kb")
    check_folder(kb_dir, str(kb_dir))
    ready = _kept(kb_dir / COMPILED)
    if ready is not None:
        return ready
    path = _cache_folder() / cache_name(kb_dir)
    kept = _kept(path)
    if kept is not None:
        return kept
    text = compile_knowledge(kb_dir)
    _keep(path, sealed(text))
    return compiled(text)


def cache_name(kb_dir: Path) -> str:
    """The file of the user's cache: named by the version, by the files' content, and by the code that asks the lines.

    A version in the making changes that code without another number, and what it derived before must not count.
    """
    code = Path(__file__).with_name("lines.py")
    derived_by = digest(code.read_bytes()) if code.is_file() else ""
    return f"kb-{__version__}-{content_hash(kb_dir)[:32]}-{derived_by[:8]}.json"


def sealed(text: str) -> bytes:
    """A compiled knowledge base as it is kept: the hash of what follows on a line of its own, then the text."""
    content = text.encode("utf-8", "surrogatepass")
    return digest(content).encode() + b"\n" + content


def _kept(path: Path) -> Knowledge | None:
    """The knowledge base in a file that `sealed` made; None if there is none, or it is not whole or not that."""
    try:
        seal, _, content = file_bytes(path, str(path), _MAX_COMPILED).partition(b"\n")
        return compiled(content) if seal.decode("ascii") == digest(content) else None
    except (ValueError, TypeError, LookupError):  # no such file, no hash, or made for models of another version
        return None


def compile_knowledge(kb_dir: Path) -> str:
    """All YAML files of a knowledge base as JSON: its entries on one line, what the lines of circuits say on another.

    Raises UnusableInput with every problem.
    """
    data = read_knowledge(kb_dir).model_dump(mode="json", by_alias=True)
    entries = json.dumps(data, ensure_ascii=False, sort_keys=True)
    circuits = Knowledge.model_validate_json(entries).circuits  # in the order in which they are kept
    wirings = {name: wiring_data(circuit.wiring) for name, circuit in circuits.items()}
    return f"{entries}\n{json.dumps(wirings, ensure_ascii=False)}"


def compiled(text: str | bytes) -> Knowledge:
    """The knowledge base of such a text. Raises ValueError, TypeError or LookupError where it is none."""
    entries, wirings = text.split("\n") if isinstance(text, str) else text.split(b"\n")
    known = Knowledge.model_validate_json(entries)
    for name, data in json.loads(wirings).items():
        circuit = known.circuits[name]
        circuit.wired(wiring_from(data, circuit))
    return known.as_read()


def read_knowledge(kb_dir: Path) -> Knowledge:
    """The knowledge base straight from its YAML files. Raises UnusableInput with every problem."""
    problems = Problems()
    content = read_folder(kb_dir, problems)
    problems.extend(lacking(kb_dir))
    problems.raise_if_any()
    return knowledge_of(content)


def lacking(kb_dir: Path) -> list[Problem]:
    """Files that a whole knowledge base must have and this one has not."""
    absent = (name for name in SINGLE if name not in OPTIONAL and not (kb_dir / name).exists())
    return [Problem(name, 1, "-", "there is no such file", "this file of a knowledge base") for name in absent]


def knowledge_of(content: FolderContent) -> Knowledge:
    """A folder that holds a whole knowledge base."""
    state: State = {}
    for entry in content.entries:
        state.setdefault(entry.kind, {})[entry.key] = entry.value
    always = cast("CautionFile", content.files["cautions.yaml"]).always
    return known_from(state, version=f"sha256:{content_hash(content.folder)}", always=always)


def model_from_path(path: Path, shown: str, model: type[M], problems: Problems) -> M | None:
    """One file as `model`, or None with its problems added."""
    try:
        node = read_file(path, shown)
    except UnusableInput as error:
        problems.extend(error.problems)
        return None
    return model_from(node, model, shown, problems)


def _cache_folder() -> Path:
    base = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    return Path(base) / "oilpath"


def _keep(path: Path, content: bytes) -> None:
    """Put into the cache; a cache that cannot be written is done without."""
    with suppress(OSError, UnusableInput):
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists() and not path.is_file() and not path.is_dir():
            path.unlink()  # a pipe or device in the place of the cache
        write_whole(path, content)
