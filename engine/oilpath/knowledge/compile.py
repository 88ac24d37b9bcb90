"""The knowledge base from its YAML files: checked, put together, compiled to one JSON and kept in the user's cache."""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from oilpath._version import __version__
from oilpath.documents.files import check_folder, file_bytes
from oilpath.documents.nodes import read_file
from oilpath.documents.validate import model_from
from oilpath.documents.writing import digest, write_whole
from oilpath.knowledge.base import CautionFile, Knowledge, Priors, ScatterFile, SourceFile
from oilpath.knowledge.cause import CauseFile
from oilpath.knowledge.check import CheckFile, SignFile
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.rule import Rule
from oilpath.knowledge.testkind import TestFile
from oilpath.problems import Problems, UnusableInput

M = TypeVar("M", bound=BaseModel)
COMPILED = "compiled.json"
_MAX_COMPILED = 64 * 1024 * 1024


@lru_cache(maxsize=4)
def load_knowledge(kb_dir: Path | None = None) -> Knowledge:
    """The knowledge base: the one that ships with oilpath, or that of another folder.

    Taken from `compiled.json` in the folder, else from the user's cache under the hash of the files' content, else read
    from the YAML files (and put into the cache where that can be written). Raises UnusableInput with every problem.
    """
    if kb_dir is None:
        from oilpath.data import data_folder

        kb_dir = data_folder("kb")
    check_folder(kb_dir, str(kb_dir))
    ready = _kept(kb_dir / COMPILED)
    if ready is not None:
        return ready
    path = _cache_folder() / f"kb-{__version__}-{content_hash(kb_dir)[:32]}.json"
    kept = _kept(path)
    if kept is not None:
        return kept
    text = compile_knowledge(kb_dir)
    _keep(path, sealed(text))
    return Knowledge.model_validate_json(text)


def sealed(text: str) -> bytes:
    """A compiled knowledge base as it is kept: the hash of what follows on a line of its own, then the JSON."""
    content = text.encode("utf-8", "surrogatepass")
    return digest(content).encode() + b"\n" + content


def _kept(path: Path) -> Knowledge | None:
    """The knowledge base in a file that `sealed` made; None where there is none, or it is not whole or not that."""
    try:
        seal, _, content = file_bytes(path, str(path), _MAX_COMPILED).partition(b"\n")
        return Knowledge.model_validate_json(content) if seal.decode("ascii") == digest(content) else None
    except ValueError:  # no such file, no hash, or made for models of another version
        return None


def compile_knowledge(kb_dir: Path) -> str:
    """All YAML files of a knowledge base as one JSON text. Raises UnusableInput with every problem."""
    return json.dumps(read_knowledge(kb_dir).model_dump(mode="json", by_alias=True), ensure_ascii=False, sort_keys=True)


def read_knowledge(kb_dir: Path) -> Knowledge:
    """The knowledge base straight from its YAML files. Raises UnusableInput with every problem."""
    problems = Problems()

    def one(name: str, model: type[M]) -> M | None:
        return model_from_path(kb_dir / name, name, model, problems)

    def many(folder: str, model: type[M]) -> list[M]:
        names = sorted(path.name for path in (kb_dir / folder).glob("*.yaml"))
        return [read for name in names if (read := one(f"{folder}/{name}", model)) is not None]

    tests, cautions, sources = (
        one("tests.yaml", TestFile),
        one("cautions.yaml", CautionFile),
        one("sources.yaml", SourceFile),
    )
    signs, priors, scatter = one("signs.yaml", SignFile), one("priors.yaml", Priors), one("scatter.yaml", ScatterFile)
    circuits, causes = many("circuits", Circuit), many("causes", CauseFile)
    rules, checks = many("rules", Rule), many("checks", CheckFile)
    problems.raise_if_any()
    if not (tests and cautions and sources and signs and priors and scatter):
        raise UnusableInput(())  # not reached: a file that could not be read is a problem raised above
    return Knowledge(
        version=f"sha256:{content_hash(kb_dir)}",
        variants=tests.variants,
        tests=tests.tests,
        asked_of={str(name): classes for name, classes in tests.asked_of.items()},
        day=tests.day,
        circuits={circuit.id: circuit for circuit in circuits},
        causes=tuple(cause for file in causes for cause in file.causes),
        rules=tuple(sorted(rules, key=lambda rule: rule.id)),
        checks=tuple(check for file in checks for check in file.checks),
        signs=signs.signs,
        cautions=cautions.cautions,
        always=cautions.always,
        sources=sources.sources,
        priors=priors,
        scatter=scatter.shared,
    )


def model_from_path(path: Path, shown: str, model: type[M], problems: Problems) -> M | None:
    """One file as `model`, or None with its problems added."""
    try:
        node = read_file(path, shown)
    except UnusableInput as error:
        problems.extend(error.problems)
        return None
    return model_from(node, model, shown, problems)


def content_hash(kb_dir: Path) -> str:
    """SHA-256 over the names and contents of all YAML files, in order of their names. Raises UnusableInput."""
    hashed = hashlib.sha256()
    for path in sorted(kb_dir.rglob("*.yaml"), key=lambda p: p.relative_to(kb_dir).as_posix()):
        shown = path.relative_to(kb_dir).as_posix()
        hashed.update(shown.encode() + b"\0")
        hashed.update(file_bytes(path, shown) + b"\0")
    return hashed.hexdigest()


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
